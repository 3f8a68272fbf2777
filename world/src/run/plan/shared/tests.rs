//! Moments of what is shared and of what a way adds to it, where they are known.

use super::*;
use crate::run::cycle::run;
use crate::run::plan::tests::machine::{self, SILENT, u};

/// As if this were shared run by run, and known to have these moments.
pub(in crate::run::plan) fn known(each: Vec<f64>, mean: f64, variance: f64) -> Shared {
    Shared { each, mean, variance }
}

/// Shared ±3 and rest ±1 in all four combinations: variances 9 and 1; what follows the shared part counts with its covariance.
#[test]
fn the_rest_is_told_apart_from_what_is_shared() {
    let shared = Shared { each: Vec::new(), mean: 0.5, variance: 9.0 };
    let (mut even, mut following) = (Apart::default(), Apart::default());
    for i in 0..400 {
        let (a, b) = (if i % 2 == 0 { 3.5 } else { -2.5 }, if i % 4 < 2 { 1.0 } else { -1.0 });
        even.add(a, a + b + 0.25);
        following.add(a, 1.5 * a);
    }
    let seen = even.moments(&shared).expect("enough");
    assert!((seen.mean - 0.75).abs() < 1e-12 && (seen.variance - 10.0).abs() < 1e-12, "{seen:?}");
    assert!(seen.error < 1e-6, "±1 has no scatter of its square: {seen:?}");
    let seen = following.moments(&shared).expect("enough");
    assert!((seen.variance - 20.25).abs() < 1e-9, "{seen:?}");
    assert_eq!(Apart::default().moments(&shared), None);
}

/// Rest 1, 1, 1, 9 with shared −1 and 3 each: mean 3, variance 48/4 = 12, fourth moment (3 · 2⁴ + 6⁴)/4 = 336.
#[test]
fn moments_of_a_skewed_rest_by_hand() {
    let shared = known(Vec::new(), 1.0, 4.0);
    let of = |runs: usize| {
        let mut apart = Apart::default();
        for i in 0..runs {
            let (a, rest) = (if i % 8 < 4 { -1.0 } else { 3.0 }, if i % 4 == 3 { 9.0 } else { 1.0 });
            apart.add(a, a + rest);
        }
        apart.moments(&shared)
    };
    let seen = of(40).expect("enough");
    // The square of a rest scatters by 336 − 12², and forty were seen.
    let due = Moments { mean: 4.0, variance: 16.0, error: (192.0 / 40.0_f64).sqrt() };
    assert!((seen.mean - due.mean).abs() < 1e-12 && (seen.variance - due.variance).abs() < 1e-12, "{seen:?}");
    assert!((seen.error - due.error).abs() < 1e-12, "{seen:?}");
    assert!(of(32).is_some());
    assert_eq!(of(31), None);
}

/// Shared ±0.3 and a rest of ±0.1 that goes with it in so many of 400 runs more than against it.
#[test]
fn what_goes_with_the_shared_part_counts_from_four_standard_errors() {
    let shared = known(Vec::new(), 0.0, 0.09);
    let of = |more: usize| {
        let mut apart = Apart::default();
        for i in 0..400 {
            let a = if i % 2 == 0 { 0.3 } else { -0.3 };
            let with = i < 200 + more / 2;
            apart.add(a, a + if with { a / 3.0 } else { -a / 3.0 });
        }
        apart.moments(&shared).expect("enough")
    };
    // A covariance of more/400 · 0.03 against a luck of √(0.01 · 0.09/400) = 0.0015: 76 are 3.8 of those, 84 are 4.2.
    let (luck, held) = (of(76), of(84));
    assert!((luck.variance - 0.1).abs() < 1e-12 && luck.error < 1e-8, "{luck:?}");
    assert!((held.variance - 0.1 - 2.0 * 0.21 * 0.03).abs() < 1e-12, "{held:?}");
    assert!((held.error - 0.003).abs() < 1e-9, "{held:?}");
}

/// Of a doubtful trip depth alone the error is normal with its u, however it is touched.
#[test]
fn what_is_shared_is_the_trip_depth_whatever_the_touching() {
    let mut draft = machine::draft();
    draft.probe.trip_depth_u = u("0.004");
    let noise = Noise { tip_switch: 0.002, shoulder_switch: 0.002, plate_switch: 0.002, ..SILENT };
    let shared = Shared::of(&machine::bench(&draft, &noise), &AtomicBool::new(false)).expect("not stopped");
    assert_eq!(shared.each.len() as u64, RUNS);
    // Five standard errors: u/√RUNS and u² · √(2/RUNS).
    let n = RUNS as f64;
    assert!(shared.mean.abs() < 5.0 * 0.004 / n.sqrt(), "{}", shared.mean);
    assert!((shared.variance / 16e-6 - 1.0).abs() < 5.0 * (2.0 / n).sqrt(), "{}", shared.variance);
    draft.touch = Touch { least: 7, most: 12, settle: 2, centre: zdatum::Centre::Median, ..draft.touch };
    let other = machine::bench(&draft, &SILENT);
    let mut seen = shared.of_runs(2_040..2_060);
    for index in 2_040..2_060 {
        let error = run(&other, index, |_, _, _| {}).expect("room").error.expect("accepted");
        let shared = seen.next().flatten().expect("accepted");
        // Three stations, each to a motor step.
        assert!((error - shared).abs() < 3.0 / f64::from(1 << 14), "run {index}: {error}, not {shared}");
    }
    assert_eq!(seen.next(), None);
}

#[test]
fn refused_runs_share_nothing_and_a_stopped_search_has_nothing() {
    let shared = known(vec![1.0, f64::NAN, 2.0, 3.0], 0.0, 1.0);
    let of = |runs| shared.of_runs(runs).collect::<Vec<_>>();
    assert_eq!(of(0..3), [Some(1.0), None, Some(2.0)]);
    assert_eq!(of(2..4), [Some(2.0), Some(3.0)]);
    assert_eq!(of(2..5), []);
    let bench = machine::bench(&machine::draft(), &SILENT);
    assert!(Shared::of(&bench, &AtomicBool::new(true)).is_none());
}
