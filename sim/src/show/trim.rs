//! A trim, for people and for programs.

use zdatum::Length;
use zdatum::trim::{Depth, MOST_DISAGREEMENT, Trimmed};

use super::json::{Number, verdict};
use super::number::{percent, ratio, signed, uncertainty};
use super::page::{BOLD, line, paragraph};
use anstyle::Style;

/// What became of a check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Good, and in the machine file now.
    Written,
    /// Good, but not asked to be written.
    Shown,
    /// Something else has moved.
    Disagrees,
    /// The trip depth holds this check already.
    Counted,
}

impl Outcome {
    /// Whether the check may count.
    pub fn is_accepted(self) -> bool {
        matches!(self, Outcome::Written | Outcome::Shown)
    }
}

/// What `trim` answers.
#[derive(Debug, serde::Serialize)]
pub struct Trim {
    format: u8,
    trip_depth_before: Number,
    trip_depth: Number,
    change: Number,
    u_before: Number,
    u: Number,
    weight: Number,
    disagreement: Number,
    verdict: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'static str>,
    written: bool,
}

impl Trim {
    /// The document.
    pub fn of(known: &Depth, trimmed: &Trimmed, outcome: Outcome) -> Self {
        Self {
            format: 1,
            trip_depth_before: known.t.into(),
            trip_depth: trimmed.depth.t.into(),
            change: trimmed.change.into(),
            u_before: known.u.into(),
            u: trimmed.depth.u.into(),
            weight: trimmed.weight.into(),
            disagreement: trimmed.disagreement.into(),
            verdict: verdict(outcome.is_accepted()),
            reason: match outcome {
                Outcome::Disagrees => Some("disagreement"),
                Outcome::Counted => Some("already-applied"),
                Outcome::Written | Outcome::Shown => None,
            },
            written: outcome == Outcome::Written,
        }
    }
}

/// The text; `file` as it is shown.
pub fn page(known: &Depth, trimmed: &Trimmed, outcome: Outcome, file: &str) -> String {
    let mut out = String::new();
    let depth = &trimmed.depth;
    line!(
        &mut out,
        "{BOLD}Trip depth {} mm, u {} mm{BOLD:#}  (was {}, u {}; change {})",
        signed(depth.t),
        uncertainty(depth.u),
        signed(known.t),
        uncertainty(known.u),
        signed(trimmed.change)
    );
    line!(
        &mut out,
        "  the check counts {} %; it disagrees by {} of at most {MOST_DISAGREEMENT} standard deviations",
        percent(trimmed.weight),
        ratio(trimmed.disagreement, 2)
    );
    if outcome.is_accepted() && depth.speed == known.speed && trimmed.change != Length::ZERO {
        let lower = trimmed.change > Length::ZERO;
        let by = signed(trimmed.change);
        let by = by.trim_start_matches(['+', '-']);
        line!(
            &mut out,
            "  the next landing will be {by} mm {}",
            if lower { "lower: nearer to the plate" } else { "higher" }
        );
    }
    let text = match outcome {
        Outcome::Written => format!("Accept. Written to {file}."),
        Outcome::Shown => format!("Accept. Nothing was written; with --write it goes into {file}."),
        Outcome::Disagrees => "Refuse: something else has moved since the trip depth was known. Look at the probe, its mount and \
                               the gauge, and check again. After work on the switch, its mount or the shoulder use --fresh. \
                               Nothing was written."
            .into(),
        Outcome::Counted => format!(
            "Refuse: already applied. {file} holds this very check under [[gauge_check]]; counted twice it would pass for two. \
             Nothing was written. A new check that happens to read the same goes with --again."
        ),
    };
    paragraph(&mut out, &text, 0, Style::new());
    out
}
