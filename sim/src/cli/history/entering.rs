//! `history note` and `history forget`.

use clap::builder::PossibleValue;
use zdatum_sim::history::{EventKind, HistoryEvent, Moment, What};
use zdatum_sim::show::history::words;
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown;

use super::Args;
use crate::cli::numbers::entry;
use crate::cli::{Answer, json, keeping};

/// Enter what was done to the machine, so that affected charts restart
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum history note nozzle --nozzle \"brass 0.4\"
  zdatum history note plate --plate slate --text \"new coating\"
  zdatum history note probe --text \"mount tightened\" --before 14")]
pub(super) struct NoteArgs {
    /// What was done
    #[arg(value_name = "WHAT")]
    what: Word,
    /// Plate that was worked on
    #[arg(long, value_name = "NAME", value_parser = keeping::named)]
    plate: Option<String>,
    /// Nozzle that is fitted now
    #[arg(long, value_name = "NAME", value_parser = keeping::named)]
    nozzle: Option<String>,
    /// In your own words
    #[arg(long, value_name = "TEXT", value_parser = keeping::named)]
    text: Option<String>,
    /// Enter it before this entry instead of as the newest
    #[arg(long, value_name = "NO", value_parser = entry())]
    before: Option<i64>,
}

/// An event's kind as an argument.
#[derive(Clone, Copy, Debug)]
struct Word(EventKind);

impl clap::ValueEnum for Word {
    fn value_variants<'a>() -> &'a [Self] {
        const ALL: [Word; EventKind::ALL.len()] = {
            let mut all = [Word(EventKind::Remark); EventKind::ALL.len()];
            let mut place = 0;
            while place < all.len() {
                all[place] = Word(EventKind::ALL[place]);
                place += 1;
            }
            all
        };
        &ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.0.word()).help(self.0.text()))
    }
}

/// Stop counting entries, such as a cycle that was kept by mistake
#[derive(clap::Args)]
pub(super) struct ForgetArgs {
    /// Numbers of the entries
    #[arg(value_name = "NO", required = true, value_parser = entry())]
    numbers: Vec<i64>,
    /// Count them again
    #[arg(long)]
    undo: bool,
}

#[derive(serde::Serialize)]
struct NotedJson<'a> {
    format: u8,
    history: &'a str,
    number: i64,
}

#[derive(serde::Serialize)]
struct Forgotten<'a> {
    format: u8,
    history: &'a str,
    numbers: &'a [i64],
    forgotten: bool,
    already: &'a [i64],
}

pub(super) fn note(args: &Args, note: &NoteArgs) -> Result<Answer, Problem> {
    let event = event(note)?;
    let (name, number, is_late) = keeping::begin_with(args.history.as_deref(), |history| {
        let writing = history.write(Moment::now())?;
        let (stamp, is_late) = match note.before {
            Some(number) => (writing.stamp_before(number)?, false),
            None => writing.stamp()?,
        };
        let number = writing.enter(&stamp, &event)?;
        writing.commit()?;
        Ok((history.name(), number, is_late))
    })?;
    if args.json {
        return Ok(Answer::new(json(&NotedJson { format: 1, history: &name, number })?, true));
    }
    let mut text = format!("Entered as {number}: {}\n", shown(words(&event).trim_start_matches("– ")));
    if is_late {
        text.push_str(
            "Note: the clock is behind the last entry; the new one was put after it nevertheless.\n",
        );
    }
    Ok(Answer::new(text, true))
}

fn event(note: &NoteArgs) -> Result<HistoryEvent, Problem> {
    let kind = note.what.0;
    let takes_plate = matches!(kind, EventKind::Plate | EventKind::Remark);
    let refused = |option: &str| {
        Problem::new(format!("{option} does not apply to `{}`", kind.word())).remedy("use --text instead")
    };
    match kind {
        _ if note.plate.is_some() && !takes_plate => return Err(refused("--plate")),
        _ if note.nozzle.is_some() && kind != EventKind::Nozzle => return Err(refused("--nozzle")),
        EventKind::Plate if note.plate.is_none() => {
            return Err(Problem::new("no plate was named").remedy("name it with --plate"));
        }
        EventKind::Remark if note.text.is_none() => {
            return Err(Problem::new("the remark has no text").remedy("give it with --text"));
        }
        _ => {}
    }
    Ok(HistoryEvent { kind, plate: note.plate.clone(), nozzle: note.nozzle.clone(), text: note.text.clone() })
}

pub(super) fn forget(args: &Args, forget: &ForgetArgs) -> Result<Answer, Problem> {
    let mut history = keeping::open(args.history.as_deref())?;
    let writing = history.write(Moment::now())?;
    let already = writing.forget(&forget.numbers, forget.undo)?;
    let mut text = String::new();
    for number in &forget.numbers {
        let entry = writing.reader().entry(*number)?;
        let what = match &entry.what {
            What::Cycle(cycle) => match &cycle.plate {
                Some(plate) => format!("run {}, plate {}", shown(&cycle.run), shown(plate)),
                None => format!("run {}", shown(&cycle.run)),
            },
            What::Event(event) => shown(words(event).trim_start_matches("– ")),
        };
        let done = match (already.contains(number), forget.undo) {
            (true, true) => "was not forgotten",
            (true, false) => "was already forgotten",
            (false, true) => "counts again",
            (false, false) => "is forgotten: it no longer counts (--undo reverses this)",
        };
        text.push_str(&format!("Entry {number} ({what}) {done}\n"));
    }
    writing.commit()?;
    if args.json {
        let name = history.name();
        let (numbers, already, forgotten) = (&forget.numbers, &already, !forget.undo);
        let document = Forgotten { format: 1, history: &name, numbers, forgotten, already };
        return Ok(Answer::new(json(&document)?, true));
    }
    Ok(Answer::new(text, true))
}
