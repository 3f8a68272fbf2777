//! A trim, for people and for programs.

use anstyle::Style;
use zdatum::Length;
use zdatum::trim::{Check, Depth, MOST_DISAGREEMENT, Trimmed, Weighing};

use crate::text::Problem;
use crate::text::json::{Number, verdict};
use crate::text::lines::{BOLD, line, paragraph};
use crate::text::number::{at_least, percent, ratio, signed, uncertainty};

/// What became of a check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TrimOutcome {
    /// Good, and in the machine file now.
    Written,
    /// Good, but not asked to be written.
    Shown,
    /// Something else has moved.
    Disagrees,
    /// The trip depth holds this check already.
    Counted,
}

impl TrimOutcome {
    /// Whether the check may count.
    pub fn is_accepted(self) -> bool {
        matches!(self, TrimOutcome::Written | TrimOutcome::Shown)
    }
}

/// A check and what became of it.
#[derive(Clone, Copy, Debug)]
pub struct TrimDone<'a> {
    /// What was known before.
    pub known: &'a Depth,
    /// The check.
    pub check: &'a Check,
    /// What it makes of it.
    pub trimmed: &'a Trimmed,
    /// How it counts.
    pub weighing: Weighing,
    /// What became of it.
    pub outcome: TrimOutcome,
    /// By how much lower the next landing will be, mm; `None` where it cannot be held.
    pub lower: Option<Length>,
    /// Trip depth of older coordinates, which may have been meant.
    pub older: Option<Length>,
    /// The machine file, as it is shown.
    pub file: &'a str,
    /// The history with the entry's number in it, or why the trim could not be entered; `None` where it was
    /// not to be.
    pub noted: Option<Result<(&'a str, i64), &'a Problem>>,
}

impl TrimDone<'_> {
    /// What to mind, so that no error counts twice.
    fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if let Some(older) = self.older.filter(|_| self.outcome != TrimOutcome::Counted) {
            notes.push(format!(
                "taken as a landing made with {}; if the coordinates are older, give --made-with {}",
                at_least(4, &self.check.made_with.text()),
                at_least(4, &older.text())
            ));
        }
        if self.outcome == TrimOutcome::Written {
            notes.push("make a new landing before the next check, or give --made-with".into());
        }
        if let Some(Err(problem)) = self.noted {
            notes.push(format!(
                "the trim is in the machine file but not in the history ({}); enter it with `zdatum history \
                    note trim`",
                problem.title
            ));
        }
        notes
    }
}

/// What `trim` answers.
#[derive(Debug, serde::Serialize)]
pub struct TrimJson {
    format: u8,
    trip_depth_before: Number,
    trip_depth: Number,
    change: Number,
    made_with: Number,
    u_before: Number,
    u: Number,
    trimmed_k: Vec<Number>,
    weight: Number,
    disagreement: Number,
    verdict: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'static str>,
    written: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    history: Option<Entered>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    notes: Vec<String>,
}

/// Where a trim was entered.
#[derive(Debug, serde::Serialize)]
struct Entered {
    file: String,
    number: i64,
}

impl TrimJson {
    /// The document.
    pub fn of(done: &TrimDone<'_>) -> Self {
        let TrimDone { known, check, trimmed, outcome, .. } = *done;
        Self {
            format: 1,
            trip_depth_before: Number::as_written(&known.t.text()),
            trip_depth: Number::as_written(&trimmed.depth.t.text()),
            change: trimmed.change.into(),
            made_with: Number::as_written(&check.made_with.text()),
            u_before: Number::as_written(&known.u.text()),
            u: Number::as_written(&trimmed.depth.u.text()),
            trimmed_k: trimmed.warmings.iter().map(|w| Number::as_written(&w.text())).collect(),
            weight: trimmed.weight.into(),
            disagreement: trimmed.disagreement.into(),
            verdict: verdict(outcome.is_accepted()),
            reason: match outcome {
                TrimOutcome::Disagrees => Some("disagreement"),
                TrimOutcome::Counted => Some("already-applied"),
                TrimOutcome::Written | TrimOutcome::Shown => None,
            },
            written: outcome == TrimOutcome::Written,
            history: match done.noted {
                Some(Ok((file, number))) => Some(Entered { file: file.into(), number }),
                _ => None,
            },
            notes: done.notes(),
        }
    }
}

/// The text.
pub fn page(done: &TrimDone<'_>) -> String {
    let mut out = String::new();
    let TrimDone { known, trimmed, outcome, file, .. } = *done;
    let depth = &trimmed.depth;
    let (t, u) = (signed(depth.t), uncertainty(depth.u));
    let (t_before, u_before) = (signed(known.t), uncertainty(known.u));
    let change = signed(trimmed.change);
    if outcome.is_accepted() {
        let text = format!("(was {t_before}, u {u_before}; change {change})");
        line!(&mut out, "{BOLD}Trip depth {t} mm, u {u} mm{BOLD:#}  {text}");
    } else {
        line!(&mut out, "{BOLD}Trip depth stays {t_before} mm, u {u_before} mm{BOLD:#}");
        line!(&mut out, "  with the check it would be {t}, u {u} (change {change})");
    }
    let weight = percent(trimmed.weight);
    match done.weighing {
        Weighing::Afresh => line!(&mut out, "  started afresh: the check counts {weight} %"),
        Weighing::Weighed => line!(
            &mut out,
            "  the check counts {weight} %; it disagrees by {} of at most {MOST_DISAGREEMENT} standard \
                deviations",
            ratio(trimmed.disagreement, 2)
        ),
    }
    if let Some(lower) = done.lower.filter(|lower| outcome.is_accepted() && *lower != Length::ZERO) {
        let by = signed(lower);
        let by = by.trim_start_matches(['+', '-']);
        let way = if lower > Length::ZERO { "lower: nearer to the plate" } else { "higher" };
        line!(&mut out, "  the next landing will be {by} mm {way}");
    }
    let text = match outcome {
        TrimOutcome::Written => format!("Accept. Written to {file}."),
        TrimOutcome::Shown => format!("Accept. Nothing was written; with --write it goes into {file}."),
        TrimOutcome::Disagrees => "Refuse: something else has moved since the trip depth was determined. \
            Look at the probe, its mount and the gauge, and check again. After work on the switch, its \
            mount or the shoulder use --fresh. Nothing was written."
            .into(),
        TrimOutcome::Counted => format!(
            "Refuse: already applied. {file} already holds this check under [[gauge_check]]; it would count \
                twice. Nothing was written. For a new check with the same readings use --again."
        ),
    };
    paragraph(&mut out, &text, 0, Style::new());
    if let Some(Ok((file, number))) = done.noted {
        paragraph(&mut out, &format!("Entered as {number} in the history {file}."), 0, Style::new());
    }
    for note in done.notes() {
        paragraph(&mut out, &format!("Note: {note}."), 0, Style::new());
    }
    out
}
