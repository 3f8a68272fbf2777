//! `zdatum sensitivity`: which source makes the error, and which the refusals.

use std::path::PathBuf;

use zdatum_sim::show::sensitivity::{Document, page};
use zdatum_sim::text::Problem;
use zdatum_world::engine::Bench;
use zdatum_world::questions::budget::refusals::{CYCLES, sensitivity};

use super::Answer;
use super::numbers::whole;
use super::progress::{Long, on_threads};
use super::simulate::machine_or_demo;

/// Which source makes the first-layer error, and which makes cycles refused: alone, and with all it acts together with
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum sensitivity                               the demo's machine
  zdatum sensitivity --machine machine.toml --runs 100000 --json

Sobol' indices: the share of the variance that is gone once a source is known (first order), and the share \
that is left once all others are (total). The same seed gives the same numbers with any number of threads.")]
pub(crate) struct Args {
    /// Machine file (TOML); its [noise] is what the simulator reads. The demo's serves where left out
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Runs, of twelve cycles each; rounded up to a multiple of 256
    #[arg(long, default_value_t = 20_000, allow_negative_numbers = true, value_parser = whole::<u64>(1_000..=100_000_000))]
    runs: u64,
    #[command(flatten)]
    long: Long,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let (machine, name) = machine_or_demo(args.machine.as_ref(), args.long.json)?;
    let bench = Bench::new(machine.setup.clone(), &machine.noise, args.long.seed);
    let found = on_threads(args.long.threads, args.runs * CYCLES, |stop, bar| {
        sensitivity(&bench, args.runs, stop, &|done| bar.add(done))
    })?;
    let seed = args.long.seed;
    args.long.ending(|| Document::of(&found, seed), || page(&found, &name, seed), true, found.complete)
}
