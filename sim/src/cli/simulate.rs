//! `zdatum simulate`: many cycles of the core's own in a world whose truth is known.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use zdatum_sim::files::{Machine, Problem, Source};
use zdatum_sim::run::{Bench, Campaign, Tally, campaign, run};
use zdatum_sim::show::campaign::{Document, Result as Shown, page};
use zdatum_sim::show::report;
use zdatum_sim::show::trace::{self, Last, Step};

use super::pictures::Wanted;
use super::{Answer, json, tolerance};

mod beside;

const DEMO: &str = include_str!("../../../docs/demo/machine.toml");
pub(super) const DEMO_NAME: &str = "the demo's (docs/demo/machine.toml)";
/// Runs that tell how wide the histogram's bins should be.
const PILOT: u64 = 512;
/// What a shell takes an interrupted command to answer.
const INTERRUPTED: u8 = 130;

/// Simulate many cycles: what trigger noise does to the first layer, and how often a cycle is refused
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum simulate                                  a million cycles of the demo's machine
  zdatum simulate --machine machine.toml --within 0.015
  zdatum simulate --compare                        other ways to set the height, side by side
  zdatum simulate --budget                         what makes the error, what to mend first
  zdatum simulate --report report.html             all of it as one page for a browser, with pictures
  zdatum simulate --one 17 --trace                 run 17 of that campaign, step by step
  zdatum simulate --runs 10000000 --seed 7 --json

The same seed gives the same numbers with any number of threads. Ctrl-C stops and reports what was done.")]
pub(crate) struct Args {
    /// Machine file (TOML); its [noise] is what the simulator reads
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Cycles to simulate
    #[arg(long, default_value_t = 1_000_000, value_parser = clap::value_parser!(u64).range(1..=1_000_000_000_000))]
    runs: u64,
    /// Seed of the random numbers
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads; all processors where left out
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Tolerance of the first-layer error, mm
    #[arg(long, default_value = "0.020", value_name = "MM", value_parser = tolerance)]
    within: f64,
    /// Replay one run of the campaign, counted from 0
    #[arg(long, value_name = "N")]
    one: Option<u64>,
    /// Show every request and answer of that run (run 0 where none is named); JSON lines with --json
    #[arg(long)]
    trace: bool,
    /// The ways people set this height side by side, on the same draws: who survives a swapped plate, another nozzle, a warm-up
    #[arg(long, conflicts_with_all = ["one", "trace"])]
    compare: bool,
    /// The core's error budget beside the simulated one, and whether their intervals agree
    #[arg(long, conflicts_with_all = ["one", "trace"])]
    budget: bool,
    /// Error against the number of touches and against the switches' noise
    #[arg(long, conflicts_with_all = ["one", "trace"])]
    sweep: bool,
    #[command(flatten)]
    wanted: Wanted,
    /// Runs for each row of --compare, --budget and --sweep
    #[arg(long, value_name = "N", default_value_t = 50_000, value_parser = clap::value_parser!(u64).range(100..=10_000_000))]
    each: u64,
    /// One JSON document instead of text
    #[arg(long)]
    json: bool,
}

pub(crate) fn run_command(args: &Args) -> Result<Answer, Problem> {
    if args.wanted.any() && (args.trace || args.one.is_some()) {
        return Err(Problem::new("--report and --svg show a campaign, --one and --trace a single run of it")
            .remedy("leave out one or the other"));
    }
    args.wanted.check()?;
    let machine = match &args.machine {
        Some(path) => Machine::read(path)?,
        None => demo()?,
    };
    let bench = Bench::new(machine.setup.clone(), &machine.noise, args.seed);
    if args.trace || args.one.is_some() {
        return one(args, &bench);
    }
    many(args, &machine, &bench)
}

/// The machine that is simulated where none is named.
pub(super) fn demo() -> Result<Machine, Problem> {
    Machine::of(Source::of("docs/demo/machine.toml", DEMO))
}

fn one(args: &Args, bench: &Bench) -> Result<Answer, Problem> {
    let number = args.one.unwrap_or(0);
    let mut steps = Vec::new();
    let ran = run(bench, number, |world, request, event| {
        if args.trace {
            steps.push(Step::of(world, request, event));
        }
    })
    .map_err(|error| Problem::new(error.to_string()))?;
    let mut text = String::new();
    if args.json {
        for step in &steps {
            text.push_str(&json(step)?);
        }
        text.push_str(&json(&Last::of(number, args.seed, &ran))?);
    } else {
        text = trace::page(&steps, number, args.seed, &ran);
    }
    Ok(Answer::new(text, ran.error.is_some()))
}

fn many(args: &Args, machine: &Machine, bench: &Bench) -> Result<Answer, Problem> {
    let stop = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&stop);
    // Where no handler can be set, Ctrl-C simply ends the program.
    let _ = ctrlc::set_handler(move || asked.store(true, Ordering::Relaxed));
    let threads = args.threads.map_or(0, usize::from);
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .map_err(|error| Problem::new(format!("cannot start {threads} threads: {error}")))?;

    let bar = progress(args.runs + beside::runs(args));
    let begun = Instant::now();
    let (tally, elapsed, beside) = pool.install(|| {
        let what = Campaign { bench, first: 0, runs: args.runs, within: args.within, sd: pilot(args, bench) };
        let tally = campaign(&what, &stop, |done| bar.inc(done));
        (tally, begun.elapsed(), beside::run(args, machine, bench, &stop, &|done| bar.inc(done)))
    });
    bar.finish_and_clear();

    let name = args.machine.as_ref().map_or_else(|| DEMO_NAME.into(), |path| path.display().to_string());
    let coverage = bench.setup.draft().accept.coverage.percent();
    let (seed, within) = (args.seed, args.within);
    let shown = Shown { machine: &name, seed, asked: args.runs, within, coverage, tally: &tally, elapsed };
    let mut notes = String::new();
    if args.wanted.any() {
        let of = report::Simulate { machine, campaign: &shown, beside: &beside };
        notes = args.wanted.write(&of.report())?;
    }
    let beside = beside::asked(args, beside);
    let text = if args.json {
        json(&Document::of(&shown, &beside))?
    } else if beside.is_empty() {
        page(&shown)
    } else {
        beside::pages(args, &name, &beside)
    };
    let mut answer = Answer { notes, ..Answer::new(text, true) };
    if tally.runs < args.runs || beside.interrupted {
        answer.code = INTERRUPTED;
    }
    Ok(answer)
}

/// About the errors' standard deviation, from the campaign's first runs.
fn pilot(args: &Args, bench: &Bench) -> f64 {
    let runs = args.runs.min(PILOT);
    let what = Campaign { bench, first: 0, runs, within: args.within, sd: 0.01 };
    let tally: Tally = campaign(&what, &AtomicBool::new(false), |_| {});
    tally.sd().map_or(0.01, |sd| sd.value)
}

/// A bar on a terminal's standard error, from the first half second on.
fn progress(runs: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(runs), ProgressDrawTarget::stderr_with_hz(5));
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {percent} % of {human_len} cycles, {eta} left")
    {
        bar.set_style(style);
    }
    bar.enable_steady_tick(Duration::from_millis(500));
    bar
}
