//! Further questions about the machine of a campaign: which were asked, their answers, their pages.

use std::sync::atomic::{AtomicBool, Ordering};

use zdatum_sim::files::MachineFile;
use zdatum_sim::show::campaign::FurtherAnswers;
use zdatum_sim::show::{
    budget, compare as compared, coverage, refusal_sources, scrape as scraped, sweep as swept,
};
use zdatum_world::engine::{Bench, Progress};
use zdatum_world::questions::budget::refusals::{CYCLES, refusal_sources as sources_of_refusals};
use zdatum_world::questions::budget::{Examination, examine};
use zdatum_world::questions::compare::{Method, Situation, compare};
use zdatum_world::questions::coverage::{CELLS, coverage as map_coverage};
use zdatum_world::questions::faulty::{self, FaultQuestion};
use zdatum_world::questions::plan::{PlanQuestion, REFUSED_COSTS, RISK, front};
use zdatum_world::questions::scrape::{ScrapeQuestion, curve, scrape};
use zdatum_world::questions::sweep::{Swept, sweep};

use super::Args;

/// About how many rows budget and sweeps have, for the bar.
const ROWS: u64 = 20;
/// Cycles of each machine of the map of coverage, where no number is named.
const COVERAGE_EACH: u64 = 20_000;
/// Runs for the chance of a scrape, likewise.
const SCRAPE_RUNS: u64 = 200_000;
/// Runs at each point of the curve of scraping chances.
const CURVE_RUNS: u64 = 10_000;
/// Runs that tell where refusals come from, at most.
const REFUSAL_RUNS: u64 = 20_000;

/// About how many runs are asked for.
pub(super) fn runs(args: &Args) -> u64 {
    let all = args.wanted.any();
    let if_asked = |asked: bool, runs: u64| if asked { runs } else { 0 };
    let cells = (Method::ALL.len() * Situation::ALL.len()) as u64;
    if_asked(args.compare || all, cells * args.each())
        + if_asked(args.budget || all, args.runs() + ROWS * args.each() + refusal_runs(args) * CYCLES)
        + if_asked(args.sweep || all, ROWS * args.each())
        + if_asked(args.coverage, CELLS * args.each.unwrap_or(COVERAGE_EACH))
        + if_asked(args.scrape.is_some(), args.each.unwrap_or(SCRAPE_RUNS) + args.check)
}

fn refusal_runs(args: &Args) -> u64 {
    args.each().min(REFUSAL_RUNS)
}

/// Answers what was asked, all of it but the long ones for a report, on the current pool.
pub(super) fn answer(
    args: &Args,
    machine: &MachineFile,
    bench: &Bench,
    stop: &AtomicBool,
    progress: &Progress<'_>,
) -> FurtherAnswers {
    let (each, within) = (args.each(), args.tolerance.within);
    let all = args.wanted.any();
    let growth_names = &machine.growth_names;
    let mut further = FurtherAnswers::default();
    if args.compare || all {
        further.comparison = Some(compare(bench, each, within, stop, progress));
    }
    if args.budget || all {
        let what = Examination { growth_names, bench, runs: each, most: args.runs(), within };
        further.examined = Some(examine(&what, stop, progress));
        further.refusal_sources = Some(sources_of_refusals(bench, refusal_runs(args), stop, progress));
    }
    if args.sweep || all {
        let sweeps =
            [Swept::Touches, Swept::Noise].map(|what| sweep(bench, what, each, within, stop, progress));
        further.sweeps = Some(sweeps.to_vec());
    }
    if args.coverage {
        further.coverage = Some(map_coverage(bench, args.each.unwrap_or(COVERAGE_EACH), stop, progress));
    }
    if let Some(gap) = args.scrape {
        let question =
            ScrapeQuestion { bench, gap, runs: args.each.unwrap_or(SCRAPE_RUNS), check: args.check };
        further.scrape = Some(scrape(&question, stop, progress));
        let points = ScrapeQuestion { runs: CURVE_RUNS, check: 0, ..question };
        further.scrape_curve = Some(curve(&points, stop, &|_| {}));
    }
    if all {
        let question = PlanQuestion { growth_names, bench, within, risk: RISK, refused_costs: REFUSED_COSTS };
        further.plan = front(&question, stop, progress);
        if further.scrape_curve.is_none() {
            let points = ScrapeQuestion { bench, gap: within, runs: each.clamp(1_000, CURVE_RUNS), check: 0 };
            further.scrape_curve = Some(curve(&points, stop, progress));
        }
        let faults = FaultQuestion { bench, each: (each / 100).clamp(10, 400), cycles: each, pairs: 0 };
        further.faults = Some(faulty::find(&faults, stop, progress));
    }
    further.interrupted = stop.load(Ordering::Relaxed) && (all || is_asked(args));
    further
}

/// Whether any further question was asked, other than for a report.
pub(super) fn is_asked(args: &Args) -> bool {
    args.compare || args.budget || args.sweep || args.coverage || args.scrape.is_some()
}

/// Without what only a report asked for.
pub(super) fn asked(args: &Args, further: FurtherAnswers) -> FurtherAnswers {
    FurtherAnswers {
        comparison: further.comparison.filter(|_| args.compare),
        examined: further.examined.filter(|_| args.budget),
        refusal_sources: further.refusal_sources.filter(|_| args.budget),
        sweeps: further.sweeps.filter(|_| args.sweep),
        coverage: further.coverage,
        scrape: further.scrape,
        scrape_curve: further.scrape_curve.filter(|_| args.scrape.is_some()),
        interrupted: further.interrupted,
        ..FurtherAnswers::default()
    }
}

/// Their pages, one below the other.
pub(super) fn pages(args: &Args, machine: &str, further: &FurtherAnswers) -> String {
    let seed = args.long.seed;
    let curve = further.scrape_curve.as_deref().unwrap_or_default();
    let pages = [
        further.sweeps.as_ref().map(|sweeps| swept::page(sweeps, args.tolerance.within, machine, seed)),
        further.examined.as_ref().map(|examined| budget::page(examined, machine, seed)),
        further.refusal_sources.as_ref().map(refusal_sources::page),
        further.comparison.as_ref().map(|comparison| compared::page(comparison, machine, seed)),
        further.coverage.as_ref().map(|map| coverage::page(map, machine, seed)),
        further.scrape.as_ref().map(|found| scraped::page(found, curve, machine, seed)),
    ];
    pages.into_iter().flatten().collect::<Vec<_>>().join("\n")
}

/// Whether the answers hold: too few runs that scraped to tell, or a count that disagrees, is no answer.
pub(super) fn holds(further: &FurtherAnswers) -> bool {
    further.scrape.as_ref().is_none_or(|found| found.tells() && found.agrees())
}
