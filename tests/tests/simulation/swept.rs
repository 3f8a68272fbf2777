//! Sweeps against closed forms.

use std::sync::atomic::AtomicBool;

use zdatum::setup::Studied;
use zdatum_tests::machine::mm;
use zdatum_world::engine::Bench;
use zdatum_world::questions::sweep::{Sweep, Swept, sweep};

use crate::machines::{Case, assert_near, on_threads};

const RUNS: u64 = 5_000;

fn swept(bench: &Bench, swept: Swept) -> Sweep {
    sweep(bench, swept, RUNS, 0.02, &AtomicBool::new(false), &|_| {})
}

fn case() -> Case {
    let s = 0.003;
    Case::quiet().switches(s, s, s).studied(Some([s; 3]))
}

#[test]
fn the_error_falls_with_the_root_of_the_touches() {
    let sweep = swept(&case().bench(), Swept::Touches);
    assert_eq!(sweep.points.len(), 16);
    for (point, n) in sweep.points.iter().zip(1_u8..) {
        assert_eq!((point.at, point.is_own), (f64::from(n), n == 5));
        let sd = 0.003 * (3.0 / point.at).sqrt();
        let seen = point.figures.sd.expect("accepted");
        assert_near(seen.value, sd, 4.0 * seen.error);
        assert_near(point.core_u.expect("accepted"), sd, 1e-6);
        // One series in a thousand or so is refused as walking and ends early.
        assert_near(point.figures.touches.value, 3.0 * (2.0 + point.at), 0.05);
    }
}

#[test]
fn the_error_grows_with_the_noise_and_the_core_is_not_told() {
    let sweep = swept(&case().bench(), Swept::Noise);
    let ats: Vec<f64> = sweep.points.iter().map(|point| point.at).collect();
    assert!(ats.is_sorted() && ats.first() == Some(&0.25) && ats.last() == Some(&4.0), "{ats:?}");
    assert_eq!(
        sweep.points.iter().filter(|point| point.is_own).map(|point| point.at).collect::<Vec<_>>(),
        [1.0]
    );
    for point in &sweep.points {
        let seen = point.figures.sd.expect("accepted");
        assert_near(seen.value, point.at * 0.003 * (3.0_f64 / 5.0).sqrt(), 4.0 * seen.error);
        assert_near(point.core_u.expect("accepted"), 0.003 * (3.0_f64 / 5.0).sqrt(), 1e-6);
    }
}

#[test]
fn too_much_noise_for_the_band_is_refused() {
    let mut case = case();
    case.draft.touch.band = mm("0.02");
    let refused: Vec<f64> =
        swept(&case.bench(), Swept::Noise).points.iter().map(|point| point.figures.refused.value).collect();
    assert!(refused[0] == 0.0 && *refused.last().expect("points") > 0.5, "{refused:?}");
}

#[test]
fn a_machine_without_a_study_is_not_asked_for_single_touches() {
    let mut case = case();
    case.draft.pooled = Studied::default();
    let ats: Vec<f64> = swept(&case.bench(), Swept::Touches).points.iter().map(|point| point.at).collect();
    assert_eq!(ats, (2..=16).map(f64::from).collect::<Vec<_>>());
    // Its own number of touches is always there.
    let ats = swept(&case.touches(20, 22).bench(), Swept::Touches).points.len();
    assert_eq!(ats, 19);
}

#[test]
fn the_same_bits_with_any_number_of_threads() {
    let bench = case().bench();
    let on = |threads| on_threads(threads, || swept(&bench, Swept::Touches));
    let one = on(1);
    for threads in [2, 5] {
        assert_eq!(on(threads), one);
    }
    let stopped = sweep(&bench, Swept::Noise, RUNS, 0.02, &AtomicBool::new(true), &|_| {});
    assert!(stopped.points.is_empty());
}
