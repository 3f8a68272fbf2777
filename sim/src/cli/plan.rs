//! `zdatum plan`: which touching keeps a promise in the least time.

use std::path::PathBuf;

use zdatum_sim::files::MachineFile;
use zdatum_sim::show::plan::{interrupted_json, json as plan_json, page};
use zdatum_sim::text::Problem;
use zdatum_world::engine::Bench;
use zdatum_world::questions::plan::{PlanQuestion, REFUSED_COSTS, RISK, plan};

use super::machine::say_whose_noise;
use super::numbers::Tolerance;
use super::progress::{INTERRUPTED, Long, on_threads};
use super::{Answer, json};

/// Most that a refused cycle may cost, s.
const MOST_COSTS: f64 = 100_000.0;
/// Smallest risk that the confirming campaign can tell from none.
const LEAST_RISK: f64 = 0.000_01;
/// About how many cycles a plan takes, for the bar.
const CYCLES: u64 = 6_000_000;

/// Plan the touches: the number, speeds, lift, band and centre that keep a promise in the least time
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum plan --machine docs/demo/machine.toml --within 0.020 --risk 0.001
  zdatum plan -m machine.toml --within 0.015 --json

Everything is simulated with the file's [noise]: check that with a study first. Prints the lines for \
[touch], what a stricter promise costs and, if nothing keeps the promise, which part to improve and by \
how much. Exit code 1 if nothing keeps the promise.")]
pub(crate) struct Args {
    /// Machine file (TOML); its [noise] is what the simulator reads
    #[arg(short, long, value_name = "FILE")]
    machine: PathBuf,
    #[command(flatten)]
    tolerance: Tolerance,
    /// Largest chance that an accepted first layer is beyond it, 0.00001 to 0.5
    #[arg(long, default_value_t = RISK, value_name = "P", allow_negative_numbers = true, value_parser = risk)]
    risk: f64,
    /// What a refused cycle costs on top of its own time, s, 0 to 100000
    #[arg(
        long,
        default_value_t = REFUSED_COSTS,
        value_name = "S",
        allow_negative_numbers = true,
        value_parser = costs
    )]
    refused_costs: f64,
    #[command(flatten)]
    long: Long,
}

fn risk(text: &str) -> Result<f64, String> {
    let risk: f64 = text.parse().map_err(|_| "must be a decimal number, such as 0.001")?;
    if !(LEAST_RISK..=0.5).contains(&risk) {
        return Err("must be from 0.00001 to 0.5".into());
    }
    Ok(risk)
}

fn costs(text: &str) -> Result<f64, String> {
    let seconds: f64 = text.parse().map_err(|_| "must be a decimal number of seconds, such as 120")?;
    if !(0.0..=MOST_COSTS).contains(&seconds) {
        return Err("must be from 0 to 100000 s".into());
    }
    Ok(seconds)
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let machine = MachineFile::read(&args.machine)?;
    say_whose_noise(&machine, &args.machine, args.long.json);
    let bench = Bench::new(machine.setup.clone(), &machine.noise, args.long.seed);
    let asked = PlanQuestion {
        growth_names: &machine.growth_names,
        bench: &bench,
        within: args.tolerance.within,
        risk: args.risk,
        refused_costs: args.refused_costs,
    };
    let seed = args.long.seed;
    let plan = on_threads(args.long.threads, CYCLES, |stop, bar| plan(&asked, stop, &|done| bar.add(done)))?;
    let Some(plan) = plan else {
        if args.long.json {
            return Ok(Answer { code: INTERRUPTED, ..Answer::new(json(&interrupted_json(seed))?, false) });
        }
        let notes = "interrupted: the search is incomplete, and half a search is no plan\n".into();
        return Ok(Answer { text: String::new(), notes, code: INTERRUPTED });
    };
    let name = args.machine.display().to_string();
    args.long.answer(|| plan_json(&plan, seed), || page(&plan, &name, seed), plan.asked.met)
}
