//! Scrape scrapes: against the exact tail of a normal, against counting, and the interval against what it
//! promises.

use std::sync::atomic::AtomicBool;

use zdatum::{Setup, Uncertainty};
use zdatum_sim::world::Noise;
use zdatum_world::engine::Bench;
use zdatum_world::questions::scrape::{Scrape, ScrapeQuestion, scrape};

use crate::machines;

/// A machine whose error is a sum of normals but for rounding: fine steps, nothing wild. With the exact
/// standard deviation, mm.
fn linear(seed: u64) -> (Bench, f64) {
    let machine = machines::demo();
    let mut draft = machine.setup.draft().clone();
    draft.travel.steps = (1 << 14, 1);
    draft.touch.fine_speed = draft.probe.trimmed_at_speed;
    draft.probe.trip_depth_u = Uncertainty::parse("0.004").expect("a length");
    let setup = Setup::check(draft).unwrap_or_else(|bad| panic!("{bad:?}"));
    let noise = Noise { outlier_rate: 0.0, ..machine.noise };
    let (v, n) = (2.0, 5.0);
    let jitter = v * noise.latency_jitter_s;
    let touches: f64 = [noise.tip_switch, noise.shoulder_switch, noise.plate_switch]
        .iter()
        .map(|s| (s * s + jitter * jitter) / n)
        .sum();
    let growth = 85.0 * 0.040e-3;
    let sd = (0.004_f64.powi(2) + touches + growth * growth).sqrt();
    (Bench::new(setup, &noise, seed), sd)
}

fn ask(bench: &Bench, gap: f64, runs: u64) -> Scrape {
    scrape(&ScrapeQuestion { bench, gap, runs, check: 0 }, &AtomicBool::new(false), &|_| {})
}

/// From 10⁻³ to 10⁻⁹, within a tenth of the normal's tail.
#[test]
fn a_linear_machine_has_the_normal_tail() {
    let (bench, sd) = linear(1);
    for (sigmas, tail) in
        [(3.090_232_306_167_8, 1e-3), (4.753_424_308_822_9, 1e-6), (5.997_807_015_007_7, 1e-9)]
    {
        let found = ask(&bench, sigmas * sd, 20_000);
        assert!((found.p.value / tail - 1.0).abs() < 0.1, "{tail:e}: {found:?}");
        assert!(found.tells() && found.p.error / found.p.value < 0.05, "{found:?}");
        assert!((found.linear_sd.expect("moves") / sd - 1.0).abs() < 1e-3, "{found:?}, not {sd}");
    }
}

/// The interval covers the exact tail as often as it says, over many small campaigns.
#[test]
fn the_interval_covers() {
    let repeats = 300;
    let covered = (0..repeats)
        .filter(|seed| {
            let (bench, sd) = linear(1_000 + seed);
            let (low, high) = ask(&bench, 4.753_424_308_822_9 * sd, 1_000).interval.expect("runs");
            low <= 1e-6 && 1e-6 <= high
        })
        .count();
    // 285 expected, 3.8 one standard deviation.
    assert!((271..=297).contains(&covered), "{covered} of {repeats}");
}

/// What is no rare event is found as counting finds it, on the demo's own machine with its wild touches and
/// coarse steps.
#[test]
fn counting_agrees() {
    let machine = machines::demo();
    let bench = Bench::new(machine.setup.clone(), &machine.noise, 5);
    let question = ScrapeQuestion { bench: &bench, gap: 0.015, runs: 20_000, check: 100_000 };
    let found = scrape(&question, &AtomicBool::new(false), &|_| {});
    let counted = found.counted.expect("counted");
    assert!(counted.scraped > 50 && counted.agrees(found.interval.expect("runs")), "{found:?}");
    let share = counted.scraped as f64 / counted.runs as f64;
    assert!((found.p.value / share - 1.0).abs() < 0.3, "{found:?}");
}

/// Where nothing can scrape, the bound is what none among the plain runs excludes, and it does not claim to
/// tell.
#[test]
fn none_seen_has_a_bound() {
    let (mut bench, _) = linear(1);
    let mut draft = bench.setup.draft().clone();
    draft.accept.expanded_u = Uncertainty::parse("0.0001").expect("a length");
    bench.setup = Setup::check(draft).unwrap_or_else(|bad| panic!("{bad:?}"));
    let found = ask(&bench, 0.02, 2_000);
    assert!(!found.tells() && found.scraped == 0 && found.accepted == 0.0, "{found:?}");
    let (low, high) = found.interval.expect("runs");
    assert!(low == 0.0 && (high * 200.0 / 2.996 - 1.0).abs() < 0.02, "{high}");
}

#[test]
fn threads_do_not_show() {
    let (bench, sd) = linear(3);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| ask(&bench, 5.0 * sd, 9_990))
    };
    assert_eq!(on(1), on(3));
}
