//! The uncertainty budget by switching sources off, against closed forms.

use std::sync::atomic::AtomicBool;

use zdatum::setup::Follows;
use zdatum_tests::machine::{celsius, growth, latency, mm, speed, u, workshop};
use zdatum_world::engine::Estimate;
use zdatum_world::questions::budget::{Budget, BudgetLine, Examination, Examined, examine};

use crate::machines::{Case, assert_near, on_threads};

const RUNS: u64 = 20_000;

fn examined(case: &Case, runs: u64) -> Examined {
    let (bench, names) = (case.bench(), ["hot nozzle".to_owned(), "bed posts".to_owned()]);
    let what = Examination { growth_names: &names, bench: &bench, runs, most: 20_000, within: 0.02 };
    examine(&what, &AtomicBool::new(false), &|_| {})
}

fn budget(case: &Case) -> Budget {
    examined(case, RUNS).budget.expect("accepted cycles")
}

fn line<'b>(budget: &'b Budget, source: &str) -> &'b BudgetLine {
    let found = budget.lines.iter().find(|line| line.source == source);
    found.unwrap_or_else(|| panic!("{source} is missing: {:#?}", budget.lines))
}

/// Within 4 standard errors, and known to a tenth of the whole.
#[track_caller]
fn assert_estimate(seen: Estimate, expected: f64, whole: f64) {
    assert!(seen.error < 0.1 * whole, "{seen:?} of {whole}");
    assert_near(seen.value, expected, 4.0 * seen.error + 1e-12 * whole);
}

/// All sources at once, each known; five touches per station.
fn busy() -> Case {
    let mut case = Case::quiet().switches(0.003, 0.004, 0.005).studied(Some([0.003, 0.004, 0.005]));
    case.draft.touch.band = mm("1");
    case.draft.probe.trip_depth_u = u("0.004");
    case.draft.growth = workshop().growth;
    case.draft.growth[0].rate_u = growth("0.03");
    let mut bed = case.draft.growth[0];
    (bed.follows, bed.rate_u) = (Follows::Bed, growth("0.05"));
    (bed.touch, bed.print) = (celsius("40"), celsius("80"));
    case.draft.growth.push(bed).expect("room");
    case.draft.probe.trimmed_at_speed = speed("0");
    case.draft.probe.delay.latency_u = latency("0.002");
    case.draft.datum_switch.delay.latency_u = latency("0.001");
    case.noise.reseat = 0.02;
    case.noise.latency_jitter_s = 0.002;
    case
}

#[test]
fn each_source_has_its_own_variance() {
    let budget = budget(&busy());
    let n = 5.0;
    let whole = budget.simulated_sd.value.powi(2);
    let mut sum = 0.0;
    for (source, u, touches) in [
        ("tip touches", 0.003 / f64::sqrt(n), true),
        ("shoulder touches", 0.004 / f64::sqrt(n), true),
        ("plate touches", 0.005 / f64::sqrt(n), true),
        ("trip depth", 0.004, false),
        ("plate switch latency", 1.5 * 0.002, false),
        ("hot nozzle", 0.03 * 80.0 / 1000.0, false),
        ("bed posts", 0.05 * 40.0 / 1000.0, false),
        // Three stations at 1.5 mm/s.
        ("latency jitter", 1.5 * 0.002 * f64::sqrt(3.0 / n), true),
    ] {
        let line = line(&budget, source);
        assert_estimate(line.variance, u * u, whole);
        assert_estimate(line.share, line.variance.value / whole, 1.0);
        assert_eq!(line.is_touches, touches, "{source}");
        assert!(!line.reduced_by.is_empty(), "{source}");
        if source == "latency jitter" {
            assert_eq!((line.core_u, line.core_share), (None, None));
        } else {
            assert_near(line.core_u.expect("the core counts it"), u, 1e-6);
        }
        sum += u * u;
    }
    assert_near(whole, sum, 0.05 * sum);
    // The latency of the datum switch cancels between tip and shoulder; how the probe seats, between shoulder
    // and plate.
    assert!(budget.lines.iter().all(|line| line.source != "datum switch latency"));
    assert_estimate(line(&budget, "seating of the probe").variance, 0.0, whole);
    assert!(budget.lines.iter().all(|line| line.shift.value.abs() <= 4.0 * line.shift.error + 1e-9));
    // The core's shares add up, its u is their root sum of squares.
    let shares: f64 = budget.lines.iter().filter_map(|line| line.core_share).sum();
    assert_near(shares, 1.0, 1e-4);
    let sorted = budget
        .lines
        .iter()
        .filter(|line| !line.shifts())
        .map(|line| line.core_share.unwrap_or(0.0).max(line.share.value));
    assert!(sorted.is_sorted_by(|a, b| a >= b));
}

#[test]
fn more_touches_bring_what_averages() {
    let mut case = Case::quiet().switches(0.004, 0.004, 0.004).studied(Some([0.004; 3]));
    case.draft.probe.trip_depth_u = u("0.003");
    let budget = budget(&case);
    let more = budget.more.as_ref().expect("ten touches are allowed");
    assert_eq!((more.now, more.then), (5, 10));
    let sd = |n: f64| (3.0 * 0.004_f64.powi(2) / n + 0.003_f64.powi(2)).sqrt();
    for (figures, n) in [(&more.figures_now, 5.0), (&more.figures_then, 10.0)] {
        assert_near(figures.sd.expect("accepted").value, sd(n), 0.025 * sd(n));
    }
    assert_near(more.floor, 0.003, 0.000_15);
    let longer = more.figures_then.seconds.value - more.figures_now.seconds.value;
    assert!((8.0..20.0).contains(&longer), "fifteen touches more take {longer} s");
    let words = budget.advice.join(" ");
    for text in ["Fix first: trip depth", "a gauge check", "10 instead of 5", "worth a try", "they agree"] {
        assert!(words.contains(text), "`{text}` is missing: {words}");
    }
    let below = format!("below {:.2} µm: they do nothing about trip depth.", more.floor * 1e3);
    assert!(words.contains(&below), "{below} is missing: {words}");
    // 64 touches are the most that a station holds.
    assert!(self::budget(&case.touches(33, 40)).more.is_none());
}

/// Touches that all fall on one motor step do not average it.
#[test]
fn steps_that_nothing_spreads_stay() {
    let mut case = Case::quiet();
    case.draft.travel.steps = (50, 1);
    case.draft.probe.trip_depth_u = u("0.001");
    case.draft.touch.band = mm("0.05");
    let budget = budget(&case);
    assert!(!line(&budget, "motor steps").is_touches);
    let more = budget.more.as_ref().expect("ten touches are allowed");
    let reached = more.figures_then.sd.expect("accepted").value;
    // A step of 20 µm thrice is 10 µm; ten touches leave it as it was.
    assert!(reached > 0.009, "{reached}");
    assert!(more.floor <= reached && more.floor > 0.95 * reached, "{more:?}");
    let words = budget.advice.join(" ");
    assert!(words.contains("they do nothing about motor steps"), "{words}");
    // Half a step of scatter spreads them.
    let spread = case.switches(0.0101, 0.0101, 0.0101).studied(Some([0.0101; 3]));
    assert!(line(&self::budget(&spread), "motor steps").is_touches);
}

/// What chance alone may have made is not told as a fact, and no two sentences contradict each other.
#[test]
fn too_few_runs_promise_nothing() {
    let mut case = Case::quiet().switches(0.004, 0.004, 0.004).studied(Some([0.004; 3]));
    case.draft.probe.trip_depth_u = u("0.003");
    let budget = examined(&case, 60).budget.expect("accepted cycles");
    let more = budget.more.as_ref().expect("ten touches are allowed");
    let words = budget.advice.join(" ");
    assert!(words.contains("Too few runs (--each) to tell what is left with any number"), "{words}");
    assert!(!words.contains("below"), "{words}");
    for figures in [&more.figures_now, &more.figures_then] {
        assert!(more.floor <= figures.sd.expect("accepted").value, "{more:?}");
    }
}

#[test]
fn what_is_allowed_for_but_not_there_is_named() {
    let mut case = Case::quiet().switches(0.002, 0.002, 0.002).studied(Some([0.002; 3]));
    case.draft.soak_left = mm("0.006");
    let budget = budget(&case);
    let soak = line(&budget, "soak");
    assert_near(soak.core_u.expect("counted"), 0.006 / 12_f64.sqrt(), 1e-6);
    assert_eq!(soak.variance, Estimate { value: 0.0, error: 0.0 });
    let words = budget.advice.join(" ");
    assert!(words.contains("safe side") && words.contains("for soak"), "{words}");
    assert!(words.contains("has none"), "{words}");
}

#[test]
fn what_is_there_but_not_allowed_for_is_named() {
    let mut case = Case::quiet().switches(0.002, 0.002, 0.008).studied(Some([0.002, 0.002, 0.004]));
    (case.noise.tip_filament, case.noise.tip_squash) = (0.01, 0.0);
    let budget = budget(&case);
    let words = budget.advice.join(" ");
    assert!(words.contains("too sure") && words.contains("mostly about plate touches"), "{words}");
    // Filament that is not squashed moves every landing alike, and no scatter tells.
    let filament = line(&budget, "filament on the tip");
    assert_near(filament.shift.value, 0.01, 1e-4);
    assert!(
        words.contains("too far, mostly because of filament on the tip: it shifts every landing by +"),
        "{words}"
    );
}

#[test]
fn coarse_steps_and_drift_are_seen() {
    let mut case = Case::quiet().switches(0.004, 0.004, 0.004);
    case.draft.travel.steps = (100, 1);
    case.noise.drift = 0.3;
    let budget = budget(&case);
    let steps = line(&budget, "motor steps");
    // Spread over the touches by noise of a third of a step: 3·Δ²/12/n, roughly.
    let expected = 3.0 * 0.01 * 0.01 / 12.0 / 5.0;
    assert_near(steps.variance.value, expected, 0.35 * expected);
    // The frame grows on by some 0.3·(90 s and a half cycle)/1500 s after the touches: the landing is too
    // low.
    let soak = line(&budget, "soak");
    assert!((-0.025..-0.015).contains(&soak.shift.value), "{soak:?}");
    assert_near(budget.simulated_mean.value, soak.shift.value, 0.001);
    // It weighs more than all scatter, so it comes first.
    assert_eq!(budget.lines[0].source, "soak");
    let first = &budget.advice[0];
    assert!(first.contains("too near, mostly because of soak") && first.contains("a longer soak"), "{first}");
}

#[test]
fn the_same_bits_with_any_number_of_threads() {
    let mut case = busy();
    (case.noise.outlier_rate, case.noise.outlier_size) = (0.02, 0.05);
    let on = |threads| on_threads(threads, || examined(&case, 5_000));
    let one = on(1);
    assert!(one.budget.is_some() && one.agreement.is_some());
    for threads in [2, 3, 7] {
        assert_eq!(on(threads), one);
    }
}

#[test]
fn without_accepted_cycles_there_is_no_budget() {
    let mut case = Case::quiet().switches(0.1, 0.1, 0.1);
    case.draft.touch.band = mm("0.001");
    assert_eq!(examined(&case, 500), Examined::NOTHING);
    let bench = case.bench();
    let what = Examination { growth_names: &[], bench: &bench, runs: 500, most: 20_000, within: 0.02 };
    assert_eq!(examine(&what, &AtomicBool::new(true), &|_| {}), Examined::NOTHING);
}
