//! Gauge checks in the machine file: which have been counted, and writing another.

use std::ops::Range;

use toml_edit::{Document, Table};
use zdatum::trim::{Depth, Trimmed, Warmed};
use zdatum::{Draft, Length, Setup, Speed, Station, Uncertainty, Variance, Warming};

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

/// The growing parts of a landing under test that was touched and printed at the setup's temperatures.
pub fn warmed(setup: &Setup) -> Vec<Warmed> {
    let parts = setup.draft().growth.iter();
    let part = |part: &zdatum::setup::Grows| {
        let warming = i64::from(part.print.to_bits()) - i64::from(part.touch.to_bits());
        // Two temperatures are never further apart than a difference can be.
        let under_test = Warming::from_bits(warming).unwrap_or_default();
        Warmed { rate_u: part.rate_u, trimmed: part.trimmed, under_test }
    };
    parts.map(part).collect()
}

/// No landing under a gauge check is known better than to 3 µm (*common practice*).
pub const LEAST_LANDING_U: Uncertainty = match Uncertainty::from_bits(50_332) {
    Ok(u) => u,
    Err(_) => Uncertainty::ZERO,
};

/// u of a landing without its trip depth and growth terms, as far as the setup knows it: stations at their fewest
/// touches, terms between series, unseen, temperature readings, growth still to come.
pub fn landing_u(setup: &Setup) -> Uncertainty {
    let draft = setup.draft();
    let squared = |u: Uncertainty| u.variance().unwrap_or_default();
    let stations = Station::ALL.map(|station| {
        setup.method(station).variance_for(usize::from(draft.touch.least)).unwrap_or_default()
    });
    let between = [draft.pooled.tip_between, draft.pooled.span_between]
        .map(|study| study.map_or(Variance::ZERO, |study| squared(study.s)));
    let known = [setup.unseen_variance(), setup.soak_variance()];
    let all = stations.into_iter().chain(between).chain(setup.readings_variance()).chain(known);
    let sum = all.fold(Variance::ZERO, |sum, own| sum.plus(own).unwrap_or(sum));
    sum.root().max(LEAST_LANDING_U)
}

/// Puts a trim into a draft.
pub fn set_trim(draft: &mut Draft, trimmed: &Trimmed) {
    let Depth { t, u, speed } = trimmed.depth;
    (draft.probe.trip_depth, draft.probe.trip_depth_u, draft.probe.trimmed_at_speed) = (t, u, speed);
    for (part, warming) in draft.growth.iter_mut().zip(&trimmed.warmings) {
        part.trimmed = *warming;
    }
}

/// The machine file's text with a new trip depth and the check that gave it; every other byte as it was.
///
/// # Errors
/// The new file would not read back as meant, or be a bad setup.
pub fn with_trim(machine: &MachineFile, trimmed: &Trimmed, check: &CountedCheck) -> Result<String, Problem> {
    let source = &machine.source;
    let document = parse(source)?;
    let depth = &trimmed.depth;
    let newline = if source.text.contains("\r\n") { "\r\n" } else { "\n" };
    let mut edits: Vec<(Range<usize>, String)> = [
        ("probe.trip_depth", depth.t.text()),
        ("probe.trip_depth_u", depth.u.text()),
        ("probe.trimmed_at_speed", depth.speed.text()),
    ]
    .into_iter()
    .map(|(key, text)| (locate(document.as_table(), key), number(&text)))
    .collect();
    edits.extend(warming_edits(&document, machine, trimmed, newline));
    edits.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    let mut text = source.text.clone();
    for (span, number) in edits {
        text.replace_range(span, &number);
    }

    if !text.is_empty() && !text.ends_with('\n') {
        text.push_str(newline);
    }
    for line in entry(check, machine) {
        text.push_str(&line);
        text.push_str(newline);
    }

    // What will be read next time must be what is meant now.
    let again = MachineFile::of(FileText { text: text.clone(), ..source.clone() })?;
    let mut meant = machine.setup.draft().clone();
    set_trim(&mut meant, trimmed);
    if *again.setup.draft() != meant || again.counted.last() != Some(check) {
        return Err(Problem::new(format!(
            "{}: the new values do not read back; nothing was written",
            source.name
        ))
        .remedy("write [probe] and each [[growth]] as a table of its own, with one key a line"));
    }
    Ok(if source.has_bom { format!("{BOM}{text}") } else { text })
}

/// Where each part's `trimmed_k` goes: over the old one, or on a line of its own behind `um_per_c_u`.
fn warming_edits(
    document: &Document<&str>,
    machine: &MachineFile,
    trimmed: &Trimmed,
    newline: &str,
) -> Vec<(Range<usize>, String)> {
    let parts = document.get("growth").and_then(|item| item.as_array_of_tables());
    let tables = parts.into_iter().flat_map(|parts| parts.iter());
    let text = &machine.source.text;
    let edit = |(table, (part, warming)): (&Table, (&zdatum::setup::Grows, &Warming))| {
        let number = number(&warming.text());
        if let Some(old) = table.get("trimmed_k").and_then(|item| item.span()) {
            return Some((old, number));
        }
        if part.trimmed == *warming {
            return None;
        }
        let behind = table.get("um_per_c_u")?.span()?.end;
        let line = text.get(behind..)?.find('\n').map_or(text.len(), |end| behind + end + 1);
        let lead = if text.get(..line)?.ends_with('\n') { "" } else { newline };
        Some((line..line, format!("{lead}trimmed_k = {number}{newline}")))
    };
    tables.zip(machine.setup.draft().growth.iter().zip(&trimmed.warmings)).filter_map(edit).collect()
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
