//! `zdatum simulate`: many cycles of the core's own in a world whose truth is known.

use std::path::PathBuf;
use std::time::Instant;

use zdatum_sim::files::MachineFile;
use zdatum_sim::show::campaign::{CampaignResult, json as campaign_json, page};
use zdatum_sim::show::report;
use zdatum_sim::show::trace::{self, TraceEnd, TraceStep, TracedRun};
use zdatum_sim::text::Problem;
use zdatum_sim::text::problem::render;
use zdatum_world::engine::{Bench, Campaign, campaign, run};

use super::machine::machine_or_demo;
use super::numbers::{Tolerance, counted, tolerance, whole};
use super::pictures::Wanted;
use super::progress::{INTERRUPTED, Long, on_threads};
use super::{Answer, json};

mod further;

/// Cycles where no number is asked for.
const RUNS: u64 = 1_000_000;
/// Runs of each row, likewise.
const EACH: u64 = 50_000;
/// The pictures that a report of a campaign may have.
const PICTURES: [&str; 10] = [
    "three-touches",
    "first-layer-error",
    "error-budget",
    "methods-compared",
    "refusals",
    "error-against-touches",
    "error-against-noise",
    "time-against-error",
    "scrape-chance",
    "fault-power",
];
/// Bad input, or no place to write.
const NOT_WRITTEN: u8 = 2;

/// Simulate many cycles: what trigger noise does to the first layer, and how often a cycle is refused
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum simulate                         a million cycles of the demo's machine
  zdatum simulate --machine machine.toml --within 0.015
  zdatum simulate --compare               compare with other ways to set the height
  zdatum simulate --budget                what makes errors and refusals, what to improve first
  zdatum simulate --coverage              how often the stated interval holds, and where it does not
  zdatum simulate --scrape 0.030          the chance that the nozzle scrapes, however rare
  zdatum simulate --report report.html    all of it as one page, with pictures
  zdatum simulate --one 17 --trace        run 17 of that campaign, step by step
  zdatum simulate --runs 10000000 --seed 7 --json

The same seed gives the same numbers with any number of threads. Ctrl-C stops and reports what was done.")]
pub(crate) struct Args {
    /// Machine file (TOML); its [noise] is what the simulator reads. The demo's if left out
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Cycles to simulate [default: 1000000]
    #[arg(long, allow_negative_numbers = true, value_parser = whole::<u64>(1..=1_000_000_000_000))]
    runs: Option<u64>,
    #[command(flatten)]
    tolerance: Tolerance,
    /// Replay one run of the campaign, counted from 0
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = counted())]
    one: Option<u64>,
    /// Show every request and answer of that run (run 0 if none is named); JSON lines with --json
    #[arg(long)]
    trace: bool,
    /// Compare the ways people set this height, on the same draws: which survive a swapped plate, another
    /// nozzle, a warm-up
    #[arg(long, conflicts_with_all = ["one", "trace"])]
    compare: bool,
    /// The core's uncertainty budget beside the simulated one, whether their intervals agree, and what makes
    /// cycles refused
    #[arg(long, conflicts_with_all = ["one", "trace"])]
    budget: bool,
    /// Error against the number of touches and against the switches' noise
    #[arg(long, conflicts_with_all = ["one", "trace"])]
    sweep: bool,
    /// How often the stated interval holds the true landing: over shapes of noise, numbers of touches, with
    /// and without a study
    #[arg(long, conflicts_with_all = ["one", "trace"])]
    coverage: bool,
    /// The chance that an accepted landing lets the nozzle scrape: GAP is the first layer's free gap, mm.
    /// Exit code 1 if too few runs scraped to tell
    #[arg(
        long,
        value_name = "GAP",
        conflicts_with_all = ["one", "trace"],
        allow_negative_numbers = true,
        value_parser = tolerance
    )]
    scrape: Option<f64>,
    /// With --scrape: also count that many ordinary cycles; exit code 1 if the count disagrees
    #[arg(
        long,
        value_name = "N",
        requires = "scrape",
        default_value_t = 0,
        allow_negative_numbers = true,
        value_parser = whole::<u64>(0..=1_000_000_000_000)
    )]
    check: u64,
    #[command(flatten)]
    wanted: Wanted,
    /// Runs for each row of --compare, --budget and --sweep [default: 50000], of --coverage [20000], for
    /// --scrape [200000]
    #[arg(
        long,
        value_name = "N",
        allow_negative_numbers = true,
        value_parser = whole::<u64>(100..=10_000_000)
    )]
    each: Option<u64>,
    #[command(flatten)]
    long: Long,
}

impl Args {
    fn runs(&self) -> u64 {
        self.runs.unwrap_or(RUNS)
    }

    fn each(&self) -> u64 {
        self.each.unwrap_or(EACH)
    }
}

pub(crate) fn run_command(args: &Args) -> Result<Answer, Problem> {
    if args.wanted.any() && (args.trace || args.one.is_some()) {
        return Err(Problem::new("--report and --svg show a campaign, --one and --trace a single run of it")
            .remedy("leave out one or the other"));
    }
    args.wanted.check(&PICTURES)?;
    let (machine, name) = machine_or_demo(args.machine.as_ref(), args.long.json)?;
    let bench = Bench::new(machine.setup.clone(), &machine.noise, args.long.seed);
    if args.trace || args.one.is_some() {
        let (number, runs) = (args.one.unwrap_or(0), args.runs.unwrap_or(u64::MAX));
        if number >= runs {
            return Err(Problem::new(format!("--one {number} is beyond a campaign of {runs} runs"))
                .remedy(format!("runs are counted from 0; the last one is --one {}", runs - 1)));
        }
        return one(args, &bench, number);
    }
    many(args, &machine, &name, &bench)
}

fn one(args: &Args, bench: &Bench, number: u64) -> Result<Answer, Problem> {
    let mut steps = Vec::new();
    let ran = run(bench, number, |world, request, event| {
        if args.trace {
            steps.push(TraceStep::of(world, request, event));
        }
    })
    .map_err(|error| Problem::new(error.to_string()))?;
    let mut text = String::new();
    let shown = TracedRun { run: number, seed: args.long.seed, within: args.tolerance.within, ran: &ran };
    if args.long.json {
        for step in &steps {
            text.push_str(&json(step)?);
        }
        text.push_str(&json(&TraceEnd::of(&shown))?);
    } else {
        text = trace::page(&steps, &shown);
    }
    Ok(Answer::new(text, ran.error.is_some()))
}

fn many(args: &Args, machine: &MachineFile, name: &str, bench: &Bench) -> Result<Answer, Problem> {
    let begun = Instant::now();
    let (tally, elapsed, further) =
        on_threads(args.long.threads, args.runs() + further::runs(args), |stop, bar| {
            let what = Campaign { bench, first: 0, runs: args.runs(), within: args.tolerance.within };
            let tally = campaign(&what, stop, &|done| bar.add(done));
            let elapsed = begun.elapsed();
            (tally, elapsed, further::answer(args, machine, bench, stop, &|done| bar.add(done)))
        })?;

    let coverage = bench.setup.draft().accept.coverage.percent();
    let (seed, within) = (args.long.seed, args.tolerance.within);
    let shown =
        CampaignResult { machine: name, seed, asked: args.runs(), within, coverage, tally: &tally, elapsed };
    let mut notes = String::new();
    let mut is_written = true;
    if args.wanted.any() {
        let of = report::SimulateReport { machine, campaign: &shown, further: &further };
        // The campaign may have been long: its answer is given although its report finds no place.
        notes = args.wanted.write(&of.report()).unwrap_or_else(|problem| {
            is_written = false;
            render(&problem)
        });
    }
    let further = further::asked(args, further);
    let text = if args.long.json {
        json(&campaign_json(&shown, &further))?
    } else if further::is_asked(args) {
        further::pages(args, name, &further)
    } else {
        page(&shown)
    };
    let mut answer = Answer { notes, ..Answer::new(text, further::holds(&further)) };
    if tally.runs < args.runs() || further.interrupted {
        answer.code = INTERRUPTED;
    }
    if !is_written {
        answer.code = NOT_WRITTEN;
    }
    Ok(answer)
}
