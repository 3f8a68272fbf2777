//! Gauge checks in the machine file: which have been counted, and writing another.

use std::ops::Range;

use zdatum::trim::Depth;
use zdatum::{Length, Speed};

use super::file_text::{BOM, FileText};
use super::keys::{TomlSection, locate};
use super::machine::{MachineFile, parse};
use crate::text::Problem;

/// What was read at a check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reading {
    /// Drag was first felt at a commanded height over a gauge of known thickness.
    Gauge {
        /// Thickness g.
        gauge: Length,
        /// Commanded height c.
        felt: Length,
    },
    /// The first layer was moved by so much; down is negative.
    Nudge(Length),
}

/// A check that the trip depth already holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CountedCheck {
    /// What was read.
    pub reading: Reading,
    /// Trip depth with which the landing under test was made.
    pub made_with: Length,
    /// Approach speed of that landing.
    pub speed: Speed,
    /// The file's trip depth before the check counted, where the file says it.
    pub before: Option<Length>,
}

impl CountedCheck {
    /// Whether a check is this one again: the same readings at the same speed, of a landing made with the
    /// same trip depth. Where the trip depth is not said, the file's own is meant, which this very check has
    /// changed: so it then decides nothing.
    pub fn is_same(&self, reading: Reading, made_with: Option<Length>, speed: Speed) -> bool {
        self.reading == reading
            && self.speed == speed
            && made_with.is_none_or(|depth| depth == self.made_with)
    }
}

/// Reads `[[gauge_check]]`.
pub(super) fn counted(root: &TomlSection<'_>) -> Result<Vec<CountedCheck>, Problem> {
    const KNOWN: &[&str] = &["gauge", "felt", "nudge", "made_with", "speed", "trip_depth_before"];
    root.sections("gauge_check", KNOWN)?
        .iter()
        .map(|section| {
            let reading = if section.has("nudge") {
                Reading::Nudge(section.number("nudge")?)
            } else {
                Reading::Gauge { gauge: section.number("gauge")?, felt: section.number("felt")? }
            };
            Ok(CountedCheck {
                reading,
                made_with: section.number("made_with")?,
                speed: section.number("speed")?,
                before: section.optional_number("trip_depth_before")?,
            })
        })
        .collect()
}

/// The machine file's text with a new trip depth and the check that gave it; every other byte as it was.
///
/// # Errors
/// The new file would not read back as meant, or be a bad setup.
pub fn with_trim(machine: &MachineFile, depth: &Depth, check: &CountedCheck) -> Result<String, Problem> {
    let source = &machine.source;
    let document = parse(source)?;
    let mut edits: Vec<(Range<usize>, String)> = [
        ("probe.trip_depth", depth.t.text()),
        ("probe.trip_depth_u", depth.u.text()),
        ("probe.trimmed_at_speed", depth.speed.text()),
    ]
    .into_iter()
    .map(|(key, text)| (locate(document.as_table(), key), number(&text)))
    .collect();
    edits.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    let mut text = source.text.clone();
    for (span, number) in edits {
        text.replace_range(span, &number);
    }

    let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
    if !text.is_empty() && !text.ends_with('\n') {
        text.push_str(newline);
    }
    for line in entry(check, machine) {
        text.push_str(&line);
        text.push_str(newline);
    }

    // What will be read next time must be what is meant now.
    let again = MachineFile::of(FileText { text: text.clone(), ..source.clone() })?;
    let probe = &again.setup.draft().probe;
    let read = Depth { t: probe.trip_depth, u: probe.trip_depth_u, speed: probe.trimmed_at_speed };
    if read != *depth || again.counted.last() != Some(check) {
        return Err(Problem::new(format!(
            "{}: the new values do not read back; nothing was written",
            source.name
        ))
        .remedy("write [probe] as a table of its own, with one key a line"));
    }
    Ok(if source.has_bom { format!("{BOM}{text}") } else { text })
}

fn entry(check: &CountedCheck, machine: &MachineFile) -> Vec<String> {
    let mut lines = vec![String::new()];
    if machine.counted.is_empty() {
        lines.push("# Gauge checks that trip_depth already holds, so that none counts twice. Kept by `zdatum trim --write`.".into());
    }
    lines.push("[[gauge_check]]".into());
    match check.reading {
        Reading::Gauge { gauge, felt } => {
            lines.push(format!("gauge = {}", number(&gauge.text())));
            lines.push(format!("felt = {}", number(&felt.text())));
        }
        Reading::Nudge(nudge) => lines.push(format!("nudge = {}", number(&nudge.text()))),
    }
    lines.push(format!("made_with = {}", number(&check.made_with.text())));
    lines.push(format!("speed = {}", number(&check.speed.text())));
    lines.push(format!("trip_depth_before = {}", number(&machine.setup.draft().probe.trip_depth.text())));
    lines
}

/// A number that TOML takes for one with a point.
fn number(text: &str) -> String {
    if text.contains('.') { text.to_owned() } else { format!("{text}.0") }
}
