//! Many runs on all cores, the same bits with any number of threads.
//!
//! Runs are handed out in blocks. Each run has its own stream of random numbers, and all sums are of whole
//! numbers, so neither the threads nor their order can show in the result. Memory does not grow with the
//! number of runs.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use super::cycle::{Bench, run_block};
use super::tally::Tally;
use crate::engine::Progress;

/// Runs handed out at a time: some milliseconds of work.
const BLOCK: u64 = 2_048;

/// What to do.
#[derive(Clone, Copy, Debug)]
pub struct Campaign<'a> {
    /// The machine.
    pub bench: &'a Bench,
    /// Number of the first run; a shorter campaign is the beginning of a longer one.
    pub first: u64,
    /// How many runs.
    pub runs: u64,
    /// Tolerance of the first-layer error, mm.
    pub within: f64,
}

/// Runs a campaign on the current `rayon` pool. Once `stop` is set no new block begins; what was done so far
/// comes back. `progress` is told how many runs have been done since its last call, from any thread.
pub fn campaign(what: &Campaign<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Tally {
    tallied(what.runs, what.within, stop, progress, |runs, tally| {
        // A checked setup always finds room; runs that did not would be missing from `runs` and so be seen.
        let runs = what.first + runs.start..what.first + runs.end;
        let _ = run_block(what.bench, runs, |ran| tally.add(ran));
    })
}

/// Hands runs out in blocks and adds up what each block puts into its tally.
pub(crate) fn tallied(
    runs: u64,
    within: f64,
    stop: &AtomicBool,
    progress: &Progress<'_>,
    block: impl Fn(Range<u64>, &mut Tally) + Sync,
) -> Tally {
    let next = AtomicU64::new(0);
    let parts = rayon::broadcast(|_| {
        let mut tally = Tally::new(within);
        while !stop.load(Ordering::Relaxed) {
            let from = next.fetch_add(BLOCK, Ordering::Relaxed);
            if from >= runs {
                break;
            }
            let to = from.saturating_add(BLOCK).min(runs);
            block(from..to, &mut tally);
            progress(to - from);
        }
        tally
    });
    parts.into_iter().fold(Tally::new(within), |mut all, part| {
        all.merge(&part);
        all
    })
}
