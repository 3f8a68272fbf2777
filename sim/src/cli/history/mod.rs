//! `zdatum history`: what was kept, and what the owner has to say to it.

mod entering;
mod exchange;

use std::path::PathBuf;

use clap::Subcommand;
use zdatum_sim::files::{FileText, MachineFile};
use zdatum_sim::history::touches::{NamedTouches, cycle_of};
use zdatum_sim::history::{Entry, KeptCycle, Reader, What};
use zdatum_sim::judged::json::one_cycle;
use zdatum_sim::judged::judge_one;
use zdatum_sim::show::history::{Again, HistoryJson, list, one, say_the_same};
use zdatum_sim::text::Problem;

use super::numbers::entry;
use super::{Answer, json, keeping};

/// Show what was kept, and enter what was done to the machine
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum land touches.csv -m machine.toml --keep   keep cycles
  zdatum history                                   list all entries
  zdatum history show 12                           show entry 12 in full
  zdatum history note nozzle --nozzle \"brass 0.4\"  enter that a new nozzle was fitted
  zdatum history forget 12                         stop counting entry 12
  zdatum history export > history.jsonl            export everything as text")]
pub(crate) struct Args {
    /// History [default: the platform's data folder]
    #[arg(long, value_name = "FILE", global = true)]
    history: Option<PathBuf>,
    /// Print one JSON document instead of text
    #[arg(long, global = true)]
    json: bool,
    /// Only cycles of this plate
    #[arg(long, value_name = "NAME")]
    plate: Option<String>,
    /// Include forgotten entries
    #[arg(long)]
    all: bool,
    #[command(subcommand)]
    command: Option<HistoryCommand>,
}

#[derive(Subcommand)]
enum HistoryCommand {
    Show(Show),
    Note(entering::NoteArgs),
    Forget(entering::ForgetArgs),
    Export(exchange::Export),
    Import(exchange::Import),
}

/// Show one entry in full; a cycle is judged again from its touches
#[derive(clap::Args)]
struct Show {
    /// Number of the entry
    #[arg(value_name = "NO", value_parser = entry())]
    number: i64,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    if args.command.is_some() && (args.all || args.plate.is_some()) {
        return Err(Problem::new("--all and --plate have no effect before a subcommand").remedy(
            "use them to list (`zdatum history --plate NAME`); put a subcommand's options after its \
                name",
        ));
    }
    match &args.command {
        None => listed(args),
        Some(HistoryCommand::Show(show)) => shown(args, show.number),
        Some(HistoryCommand::Note(note)) => entering::note(args, note),
        Some(HistoryCommand::Forget(forget)) => entering::forget(args, forget),
        Some(HistoryCommand::Export(export)) => exchange::export(args, export),
        Some(HistoryCommand::Import(import)) => exchange::import(args, import),
    }
}

fn listed(args: &Args) -> Result<Answer, Problem> {
    let mut history = keeping::open(args.history.as_deref())?;
    let mut entries = history.read(|reader| reader.entries(args.all))?;
    if let Some(plate) = &args.plate {
        entries.retain(|entry| match &entry.what {
            What::Cycle(cycle) => cycle.plate.as_ref() == Some(plate),
            What::Event(_) => false,
        });
    }
    let name = history.name();
    let text = if args.json { json(&HistoryJson::of(&name, &entries))? } else { list(&name, &entries) };
    Ok(Answer::new(text, true))
}

fn shown(args: &Args, number: i64) -> Result<Answer, Problem> {
    let mut history = keeping::open(args.history.as_deref())?;
    let text = history.read(|reader| {
        let entry = reader.entry(number)?;
        if args.json {
            return exchange::line(reader, &entry);
        }
        let again = match &entry.what {
            What::Cycle(cycle) => again(reader, &entry, cycle)?,
            What::Event(_) => None,
        };
        Ok(one(&entry, again.as_ref()))
    })?;
    Ok(Answer::new(text, true))
}

/// The cycle judged by the machine file of then; `None` where that or the touches are not read any more.
fn again(reader: &Reader<'_>, entry: &Entry, cycle: &KeptCycle) -> Result<Option<Again>, Problem> {
    let touches = reader.touches(entry.number)?;
    let named = NamedTouches { run: cycle.run.clone(), plate: cycle.plate.clone(), touches };
    let text = reader.setup(&cycle.setup)?;
    let machine = MachineFile::of(FileText::of("machine file at the time", &text));
    let (Ok(machine), Ok((_, touched))) = (machine, cycle_of(&named, "touches at the time")) else {
        return Ok(None);
    };
    let Ok(judged) = judge_one(&machine, touched, cycle.last) else { return Ok(None) };
    let percent = machine.setup.draft().accept.coverage.percent();
    let is_same = one_cycle(&judged, percent).is_ok_and(|said| say_the_same(&cycle.result, &said));
    Ok(Some(Again { machine, judged, is_same }))
}
