//! Landings with a history: each plate is compared with its last accepted span there, and what is new is
//! kept.

use std::collections::HashMap;

use zdatum::LastSpan;
use zdatum::watch::{Observed, Reading};

use super::fit::{PlateFit, PlateGuess, fit, misfit};
use super::reader::{KnownCycle, LastAccepted, Reader};
use super::replay::{PlateReplay, SpanBook, record};
use super::touches::{TouchCells, digest};
use super::writing::{Writing, of_setup};
use super::{Digest, KeptCycle};
use crate::files::{FileText, LoggedCycle, MachineFile};
use crate::judged::json::one_cycle;
use crate::judged::{Judged, Malformed, judge_one};
use crate::text::Problem;
use crate::text::name::cut;

/// Cycles with their touches, and how they are to be judged and kept.
#[derive(Clone, Debug)]
pub struct Given<'a> {
    /// The machine.
    pub machine: &'a MachineFile,
    /// The cycles.
    pub cycles: Vec<LoggedCycle>,
    /// Their touches, as read.
    pub touches: Vec<Vec<TouchCells>>,
    /// What the only cycle is compared with, whatever the history says.
    pub last: Option<LastSpan>,
    /// The nozzle that is fitted, where it is named.
    pub nozzle: Option<&'a str>,
    /// Keep a cycle though one with the same touches is kept.
    pub again: bool,
}

/// What the history had to do with a cycle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fate {
    /// Its number in the history, where it has one.
    pub number: Option<i64>,
    /// The cycle with the same touches, where one was kept before.
    pub known: Option<KnownCycle>,
    /// Whose span it was compared with, where that came from the history.
    pub held_against: Option<i64>,
}

/// What became of all cycles.
#[derive(Clone, Debug)]
pub struct KeptCycles {
    /// The verdicts.
    pub judged: Vec<Judged>,
    /// In the same order.
    pub fates: Vec<Fate>,
    /// The machine file's digest.
    pub setup: Digest,
    /// What to mind.
    pub notes: Vec<String>,
}

/// Why nothing was kept.
#[derive(Debug)]
pub enum KeepFailed {
    /// A cycle has too few touches.
    Malformed(Malformed),
    /// The history cannot be read or written.
    Problem(Problem),
}

impl From<Problem> for KeepFailed {
    fn from(problem: Problem) -> Self {
        KeepFailed::Problem(problem)
    }
}

/// Judges cycles with what a history knows, and keeps nothing.
///
/// # Errors
/// A station with too few touches, or the history cannot be read.
pub fn consult(reader: &Reader<'_>, given: Given<'_>) -> Result<KeptCycles, KeepFailed> {
    work(reader, None, given)
}

/// Judges cycles and keeps those that are not known yet. They are kept once the writing is committed.
///
/// # Errors
/// As [`consult`], or the history cannot be written.
pub fn keep(writing: &Writing<'_>, given: Given<'_>) -> Result<KeptCycles, KeepFailed> {
    work(&writing.reader(), Some(writing), given)
}

fn work(
    reader: &Reader<'_>,
    writing: Option<&Writing<'_>>,
    given: Given<'_>,
) -> Result<KeptCycles, KeepFailed> {
    let Given { machine, cycles, touches, last, nozzle, again } = given;
    let percent = machine.setup.draft().accept.coverage.percent();
    let setup = of_setup(&machine.source.text);
    let mut notes = Vec::new();
    if let Some(note) = another_machine(reader, machine)? {
        notes.push(note);
    }
    // Spans of cycles that are new: a history that is only asked does not hold them.
    let mut book = PlateReplay::of(&reader.entries(false)?).book;
    let mut newer: HashMap<String, LastSpan> = HashMap::new();
    let mut kept = KeptCycles { judged: Vec::new(), fates: Vec::new(), setup: setup.clone(), notes };
    for (place, (cycle, touches)) in cycles.into_iter().zip(&touches).enumerate() {
        let digest = digest(touches);
        let known = reader.known(&digest)?;
        // What is kept already is judged as it was: by what came before it.
        let before = known.as_ref().filter(|_| !again).map(|known| known.at);
        let is_new = before.is_none();
        let (against, from) = match (last, &cycle.plate) {
            (Some(last), _) => (Some(last), None),
            (None, Some(plate)) => match newer.get(plate).filter(|_| is_new && writing.is_none()) {
                Some(span) => (Some(*span), None),
                None => reader
                    .last_span(plate, before)?
                    .map_or((None, None), |LastAccepted { number, span }| (Some(span), Some(number))),
            },
            (None, None) => (None, None),
        };
        let judged = judge_one(machine, cycle, against)
            .map_err(|few| KeepFailed::Malformed(Malformed { cycle: place, few }))?;
        let observed = judged.assessment.touches().and_then(|all| Observed::of(all).ok());
        if let (true, Some(span)) = (is_new, observed.and_then(|observed| observed.span)) {
            kept.notes.extend(plate_note(&book, &judged.cycle, span));
            if let (Some(plate), true) = (&judged.cycle.plate, judged.assessment.accepted()) {
                let _ = record(&mut book, plate, span, place);
            }
        }
        if let (true, Some(span), Some(plate)) = (is_new, judged.accepted_span(), &judged.cycle.plate) {
            newer.insert(plate.clone(), span);
        }
        let number = match writing.filter(|_| is_new) {
            Some(writing) => {
                let result = one_cycle(&judged, percent)?;
                let cycle = KeptCycle {
                    run: judged.cycle.run.clone(),
                    plate: judged.cycle.plate.clone(),
                    nozzle: nozzle.map(str::to_owned),
                    setup: setup.clone(),
                    digest,
                    last: judged.last,
                    accepted: judged.assessment.accepted(),
                    observed,
                    result,
                };
                let (stamp, is_late) = writing.stamp()?;
                if is_late && place == 0 {
                    kept.notes.push(
                        "the clock is behind the last entry of the history: the new entry was put after it nevertheless"
                            .into(),
                    );
                }
                Some(writing.keep(&stamp, &cycle, &machine.source.text, touches)?)
            }
            None => known.as_ref().map(|known| known.number),
        };
        kept.judged.push(judged);
        kept.fates.push(Fate { number, known, held_against: from });
    }
    Ok(kept)
}

/// Whether the plate is the one that was named, or which it is where none was; `None` where there is nothing
/// to say.
fn plate_note(book: &SpanBook, cycle: &LoggedCycle, span: Reading) -> Option<String> {
    let run = cut(&cycle.run, 40);
    match (fit(book, cycle.plate.as_ref(), span)?, &cycle.plate) {
        (PlateFit::Misfit { change, likelier }, Some(plate)) => {
            Some(format!("run {run} is {}", misfit(plate, change, &likelier)))
        }
        (PlateFit::Unnamed(PlateGuess::Unknown(None)), _) => None,
        (PlateFit::Unnamed(found), _) => Some(format!("run {run} names no plate: {}", found.text())),
        _ => None,
    }
}

/// A history is one machine's. Whether this is another is for the owner to say; that it looks so is for the
/// tool.
fn another_machine(reader: &Reader<'_>, machine: &MachineFile) -> Result<Option<String>, Problem> {
    let Some((number, digest)) = reader.newest_setup()? else { return Ok(None) };
    if digest == of_setup(&machine.source.text) {
        return Ok(None);
    }
    let Ok(before) = MachineFile::of(FileText::of("history", &reader.setup(&digest)?)) else {
        return Ok(None);
    };
    let (before, now) = (before.setup.draft(), machine.setup.draft());
    if before.stations == now.stations && before.travel == now.travel {
        return Ok(None);
    }
    Ok(Some(format!(
        "travel or stations of the machine file are others than with entry {number}. A history is one machine's: give another \
         machine a file of its own with --history"
    )))
}
