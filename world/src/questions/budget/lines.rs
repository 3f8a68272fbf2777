//! The uncertainty budget of a machine's landing: stated by the core, and simulated.

use crate::engine::{Estimate, Figures};

/// The uncertainty budget of a machine's landing.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Runs with each source on and off.
    pub runs: u64,
    /// Sources, the weightiest first: by the core's share, the simulated one, or how far it moves the mean.
    pub lines: Vec<BudgetLine>,
    /// The core's u: root of the mean u² over accepted cycles, mm.
    pub core_u: f64,
    /// Standard deviation of the simulated error with everything on, mm.
    pub simulated_sd: Estimate,
    /// Mean of the simulated error with everything on, mm.
    pub simulated_mean: Estimate,
    /// What twice as many touches would bring; `None` where the machine file allows no more.
    pub more: Option<MoreTouches>,
    /// What an owner should know of it, one sentence each, the most important first.
    pub advice: Vec<String>,
}

/// One source of the uncertainty budget.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetLine {
    /// In words, such as `trip depth`; from the machine file where it is a growing part.
    pub source: String,
    /// The core's standard uncertainty: root of its mean u² over accepted cycles, mm. `None` where the core
    /// has no such source, or counts it elsewhere (`note`).
    pub core_u: Option<f64>,
    /// Its share of the core's u², 0 to 1.
    pub core_share: Option<f64>,
    /// Simulated: variance of the error with everything on less that without this source, mm². Below zero
    /// only by chance, or where the source keeps bad cycles from being accepted.
    pub variance: Estimate,
    /// That over the variance with everything on.
    pub share: Estimate,
    /// By how much the source moves the mean error, mm.
    pub shift: Estimate,
    /// Whether more touches average it.
    pub is_touches: bool,
    /// What would reduce it, in a few words; empty where nothing need be done.
    pub reduced_by: &'static str,
    /// Where the core counts it, where not on this line; empty where it does.
    pub note: &'static str,
}

impl BudgetLine {
    /// Part of the simulated variance that a shift of the mean weighs as much as.
    pub(super) fn weight_of_shift(&self, whole: f64) -> f64 {
        if whole > 0.0 && self.shifts() { self.shift.value * self.shift.value / whole } else { 0.0 }
    }

    /// The largest of the core's share, the simulated one and the weight of the shift.
    pub(super) fn weight(&self, whole: f64) -> f64 {
        self.core_share.unwrap_or(0.0).max(self.share.value).max(self.weight_of_shift(whole))
    }

    /// Whether the source moves the mean by more than chance explains.
    pub fn shifts(&self) -> bool {
        self.shift.value.abs() > 3.0 * self.shift.error
    }

    /// Simulated: standard deviation that this source alone makes, mm; 0 where its variance is not above 0.
    pub fn sd(&self) -> f64 {
        libm::sqrt(self.variance.value.max(0.0))
    }
}

/// Twice as many touches on the same draws.
#[derive(Clone, Debug, PartialEq)]
pub struct MoreTouches {
    /// Counted touches per station now.
    pub now: u8,
    /// Twice as many.
    pub then: u8,
    /// What comes of as many as now.
    pub figures_now: Figures,
    /// What comes of twice as many.
    pub figures_then: Figures,
    /// Standard deviation that any number of touches leaves, mm: all sources but those that touches average,
    /// and never above what as many as now or twice as many leave.
    pub floor: f64,
    /// Its standard error, mm, as if the sources' differences were independent.
    pub floor_error: f64,
}
