//! JCGM 101:2008 (Supplement 1 to the GUM) by the machinery of the campaigns: its random numbers, its sums,
//! its quantiles.
//!
//! 9.2.2 and 9.2.3: end points as the tests of a public library give them, and exact. 9.5: inputs and results
//! *from memory*.

use zdatum::budget::{Combined, Source, Term};
use zdatum::{Coverage, Dof, Variance};
use zdatum_sim::world::random::Random;
use zdatum_world::engine::Tally;

use crate::machines::assert_near;
use crate::sums::accepted;

const TRIALS: u64 = 1_000_000;

/// U of four inputs with u = 1 each, by the law of propagation: the core's own.
fn propagated() -> f64 {
    let one = Variance::from_f64(1.0).expect("in range");
    let terms = [0, 1, 2, 3].map(|i| Term { source: Source::Other(i), variance: one, dof: Dof::INFINITE });
    Combined::of(&terms, Coverage::P95).expect("in range").expanded.to_f64()
}

/// A tally of trials, each from its own stream; `expanded` is the interval whose coverage is counted.
fn trials(count: u64, expanded: f64, mut draw: impl FnMut(&mut Random) -> f64) -> Tally {
    let mut tally = Tally::new(expanded);
    for trial in 0..count {
        let value = draw(&mut Random::of_run(101, trial));
        tally.add(&accepted(value, expanded));
    }
    tally
}

/// Mean 0, sd 2, and the 95 % interval; a quantile's own sd is about 0.006 at a million trials.
fn assert_interval(tally: &Tally, high: f64) {
    let mean = tally.mean().expect("trials");
    assert_near(mean.value, 0.0, 4.0 * mean.error);
    assert_near(tally.sd().expect("trials").value, 2.0, 0.006);
    let quantile = |p| tally.errors.quantile(p).expect("trials").value;
    assert_near(quantile(0.975), high, 0.018);
    assert_near(quantile(0.025), -high, 0.018);
}

#[test]
fn four_normal_inputs_9_2_2() {
    assert_near(propagated(), 3.92, 0.005);
    let tally = trials(TRIALS, propagated(), |random| (0..4).map(|_| random.normal()).sum());
    assert_interval(&tally, 3.919_928);
    assert_near(tally.coverage().expect("trials").value, 0.95, 0.0009);
}

#[test]
fn four_rectangular_inputs_9_2_3() {
    // Each from −√3 to √3: u = 1. Exact: 2·√3·(2 − (3/5)^(1/4)) = 3.879407, 0.04 inside what the law of
    // propagation says.
    let width = 2.0 * 3_f64.sqrt();
    let tally = trials(TRIALS, propagated(), |random| (0..4).map(|_| width * random.centred()).sum());
    assert_interval(&tally, width * (2.0 - 0.6_f64.powf(0.25)));
    let high = tally.errors.quantile(0.975).expect("trials").value;
    assert!(propagated() - high > 0.02, "the two intervals can be told apart");
    // 8.1: validated to two digits (δ = 0.05); verdict from memory.
    assert!((propagated() - high).abs() <= 0.05);
    // No sum is beyond 4·√3.
    let (low, high) = tally.errors.extremes().expect("trials");
    assert!(low >= -2.0 * width && high <= 2.0 * width);
}

/// Student's t with ν degrees of freedom.
fn student(random: &mut Random, nu: u32) -> f64 {
    let chi2: f64 = (0..nu).map(|_| random.normal().powi(2)).sum();
    random.normal() / (chi2 / f64::from(nu)).sqrt()
}

/// Curvilinear trapezoid: a rectangle from a to b whose ends are known to ±d (6.4.3).
fn curvilinear(random: &mut Random, a: f64, b: f64, d: f64) -> f64 {
    let low = a - d + 2.0 * d * random.uniform();
    low + (a + b - 2.0 * low) * random.uniform()
}

/// Gauge-block calibration, 9.5; all figures from memory: mean 838 nm, u 36 nm, 99 % from 745 to 932 nm.
#[test]
fn gauge_block_9_5_from_memory() {
    let tally = trials(150_000, 1.0, |random| {
        let standard = 50_000_623.0 + 25.0 * student(random, 18);
        let difference =
            215.0 + 6.0 * student(random, 24) + 4.0 * student(random, 5) + 7.0 * student(random, 8);
        let expansion = 9.5e-6 + 4e-6 * random.uniform();
        let cyclic = 0.5 * (2.0 * std::f64::consts::PI * random.uniform()).sin();
        let temperature = -0.1 + 0.2 * random.normal() + cyclic;
        let expansions_differ = curvilinear(random, -1.0e-6, 1.0e-6, 0.1e-6);
        let temperatures_differ = curvilinear(random, -0.050, 0.050, 0.025);
        let length = standard * (1.0 + expansion * (temperature - temperatures_differ)) + difference;
        length / (1.0 + (expansion + expansions_differ) * temperature) - 5e7
    });
    assert_near(tally.mean().expect("trials").value, 838.0, 0.5);
    assert_near(tally.sd().expect("trials").value, 35.81, 0.5);
    // The probabilistically symmetric interval, recomputed: 744.4 to 931.7; the document gives the shortest.
    let quantile = |p| tally.errors.quantile(p).expect("trials").value;
    assert_near(quantile(0.005), 744.4, 1.8);
    assert_near(quantile(0.995), 931.7, 1.8);
}
