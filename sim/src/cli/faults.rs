//! `zdatum faults`: what is wrong on purpose, what is caught, and what gets through.

use std::path::PathBuf;

use zdatum_sim::show::faults::{FaultsShown, json, page};
use zdatum_sim::text::Problem;
use zdatum_world::engine::Bench;
use zdatum_world::questions::faulty::{FaultQuestion, cycles_of, find};

use super::Answer;
use super::machine::machine_or_demo;
use super::numbers::whole;
use super::progress::{Long, on_threads};

/// What is caught when something is wrong: each fault at each size, the refusal that catches it, what gets
/// through, and whether anything crashes
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum faults --machine machine.toml
  zdatum faults --curve filament         one fault, size by size
  zdatum faults --cycles 100000000       does the nozzle crash in so many faulty cycles?
  zdatum faults --each 2000 --json

Each fault is put into the simulated machine, and the core's own cycle runs on it. The same seed gives the \
same numbers with any number of threads. Exit code 1 if a single fault made the nozzle crash.")]
pub(crate) struct Args {
    /// Machine file (TOML); its [noise] is what the simulator reads. The demo's if left out
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Cycles at each size of each fault
    #[arg(
        long,
        value_name = "N",
        default_value_t = 400,
        allow_negative_numbers = true,
        value_parser = whole::<u64>(10..=1_000_000)
    )]
    each: u64,
    /// Cycles with one random fault, anywhere in the declared ranges
    #[arg(
        long,
        value_name = "N",
        default_value_t = 1_000_000,
        allow_negative_numbers = true,
        value_parser = whole::<u64>(0..=1_000_000_000_000)
    )]
    cycles: u64,
    /// Cycles with each pair of faults; rounded up to a multiple of 64
    #[arg(
        long,
        value_name = "N",
        default_value_t = 1_000,
        allow_negative_numbers = true,
        value_parser = whole::<u64>(0..=10_000_000)
    )]
    pairs: u64,
    /// Show one fault size by size; named as in the table
    #[arg(long, value_name = "FAULT", value_parser = known)]
    curve: Option<String>,
    #[command(flatten)]
    long: Long,
}

fn known(word: &str) -> Result<String, String> {
    let words = || zdatum_world::questions::faulty::KINDS.iter().map(|kind| kind.word);
    if words().any(|known| known == word) {
        return Ok(word.into());
    }
    let near = words().min_by_key(|known| strsim::damerau_levenshtein(known, word)).unwrap_or("");
    Err(format!("no such fault; the nearest is {near}"))
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let (machine, name) = machine_or_demo(args.machine.as_ref(), args.long.json)?;
    let bench = Bench::new(machine.setup.clone(), &machine.noise, args.long.seed);
    let what = FaultQuestion { bench: &bench, each: args.each, cycles: args.cycles, pairs: args.pairs };
    let found = on_threads(args.long.threads, cycles_of(&what), |stop, bar| {
        find(&what, stop, &|done| bar.add(done))
    })?;
    let shown =
        FaultsShown { machine: &name, seed: args.long.seed, each: args.each, curve: args.curve.as_deref() };
    let good = found.single.of_the_nozzle() == 0;
    args.long.ending(|| json(&shown, &found), || page(&shown, &found), good, found.complete)
}
