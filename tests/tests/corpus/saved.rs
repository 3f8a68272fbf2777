//! Any bytes as a watch's and a plate book's saved state, as after a worn memory: refused, or the same again,
//! and worked on without harm.

use zdatum::plates::{PlateBook, SEATING, Saved};
use zdatum::watch::{Charts, Design, Observed, Reading, WORDS, Watch};
use zdatum::{Length, Uncertainty, Variance};

fn words<const N: usize>(bytes: &[u8]) -> [u32; N] {
    let mut words = [0_u32; N];
    for (word, bytes) in words.iter_mut().zip(bytes.chunks(4)) {
        *word = bytes.iter().rev().fold(0, |word, byte| word << 8 | u32::from(*byte));
    }
    words
}

fn wide(low: u32, high: u32) -> u64 {
    u64::from(high) << 32 | u64::from(low)
}

pub(crate) fn take(bytes: &[u8]) {
    let given = words::<WORDS>(bytes);
    let readings = || {
        bytes.get(4 * WORDS..).unwrap_or(&[]).chunks(8).filter_map(|bytes| {
            let [value, variance] = words(bytes);
            let value = Length::from_bits(i64::from(value as i32)).ok()?;
            Some(Reading { value, variance: Variance::from_bits(u64::from(variance) << 16) })
        })
    };
    if let Some(charts) = Charts::from_words(&given) {
        assert_eq!(charts.to_words(), given);
        let mut watch = Watch::<u8, 1>::new(Design::STANDARD, Uncertainty::ZERO);
        watch.restore(charts, charts);
        watch.restore_span(1, charts).expect("room");
        for reading in readings() {
            let (tip, drop, span) = (Some(reading), Some(reading), Some(reading));
            let _ = watch.see(Some(1), &Observed { tip, drop, span });
            let _ = watch.diagnosis();
        }
        // Charts that have worked on can be saved again.
        let again = watch.tip().to_words();
        assert_eq!(Charts::from_words(&again).map(|charts| charts.to_words()), Some(again));
    }
    let [first, count, sum0, sum1, squares0, squares1, last, variance0, variance1, visits, seen] =
        words(bytes);
    let saved = Saved {
        first: first as i32,
        count,
        sum: wide(sum0, sum1) as i64,
        squares: wide(squares0, squares1),
        last: last as i32,
        variance: wide(variance0, variance1),
        visits,
        seen,
    };
    let mut book = PlateBook::<u8, 1>::new(SEATING);
    if book.restore(1, &saved).is_ok() {
        assert_eq!(book.plates().first().map(|plate| plate.saved()), Some(saved));
        for Reading { value, variance } in readings() {
            let _ = book.recognise(value, variance);
            let _ = book.record(1, value, variance, 0);
        }
        let again = book.plates().first().map(|plate| plate.saved()).expect("still there");
        assert!(PlateBook::<u8, 1>::new(SEATING).restore(1, &again).is_ok());
    }
}
