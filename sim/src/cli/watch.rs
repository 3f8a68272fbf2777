//! `zdatum watch`: the drift charts over past cycles.

use std::path::PathBuf;

use zdatum::Uncertainty;
use zdatum_sim::history::replay::Watched;
use zdatum_sim::show::watch::{WatchJson, page};
use zdatum_sim::text::Problem;
use zdatum_sim::text::written::Written;

use super::{Answer, json, keeping};

/// Chart tip height, drop and spans over past cycles, and say what has changed
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum watch                   show the charts, and the causes that fit an alarm
  zdatum history note nozzle     acknowledge an alarm: the nozzle was changed
  zdatum history note nothing    acknowledge it: nothing was done

The charts learn from this machine's own accepted cycles and start judging at the sixth of a kind. \
Exit code 1 while an alarm is active.")]
pub(crate) struct Args {
    /// History [default: the platform's data folder]
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Leave out the tip's height: Z is homed by the tip on the datum switch itself
    #[arg(long)]
    homed_by_tip: bool,
    /// Smallest standard deviation to assume for any chart
    #[arg(long, value_name = "MM", value_parser = steadiest, allow_hyphen_values = true, default_value = "0")]
    steadiest: Uncertainty,
    /// Print one JSON document instead of text
    #[arg(long)]
    json: bool,
}

fn steadiest(text: &str) -> Result<Uncertainty, String> {
    let u = Uncertainty::read(text)?;
    u.variance().map(|_| u).map_err(|_| "must be below 4 mm".into())
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let mut history = keeping::open(args.history.as_deref())?;
    let entries = history.read(|reader| reader.entries(false))?;
    let watched = Watched::of(&entries, args.steadiest, !args.homed_by_tip);
    let name = history.name();
    let text = if args.json { json(&WatchJson::of(&name, &watched))? } else { page(&name, &watched) };
    Ok(Answer::new(text, !watched.watch.alarmed()))
}
