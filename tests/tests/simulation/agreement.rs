//! JCGM 101:2008, 7.7, 7.9 and 8.1: numerical tolerance, symmetric interval, adaptive procedure, comparison
//! of intervals.
//!
//! The rules and the verdicts are *from memory*. 9.2.2 and 9.2.3: end points as the tests of a public library
//! give them, and exact; 9.2.4: exact by quadrature, its print from memory; 9.3: from memory, recomputed with
//! 10⁷ trials.

use zdatum_sim::world::Machine;
use zdatum_sim::world::random::Random;
use zdatum_tests::machine::{checked, mm, u, workshop};
use zdatum_world::engine::Bench;
use zdatum_world::questions::budget::agreement::{
    Agrees, Check, Simulated, Stated, adaptive, block_size, symmetric, tolerance,
};
use zdatum_world::questions::budget::{Examination, examine};

use crate::machines::{Case, SILENT, assert_near};

#[test]
fn numerical_tolerance_7_9_2() {
    for (u, digits, delta) in [
        // The document's own: 0.00035 g, two digits and one; 2 K.
        (0.000_35, 2, 0.000_005),
        (0.000_35, 1, 0.000_05),
        (2.0, 1, 0.5),
        // 9.2.4: 10.1 is 10·10⁰.
        (10.1, 2, 0.5),
        (2.0, 2, 0.05),
        (2.0, 3, 0.005),
        // Rounding carries: 0.0996 is 10·10⁻², 0.96 is 1·10⁰.
        (0.0996, 2, 0.005),
        (0.96, 1, 0.5),
        (0.0, 2, 0.0),
    ] {
        assert_near(tolerance(u, digits), delta, 1e-12 * delta);
    }
    assert_eq!((block_size(0.95), block_size(0.99), block_size(0.999)), (10_000, 10_000, 100_000));
}

#[test]
fn symmetric_interval_7_7_2() {
    let values: Vec<f64> = (1..=10_000).map(f64::from).collect();
    // q = 9500, r = 250.
    assert_eq!(symmetric(&values, 0.95), Some((250.0, 9_750.0)));
    // M − q odd: q = 9, r = ⌊(11 − 9 + 1)/2⌋ = 1.
    assert_eq!(symmetric(&values[..11], 0.80), Some((1.0, 10.0)));
    assert_eq!(symmetric(&values[..10], 0.80), Some((1.0, 9.0)));
    assert_eq!(symmetric(&values[..2], 0.95), Some((1.0, 2.0)));
    assert_eq!((symmetric(&values[..1], 0.95), symmetric(&[], 0.95)), (None, None));
}

/// Blocks of trials of a model.
fn simulated(to: f64, most: u64, draw: impl Fn(&mut Random) -> f64 + Sync) -> Simulated {
    let size = block_size(0.95);
    let block = |number: u64| {
        let mut random = Random::of_run(77, number);
        Some((0..size).map(|_| draw(&mut random)).collect())
    };
    adaptive(0.95, to, size, most, block).expect("two blocks or more")
}

/// Rectangular, of standard uncertainty u.
fn rectangular(random: &mut Random, u: f64) -> f64 {
    2.0 * 3_f64.sqrt() * u * random.centred()
}

fn stated(y: f64, u: f64) -> Stated {
    Stated { y, u, expanded: 1.959_964 * u }
}

#[test]
fn four_normal_inputs_agree_9_2_2() {
    // A fifth of the tolerance, as 8.1 asks.
    let seen = simulated(0.01, 1_000, |random| (0..4).map(|_| random.normal()).sum());
    assert!(seen.stable && seen.blocks > 20 && seen.blocks < 400, "{} blocks", seen.blocks);
    assert_eq!((seen.trials, seen.accepted), (seen.blocks * 10_000, seen.blocks * 10_000));
    for (estimate, value) in [(seen.y, 0.0), (seen.u, 2.0), (seen.low, -3.92), (seen.high, 3.92)] {
        assert!(2.0 * estimate.error <= 0.01);
        assert_near(estimate.value, value, 0.015);
    }
    let check = Check::of(&stated(0.0, 2.0), &seen, 2);
    assert_eq!((check.delta, check.agrees), (0.05, Agrees::Yes));
}

#[test]
fn four_rectangular_inputs_agree_to_two_digits_9_2_3() {
    let seen = simulated(0.005, 500, |random| (0..4).map(|_| rectangular(random, 1.0)).sum());
    // 2·√3·(2 − (3/5)^(1/4)).
    assert_near(seen.high.value, 3.879_407, 0.008);
    let check = |digits| Check::of(&stated(0.0, 2.0), &seen, digits);
    assert_near(check(2).high.value, 0.0405, 0.008);
    assert_eq!((check(2).agrees, check(3).agrees), (Agrees::Yes, Agrees::No));
}

#[test]
fn one_wide_rectangular_input_does_not_agree_9_2_4() {
    let seen = simulated(0.1, 100, |random| {
        (0..3).map(|_| rectangular(random, 1.0)).sum::<f64>() + rectangular(random, 10.0)
    });
    assert!(seen.stable);
    assert_near(seen.u.value, 10.148_89, 0.05);
    assert_near(seen.high.value, 17.015_8, 0.1);
    let check = Check::of(&stated(0.0, 10.148_89), &seen, 2);
    assert_near(check.low.value, 2.876, 0.1);
    assert_eq!((check.delta, check.agrees), (0.5, Agrees::No));
}

/// Calibration of a mass, 9.3: first order 0.0539 mg, [1.1285, 1.3395]; simulated 0.0755, [1.0844, 1.3835]
/// (symmetric).
#[test]
fn a_mass_does_not_agree_to_first_order_9_3_from_memory() {
    let seen = simulated(0.000_5, 100, |random| {
        let reference = 100_000.0 + 0.050 * random.normal() + 1.234 + 0.020 * random.normal();
        let within = |random: &mut Random, low: f64, high: f64| low + (high - low) * random.uniform();
        let air = within(random, 1.10, 1.30);
        let (weight, standard) = (within(random, 7_000.0, 9_000.0), within(random, 7_950.0, 8_050.0));
        reference * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100_000.0
    });
    assert_near(seen.y.value, 1.2340, 0.000_6);
    assert_near(seen.u.value, 0.0755, 0.000_6);
    assert_near(seen.low.value, 1.0844, 0.000_8);
    assert_near(seen.high.value, 1.3835, 0.000_8);
    let check = Check::of(&Stated { y: 1.234, u: 0.0539, expanded: 0.1055 }, &seen, 2);
    assert_near(check.delta, 0.000_5, 1e-12);
    assert_near(check.low.value, 0.0441, 0.000_8);
    assert_eq!(check.agrees, Agrees::No);
}

#[test]
fn an_end_near_the_tolerance_is_too_close() {
    let seen = simulated(0.05, 100, |random| 2.0 * random.normal());
    // The ends of the simulated interval moved to just inside and just outside δ.
    let check = |beyond: f64| {
        let mut seen = seen;
        (seen.low.value, seen.high.value) = (-3.92 - 0.05 + beyond, 3.92);
        Check::of(&Stated { y: 0.0, u: 2.0, expanded: 3.92 }, &seen, 2)
    };
    let error = seen.low.error;
    assert!(error > 0.0 && error < 0.02);
    assert_eq!(check(0.5 * error).agrees, Agrees::TooClose);
    assert_eq!(check(-0.5 * error).agrees, Agrees::TooClose);
    assert_eq!(check(-2.5 * error).agrees, Agrees::No);
    assert_eq!(
        check(0.05).agrees,
        if 2.0 * seen.high.error <= 0.05 { Agrees::Yes } else { Agrees::TooClose }
    );
}

#[test]
fn the_procedure_ends_when_told_and_where_blocks_run_out() {
    let block = |number: u64| (number < 5).then(|| vec![0.0, 1.0, 2.0]);
    assert_eq!(adaptive(0.95, 0.0, 3, 9, block), None, "stopped");
    assert_eq!(adaptive(0.95, 0.0, 3, 1, block), None, "one block tells no scatter");
    let seen = adaptive(0.95, 0.0, 3, 4, block).expect("two blocks or more");
    assert_eq!(
        (seen.blocks, seen.trials, seen.stable),
        (2, 6, true),
        "blocks that are alike are known exactly"
    );
    let noisy = |number: u64| Some(vec![number as f64, 1.0, 2.0]);
    let seen = adaptive(0.95, 0.0, 3, 4, noisy).expect("two blocks or more");
    assert_eq!((seen.blocks, seen.stable), (4, false));
}

/// A machine that knows itself: its noise is what its studies say, nothing grows.
fn trusted() -> Case {
    let mut case = Case { draft: workshop(), noise: SILENT, faults: Vec::new(), seed: 31 }.touches(5, 9);
    let step = 1.0 / 960.0_f64;
    let seen = [0.0015, 0.0015, 0.003].map(|s: f64| (s * s + step * step / 12.0).sqrt());
    case.noise.reseat = 0.02;
    case.draft.touch.band = mm("0.03");
    case.switches(0.0015, 0.0015, 0.003).studied(Some(seen))
}

fn agreement(bench: &Bench, most: u64) -> zdatum_world::questions::budget::Agreement {
    let what = Examination { growth_names: &[], bench, runs: 5_000, most, within: 0.02 };
    examine(&what, &Default::default(), &|_| {}).agreement.expect("accepted cycles")
}

#[test]
fn the_core_agrees_with_a_machine_that_knows_itself() {
    let seen = agreement(&trusted().bench(), 2_000_000);
    let [two, one] = seen.checks.as_slice() else { panic!("two checks: {seen:?}") };
    assert_eq!((seen.coverage, two.digits, one.digits), (0.95, 2, 1));
    // u is about 4.6 µm: δ is 0.05 and 0.5 µm.
    assert_eq!((two.delta, one.delta), (0.000_05, 0.000_5));
    assert_eq!((two.agrees, one.agrees), (Agrees::Yes, Agrees::Yes), "{seen:?}");
    assert_near(seen.stated.u, seen.simulated.u.value, 0.000_05);
}

#[test]
fn the_core_does_not_agree_with_a_machine_that_is_worse_than_its_file() {
    let case = trusted();
    let mut bench = case.bench();
    let mut worse = case.draft.clone();
    worse.probe.trip_depth_u = u("0.008");
    bench.machine = Machine::new(&checked(&worse), &case.noise);
    let seen = agreement(&bench, 100_000);
    assert!(seen.checks.iter().all(|check| check.agrees == Agrees::No), "{seen:?}");
    assert!(seen.simulated.high.value > seen.stated.expanded);
    // Something that moves all errors alike shows at both ends, and is not hidden by taking the simulated
    // mean.
    let mut case = trusted();
    (case.noise.tip_filament, case.noise.tip_squash) = (0.003, 0.0);
    let seen = agreement(&case.bench(), 100_000);
    assert_near(seen.simulated.y.value, 0.003, 0.000_2);
    assert_near(seen.checks[0].high.value, 0.003, 0.000_4);
    assert_eq!(seen.checks[1].agrees, Agrees::No);
}
