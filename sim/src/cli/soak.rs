//! `zdatum soak`: how long to wait until the machine has stopped growing.

use std::path::PathBuf;

use zdatum_sim::files::log::Log;
use zdatum_sim::show::soak::{SoakJson, page};
use zdatum_sim::study::soak::soak;
use zdatum_sim::text::Problem;

use super::numbers::tolerance;
use super::{Answer, json, source};

/// Find how long to wait until a warming machine has all but stopped growing
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum soak docs/demo/soak.csv
  zdatum soak soak.csv --left 0.005

Switch everything on and touch one station, preferably the tip, once a minute until the height has \
settled; the log needs the column time_s. Exit code 1 if the log is too short or too noisy to tell.")]
pub(crate) struct Args {
    /// Touch log (CSV) with times, or - for standard input
    log: PathBuf,
    /// Growth that may still be to come, mm
    #[arg(
        long,
        default_value = "0.010",
        value_name = "MM",
        value_parser = tolerance,
        allow_hyphen_values = true
    )]
    left: f64,
    /// Print one JSON document instead of text
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let log = Log::read(source(&args.log)?)?;
    let soaks = soak(&log, args.left)?;
    let told = soaks.iter().any(|soak| soak.tells());
    let text = if args.json {
        json(&SoakJson::of(&soaks, args.left))?
    } else {
        page(&soaks, args.left, &log.source.name)
    };
    Ok(Answer::new(text, told))
}
