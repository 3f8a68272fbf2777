//! `zdatum plates`: what is known of each plate.

use std::path::PathBuf;

use zdatum_sim::history::replay::PlateReplay;
use zdatum_sim::show::plates::{PlatesJson, page};
use zdatum_sim::text::Problem;

use super::{Answer, json, keeping};

/// List the known plates: span, spread, cycles, last seen, and cycles that did not fit their plate
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum land touches.csv -m machine.toml --keep     keep cycles
  zdatum plates                                      list their plates")]
pub(crate) struct Args {
    /// History [default: the platform's data folder]
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Print one JSON document instead of text
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let mut history = keeping::open(args.history.as_deref())?;
    let entries = history.read(|reader| reader.entries(false))?;
    let plates = PlateReplay::of(&entries);
    let name = history.name();
    let text = if args.json {
        json(&PlatesJson::of(&name, &entries, &plates))?
    } else {
        page(&name, &entries, &plates)
    };
    Ok(Answer::new(text, true))
}
