use std::sync::atomic::AtomicU64;

use super::*;
use crate::tests::machine::{SILENT, bench, draft, mm, u};

/// Sums by hand: 4 runs as they come, 2 of them scraped with a weight of 1; 6 moved ones, 3 with weights 0.1,
/// 0.2, 0.3. s²/n of both strata, the interval p·exp(±1.96·s/p), and (Σw)²/Σw² worked out apart.
#[test]
fn an_estimate_is_worked_out_as_by_hand() {
    let plain = Sums { runs: 4, scraped: 2, weights: 2.0, squares: 2.0 };
    let moved = Sums { runs: 6, scraped: 3, weights: 0.6, squares: 0.14 };
    let found = estimate(plain, moved);
    let (low, high) = found.interval.expect("runs");
    for (seen, due) in [
        (found.p.value, 0.26),
        (found.p.error, 0.119_554_729_447_786),
        (low, 0.105_576_885_729_169),
        (high, 0.640_291_665_482_638),
        (found.effective, 3.158_878_504_672_897),
    ] {
        assert!((seen / due - 1.0).abs() < 1e-12, "{seen}, not {due}");
    }
    assert_eq!((found.runs, found.scraped), (10, 5));

    // None seen: what four plain runs exclude, 1 − 0.05^(1/4).
    let none = |sums: Sums| Sums { scraped: 0, weights: 0.0, squares: 0.0, ..sums };
    let (low, high) = estimate(none(plain), none(moved)).interval.expect("runs");
    assert!(low == 0.0 && (high - 0.527_129_195_498_412).abs() < 1e-12, "{high}");
    let nothing = estimate(Sums::default(), Sums::default());
    assert_eq!((nothing.interval, nothing.p.value, nothing.p.error), (None, 0.0, 0.0));
}

/// 0 of n: 1 − 0.025^(1/n). 5 of 10: R's binom.test(5, 10) gives 0.1870860 and 0.8129140 (from memory).
#[test]
fn counted_shares_have_the_exact_interval() {
    let none = CountedScrapes::of(0, 100_000_000).interval;
    assert!(none.0 == 0.0 && (none.1 / 3.688_879_386e-8 - 1.0).abs() < 1e-6, "{none:?}");
    let half = CountedScrapes::of(5, 10).interval;
    assert!((half.0 - 0.187_086).abs() < 1e-6 && (half.1 - 0.812_914).abs() < 1e-6, "{half:?}");
}

fn going() -> AtomicBool {
    AtomicBool::new(false)
}

/// An error of 5 µm, normal, and nothing else.
fn normal_machine() -> Bench {
    let mut draft = draft();
    draft.probe.trip_depth_u = u("0.005");
    bench(&draft, &SILENT)
}

#[test]
fn sums_of_a_stratum() {
    let mut sums = Sums::default();
    [Some(0.5), None, Some(2.0)].into_iter().for_each(|weight| sums.add(weight));
    assert_eq!((sums.runs, sums.scraped, sums.weights, sums.squares), (3, 2, 2.5, 4.25));
    assert!((sums.variance() - (4.25 - 6.25 / 3.0) * 1.5).abs() < 1e-15);
    let one = Sums { runs: 1, scraped: 1, weights: 2.0, squares: 4.0 };
    assert_eq!(one.variance(), 0.0);
    sums.merge(&one);
    assert_eq!((sums.runs, sums.scraped, sums.weights, sums.squares), (4, 3, 4.5, 8.25));
}

/// One run of ten is drawn as it is. Where every run counts, the weights are 1 without a tilt, and 1 on
/// average with any: the density of what is drawn over the nominal one has the mean 1 (here with moves of one
/// standard deviation, whose weights scatter by less than 1).
#[test]
fn weights_are_densities() {
    let bench = normal_machine();
    let [plain, moved] = sums(&bench, -1.0, Tilt::default(), 0..200);
    assert_eq!((plain.runs, plain.scraped, plain.weights), (20, 20, 20.0));
    assert_eq!((moved.runs, moved.scraped, moved.weights), (180, 180, 180.0));
    let (tilt, sd) = Tilt::toward(&bench.machine, 4, 0, -0.005).expect("a way");
    assert!((sd - 0.005).abs() < 1e-6, "{sd}");
    let [plain, moved] = sums(&bench, -1.0, tilt, 0..4_000);
    let both = (plain.weights + moved.weights) / 4_000.0;
    assert!((both - 1.0).abs() < 5.0 / 4_000.0_f64.sqrt(), "{both}");
    assert!((moved.weights / 3_600.0 - 0.9).abs() < 0.1, "moved runs weigh less: {}", moved.weights);
    // Moved the way they are, half of the runs are more than a standard deviation too low, one of six of the
    // others.
    let [plain, moved] = sums(&bench, 0.005, tilt, 0..4_000);
    assert!((plain.scraped as f64 / 400.0 - 0.1587).abs() < 0.1, "{plain:?}");
    assert!((moved.scraped as f64 / 3_600.0 - 0.5).abs() < 0.05, "{moved:?}");
}

#[test]
fn what_was_asked_is_done() {
    let (bench, told) = (normal_machine(), AtomicU64::new(0));
    let count = |cycles: u64| {
        told.fetch_add(cycles, Ordering::Relaxed);
    };
    let what = ScrapeQuestion { bench: &bench, gap: 0.010, runs: 4_001, check: 3_000 };
    let found = scrape(&what, &going(), &count);
    // The pilot has as many runs as are asked for; those are rounded up to ten.
    assert_eq!(told.into_inner(), 4_001 + 4_010 + 3_000);
    assert_eq!((found.gap, found.runs, found.accepted, found.complete), (0.010, 4_010, 1.0, true));
    let close =
        |seen: f64, due: f64, part: f64| assert!((seen / due - 1.0).abs() < part, "{seen}, not {due}");
    // Two standard deviations: 0.02275.
    close(found.p.value, 0.02275, 0.15);
    close(found.normal.expect("a mean"), 0.02275, 0.2);
    close(found.linear_sd.expect("a way"), 0.005, 1e-3);
    let counted = found.counted.expect("asked for");
    assert_eq!(counted.runs, 3_000);
    close(counted.scraped as f64, 68.0, 0.6);
    assert!(found.agrees() && found.tells());
    let few = scrape(&ScrapeQuestion { runs: 1, check: 0, ..what }, &going(), &|_| {});
    assert_eq!((few.runs, few.counted), (10, None));
    let stopped = scrape(&what, &AtomicBool::new(true), &|_| {});
    assert_eq!((stopped.runs, stopped.interval, stopped.counted, stopped.complete), (0, None, None, false));
    assert!(stopped.agrees() && !stopped.tells());
}

/// Intervals that have a point in common agree, touching ones too.
#[test]
fn intervals_meet() {
    let counted = CountedScrapes { runs: 1, scraped: 0, interval: (0.2, 0.4) };
    let meets = [(0.4, 0.5), (0.1, 0.2), (0.25, 0.3), (0.41, 0.5), (0.1, 0.19)];
    assert_eq!(meets.map(|other| counted.agrees(other)), [true, true, true, false, false]);
    let found =
        |interval, counted| Scrape { interval, counted, ..estimate(Sums::default(), Sums::default()) };
    assert!(found(Some((0.4, 0.5)), Some(counted)).agrees());
    assert!(!found(Some((0.5, 0.6)), Some(counted)).agrees());
    let worth = |effective| Scrape { effective, ..estimate(Sums::default(), Sums::default()) };
    assert_eq!([99.9, 100.0].map(|effective| worth(effective).tells()), [false, true]);
}

/// Ten gaps from 2.5 to 7 standard deviations, in tenths of a micrometre.
#[test]
fn the_curve_goes_from_now_and_then_to_never() {
    let bench = normal_machine();
    let what = ScrapeQuestion { bench: &bench, gap: 1.0, runs: 1_000, check: 500 };
    let points = curve(&what, &going(), &|_| {});
    assert_eq!(points.len(), 10);
    for (at, point) in points.iter().enumerate() {
        let due = 0.005 * (2.5 + 0.5 * at as f64);
        // The pilot's 2,000 runs know the deviation to 1.6 %, the mean to 0.1 µm.
        assert!((point.gap / due - 1.0).abs() < 0.1, "{}, not {due}", point.gap);
        assert!((point.gap * 1e4 - (point.gap * 1e4).round()).abs() < 1e-9);
        assert_eq!((point.runs, point.counted), (1_000, None));
    }
    assert!(points.windows(2).all(|two| two[0].p.value > two[1].p.value));
    assert!(curve(&what, &AtomicBool::new(true), &|_| {}).is_empty());
    // Nothing is accepted, nothing is told.
    let mut never = draft();
    never.accept.landing.low = mm("20");
    let never = crate::tests::machine::bench(&never, &SILENT);
    let what = ScrapeQuestion { bench: &never, ..what };
    assert!(curve(&what, &going(), &|_| {}).is_empty());
    let found = scrape(&what, &going(), &|_| {});
    assert_eq!((found.accepted, found.mean, found.normal), (0.0, None, None));
    assert_eq!((found.scraped, found.p.value), (0, 0.0));
}
