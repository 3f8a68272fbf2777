//! `zdatum setup`: a machine file checked and explained, or a new one.

use std::path::PathBuf;

use zdatum_sim::files::replace::create;
use zdatum_sim::files::{FileText, MachineFile, TEMPLATE};
use zdatum_sim::judged::explained::Explained;
use zdatum_sim::show::explain::{SetupJson, page};
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown_path;

use super::{Answer, json};

/// Check a machine file and explain it, or write a new one
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum setup --new machine.toml  write a commented file to start from; never overwrites
  zdatum setup --new               print the same file
  zdatum setup machine.toml        show floors, expected uncertainty and warnings")]
pub(crate) struct Args {
    /// Machine file (TOML)
    #[arg(required_unless_present = "new")]
    file: Option<PathBuf>,
    /// Write a new machine file instead
    #[arg(long, conflicts_with = "json")]
    new: bool,
    /// Print one JSON document instead of text
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    match (&args.file, args.new) {
        (None, _) => Ok(Answer::new(TEMPLATE.into(), true)),
        (Some(file), true) => {
            create(file, TEMPLATE)?;
            let name = shown_path(file);
            Ok(Answer::new(
                format!(
                    "Written to {name}. Every value in it is an example: replace it with your machine's \
                    own.\n"
                ),
                true,
            ))
        }
        (Some(file), false) => {
            let machine = MachineFile::of(if file.as_os_str() == "-" {
                FileText::read_stdin()?
            } else {
                FileText::read(file)?
            })?;
            let explained = Explained::of(&machine);
            let text = if args.json {
                json(&SetupJson::of(&machine, &explained))?
            } else {
                page(&machine, &explained)
            };
            Ok(Answer::new(text, true))
        }
    }
}
