//! The watch: what the core's own example does, through C.

use zdatum::watch::Cause;

use super::*;
use crate::plates::ZDATUM_PLATES;
use crate::watch::*;

fn cycle(watch: &mut zdatum_watch, plate: Option<u32>, tip: i32, drop: i32, span: i32) -> (zdatum_code, u8) {
    let variance = Uncertainty::parse("0.001").unwrap().variance().unwrap().to_bits();
    let bits = |micrometres: i32| (i64::from(micrometres) * 65_536 / 1_000) as i32;
    let landing = zdatum_landing {
        tip: bits(tip),
        drop: bits(drop),
        span: bits(span),
        tip_variance: variance,
        drop_variance: variance,
        span_variance: variance,
        ..zdatum_landing::default()
    };
    let plate = plate.as_ref().map_or(null(), core::ptr::from_ref);
    let mut alarm = 9;
    // SAFETY: whole objects; the plate may be null.
    (unsafe { zdatum_watch_see(watch, &landing, plate, 0, &mut alarm) }, alarm)
}

#[test]
fn a_watch_is_the_cores() {
    let mut watch = Box::new(zdatum_watch { words: [0; ZDATUM_WATCH_WORDS] });
    let mut fits = [zdatum_fit::default(); ZDATUM_CAUSES];
    let mut count = 9;
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_watch_start(&mut *watch, 4 << 24), ZDATUM_OUT_OF_RANGE);
        assert_eq!(zdatum_watch_start(&mut *watch, 0), ZDATUM_OK);
        for n in 0..12 {
            let seen = cycle(&mut watch, Some(7), 500 + n % 3, 5_100 + 9 * (n % 5), 700 + n * n % 4);
            assert_eq!(seen, (ZDATUM_OK, 0));
        }
        assert_eq!(zdatum_watch_diagnosis(&*watch, fits.as_mut_ptr(), &mut count), ZDATUM_OK);
        assert_eq!(count, 0);

        // A nozzle that stands 137 um further out, and nobody said so.
        assert_eq!(cycle(&mut watch, Some(7), 638, 4_981, 701), (ZDATUM_OK, 1));
        assert_eq!(zdatum_watch_diagnosis(&*watch, fits.as_mut_ptr(), &mut count), ZDATUM_OK);
        assert_eq!((count, fits[0].cause), (1, ZDATUM_CAUSE_NOZZLE));
        assert!(fits[0].shift > mm("0.13") && fits[0].shift < mm("0.145") && fits[0].misfit < 10 << 16);

        // Over a power cut and back.
        let mut after = Box::new(zdatum_watch { words: [0; ZDATUM_WATCH_WORDS] });
        let mut kept = [zdatum_charts { words: [0; ZDATUM_CHARTS_WORDS] }; 3];
        let mut plate = 0;
        for (place, charts) in kept.iter_mut().enumerate() {
            assert_eq!(zdatum_watch_save(&*watch, place as u32, &mut plate, charts), ZDATUM_OK);
        }
        assert_eq!(plate, 7);
        assert_eq!(zdatum_watch_save(&*watch, 3, &mut plate, &mut kept[0].clone()), ZDATUM_NOT_IN_BOOK);
        assert_eq!(zdatum_watch_start(&mut *after, 0), ZDATUM_OK);
        assert_eq!(zdatum_watch_restore(&mut *after, &kept[0], &kept[1]), ZDATUM_OK);
        assert_eq!(zdatum_watch_restore_span(&mut *after, plate, &kept[2]), ZDATUM_OK);
        let damaged = zdatum_charts { words: [u32::MAX; ZDATUM_CHARTS_WORDS] };
        assert_eq!(zdatum_watch_restore(&mut *after, &kept[0], &damaged), ZDATUM_OUT_OF_RANGE);
        assert_eq!(zdatum_watch_restore_span(&mut *after, 8, &damaged), ZDATUM_OUT_OF_RANGE);
        for watch in [&mut *watch, &mut *after] {
            // Now the owner says so, and all is well at the new level.
            assert_eq!(zdatum_watch_tell(watch, 8, 0), ZDATUM_OUT_OF_RANGE);
            assert_eq!(zdatum_watch_tell(watch, ZDATUM_CHANGED_NOZZLE, 0), ZDATUM_OK);
            for n in 0..12 {
                let seen = cycle(watch, Some(7), 637 + n % 3, 4_963 + 9 * (n % 5), 700 + n * n % 4);
                assert_eq!(seen, (ZDATUM_OK, 0));
            }
        }

        // Another plate worked on is not this one; dismissing lets go.
        assert_eq!(cycle(&mut watch, Some(7), 637, 4_975, 780), (ZDATUM_OK, 1));
        assert_eq!(zdatum_watch_tell(&mut *watch, ZDATUM_CHANGED_PLATE, 8), ZDATUM_OK);
        assert_eq!(cycle(&mut watch, None, 637, 4_975, 780), (ZDATUM_OK, 1));
        assert_eq!(zdatum_watch_dismiss(&mut *watch), ZDATUM_OK);
        assert_eq!(cycle(&mut watch, None, 637, 4_975, 780), (ZDATUM_OK, 0));

        for plate in 10..9 + ZDATUM_PLATES as u32 {
            assert_eq!(cycle(&mut watch, Some(plate), 637, 4_975, 780).0, ZDATUM_OK);
        }
        assert_eq!(cycle(&mut watch, Some(99), 637, 4_975, 780), (ZDATUM_NO_ROOM, 9));
        assert_eq!(cycle(&mut watch, Some(7), 9_000, 4_975, 700), (ZDATUM_OUT_OF_RANGE, 9));
        assert_eq!(zdatum_watch_forget(&mut *watch, 7), ZDATUM_OK);
        assert_eq!(zdatum_watch_forget(&mut *watch, 7), ZDATUM_NOT_IN_BOOK);
    }
}

#[test]
fn the_causes_are_the_cores() {
    let published = ["nozzle", "homing", "probe-seat", "datum-switch", "plate", "trip-depth"];
    assert_eq!(Cause::ALL.len(), ZDATUM_CAUSES);
    for (cause, (number, word)) in Cause::ALL.iter().zip((1..).zip(published)) {
        assert_eq!((text(zdatum_cause_word(number)), cause.word()), (word, word));
        assert_eq!(text(zdatum_cause_text(number)), cause.text());
        assert_eq!(text(zdatum_cause_advice(number)), cause.advice());
    }
    assert_eq!(text(zdatum_cause_word(0)), "");
}
