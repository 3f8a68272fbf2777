//! `zdatum watch`: the drift charts over past cycles.

use std::path::PathBuf;

use zdatum::Uncertainty;
use zdatum_sim::history::replay::Watched;
use zdatum_sim::show::watch::{WatchJson, page};
use zdatum_sim::text::Problem;
use zdatum_sim::text::written::Written;

use super::{Answer, json, keeping};

/// Chart tip, drop and spans over past cycles, and say what has changed
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum watch                   the charts, and which cause fits an alarm
  zdatum history note nozzle     answers an alarm: a nozzle was changed
  zdatum history note nothing    answers it: nothing was done

The charts learn from this machine's own accepted cycles; the first judged is the sixth of its kind. \
Exit code 1 while an alarm is active.")]
pub(crate) struct Args {
    /// The history [default: where the platform keeps such data]
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Leave the tip's height out: Z is homed by the tip on the datum switch itself
    #[arg(long)]
    homed_by_tip: bool,
    /// Take nothing to scatter less than this, one standard deviation
    #[arg(long, value_name = "MM", value_parser = steadiest, allow_hyphen_values = true, default_value = "0")]
    steadiest: Uncertainty,
    /// One JSON document instead of text
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
