//! A study's result in the machine file: `[pooled]` written, every other byte as it was.

use std::num::NonZeroU32;
use std::ops::Range;

use zdatum::{Pooled, Station, Uncertainty};

use super::file_text::{BOM, FileText};
use super::keys::locate;
use super::machine::{MachineFile, parse};
use crate::text::Problem;

/// Most degrees of freedom that the file holds.
const MOST_DOF: usize = u32::MAX as usize - 1;

/// A station's pooled s as it stands in a machine file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PooledEntry {
    /// Which.
    pub station: Station,
    /// s, mm, to four digits.
    pub s: String,
    /// Its degrees of freedom.
    pub dof: u32,
}

impl PooledEntry {
    /// s to four digits; `None` where it cannot stand in a machine file: not below 4 mm, or without degrees
    /// of freedom.
    pub fn of(station: Station, s: f64, dof: usize) -> Option<Self> {
        let text = four_digits(s);
        Uncertainty::parse(&text).ok()?.variance().ok()?;
        let dof = u32::try_from(dof.min(MOST_DOF)).ok().filter(|dof| *dof > 0)?;
        Some(Self { station, s: text, dof })
    }

    /// Its line.
    pub fn line(&self) -> String {
        format!("{} = {{ s = {}, dof = {} }}", self.station.word(), self.s, self.dof)
    }

    fn study(&self) -> Option<Pooled> {
        Some(Pooled { s: Uncertainty::parse(&self.s).ok()?, dof: NonZeroU32::new(self.dof)? })
    }
}

/// A length to four digits, in decimals down to 0.1 nm.
pub fn four_digits(x: f64) -> String {
    let digits = if x > 0.0 { 3.0 - x.log10().floor() } else { 4.0 };
    format!("{x:.*}", digits.clamp(1.0, 7.0) as usize)
}

/// The machine file's text with these entries; others stay.
///
/// # Errors
/// The new file would not read back as meant, or be a bad setup.
pub fn with_pooled(machine: &MachineFile, entries: &[PooledEntry]) -> Result<String, Problem> {
    let source = &machine.source;
    let document = parse(source)?;
    let table = document.as_table();
    let pooled = table.get("pooled").and_then(|item| item.as_table_like());
    let mut edits: Vec<(Range<usize>, String)> = Vec::new();
    let mut new: Vec<String> = Vec::new();
    for entry in entries {
        let word = entry.station.word();
        if pooled.is_some_and(|pooled| pooled.contains_key(word)) {
            edits.push((locate(table, &format!("pooled.{word}.s")), entry.s.clone()));
            edits.push((locate(table, &format!("pooled.{word}.dof")), entry.dof.to_string()));
        } else {
            new.push(entry.line());
        }
    }
    edits.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    let mut text = source.text.clone();
    for (span, number) in edits {
        text.replace_range(span, &number);
    }
    if !new.is_empty() {
        let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
        match header(&text) {
            // Behind the header, before any table of its own.
            Some(end) => {
                let lines: String = new.iter().map(|line| format!("{line}{newline}")).collect();
                let gap = if text.get(..end).is_some_and(|head| head.ends_with('\n')) { "" } else { newline };
                text.insert_str(end, &format!("{gap}{lines}"));
            }
            None => {
                if !text.is_empty() && !text.ends_with('\n') {
                    text.push_str(newline);
                }
                for line in
                    std::iter::once("").chain([COMMENT, "[pooled]"]).chain(new.iter().map(String::as_str))
                {
                    text.push_str(line);
                    text.push_str(newline);
                }
            }
        }
    }

    // What will be read next time must be what is meant now.
    let unwritten = || {
        Problem::new(format!("{}: the new values do not read back; nothing was written", source.name))
            .remedy("write [pooled] as a table of its own, with one key a line")
    };
    let again = MachineFile::of(FileText { text: text.clone(), ..source.clone() }).map_err(|bad| {
        match bad.place {
            // Its place is in a file that does not exist.
            Some(_) => Problem::new(format!(
                "{}: with the study's values it could not be used: {}; nothing was written",
                source.name, bad.title
            ))
            .remedy(bad.remedy.unwrap_or_default()),
            None => unwritten(),
        }
    })?;
    let (before, after) = (&machine.setup.draft().pooled, &again.setup.draft().pooled);
    let meant = Station::ALL.into_iter().all(|station| {
        let entry = entries.iter().find(|entry| entry.station == station);
        let meant = entry.map_or_else(|| before.of(station), PooledEntry::study);
        after.of(station) == meant
    });
    if !meant {
        return Err(unwritten());
    }
    Ok(if source.has_bom { format!("{BOM}{text}") } else { text })
}

const COMMENT: &str =
    "# The pooled s of one touch, from a study of recorded touches. Kept by `zdatum study --write`.";

/// The end of the line `[pooled]`.
fn header(text: &str) -> Option<usize> {
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        at += line.len();
        let code = line.split('#').next().unwrap_or("");
        let name: String = code.chars().filter(|c| !c.is_whitespace()).collect();
        if name == "[pooled]" {
            return Some(at);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_digits_of_any_size() {
        for (x, text) in [
            (0.00114349, "0.001143"),
            (0.0, "0.0000"),
            (2.5, "2.500"),
            (1234.56, "1234.6"),
            (1e-9, "0.0000000"),
        ] {
            assert_eq!(four_digits(x), text);
        }
    }

    #[test]
    fn what_no_file_can_hold_is_no_entry() {
        assert!(PooledEntry::of(Station::Tip, 0.0012, 48).is_some());
        assert!(PooledEntry::of(Station::Tip, 4.0, 48).is_none());
        assert!(PooledEntry::of(Station::Tip, 0.0012, 0).is_none());
    }
}
