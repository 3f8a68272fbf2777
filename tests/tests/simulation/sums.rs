//! What is added up over runs: quantiles to their bound, sums against plain double precision, memory that
//! does not grow.

use zdatum::RefusalKind;
use zdatum::cycle::Ending;
use zdatum_sim::world::random::Random;
use zdatum_world::engine::histogram::Histogram;
use zdatum_world::engine::{Ran, Tally, run_block};

use crate::counting::allocations;
use crate::machines::{Case, assert_near, moments};

/// An accepted run.
pub(crate) fn accepted(error: f64, expanded: f64) -> Ran {
    Ran {
        error: Some(error),
        expanded,
        refused: None,
        true_landing: 0.0,
        touches: 21,
        seconds: 24.5,
        ending: Ending::LiftedAndPutBack,
    }
}

fn refused(kind: RefusalKind) -> Ran {
    Ran { error: None, refused: Some(kind), touches: 4, seconds: 3.25, ..accepted(0.0, 0.0) }
}

/// The ⌈p·n⌉-th smallest.
fn exact_quantile(sorted: &[f64], p: f64) -> f64 {
    let rank = (p * sorted.len() as f64).ceil() as usize;
    sorted[rank.clamp(1, sorted.len()) - 1]
}

fn counted(values: &[f64]) -> Histogram {
    let mut histogram = Histogram::default();
    values.iter().for_each(|value| histogram.add(*value));
    histogram
}

#[test]
fn quantiles_are_off_by_their_bound_at_most() {
    let sd = 0.004;
    for (count, shift, tail) in [
        (1, 0.0, 0.0),
        (2, 0.0, 0.0),
        (3, 0.1, 0.0),
        (100, -0.05, 0.0),
        (20_000, 0.0, 0.0),
        (20_000, 0.06, 0.0),
        (20_000, 300.0, 0.0),
        (20_000, 0.0, 0.6),
    ] {
        let mut random = Random::of_run(5, count);
        // One in a hundred or so is wild by `tail`: nothing tells of that beforehand.
        let mut values: Vec<f64> = (0..count)
            .map(|_| shift + sd * random.normal() + if random.uniform() < 0.01 { tail } else { 0.0 })
            .collect();
        let histogram = counted(&values);
        values.sort_by(f64::total_cmp);
        assert_eq!(histogram.total(), count);
        assert_eq!(histogram.extremes(), Some((values[0], values[values.len() - 1])));
        for p in [0.0, 0.001, 0.025, 0.25, 0.5, 0.75, 0.975, 0.999, 1.0] {
            let seen = histogram.quantile(p).expect("not empty");
            let exact = exact_quantile(&values, p);
            assert_near(seen.value, exact, seen.bound * (1.0 + 1e-9));
            assert!(seen.bound <= 0.96e-6 || seen.bound <= exact.abs() / 16_384.0, "{seen:?}");
        }
    }
    assert_eq!(Histogram::default().quantile(0.5), None);
    assert_eq!(Histogram::default().extremes(), None);
}

#[test]
fn quantiles_have_standard_errors() {
    // Of a normal sample: √(p·(1 − p)/n)/density; the scatter of 400 samples says the same.
    let (n, sd, samples) = (4_000_u64, 0.004, 400);
    for (p, density) in [(0.025, 0.058_445), (0.5, 0.398_942), (0.975, 0.058_445)] {
        let quantiles: Vec<_> = (0..samples)
            .map(|sample| {
                let mut random = Random::of_run(9, sample);
                let values: Vec<f64> = (0..n).map(|_| sd * random.normal()).collect();
                counted(&values).quantile(p).expect("values")
            })
            .collect();
        let expected = sd * (p * (1.0 - p) / n as f64).sqrt() / density;
        let stated = quantiles.iter().map(|q| q.error.expect("many values")).sum::<f64>() / samples as f64;
        let (_, scatter) = moments(&quantiles.iter().map(|q| q.value).collect::<Vec<_>>());
        assert_near(stated / expected, 1.0, 0.03);
        assert_near(scatter / expected, 1.0, 4.0 / (2.0 * samples as f64).sqrt());
    }
    // With two of a thousandth expected, an error one binomial standard deviation further out may be missing.
    let values: Vec<f64> = (0..500).map(f64::from).collect();
    assert_eq!(counted(&values).quantile(0.001).expect("values").error, None);
    assert_eq!(counted(&values).quantile(0.999).expect("values").error, None);
    assert!(counted(&values).quantile(0.5).expect("values").error.is_some());
    assert_eq!(counted(&[1.0]).quantile(0.5).expect("a value").error, None);
}

#[test]
fn beyond_its_reach_a_histogram_says_the_ends() {
    let histogram = counted(&[-2e5, -4.0, 0.0, 1e-5, 3.0, 1e12, f64::MAX]);
    assert_eq!(histogram.extremes(), Some((-2e5, f64::MAX)));
    // The outermost bins stand for all beyond ±131,072 mm.
    assert_near(histogram.quantile(0.0).expect("not empty").value, -131_068.0, 1e-9);
    assert_near(histogram.quantile(1.0).expect("not empty").value, 131_068.0, 1e-9);
    assert_eq!(histogram.columns(-5.0, 5.0, 2), [1, 3]);
    assert_eq!((histogram.below(-5.0), histogram.below(5.0)), (1, 5));
}

#[test]
fn histograms_add_up_in_any_order() {
    let mut random = Random::of_run(6, 0);
    let values: Vec<f64> = (0..5_000).map(|_| random.normal()).collect();
    let (mut a, mut b) = (counted(&values[..1_700]), counted(&values[1_700..]));
    let (first, second) = (a.clone(), b.clone());
    a.merge(&second);
    b.merge(&first);
    let all = format!("{:?}", counted(&values));
    assert_eq!(format!("{a:?}"), all);
    assert_eq!(format!("{b:?}"), all);
}

#[test]
fn columns_hold_every_count_between_their_ends() {
    let mut random = Random::of_run(7, 0);
    let values: Vec<f64> = (0..5_000).map(|_| random.normal()).collect();
    let columns = counted(&values).columns(-2.0, 2.0, 8);
    for (i, count) in columns.iter().enumerate() {
        let low = -2.0 + 0.5 * i as f64;
        // The ends of the columns are ends of bins.
        let plain = values.iter().filter(|x| **x >= low && **x < low + 0.5).count() as u64;
        assert_eq!(*count, plain, "column {i}");
    }
}

#[test]
fn a_tally_is_what_plain_sums_say() {
    let mut random = Random::of_run(8, 0);
    let mut tally = Tally::new(0.02);
    let (mut errors, mut covered) = (Vec::new(), 0);
    for i in 0..30_000 {
        if i % 10 == 3 {
            tally.add(&refused(if i % 20 == 3 { RefusalKind::Walking } else { RefusalKind::NoTrip }));
            continue;
        }
        let (error, expanded) = (0.003 + 0.01 * random.normal(), 0.02 * random.uniform());
        covered += u32::from(error.abs() <= expanded);
        errors.push(error);
        tally.add(&accepted(error, expanded));
    }
    let n = errors.len() as f64;
    let (mean, sd) = moments(&errors);
    let seen = tally.mean().expect("accepted runs");
    assert_near(seen.value, mean, 1e-12);
    assert_near(seen.error, sd / n.sqrt(), 1e-12);
    let seen = tally.sd().expect("accepted runs");
    assert_near(seen.value, sd, 1e-11);
    let fourth = errors.iter().map(|error| (error - mean).powi(4)).sum::<f64>() / n;
    let variance = sd * sd * (n - 1.0) / n;
    let of_variance = ((fourth - variance * variance * (n - 3.0) / (n - 1.0)) / n).sqrt();
    assert_near(seen.error, of_variance / (2.0 * sd), 2e-4 * seen.error);
    assert_near(seen.error, sd / (2.0 * (n - 1.0)).sqrt(), 0.03 * seen.error);
    let share = |part: f64, whole: f64| (part / whole, (part / whole * (1.0 - part / whole) / whole).sqrt());
    let outside = errors.iter().filter(|error| error.abs() > 0.02).count() as f64;
    for (seen, (value, error)) in [
        (tally.p_outside(), share(outside, n)),
        (tally.coverage(), share(f64::from(covered), n)),
        (tally.p_refused(), share(3_000.0, 30_000.0)),
    ] {
        let seen = seen.expect("runs");
        assert_near(seen.value, value, 1e-15);
        assert_near(seen.error, error, 1e-15);
    }
    assert_eq!((tally.runs, tally.accepted), (30_000, 27_000));
    let refusals: Vec<_> = tally.refusals().collect();
    assert_eq!(refusals, [(RefusalKind::NoTrip, 1_500), (RefusalKind::Walking, 1_500)]);
    assert_near(tally.touches_mean(), 0.9 * 21.0 + 0.1 * 4.0, 1e-12);
    assert_near(tally.cycle_s_mean(), 0.9 * 24.5 + 0.1 * 3.25, 1e-9);
    assert_eq!(tally.errors.total(), 27_000);
}

#[test]
fn sums_do_not_lose_a_small_spread_about_a_large_mean() {
    // Off by 1 m, spread 1 µm: exact sums do not cancel.
    let mut tally = Tally::new(0.02);
    let errors: Vec<f64> = (0..1_000).map(|i| 1_000.0 + f64::from(i % 2) * 0.001).collect();
    errors.iter().for_each(|error| tally.add(&accepted(*error, 1.0)));
    assert_near(tally.sd().expect("runs").value, moments(&errors).1, 1e-10);
    assert_near(tally.mean().expect("runs").value, 1_000.000_5, 1e-9);
}

#[test]
fn sums_beyond_the_exact_ones_stay_close() {
    // Σx² of 200,000 errors of ±10 m, times n, is beyond 128 bits.
    let mut tally = Tally::new(0.02);
    for i in 0..200_000 {
        tally.add(&accepted(if i % 2 == 0 { 1e4 } else { -1e4 }, 1.0));
    }
    assert_near(tally.sd().expect("runs").value / 1e4, 1.0, 1e-5);
}

#[test]
fn a_standard_deviation_with_heavy_tails_is_less_sure() {
    // One error in 2,000 is wild: the scatter of the standard deviations of 300 campaigns is what each of
    // them states, and many times that of normal errors.
    let (n, campaigns) = (4_000, 300);
    let seen: Vec<_> = (0..campaigns)
        .map(|sample| {
            let mut random = Random::of_run(10, sample);
            let mut tally = Tally::new(0.02);
            for _ in 0..n {
                let wild = if random.uniform() < 0.002 { 0.1 } else { 0.0 };
                tally.add(&accepted(0.004 * random.normal() + wild, 0.02));
            }
            tally.sd().expect("runs")
        })
        .collect();
    let (mean, scatter) = moments(&seen.iter().map(|sd| sd.value).collect::<Vec<_>>());
    let stated = seen.iter().map(|sd| sd.error).sum::<f64>() / f64::from(campaigns as u32);
    assert_near(stated / scatter, 1.0, 0.15);
    assert!(stated > 5.0 * mean / (2.0 * f64::from(n)).sqrt(), "{stated}");
}

#[test]
fn none_and_all_are_not_sure() {
    let mut tally = Tally::new(0.02);
    for _ in 0..1_000 {
        tally.add(&accepted(0.0, 0.01));
    }
    // Jeffreys: √(0.5·1000.5/(1001²·1002)).
    for share in [tally.p_outside(), tally.coverage(), tally.p_refused()] {
        assert_near(share.expect("runs").error, 7.058_8e-4, 1e-7);
    }
    assert_near(tally.beyond().expect("runs").unseen(), 2.991_25e-3, 1e-7);
    assert_eq!(tally.held().expect("runs").estimate().value, 1.0);
}

#[test]
fn few_runs_have_no_estimates() {
    let mut tally = Tally::new(0.02);
    assert!(tally.mean().is_none() && tally.sd().is_none() && tally.coverage().is_none());
    assert!(tally.p_refused().is_none() && tally.refusals().next().is_none());
    tally.add(&accepted(0.001, 0.01));
    assert!(tally.sd().is_none());
    let mean = tally.mean().expect("one run");
    assert_near(mean.value, 0.001, 1e-12);
    assert!(mean.error.is_nan(), "one run says nothing of its spread");
}

#[test]
fn runs_take_no_memory() {
    let mut case = Case::quiet().switches(0.001, 0.001, 0.002);
    case.noise.outlier_rate = 0.05;
    case.noise.outlier_size = 0.05;
    case.draft.touch.band = zdatum_tests::machine::mm("0.02");
    for most in [9, 40] {
        let bench = case.clone().touches(5, most).bench();
        let mut tally = Tally::new(0.02);
        let count =
            allocations(|| run_block(&bench, 0..3_000, |ran| tally.add(ran)).expect("room for the touches"));
        assert_eq!(count, 0, "allocations in 3000 runs");
        assert_eq!(tally.runs, 3_000);
    }
}
