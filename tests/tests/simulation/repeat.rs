//! The same seed gives the same bits: with any number of threads, in parts, alone, and watched.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use zdatum_world::engine::{Bench, Campaign, Ran, Tally, campaign, run, run_block};

use crate::machines::{Case, on_threads};

/// A machine with all effects at once.
fn busy() -> Bench {
    let mut case = Case::quiet().switches(0.0011, 0.0012, 0.0025).studied(Some([0.0014, 0.0015, 0.0028]));
    case.draft = {
        let mut draft = zdatum_tests::machine::workshop();
        (draft.pooled, draft.touch.least) = (case.draft.pooled, 5);
        draft
    };
    case.noise = zdatum_sim::world::Noise {
        reseat: 0.02,
        latency_jitter_s: 0.0003,
        drift: 0.01,
        outlier_rate: 0.01,
        outlier_size: 0.05,
        tip_filament: 0.004,
        ..case.noise
    };
    case.bench()
}

fn with_threads(bench: &Bench, threads: usize, first: u64, runs: u64) -> Tally {
    let done = AtomicU64::new(0);
    let tally = on_threads(threads, || {
        let what = Campaign { bench, first, runs, within: 0.02 };
        campaign(&what, &AtomicBool::new(false), &|more| {
            done.fetch_add(more, Ordering::Relaxed);
        })
    });
    assert_eq!(done.into_inner(), runs, "progress counts every run once");
    tally
}

/// All that a tally holds, every count included.
fn bits(tally: &Tally) -> String {
    format!("{tally:?}")
}

#[test]
fn threads_do_not_show() {
    let bench = busy();
    // Not a multiple of any block.
    let runs = 9_001;
    let one = with_threads(&bench, 1, 0, runs);
    assert_eq!(one.runs, runs);
    assert!(one.accepted < runs && one.accepted > 8_000, "both verdicts occur: {}", one.accepted);
    for threads in [2, 3, 7] {
        assert!(bits(&with_threads(&bench, threads, 0, runs)) == bits(&one), "{threads} threads differ");
    }
}

#[test]
fn a_shorter_campaign_is_the_beginning_of_a_longer_one() {
    let bench = busy();
    let all = with_threads(&bench, 2, 0, 6_000);
    for cut in [1, 2_047, 2_048, 2_049, 5_999] {
        let mut parts = with_threads(&bench, 2, 0, cut);
        parts.merge(&with_threads(&bench, 3, cut, 6_000 - cut));
        assert!(bits(&parts) == bits(&all), "cut at {cut}");
    }
}

fn collected(bench: &Bench, from: u64, to: u64) -> Vec<Ran> {
    let mut runs = Vec::new();
    run_block(bench, from..to, |ran| runs.push(ran.clone())).expect("room");
    runs
}

#[test]
fn one_run_alone_is_the_campaigns() {
    let bench = busy();
    let block = collected(&bench, 0, 300);
    assert!(block.iter().any(|ran| ran.refused.is_some()), "a refused one among them");
    for (index, ran) in (0..).zip(&block) {
        // Unwatched, watched, and after others in the same memory.
        assert_eq!(&run(&bench, index, |_, _, _| {}).expect("room"), ran);
        let mut steps = 0;
        assert_eq!(&run(&bench, index, |_, _, _| steps += 1).expect("room"), ran);
        assert!(steps > 10);
        let what = Campaign { bench: &bench, first: index, runs: 1, within: 0.02 };
        let tally = campaign(&what, &AtomicBool::new(false), &|_| {});
        assert_eq!(tally.errors.extremes(), ran.error.map(|error| (error, error)));
        assert_eq!(tally.touches_mean(), f64::from(ran.touches));
    }
    assert_eq!(collected(&bench, 120, 125), block[120..125]);
}

#[test]
fn large_and_small_rooms_run_alike() {
    // A cycle that may take more than 16 touches runs in the larger room. No run here needs more, so both agree.
    let mut case = Case::quiet().switches(0.001, 0.001, 0.002);
    case.noise.reseat = 0.02;
    let small = collected(&case.clone().touches(5, 16).bench(), 0, 200);
    let large = collected(&case.touches(5, 17).bench(), 0, 200);
    assert_eq!(small, large);
}

#[test]
fn other_seeds_and_runs_are_other_worlds() {
    let bench = busy();
    let other = Bench { seed: bench.seed + 1, ..bench.clone() };
    let (a, b) = (collected(&bench, 0, 200), collected(&other, 0, 200));
    assert!(a.iter().zip(&b).all(|(a, b)| a.true_landing != b.true_landing));
    assert!(a.windows(2).all(|pair| pair[0].true_landing != pair[1].true_landing));
}

#[test]
fn once_stopped_no_new_block_begins() {
    let bench = busy();
    let stop = AtomicBool::new(true);
    let what = Campaign { bench: &bench, first: 0, runs: 100_000, within: 0.02 };
    assert_eq!(campaign(&what, &stop, &|_| {}).runs, 0);
    let stop = AtomicBool::new(false);
    let tally = campaign(&what, &stop, &|_| stop.store(true, Ordering::Relaxed));
    assert!(tally.runs > 0 && tally.runs < what.runs, "{}", tally.runs);
}
