//! `zdatum coverage`: how often the stated interval holds the true landing, and where it does not.

use std::path::PathBuf;

use zdatum_sim::show::coverage::{Document, page};
use zdatum_sim::text::Problem;
use zdatum_world::engine::Bench;
use zdatum_world::questions::coverage::{CELLS, coverage};

use super::Answer;
use super::numbers::whole;
use super::progress::{Long, on_threads};
use super::simulate::machine_or_demo;

/// How often the stated interval holds the true landing: over shapes of noise, numbers of touches, with and without a study
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum coverage                          the demo's machine
  zdatum coverage --machine machine.toml --runs 200000

Each machine of the map is simulated with limits wide open and the band at eight times the scatter. The \
same seed gives the same numbers with any number of threads.")]
pub(crate) struct Args {
    /// Machine file (TOML)
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Cycles of each machine of the map
    #[arg(long, default_value_t = 20_000, allow_negative_numbers = true, value_parser = whole::<u64>(1_000..=100_000_000))]
    runs: u64,
    #[command(flatten)]
    long: Long,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let (machine, name) = machine_or_demo(args.machine.as_ref(), args.long.json)?;
    let bench = Bench::new(machine.setup.clone(), &machine.noise, args.long.seed);
    let runs = args.runs;
    let found = on_threads(args.long.threads, CELLS * runs, |stop, bar| {
        coverage(&bench, runs, stop, &|done| bar.add(done))
    })?;
    let seed = args.long.seed;
    args.long.ending(|| Document::of(&found, seed), || page(&found, &name, seed), true, found.complete)
}
