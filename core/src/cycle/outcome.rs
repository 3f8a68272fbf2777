//! What a cycle hands over.

use crate::budget::Combined;
use crate::landing::{Landing, Touches};
use crate::refusal::Refusal;
use crate::setup::Setup;
use crate::units::Length;
use crate::verdict::{LastSpan, Verdict};

/// How a cycle ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// The tool is lifted and the probe put back.
    LiftedAndPutBack,
    /// The tool is lifted; where the probe is cannot be told.
    LiftedProbeUnknown,
    /// The position is unknown: no further motion, a person is asked.
    Halted,
}

/// What a quick check compares with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Known {
    /// The plate's last accepted span.
    pub span: Length,
    /// Largest change of the span that still passes.
    pub span_change: Length,
    /// The probe's drop when that span was taken.
    pub drop: Length,
    /// Largest change of the drop that still passes; a probe in a magnetic mount seats a
    /// little differently at each fetch.
    pub drop_change: Length,
}

/// What a quick check found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Quick {
    /// P − S, from one touch each.
    pub span: Length,
    /// S − T, from one touch each.
    pub drop: Length,
    /// Whether span or drop has changed by more than what was allowed: touch a full cycle.
    pub full_cycle_needed: bool,
}

/// The verdict of a cycle with all reasons, what could be computed, and how the cycle ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// What a quick check found; `None` for a full cycle.
    pub quick: Option<Quick>,
    /// How the cycle ended.
    pub ending: Ending,
    verdict: Verdict,
}

impl Outcome {
    /// Room for an outcome, for [`Cycle::judge`](super::Cycle::judge).
    pub const fn open() -> Self {
        Self { quick: None, ending: Ending::Halted, verdict: Verdict::open() }
    }

    /// Judges the touches of a full cycle beside what stopped it.
    pub(super) fn judge(&mut self, setup: &Setup, touches: Option<&Touches>, last: Option<&LastSpan>) {
        match touches {
            Some(touches) => self.verdict.judge(setup, touches, last),
            None => self.verdict.leave_open(),
        }
    }

    /// Takes what a quick check found: it has a finding, never a landing.
    pub(super) fn find(&mut self, quick: Option<Quick>) {
        self.verdict.leave_open();
        // What stopped a quick check leaves its question open: a full cycle has to answer it.
        let open = !self.refusals().is_empty();
        self.quick = quick.map(|quick| Quick { full_cycle_needed: quick.full_cycle_needed || open, ..quick });
    }

    /// An ended cycle before it is judged: what stopped it and what went wrong while ending it, in the
    /// table's order.
    pub(super) fn reopen(&mut self, stopped: &[Option<Refusal>], ending: Ending) {
        (self.quick, self.ending) = (None, ending);
        self.verdict.refusals.clear();
        for refusal in stopped {
            self.verdict.refusals.extend(*refusal);
        }
    }

    /// The landing, where it is accepted.
    pub fn landing(&self) -> Option<&Landing> {
        self.verdict.landing()
    }

    /// The landing as far as it could be computed, refused or not.
    pub fn landing_seen(&self) -> Option<&Landing> {
        self.verdict.landing_seen()
    }

    /// u, ν, k and U of the landing seen; `None` where there is no landing, or where the touches have disproved what
    /// they rest on.
    pub fn uncertainty(&self) -> Option<&Combined> {
        self.verdict.uncertainty()
    }

    /// All reasons to refuse.
    pub fn refusals(&self) -> &[Refusal] {
        self.verdict.refusals()
    }

    /// Whether the landing is accepted, or a quick check passed.
    pub fn accepted(&self) -> bool {
        match &self.quick {
            Some(quick) => self.refusals().is_empty() && !quick.full_cycle_needed,
            None => self.landing().is_some(),
        }
    }

    /// Whether the landing seen may serve a gauge check: *too uncertain* is the only reason.
    pub fn for_gauge_check(&self) -> bool {
        self.verdict.for_gauge_check()
    }
}
