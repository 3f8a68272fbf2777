//! `zdatum scrape`: how often the nozzle would scrape, however rare that is.

use std::path::PathBuf;

use zdatum_sim::show::scrape::{Asked, Document, page};
use zdatum_sim::text::Problem;
use zdatum_world::engine::Bench;
use zdatum_world::questions::scrape::{ScrapeQuestion, curve, scrape};

use super::Answer;
use super::numbers::{tolerance, whole};
use super::progress::{Long, on_threads};
use super::simulate::machine_or_demo;

/// Runs at each point of the curve.
const CURVE_RUNS: u64 = 10_000;

/// How often an accepted landing lets the nozzle scrape the plate: chances down to one in thousands of millions
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum scrape --machine machine.toml
  zdatum scrape --machine machine.toml --gap 0.030
  zdatum scrape --gap 0.025 --check 10000000   and cycles counted as they come
  zdatum scrape --gap 0.040 --runs 1000000 --json

The gap is how much too low the nozzle may come before it touches the plate: the free gap of the first \
layer. The same seed gives the same numbers with any number of threads. \
Exit code 1 where too few runs scraped to tell, or counting disagrees.")]
pub(crate) struct Args {
    /// Machine file (TOML); its [noise] is what the simulator reads. The demo's serves where left out
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Free gap of the layer, mm: the nozzle scrapes where it lands that much too low
    #[arg(long, default_value = "0.050", value_name = "MM", allow_negative_numbers = true, value_parser = tolerance)]
    gap: f64,
    /// Runs with their draws moved towards the event; rounded up to a multiple of ten
    #[arg(long, default_value_t = 200_000, allow_negative_numbers = true, value_parser = whole::<u64>(1_000..=1_000_000_000))]
    runs: u64,
    /// Also count so many cycles as they come, and say whether both agree
    #[arg(long, value_name = "N", default_value_t = 0, allow_negative_numbers = true, value_parser = whole::<u64>(0..=1_000_000_000_000))]
    check: u64,
    #[command(flatten)]
    long: Long,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let (machine, name) = machine_or_demo(args.machine.as_ref(), args.long.json)?;
    let bench = Bench::new(machine.setup.clone(), &machine.noise, args.long.seed);
    let what = ScrapeQuestion { bench: &bench, gap: args.gap, runs: args.runs, check: args.check };
    let (found, all) = on_threads(args.long.threads, args.runs + args.check, |stop, bar| {
        let found = scrape(&what, stop, &|done| bar.add(done));
        let all = curve(&ScrapeQuestion { runs: CURVE_RUNS, check: 0, ..what }, stop, &|_| {});
        (found, all)
    })?;
    let asked = Asked { machine: &name, seed: args.long.seed, runs: args.runs };
    let good = found.tells() && found.agrees();
    args.long.ending(
        || Document::of(&asked, &found, &all),
        || page(&asked, &found, &all),
        good,
        found.complete,
    )
}
