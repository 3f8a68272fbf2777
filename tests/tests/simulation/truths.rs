//! What is drawn once a run, and at each fetch, against the distributions that are promised.

use zdatum_tests::machine::{growth, latency, u};

use crate::machines::{Case, assert_near, assert_normal, moments};

const RUNS: u64 = 4_000;

/// A uniform distribution: never outside, mean in the middle, sd = width/√12 within 4 standard errors
/// (kurtosis 1.8).
#[track_caller]
fn assert_uniform(values: &[f64], middle: f64, width: f64) {
    let n = values.len() as f64;
    let sd = width / 12_f64.sqrt();
    for value in values {
        // The ranges themselves are held to 2⁻¹⁶ mm.
        assert!((value - middle).abs() <= width / 2.0 + 1.6e-5, "{value} is outside {middle} ± {width}/2");
    }
    let (seen_mean, seen_sd) = moments(values);
    assert_near(seen_mean, middle, 4.0 * sd / n.sqrt());
    assert_near(seen_sd / sd, 1.0, 4.0 * (0.8_f64 / (4.0 * n)).sqrt());
}

#[test]
fn what_is_drawn_once_a_run() {
    let mut case = Case::quiet();
    case.draft.travel.steps = (100, 1);
    case.draft.probe.trip_depth_u = u("0.004");
    case.draft.probe.delay.latency_u = latency("0.0003");
    case.draft.datum_switch.delay.latency_u = latency("0.0001");
    case.noise.reseat = 0.03;
    let truths: Vec<_> = (0..RUNS).map(|index| case.watched(index).2).collect();
    let all = |value: fn(&zdatum_sim::world::Truth) -> f64| truths.iter().map(value).collect::<Vec<_>>();

    // Tip height: the middle of 0.1 to 1.1, uniform over one step of 0.01.
    assert_uniform(&all(|truth| truth.tip), 0.6, 0.01);
    // Rise: −0.5 to 0.75, uniform over the middle fifth.
    assert_uniform(&all(|truth| truth.rise), 0.125, 0.25);
    // Drop: 5.5 to 6.75, normal about the middle.
    assert_normal(&all(|truth| truth.drop), 6.125, 0.03);
    assert_normal(&all(|truth| truth.datum_latency), 0.0004, 0.0001);
    assert_normal(&all(|truth| truth.plate_latency), 0.0012, 0.0003);
    // t + v₀·τ at the plate: at the speed of the trim a wrong τ does no harm.
    assert_normal(&all(|truth| truth.trip_depth_seen - 1.5 * truth.plate_latency), 0.55, 0.004);
    // L = T + r, nothing grows.
    assert!(truths.iter().all(|truth| (truth.landing - truth.tip - truth.rise).abs() < 1e-12));
}

#[test]
fn draws_of_one_run_are_independent() {
    let mut case = Case::quiet();
    case.draft.probe.trip_depth_u = u("0.004");
    case.draft.probe.delay.latency_u = latency("0.0003");
    case.draft.datum_switch.delay.latency_u = latency("0.0001");
    case.noise.reseat = 0.03;
    let truths: Vec<_> = (0..RUNS).map(|index| case.watched(index).2).collect();
    let columns = [
        |t: &zdatum_sim::world::Truth| t.tip,
        |t: &zdatum_sim::world::Truth| t.rise,
        |t: &zdatum_sim::world::Truth| t.drop,
        |t: &zdatum_sim::world::Truth| t.trip_depth_seen - 1.5 * t.plate_latency,
        |t: &zdatum_sim::world::Truth| t.datum_latency,
        |t: &zdatum_sim::world::Truth| t.plate_latency,
    ]
    .map(|value| truths.iter().map(value).collect::<Vec<_>>());
    for (i, a) in columns.iter().enumerate() {
        // The next run's value of the same kind, and this run's of every later kind.
        assert_near(correlation(&a[1..], &a[..a.len() - 1]), 0.0, 4.0 / (RUNS as f64).sqrt());
        for b in columns.iter().skip(i + 1) {
            assert_near(correlation(a, b), 0.0, 4.0 / (RUNS as f64).sqrt());
        }
    }
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let ((mean_a, sd_a), (mean_b, sd_b)) = (moments(a), moments(b));
    let sum: f64 = a.iter().zip(b).map(|(a, b)| (a - mean_a) * (b - mean_b)).sum();
    sum / (a.len() as f64 - 1.0) / (sd_a * sd_b)
}

#[test]
fn a_growth_is_drawn_once_a_run() {
    let mut case = Case::quiet();
    case.draft.growth = zdatum_tests::machine::workshop().growth;
    case.draft.growth[0].rate_u = growth("0.05");
    let grown: Vec<f64> = (0..RUNS)
        .map(|index| {
            let truth = case.watched(index).2;
            truth.landing - truth.tip - truth.rise
        })
        .collect();
    // 0.3 ± 0.05 µm/K over 80 K.
    assert_normal(&grown, 0.024, 0.004);
}
