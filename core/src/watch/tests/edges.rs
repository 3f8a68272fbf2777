//! The last bit of limits and ranges, ties, and sums made by hand.

use super::super::cause::{Moved, Quantity, significance};
use super::super::charts::{LONGEST, Run};
use super::*;
use crate::landing::Conditions;
use crate::level::{LevelSums, MOST};
use crate::series::{Centre, Method, Series};
use crate::units::Wide;

/// So many bits of a length, and u² of so many squared ones.
fn bits(by: i64) -> Wide {
    Wide::from_bits(by << 16)
}

const fn squared(u: u64) -> Variance {
    Variance::from_bits((u * u) << 28)
}

#[test]
fn scores_and_designs_end_where_they_say() {
    let most = Score::MAX_BITS;
    for (bits, held) in
        [(most, true), (-most, true), (most + 1, false), (-most - 1, false), (i32::MIN, false)]
    {
        assert_eq!(Score::from_bits(bits).is_ok(), held, "{bits}");
    }
    let ratio = |bits: i64| Ratio::from_bits(bits).expect("a ratio");
    assert!(Design::new(ratio(1), ratio(0), ratio(0), ratio(0)).is_ok());
    // 3.5500031 · √(¼ / 1¾), to the nearest.
    assert_eq!(Design::STANDARD.ewma_limit().to_bits(), 87_935);
    // Nothing is beyond a limit that it stands at; of two sums alike the upper one counts.
    let none = Design::new(Ratio::ONE, ratio(0), ratio(0), ratio(0)).expect("a design");
    assert_eq!((Ewma::new().beyond(&none), Cusum::new().beyond(&none)), (None, None));
    assert_eq!(Cusum::of_bits(5, 5).beyond(&none), Some(Side::Up));
    assert_eq!(Cusum::of_bits(5, 6).beyond(&none), Some(Side::Down));
}

#[test]
fn what_a_memory_gives_back_is_held_to_the_last_bit() {
    let words = steady(60).tip().to_words();
    for (place, low, high, held) in [
        (7, 0, 1 << 29, true),
        (7, 1, 1 << 29, false),
        (12, 0, 1 << 13, true),
        (12, 1, 1 << 13, false),
        (12, 0, (1_u32 << 13).wrapping_neg(), true),
        (12, u32::MAX, (1_u32 << 13).wrapping_neg() - 1, false),
    ] {
        let mut damaged = words;
        (damaged[place], damaged[place + 1]) = (low, high);
        assert_eq!(Charts::from_words(&damaged).is_some(), held, "word {place}: {high} {low}");
    }
    let mut longest = words;
    longest[16] = LONGEST;
    assert!(Charts::from_words(&longest).is_some());
}

#[test]
fn scatter_from_before_is_halved_when_it_has_4096_degrees_of_freedom() {
    // δ = 0 and six times 1: n = 7, Σδ² − (Σδ)²/n = 6/7, six degrees of freedom.
    let mut level = LevelSums::new(Length::ZERO);
    for _ in 0..6 {
        level.push(1);
    }
    let begun = |dof| {
        let mut charts = Charts { level: Some(level), earlier: (1 << 20, dof), alarm: None, ..Charts::new() };
        charts.begin_level();
        charts.earlier
    };
    let scatter = (1 << 20) + level.scatter();
    assert_eq!(begun(MOST - 7), (scatter, MOST - 1));
    assert_eq!(begun(MOST - 6), (scatter >> 1, MOST >> 1));
    assert_eq!(begun(MOST - 1), (scatter >> 1, (MOST + 5) >> 1));
}

#[test]
fn evidence_is_let_go_with_the_runs_that_hold_it() {
    let run = |count, sum| Run { count, sum };
    let held = Charts { up: run(4, 40), down: run(2, -3), since: run(1, 9), ..Charts::new() };
    let mut charts = held;
    charts.let_go();
    assert_eq!((charts.up, charts.down, charts.since), (Run::NONE, Run::NONE, Run::NONE));
    // Without evidence the runs are of what was learnt, and stay.
    let learnt = Charts { since: Run::NONE, ..held };
    let mut charts = learnt;
    charts.let_go();
    assert_eq!(charts, learnt);
    // In a watch: an alarm elsewhere keeps it, the answer to the last alarm does not.
    let mut watch = steady(60);
    until_alarm(&mut watch, [0, 0, 60_000], &[1]);
    assert_eq!(watch.tip().since.count, 1);
    watch.tell(Change::Probe);
    assert!(!watch.alarmed() && watch.tip().since == Run::NONE && watch.tip().learnt() == 60);
    let mut watch = steady(60);
    until_alarm(&mut watch, [60_000, 0, 0], &[0]);
    let since = watch.span(&0).expect("known").since;
    watch.tell(Change::Plate(1));
    assert!(watch.alarmed() && since.count > 0);
    assert_eq!(watch.span(&0).expect("known").since, since, "the tip's alarm stands");
}

#[test]
fn nothing_has_moved_before_the_scatter_is_known() {
    let moved = |readings: i64| {
        let mut level = LevelSums::new(Length::ZERO);
        for n in 1..readings {
            level.push(n % 2);
        }
        let since = Run { count: 1, sum: 7 };
        Charts { level: Some(level), since, floor: squared(1), ..Charts::new() }.moved()
    };
    assert_eq!(moved(4), None, "three degrees of freedom");
    assert!(moved(5).is_some() && moved(6).is_some());
    let mut longest = Run { count: LONGEST, sum: 3 };
    let mut charts =
        Charts { up: longest, since: longest, level: Some(LevelSums::new(Length::ZERO)), ..Charts::new() };
    charts.hold(Some(5), Length::ZERO);
    assert_eq!(charts.since, longest, "a run that is full counts no further");
    longest.count -= 1;
    charts.since = longest;
    charts.hold(Some(5), Length::ZERO);
    assert_eq!(charts.since, Run { count: LONGEST, sum: 8 });
}

#[test]
fn what_crept_is_measured_from_before_its_run() {
    // Twenty readings, three of them at 20; since the alarm one at 25: 22 from the mean of 3, which shows
    // nothing at u = 10·√1.05.
    let mut level = LevelSums::new(Length::ZERO);
    for n in 1..20 {
        level.push(if n < 17 { 0 } else { 20 });
    }
    let charts = Charts {
        level: Some(level),
        floor: squared(10),
        up: Run { count: 4, sum: 85 },
        since: Run { count: 1, sum: 25 },
        alarm: Some(Alarm { side: Side::Up, chart: Chart::Cusum }),
        ..Charts::new()
    };
    // The run's four have the mean 21.25, the seventeen before it 0.
    let (by, variance) = charts.moved().expect("moved");
    assert_eq!(by, Wide::from_bits(85 << 14));
    let right = squared(10).to_bits() as f64 * (1.0 / 4.0 + 1.0 / 17.0);
    assert!((variance.to_bits() as f64 - right).abs() < 1e-6 * right, "{variance:?}");
    // From above 9 u² on the readings since are enough.
    let plain = Charts { since: Run { count: 1, sum: 50 }, ..charts };
    assert_eq!(plain.moved().expect("moved").0, bits(47));
}

#[test]
fn a_change_is_weighed_by_what_each_quantity_is_worth() {
    // δ = (10/1 + 20/4) / (1/1 + 1/4) = 12; χ² = 2²/10² + 8²/20² = 0.2.
    let moved = [
        Moved { quantity: Quantity::Tip, by: bits(10), variance: squared(10), alarmed: true },
        Moved { quantity: Quantity::Drop, by: bits(-20), variance: squared(20), alarmed: true },
    ];
    let diagnosis = Diagnosis::of(moved.iter());
    let fit = diagnosis.only().expect("a nozzle alone moves both");
    assert_eq!((fit.cause, fit.shift.to_bits()), (Cause::Nozzle, 12));
    assert!(fit.misfit.to_bits().abs_diff(13_107) <= 2, "{}", fit.misfit);
    // Out of bounds, by the last bit: (2^24 + 1)² / 2 in units of 2^-16.
    let by = Wide::from_bits(((1 << 24) + 1) << 8);
    assert_eq!(significance(by, Variance::from_bits(2 << 12)), 1 << 63);
    assert_eq!(significance(by, Variance::ZERO), 1 << 63);
    assert_eq!(significance(bits(30), squared(10)), 9 << 16);
}

#[test]
fn causes_come_in_the_order_in_which_they_fit() {
    // The drop stands still, though it scatters: homing leaves nothing, a nozzle leaves some, and both fit.
    let moved = |drop: i64| {
        [
            Moved { quantity: Quantity::Tip, by: bits(60), variance: squared(1), alarmed: true },
            Moved { quantity: Quantity::Drop, by: bits(drop), variance: squared(30), alarmed: false },
        ]
    };
    for (drop, order) in [
        (0, [Cause::Homing, Cause::DatumSwitch, Cause::Nozzle]),
        (-60, [Cause::Nozzle, Cause::Homing, Cause::DatumSwitch]),
    ] {
        let moved = moved(drop);
        let diagnosis = Diagnosis::of(moved.iter());
        let seen: heapless::Vec<Cause, 6> = diagnosis.fits().iter().map(|fit| fit.cause).collect();
        assert_eq!(seen.as_slice(), order, "{drop}");
        assert!(diagnosis.fits().is_sorted_by_key(|fit| fit.misfit));
    }
}

#[test]
fn plates_that_moved_alike_are_no_single_plate() {
    let mut watch = steady(60);
    for plate in [0, 1] {
        watch.see(Some(plate), &cycle(0, [0, 0, 60_000])).expect("held");
    }
    assert_eq!(watch.span(&0).and_then(Charts::moved), watch.span(&1).and_then(Charts::moved));
    assert_eq!(causes(&watch).as_slice(), &[Cause::TripDepth]);
}

#[test]
fn a_cycle_is_charted_by_tip_drop_and_span() {
    let close = |z: [i64; 3], floor: u64| {
        let mut series = Series::<3>::new();
        for z in z {
            series.push(Length::from_bits(z).expect("a length")).expect("room");
        }
        let floor = Variance::from_bits(floor);
        series.close(&Method { centre: Centre::Mean, pooled: None, floor }).expect("a series")
    };
    // Alike touches, so that u² is the floor of each.
    let (tip, shoulder, plate) =
        (close([100; 3], 7 << 30), close([400; 3], 5 << 30), close([450; 3], 2 << 30));
    let touches = Touches { tip, shoulder, plate, conditions: Conditions::NONE };
    let reading = |value: i64, variance: u64| {
        Some(Reading {
            value: Length::from_bits(value).expect("a length"),
            variance: Variance::from_bits(variance),
        })
    };
    let right =
        Observed { tip: reading(100, 7 << 30), drop: reading(300, 12 << 30), span: reading(50, 7 << 30) };
    assert_eq!(Observed::of(&touches), Ok(right));
}
