//! What may be asked for beside a campaign: methods compared, the budget examined, sweeps.

use std::sync::atomic::{AtomicBool, Ordering};

use zdatum_sim::files::Machine;
use zdatum_sim::run::{Bench, Examination, Method, Situation, Swept, compare, examine, sweep};
use zdatum_sim::show::campaign::Beside;
use zdatum_sim::show::{budget, compare as compared, sweep as swept};

use super::Args;

/// About how many rows budget and sweeps have, for the bar.
const ROWS: u64 = 20;

/// About how many runs are asked for.
pub(super) fn runs(args: &Args) -> u64 {
    let cells = (Method::ALL.len() * Situation::ALL.len()) as u64;
    let compare = if args.compare { cells * args.each } else { 0 };
    let budget = if args.budget { args.runs() + ROWS * args.each } else { 0 };
    let sweep = if args.sweep { ROWS * args.each } else { 0 };
    compare + budget + sweep
}

/// Runs what was asked for on the current pool.
pub(super) fn run(
    args: &Args,
    machine: &Machine,
    bench: &Bench,
    stop: &AtomicBool,
    progress: &(impl Fn(u64) + Sync),
) -> Beside {
    let (each, within) = (args.each, args.within);
    let comparison = args.compare.then(|| compare(bench, each, within, stop, progress));
    let examined = args.budget.then(|| {
        let growth_names = &machine.growth_names;
        let what = Examination { growth_names, bench, runs: each, most: args.runs(), within };
        examine(&what, stop, progress)
    });
    let sweeps = args.sweep.then(|| {
        [Swept::Touches, Swept::Noise].map(|what| sweep(bench, what, each, within, stop, progress)).to_vec()
    });
    let mut beside = Beside { comparison, examined, sweeps, interrupted: false };
    beside.interrupted = !beside.is_empty() && stop.load(Ordering::Relaxed);
    beside
}

/// Their pages, one below the other.
pub(super) fn pages(args: &Args, machine: &str, beside: &Beside) -> String {
    let seed = args.seed;
    let pages = [
        beside.sweeps.as_ref().map(|sweeps| swept::page(sweeps, args.within, machine, seed)),
        beside.examined.as_ref().map(|examined| budget::page(examined, machine, seed)),
        beside.comparison.as_ref().map(|comparison| compared::page(comparison, machine, seed)),
    ];
    pages.into_iter().flatten().collect::<Vec<_>>().join("\n")
}
