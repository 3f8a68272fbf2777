//! What may be asked for beside a campaign: methods compared, the budget examined, sweeps.

use std::sync::atomic::{AtomicBool, Ordering};

use zdatum_sim::files::MachineFile;
use zdatum_sim::show::campaign::Beside;
use zdatum_sim::show::{
    budget, compare as compared, coverage as coverage_page, scrape as scraping, sensitivity as refused_by,
    sweep as swept,
};
use zdatum_world::engine::{Bench, Progress};
use zdatum_world::questions::budget::refusals::{CYCLES, sensitivity};
use zdatum_world::questions::budget::{Examination, examine};
use zdatum_world::questions::compare::{Method, Situation, compare};
use zdatum_world::questions::coverage::{CELLS, coverage};
use zdatum_world::questions::plan::{PlanQuestion, front};
use zdatum_world::questions::sweep::{Swept, sweep};
use zdatum_world::questions::{faulty, scrape};

use super::{Args, COVERAGE_EACH, SCRAPE_RUNS};
use crate::cli::plan::{REFUSED_COSTS, RISK};

/// Runs at each gap of the curve.
const CURVE_RUNS: u64 = 10_000;
/// About how many rows budget and sweeps have, for the bar.
const ROWS: u64 = 20;

/// About how many runs are asked for.
pub(super) fn runs(args: &Args) -> u64 {
    let cells = (Method::ALL.len() * Situation::ALL.len()) as u64;
    let compare = if args.compare || args.wanted.any() { cells * args.each() } else { 0 };
    let budget =
        if args.budget || args.wanted.any() { args.runs() + (ROWS + CYCLES) * args.each() } else { 0 };
    let sweep = if args.sweep || args.wanted.any() { ROWS * args.each() } else { 0 };
    let coverage = if args.coverage { CELLS * args.each.unwrap_or(COVERAGE_EACH) } else { 0 };
    let scrape = args.scrape.map_or(0, |_| args.each.unwrap_or(SCRAPE_RUNS) + args.check);
    compare + budget + sweep + coverage + scrape
}

/// Runs what was asked for, all of it for a report, on the current pool.
pub(super) fn run(
    args: &Args,
    machine: &MachineFile,
    bench: &Bench,
    stop: &AtomicBool,
    progress: &Progress<'_>,
) -> Beside {
    let (each, within) = (args.each(), args.within);
    let all = args.wanted.any();
    let comparison = (args.compare || all).then(|| compare(bench, each, within, stop, progress));
    let examined = (args.budget || all).then(|| {
        let growth_names = &machine.growth_names;
        let what = Examination { growth_names, bench, runs: each, most: args.runs(), within };
        examine(&what, stop, progress)
    });
    let sweeps = (args.sweep || all).then(|| {
        [Swept::Touches, Swept::Noise].map(|what| sweep(bench, what, each, within, stop, progress)).to_vec()
    });
    let coverage = args.coverage.then(|| coverage(bench, args.each.unwrap_or(COVERAGE_EACH), stop, progress));
    let scraping = args.scrape.map(|gap| {
        let runs = args.each.unwrap_or(SCRAPE_RUNS);
        let what = scrape::ScrapeQuestion { bench, gap, runs, check: args.check };
        let found = scrape::scrape(&what, stop, progress);
        let few = scrape::ScrapeQuestion { runs: CURVE_RUNS, check: 0, ..what };
        (found, scrape::curve(&few, stop, &|_| {}))
    });
    // Short ones: the commands of their own have the rest.
    let sensitivity =
        (args.budget || all).then(|| sensitivity(bench, each.clamp(1_000, 20_000), stop, progress));
    let plan = all.then(|| {
        let growth_names = &machine.growth_names;
        let asked = PlanQuestion { growth_names, bench, within, risk: RISK, refused_costs: REFUSED_COSTS };
        front(&asked, stop, progress)
    });
    let scrape = all.then(|| {
        let what = scrape::ScrapeQuestion { bench, gap: within, runs: each.clamp(1_000, 10_000), check: 0 };
        scrape::curve(&what, stop, progress)
    });
    let faults = all.then(|| {
        let what = faulty::FaultQuestion { bench, each: (each / 100).clamp(10, 400), cycles: each, pairs: 0 };
        faulty::find(&what, stop, progress)
    });
    let mut beside = Beside {
        comparison,
        examined,
        sweeps,
        coverage,
        scraping,
        sensitivity,
        plan: plan.flatten(),
        scrape,
        faults,
        interrupted: false,
    };
    beside.interrupted = (all || !beside.is_empty()) && stop.load(Ordering::Relaxed);
    beside
}

/// Without what only a report asked for.
pub(super) fn asked(args: &Args, beside: Beside) -> Beside {
    Beside {
        comparison: beside.comparison.filter(|_| args.compare),
        examined: beside.examined.filter(|_| args.budget),
        sensitivity: beside.sensitivity.filter(|_| args.budget),
        sweeps: beside.sweeps.filter(|_| args.sweep),
        coverage: beside.coverage,
        scraping: beside.scraping,
        interrupted: beside.interrupted,
        ..Beside::default()
    }
}

/// Their pages, one below the other.
pub(super) fn pages(args: &Args, machine: &str, beside: &Beside) -> String {
    let seed = args.long.seed;
    let pages = [
        beside.sweeps.as_ref().map(|sweeps| swept::page(sweeps, args.within, machine, seed)),
        beside.examined.as_ref().map(|examined| budget::page(examined, machine, seed)),
        beside.sensitivity.as_ref().map(refused_by::page),
        beside.comparison.as_ref().map(|comparison| compared::page(comparison, machine, seed)),
        beside.coverage.as_ref().map(|map| coverage_page::page(map, machine, seed)),
        beside.scraping.as_ref().map(|(found, curve)| scraping::page(found, curve, machine, seed)),
    ];
    pages.into_iter().flatten().collect::<Vec<_>>().join("\n")
}
