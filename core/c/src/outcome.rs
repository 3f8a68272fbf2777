//! Verdicts: what a cycle or recorded touches come to.

use zdatum::cycle::{Ending, Outcome, Quick};
use zdatum::watch::{Observed, Reading};
use zdatum::{Assessment, Combined, Landing, Refusal, Touches};

use crate::codes::{ZDATUM_REFUSED, zdatum_code};
use crate::memory::{No, code, see, write};
use crate::refusal::{ZDATUM_MOST_REFUSALS, zdatum_refusal};

/// No cycle: the verdict is on recorded touches.
pub const ZDATUM_NO_ENDING: u8 = 0;
/// The tool is lifted and the probe put back.
pub const ZDATUM_LIFTED_AND_PUT_BACK: u8 = 1;
/// The tool is lifted; where the probe is, is unknown.
pub const ZDATUM_LIFTED_PROBE_UNKNOWN: u8 = 2;
/// The position is unknown: no further motion, a person is asked.
pub const ZDATUM_HALTED: u8 = 3;

/// A landing as computed. Whether it may be used is another question: see `zdatum_outcome_landing`.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_landing {
    /// What to keep with the plate, beside `span`: u²(P) + u²(S), 2^-60 mm².
    pub span_variance: u64,
    /// For the watch: u²(T), 2^-60 mm².
    pub tip_variance: u64,
    /// For the watch: u²(S) + u²(T), 2^-60 mm².
    pub drop_variance: u64,
    /// T, the carriage height at which the tip tripped the datum switch, 2^-16 mm.
    pub tip: i32,
    /// L, the carriage height at which the tip just meets the plate, 2^-16 mm.
    pub height: i32,
    /// d = S - T, 2^-16 mm.
    pub drop: i32,
    /// r, how far the plate stands above the datum switch's trip height, 2^-16 mm.
    pub rise: i32,
    /// P - S, 2^-16 mm.
    pub span: i32,
    /// What was added for approach speeds, 2^-16 mm.
    pub speed_correction: i32,
    /// What was added for growth, 2^-16 mm.
    pub growth_correction: i32,
    /// Added for growth still to come, 2^-16 mm.
    pub soak_correction: i32,
    /// u, the combined standard uncertainty, 2^-24 mm.
    pub u: u32,
    /// U = k·u at the setup's coverage, 2^-24 mm.
    pub expanded: u32,
    /// k, the coverage factor, 2^-16.
    pub factor: u32,
    /// The effective degrees of freedom; 0 stands for infinite.
    pub dof: u32,
    /// 1 where `u`, `expanded`, `factor` and `dof` are set; 0 where the touches have disproved what they rest on
    /// (unsteady, walking or noisier than studied): then they are 0.
    pub has_uncertainty: u8,
}

impl zdatum_landing {
    fn of(landing: &Landing, sure: Option<&Combined>, touches: Option<&Touches>) -> Self {
        let added = &landing.corrections;
        // Of a landing that could be computed, all three can be held.
        let observed = touches.and_then(|touches| Observed::of(touches).ok()).unwrap_or_default();
        let bits =
            |reading: Option<Reading>| reading.map_or((0, 0), |r| (r.value.to_bits(), r.variance.to_bits()));
        let ((tip, tip_variance), (_, drop_variance)) = (bits(observed.tip), bits(observed.drop));
        Self {
            tip,
            tip_variance,
            drop_variance,
            span_variance: landing.span_variance.to_bits(),
            height: landing.height.to_bits(),
            drop: landing.drop.to_bits(),
            rise: landing.rise.to_bits(),
            span: landing.span.to_bits(),
            speed_correction: added.speed.to_bits(),
            growth_correction: added.growth.to_bits(),
            soak_correction: added.soak.to_bits(),
            u: sure.map_or(0, |sure| sure.u.to_bits()),
            expanded: sure.map_or(0, |sure| sure.expanded.to_bits()),
            factor: sure.map_or(0, |sure| sure.factor.to_bits()),
            dof: sure.and_then(|sure| sure.dof.finite()).unwrap_or(0),
            has_uncertainty: u8::from(sure.is_some()),
        }
    }
}

/// The verdict with all reasons, and what could be computed.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_outcome {
    /// The landing as far as it could be computed, refused or not; zero without `has_landing_seen`. For a
    /// message or a gauge check: to make it the zero of the height axis, take it from
    /// `zdatum_outcome_landing`.
    pub landing_seen: zdatum_landing,
    /// All reasons to refuse, the first `refusal_count` of them, in the order of their kinds.
    pub refusals: [zdatum_refusal; ZDATUM_MOST_REFUSALS],
    /// How many refusals there are; 0 where the landing is accepted.
    pub refusal_count: u8,
    /// 1 where the landing is accepted, or a quick check passed.
    pub accepted: u8,
    /// 1 where `landing_seen` is set.
    pub has_landing_seen: u8,
    /// 1 where the landing, though refused as too uncertain, may serve a gauge check.
    pub for_gauge_check: u8,
    /// How the cycle ended: ZDATUM_LIFTED_AND_PUT_BACK, ZDATUM_LIFTED_PROBE_UNKNOWN, ZDATUM_HALTED;
    /// ZDATUM_NO_ENDING for recorded touches.
    pub ending: u8,
    /// 1 where this is a quick check with a finding.
    pub has_quick: u8,
    /// A quick check: 1 where span or drop has changed by more than was allowed.
    pub full_cycle_needed: u8,
    /// A quick check: P - S from one touch each, 2^-16 mm.
    pub quick_span: i32,
    /// A quick check: S - T from one touch each, 2^-16 mm.
    pub quick_drop: i32,
}

impl zdatum_outcome {
    /// Fills a cleared one in place: copies of it would be most of the stack that a call takes.
    fn fill(
        &mut self,
        landing: Option<&Landing>,
        sure: Option<&Combined>,
        touches: Option<&Touches>,
        refusals: &[Refusal],
    ) {
        if let Some(landing) = landing {
            (self.landing_seen, self.has_landing_seen) = (zdatum_landing::of(landing, sure, touches), 1);
        }
        for (slot, refusal) in self.refusals.iter_mut().zip(refusals) {
            *slot = zdatum_refusal::of(refusal);
            self.refusal_count = self.refusal_count.saturating_add(1);
        }
    }

    pub(crate) fn fill_from_cycle(&mut self, outcome: &Outcome, touches: Option<&Touches>) {
        self.fill(outcome.landing_seen(), outcome.uncertainty(), touches, outcome.refusals());
        self.accepted = u8::from(outcome.accepted());
        self.for_gauge_check = u8::from(outcome.for_gauge_check());
        self.ending = match outcome.ending {
            Ending::LiftedAndPutBack => ZDATUM_LIFTED_AND_PUT_BACK,
            Ending::LiftedProbeUnknown => ZDATUM_LIFTED_PROBE_UNKNOWN,
            Ending::Halted => ZDATUM_HALTED,
        };
        if let Some(Quick { span, drop, full_cycle_needed }) = outcome.quick {
            (self.has_quick, self.full_cycle_needed) = (1, u8::from(full_cycle_needed));
            (self.quick_span, self.quick_drop) = (span.to_bits(), drop.to_bits());
        }
    }

    pub(crate) fn fill_from_recorded(&mut self, assessment: &Assessment) {
        let (seen, sure) = (assessment.landing_seen(), assessment.uncertainty());
        self.fill(seen, sure, assessment.touches(), assessment.refusals());
        self.accepted = u8::from(assessment.accepted());
        self.for_gauge_check = u8::from(assessment.for_gauge_check());
    }
}

/// Gives the landing if it is accepted, and only then: use it to set the zero of the height axis.
///
/// ZDATUM_REFUSED if it is not, and if the outcome is a quick check's, which has no landing;
/// ZDATUM_NULL, ZDATUM_MISALIGNED. Then `landing` is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_outcome_landing(
    outcome: *const zdatum_outcome,
    landing: *mut zdatum_landing,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let outcome = unsafe { see(outcome) }?;
        if outcome.accepted != 1 || outcome.has_landing_seen != 1 || outcome.refusal_count != 0 {
            return Err(No(ZDATUM_REFUSED));
        }
        let accepted = outcome.landing_seen;
        // SAFETY: the crate's contract.
        unsafe { write(landing, accepted) }
    })
}
