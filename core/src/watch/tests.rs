mod edges;

use super::*;
use crate::units::Ratio;

type Three = Watch<u8, 3>;

fn reading(nanometres: i64) -> Reading {
    let value = Length::from_bits(nanometres * 65_536 / 1_000_000).expect("a length");
    let variance = Uncertainty::parse("0.001").expect("an uncertainty").variance().expect("held");
    Reading { value, variance }
}

/// A steady machine: noise by a short rule, T and span within ±1.2 µm, the drop within ±24 µm.
fn cycle(n: i64, [tip, drop, span]: [i64; 3]) -> Observed {
    let noise = |step: i64, size: i64| (n * step % 7 - 3) * size;
    Observed {
        tip: Some(reading(500_000 + tip + noise(3, 400))),
        drop: Some(reading(5_100_000 + drop + noise(5, 8_000))),
        span: Some(reading(700_000 + span + noise(2, 400))),
    }
}

/// Plates 1 and 2 in turn, for so many cycles.
fn steady(cycles: i64) -> Three {
    let mut watch = Three::new(Design::STANDARD, Uncertainty::ZERO);
    for n in 0..cycles {
        assert_eq!(watch.see(Some((n % 2) as u8), &cycle(n / 2, [0; 3])), Ok(false), "cycle {n}");
    }
    watch
}

/// Cycles after something moved, the plates in turn; how many until the alarm.
fn until_alarm(watch: &mut Three, moved: [i64; 3], plates: &[u8]) -> i64 {
    for n in 0..200 {
        let plate = plates[n as usize % plates.len()];
        if watch.see(Some(plate), &cycle(n, moved)).expect("held") {
            return n + 1;
        }
    }
    panic!("no alarm");
}

fn causes(watch: &Three) -> heapless::Vec<Cause, 6> {
    watch.diagnosis().fits().iter().map(|fit| fit.cause).collect()
}

#[test]
fn the_standard_design_can_be_held() {
    let ratio = |text: &str| Ratio::parse(text).expect("a ratio");
    assert_eq!(Design::new(ratio("0.25"), ratio("3.55"), ratio("0.25"), ratio("11")), Ok(Design::STANDARD));
    assert!(Design::STANDARD.ewma_limit() > Ratio::ONE);
    for bad in [
        Design::new(Ratio::ZERO, ratio("3"), ratio("0.5"), ratio("5")),
        Design::new(ratio("1.1"), ratio("3"), ratio("0.5"), ratio("5")),
        Design::new(ratio("1"), ratio("256"), ratio("0.5"), ratio("5")),
        Design::new(ratio("1"), ratio("3"), ratio("256"), ratio("5")),
        Design::new(ratio("1"), ratio("3"), ratio("0.5"), ratio("256")),
    ] {
        assert!(bad.is_err());
    }
    assert!(Design::new(ratio("1"), ratio("255"), ratio("255"), ratio("255")).is_ok());
}

#[test]
fn a_steady_machine_is_quiet_and_learnt() {
    let watch = steady(60);
    assert!(!watch.alarmed() && watch.diagnosis().fits().is_empty());
    assert_eq!((watch.tip().learnt(), watch.span(&1).map(Charts::learnt)), (60, Some(30)));
    assert_eq!(watch.spans().len(), 2);
    let (s, dof) = watch.drop().s().expect("held").expect("learnt");
    // Of −24, −16 … 24 µm: √(249.93·8²/59) = 16.466 µm.
    assert!(s.to_bits().abs_diff(276_245) < 200, "{s}");
    assert_eq!(dof.finite(), Some(59));
}

#[test]
fn scores_begin_with_the_fourth_degree_of_freedom() {
    let mut watch = Three::new(Design::STANDARD, Uncertainty::ZERO);
    assert_eq!((watch.tip().mean(), watch.tip().s()), (Ok(None), Ok(None)));
    for n in 0..5 {
        watch.see(None, &cycle(n, [0; 3])).expect("held");
        assert_eq!(watch.tip().score(), None, "cycle {n}");
    }
    watch.see(None, &cycle(5, [0; 3])).expect("held");
    assert!(watch.tip().score().is_some() && watch.spans().is_empty());
}

#[test]
fn each_cause_is_told_by_what_it_moves() {
    let big = 60_000;
    for (moved, cause) in [
        ([big, -big, 0], Cause::Nozzle),
        ([-big, big, 0], Cause::Nozzle),
        ([big, 0, 0], Cause::Homing),
        ([0, 150_000, 0], Cause::ProbeSeat),
        ([big, 0, -big], Cause::DatumSwitch),
        ([0, 0, big], Cause::TripDepth),
        ([0, 0, -big], Cause::TripDepth),
    ] {
        let mut watch = steady(60);
        assert_eq!(until_alarm(&mut watch, moved, &[0, 1]), 1, "{cause:?}");
        // Both plates, twice.
        for n in 1..4 {
            assert_eq!(watch.see(Some((n % 2) as u8), &cycle(n, moved)), Ok(true));
        }
        let diagnosis = watch.diagnosis();
        let only = diagnosis.only().unwrap_or_else(|| panic!("{cause:?}: {diagnosis:?} {watch:?}"));
        assert_eq!(only.cause, cause);
        let delta = match cause {
            Cause::ProbeSeat => moved[1],
            Cause::TripDepth => moved[2],
            _ => moved[0],
        };
        let off = i64::from(only.shift.to_bits()) * 1_000_000 / 65_536 - delta;
        let allowed = if cause == Cause::ProbeSeat { 30_000 } else { 2_000 };
        assert!(off.abs() < allowed, "{cause:?}: {off} nm off");
    }
}

#[test]
fn one_plate_or_every_plate_is_told_by_another_plate() {
    let mut watch = steady(60);
    until_alarm(&mut watch, [0, 0, 60_000], &[1]);
    // With one plate seen, either may be.
    assert_eq!(causes(&watch).len(), 2);
    assert!(causes(&watch).contains(&Cause::Plate) && causes(&watch).contains(&Cause::TripDepth));
    let (mut one, mut every) = (watch.clone(), watch);
    assert_eq!(one.see(Some(0), &cycle(1, [0; 3])), Ok(true));
    assert_eq!(causes(&one).as_slice(), &[Cause::Plate]);
    assert_eq!(every.see(Some(0), &cycle(1, [0, 0, 60_000])), Ok(true));
    assert_eq!(causes(&every).as_slice(), &[Cause::TripDepth]);
}

#[test]
fn two_things_at_once_fit_no_cause() {
    let mut watch = steady(60);
    until_alarm(&mut watch, [60_000, 0, 40_000], &[0, 1]);
    assert!(causes(&watch).is_empty() && watch.alarmed());
    assert_eq!(watch.diagnosis().only(), None);
}

#[test]
fn what_creeps_is_found_and_sized_from_before_it_began() {
    let mut watch = steady(200);
    let cycles = until_alarm(&mut watch, [0, 20_000, 0], &[0, 1]);
    assert!((3..30).contains(&cycles), "{cycles}");
    assert_eq!(watch.drop().alarm().map(|alarm| alarm.side), Some(Side::Up));
    let diagnosis = watch.diagnosis();
    let fit = diagnosis.fits().first().expect("a cause");
    assert_eq!(fit.cause, Cause::ProbeSeat);
    let micrometres = i64::from(fit.shift.to_bits()) * 1_000 / 65_536;
    assert!((12..32).contains(&micrometres), "{micrometres}");
}

#[test]
fn nothing_is_learnt_while_an_alarm_stands() {
    let mut watch = steady(60);
    until_alarm(&mut watch, [60_000, 0, 0], &[0]);
    let learnt = |watch: &Three| {
        [watch.tip().learnt(), watch.drop().learnt(), watch.span(&0).expect("known").learnt()]
    };
    let (before, mean) = (learnt(&watch), watch.tip().mean());
    assert_eq!(before, [60, 60, 30], "not even from the cycle of the alarm");
    for n in 0..5 {
        assert_eq!(watch.see(Some(0), &cycle(n, [60_000, 0, 0])), Ok(true));
    }
    assert_eq!((learnt(&watch), watch.tip().mean()), (before, mean));
}

#[test]
fn what_is_told_begins_a_level_and_raises_no_alarm() {
    for (change, moved, levels) in [
        (Change::Nozzle, [140_000, -140_000, 0], [true, true, false, false]),
        (Change::Homing, [90_000, 0, 0], [true, false, false, false]),
        (Change::Probe, [0, 140_000, 30_000], [false, true, true, true]),
        (Change::DatumSwitch, [-50_000, 0, 50_000], [true, false, true, true]),
        (Change::Speed, [2_000, 0, -1_000], [true, false, true, true]),
        (Change::Plate(1), [0; 3], [false, false, false, true]),
        (Change::Plate(9), [0; 3], [false; 4]),
        (Change::Trim, [0; 3], [false; 4]),
    ] {
        // Told in advance, and told after the alarm.
        for late in [false, true] {
            let mut watch = steady(60);
            if late && moved != [0; 3] {
                until_alarm(&mut watch, moved, &[0, 1]);
            }
            watch.tell(change);
            let seen =
                [watch.tip(), watch.drop(), watch.span(&0).expect("known"), watch.span(&1).expect("known")];
            assert_eq!(seen.map(|charts| charts.learnt() == 0), levels, "{change:?}");
            assert!(!watch.alarmed(), "{change:?}");
            for n in 0..40 {
                assert_eq!(
                    watch.see(Some((n % 2) as u8), &cycle(n / 2, moved)),
                    Ok(false),
                    "{change:?}, cycle {n}"
                );
            }
            // It is watched again from its second cycle on: the scatter is known.
            assert!(until_alarm(&mut watch, moved.map(|by| by + 120_000), &[0, 1]) <= 2);
        }
    }
}

#[test]
fn a_trim_answers_spans_in_alarm_alone() {
    let mut watch = steady(60);
    until_alarm(&mut watch, [0, 0, 60_000], &[1]);
    watch.tell(Change::Trim);
    assert!(!watch.alarmed());
    assert_eq!([0, 1].map(|plate| watch.span(&plate).map(Charts::learnt)), [Some(0), Some(0)]);
    until_alarm(&mut watch, [60_000, 0, 60_000], &[0]);
    watch.tell(Change::Trim);
    assert!(watch.alarmed(), "the tip's alarm stands");
}

#[test]
fn a_dismissed_alarm_keeps_what_was_learnt() {
    let mut watch = steady(60);
    until_alarm(&mut watch, [60_000, 0, 0], &[0, 1]);
    watch.dismiss();
    assert!(!watch.alarmed());
    assert_eq!(watch.tip().learnt(), 60);
    for n in 0..20 {
        assert_eq!(watch.see(Some((n % 2) as u8), &cycle(n / 2, [0; 3])), Ok(false));
    }
    assert_eq!(watch.tip().learnt(), 80);
}

#[test]
fn a_machine_that_reads_the_same_always_is_not_taken_for_perfect() {
    let mut watch = Three::new(Design::STANDARD, Uncertainty::ZERO);
    for n in 0..30 {
        let tip = Some(reading(500_000));
        assert_eq!(watch.see(None, &Observed { tip, ..Observed::default() }), Ok(false), "cycle {n}");
    }
    // One step of 2 µm is two of its own standard uncertainties: no alarm by itself.
    let tip = Some(reading(502_000));
    assert_eq!(watch.see(None, &Observed { tip, ..Observed::default() }), Ok(false));
    let u = watch.tip().s().expect("held").expect("learnt").0;
    assert!(u.to_bits().abs_diff(16_777) < 60, "{u}");
    // With a floor of 20 µm, 60 µm more stay quiet at first.
    let mut calm = Three::new(Design::STANDARD, Uncertainty::parse("0.02").expect("an uncertainty"));
    for n in 0..60 {
        calm.see(None, &cycle(n, [0; 3])).expect("held");
    }
    assert_eq!(calm.see(None, &cycle(0, [60_000, 0, 0])), Ok(false));
    let bad = Uncertainty::from_bits(4 << 24).expect("held");
    assert!(Three::new(Design::STANDARD, bad).see(None, &cycle(0, [0; 3])).is_err());
}

#[test]
fn what_cannot_be_charted_changes_nothing() {
    let mut watch = steady(60);
    let before = watch.clone();
    let far = Observed { drop: Some(reading(9_200_000)), ..cycle(0, [0; 3]) };
    assert!(matches!(watch.see(Some(1), &far), Err(WatchError::OutOfRange(_))));
    assert!(watch == before);
    watch.see(Some(2), &cycle(0, [0; 3])).expect("room for a third");
    let before = watch.clone();
    assert_eq!(watch.see(Some(3), &cycle(0, [0; 3])), Err(WatchError::Full));
    assert!(watch == before);
    // Without its span, or without its name, the cycle still counts.
    assert_eq!(watch.see(Some(3), &Observed { span: None, ..cycle(0, [0; 3]) }), Ok(false));
    assert_eq!(watch.see(None, &cycle(0, [0; 3])), Ok(false));
    assert_eq!(watch.spans().iter().map(|(_, charts)| charts.learnt()).sum::<u32>(), 61);
    assert!(watch.forget(&0) && !watch.forget(&0));
    assert_eq!(watch.spans().len(), 2);
    for error in
        [WatchError::Full, WatchError::OutOfRange(OutOfRange { quantity: crate::units::Quantity::Length })]
    {
        use core::fmt::Write;
        let mut text = heapless::String::<200>::new();
        write!(text, "{error}").expect("room");
        assert!(text.len() > 30);
    }
}

#[test]
fn a_saved_watch_goes_on_as_if_nothing_had_been() {
    for moved in [[0; 3], [60_000, 0, 0], [0, 20_000, 0], [0, -20_000, -60_000]] {
        let mut watch = steady(60);
        for n in 0..12 {
            watch.see(Some((n % 2) as u8), &cycle(n, moved)).expect("held");
        }
        let back = |charts: &Charts| Charts::from_words(&charts.to_words()).expect("whole");
        let mut again = Three::new(Design::STANDARD, Uncertainty::ZERO);
        again.restore(back(watch.tip()), back(watch.drop()));
        for (plate, charts) in watch.spans() {
            // Twice: the second takes the place of the first.
            again.restore_span(*plate, Charts::new()).expect("room");
            again.restore_span(*plate, back(charts)).expect("room");
        }
        assert_eq!(again.diagnosis(), watch.diagnosis());
        for n in 0..30 {
            let observed = cycle(n, moved);
            assert_eq!(again.see(Some(1), &observed), watch.see(Some(1), &observed));
        }
        assert!(
            again.tip() == watch.tip() && again.drop() == watch.drop() && again.span(&1) == watch.span(&1)
        );
        again.restore_span(5, Charts::new()).expect("room for a third");
        assert_eq!(again.restore_span(6, Charts::new()), Err(WatchError::Full));
    }
    // A fresh one too, and every word that cannot be.
    assert_eq!(Charts::from_words(&Charts::new().to_words()), Some(Charts::new()));
    let words = steady(60).tip().to_words();
    assert!(Charts::from_words(&words).is_some());
    for (place, wrong) in [
        (0, 2),
        (2, 0),
        (2, 4_096),
        (4, 9),
        (8, 1 << 30),
        (9, 4_096),
        (13, 1 << 14),
        (16, 65_537),
        (18, 5),
        (19, 65_537),
        (22, 65_537),
        (25, 2),
        (25, 4),
        (25, 6),
        (25, 8),
    ] {
        let mut damaged = words;
        damaged[place] = wrong;
        assert_eq!(Charts::from_words(&damaged), None, "word {place}: {wrong}");
    }
    // Of a level that is not known, nothing is.
    for place in 1..7 {
        let mut damaged = Charts::new().to_words();
        damaged[place] = 1;
        assert_eq!(Charts::from_words(&damaged), None, "word {place} of an empty one");
    }
}

#[test]
fn charts_have_a_size_that_is_stated() {
    assert!(size_of::<Charts>() <= 136, "{}", size_of::<Charts>());
    assert!(size_of::<Watch<u8, 3>>() <= 744, "{}", size_of::<Watch<u8, 3>>());
}

#[test]
fn causes_have_words_and_advice() {
    for (place, cause) in Cause::ALL.iter().enumerate() {
        assert!(cause.text().len() > 20 && cause.advice().len() > 40);
        assert!(Cause::ALL[..place].iter().all(|other| other.word() != cause.word()));
    }
}
