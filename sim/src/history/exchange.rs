//! A history as text, and back: a touch log, or JSON lines that hold all of it.

use std::collections::{HashMap, HashSet};

use super::lines::{CycleLine, EventLine, ExportLine, SetupLine, read};
use super::touches::{NamedTouches, csv, cycle_of};
use super::{Digest, Entry, Reader, What, Writing};
use crate::files::file_text::FileText;
use crate::text::Problem;
use crate::text::json::document;
use crate::text::name::shown;

/// What an import did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Imported {
    /// Entries that are new.
    pub new: usize,
    /// Entries that the history held before.
    pub known: usize,
}

/// The history as JSON lines: all entries in order, forgotten ones too, and each machine file before the
/// first cycle that was judged by it.
///
/// # Errors
/// The file cannot be read.
pub fn lines(reader: &Reader<'_>) -> Result<String, Problem> {
    let mut out = String::new();
    let mut told: HashSet<Digest> = HashSet::new();
    for entry in reader.entries(true)? {
        if let What::Cycle(cycle) = &entry.what
            && told.insert(cycle.setup.clone())
        {
            let line = SetupLine::of(&cycle.setup, &reader.setup(&cycle.setup)?);
            out.push_str(&document(&line)?);
        }
        out.push_str(&line(reader, &entry)?);
    }
    Ok(out)
}

/// One entry as a line.
///
/// # Errors
/// The file cannot be read.
pub fn line(reader: &Reader<'_>, entry: &Entry) -> Result<String, Problem> {
    match &entry.what {
        What::Event(event) => document(&EventLine::of(entry, event)),
        What::Cycle(cycle) => {
            let touches = reader.touches(entry.number)?;
            document(&CycleLine::of(entry, cycle, &touches).map_err(Problem::new)?)
        }
    }
}

/// The touches of the cycles that are not forgotten, as a log that `land` reads. A run's name that another
/// had before it gets the number of its entry behind it, since a log takes each name once.
///
/// # Errors
/// The file cannot be read, or there is no cycle.
pub fn touch_log(reader: &Reader<'_>, plate: Option<&str>) -> Result<String, Problem> {
    let mut named = Vec::new();
    let mut taken: HashSet<String> = HashSet::new();
    for entry in reader.entries(false)? {
        let What::Cycle(cycle) = entry.what else { continue };
        if plate.is_some_and(|plate| cycle.plate.as_deref() != Some(plate)) {
            continue;
        }
        let mut run = cycle.run;
        while !taken.insert(run.clone()) {
            run = format!("{run} #{}", entry.number);
        }
        named.push(NamedTouches { run, plate: cycle.plate, touches: reader.touches(entry.number)? });
    }
    if named.is_empty() {
        return Err(Problem::new("the history holds no such cycle, and a log without a touch is none")
            .remedy("`zdatum history` lists what it holds"));
    }
    csv(&named)
}

/// Takes JSON lines in. What the history held before is not doubled; numbers are kept where the history is
/// empty, and given anew otherwise.
///
/// # Errors
/// A line that is none of an export's, with its number; then nothing is changed once the writing is dropped.
pub fn import(writing: &Writing<'_>, source: &FileText) -> Result<Imported, Problem> {
    let keeps_numbers = writing.is_empty()?;
    let mut setups: HashMap<Digest, String> = HashMap::new();
    let mut digests: HashMap<Digest, bool> = HashMap::new();
    let mut done = Imported::default();
    let mut start = 0;
    for text in source.text.split_inclusive('\n') {
        let from = start;
        start += text.len();
        let text = text.trim_end();
        if text.is_empty() {
            continue;
        }
        let wrong = |what: &str| {
            let title = format!("not a line of an export: {}", shown(what));
            // The whole of a line would fill pages.
            let marked: usize = text.chars().take(40).map(char::len_utf8).sum();
            let mut problem = source.problem(from..from + marked, title, "this line");
            if let Some(place) = &mut problem.place {
                let cut = place.excerpt.chars().take(80).collect::<String>();
                place.excerpt = shown_line(&cut);
                place.span = 0..place.excerpt.len().min(40);
            }
            problem.remedy("nothing was imported; `zdatum history export` writes lines that can be")
        };
        match read(text).map_err(|error| wrong(&error))? {
            ExportLine::Setup { digest, text } => {
                setups.insert(digest, text);
            }
            ExportLine::Event { mut stamp, event } => {
                if !keeps_numbers && writing.has_event(stamp.at, &event)? {
                    done.known += 1;
                    continue;
                }
                stamp.at = writing.stamp_at(stamp.at)?.at;
                stamp.number = stamp.number.filter(|_| keeps_numbers);
                writing.enter(&stamp, &event).map_err(|error| wrong(&error.title))?;
                done.new += 1;
            }
            ExportLine::Cycle { mut stamp, cycle, touches } => {
                let Some(setup) = setups.get(&cycle.setup) else {
                    return Err(wrong("no line before it gives the machine file of that `setup`"));
                };
                let named = NamedTouches { run: cycle.run.clone(), plate: cycle.plate.clone(), touches };
                cycle_of(&named, "touches").map_err(|error| wrong(&error.title))?;
                // Of what this file brings nothing counts as known: a cycle kept twice on purpose stays so.
                let known = match digests.get(&cycle.digest) {
                    Some(known) => *known,
                    None => {
                        let known = !keeps_numbers && writing.reader().holds(&cycle.digest)?;
                        digests.insert(cycle.digest.clone(), known);
                        known
                    }
                };
                if known {
                    done.known += 1;
                    continue;
                }
                stamp.at = writing.stamp_at(stamp.at)?.at;
                stamp.number = stamp.number.filter(|_| keeps_numbers);
                let kept = writing.keep(&stamp, &cycle, setup, &named.touches);
                kept.map_err(|error| wrong(&error.title))?;
                done.new += 1;
            }
        }
    }
    Ok(done)
}

/// Without characters that would not print; the backslashes of JSON stay single.
fn shown_line(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).collect()
}
