//! What a way of touching comes to, and how far its figures can be trusted.

use zdatum::Setup;

use super::question::PlanQuestion;
use crate::distributions::{normal, share_limits};
use crate::engine::{Histogram, Tally};

/// Standard deviations of a count beyond which the normal tail is contradicted.
const CONTRADICTED: f64 = 3.0;
/// Halvings that find a place to far below a nanometre.
const HALVINGS: u32 = 60;
/// Part of the runs that must be accepted: a way that is refused more often than not is none.
const LEAST_ACCEPTED: f64 = 0.5;
/// Standard errors of the reach with which a way surely keeps a promise.
const SURE: f64 = 3.0;

/// What a way of touching comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Its setup.
    pub setup: Setup,
    /// Runs.
    pub runs: u64,
    /// Of them accepted.
    pub accepted: u64,
    /// Of them beyond the tolerance.
    pub outside: u64,
    /// Seconds for each accepted landing: all cycles' time, and what the refused ones cost beside.
    pub seconds: f64,
    /// Root mean square of the error, mm.
    pub rms: f64,
    /// What the error stays within but for the share that was asked for, mm; infinite where more than half
    /// are refused.
    pub reach: f64,
    mean: f64,
    sd: f64,
    /// How much further than a normal tail the errors reach.
    stretch: f64,
    within: f64,
}

impl Way {
    pub(super) fn of(setup: &Setup, tally: &Tally, asked: &PlanQuestion<'_>) -> Self {
        let (runs, accepted) = (tally.runs, tally.accepted);
        let is_one = accepted > 1 && accepted as f64 >= LEAST_ACCEPTED * runs as f64;
        let (mean, sd) = match (tally.mean(), tally.sd()) {
            (Some(mean), Some(sd)) if is_one => (mean.value, sd.value),
            _ => (f64::INFINITY, f64::INFINITY),
        };
        let cycles = tally.seconds().map_or(0.0, |seconds| seconds.value * runs as f64);
        let seconds = (cycles + (runs - accepted) as f64 * asked.refused_costs) / accepted as f64;
        let mut way = Self {
            setup: setup.clone(),
            runs,
            accepted,
            outside: tally.beyond().map_or(0, |beyond| beyond.part),
            seconds: if accepted > 0 { seconds } else { f64::INFINITY },
            rms: libm::hypot(mean, sd),
            reach: f64::INFINITY,
            mean,
            sd,
            stretch: stretch(&tally.errors, mean, sd, asked.risk),
            within: asked.within,
        };
        way.reach = way.reach_at(asked.risk);
        way
    }

    /// How far all but a share of the errors stay within, mm.
    pub(super) fn reach_at(&self, share: f64) -> f64 {
        self.stretch * reach(self.mean, self.sd, share)
    }

    /// Chance that an accepted first layer is beyond the tolerance; 1 for what is no way.
    pub fn chance(&self) -> f64 {
        self.chance_beyond(self.within)
    }

    /// The same for another tolerance.
    pub(super) fn chance_beyond(&self, within: f64) -> f64 {
        if self.sd.is_finite() { beyond(self.mean, self.sd, within / self.stretch) } else { 1.0 }
    }

    /// Whether it keeps the promise, as far as a search can tell.
    pub fn surely(&self) -> bool {
        // The relative standard error of a standard deviation.
        let error = 1.0 / libm::sqrt(2.0 * self.accepted.max(1) as f64);
        self.reach * (1.0 + SURE * error) <= self.within
    }

    /// One-sided lower and upper bound of the share beyond (Clopper–Pearson), each wrong with
    /// probability `alpha`.
    pub(super) fn bounds(&self, alpha: f64) -> (f64, f64) {
        share_limits(self.outside, self.accepted, alpha)
    }
}

/// Chance that a normal variable lies beyond ±`within`.
fn beyond(mean: f64, sd: f64, within: f64) -> f64 {
    let at = |x: f64| if sd > 0.0 { x / sd } else { f64::INFINITY * x.signum() };
    normal(at(-within - mean)).0 + normal(at(within - mean)).1
}

/// What a normal variable stays within but for a share.
fn reach(mean: f64, sd: f64, share: f64) -> f64 {
    let (mut low, mut high) = (0.0, mean.abs() + 40.0 * sd);
    if !high.is_finite() {
        return f64::INFINITY;
    }
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        *(if beyond(mean, sd, middle) > share { &mut low } else { &mut high }) = middle;
    }
    high
}

/// By what factor the errors counted reach further than the normal tail; 1 where their number does not
/// contradict it.
fn stretch(errors: &Histogram, mean: f64, sd: f64, share: f64) -> f64 {
    let normal = reach(mean, sd, share);
    let (n, expected) = (errors.total() as f64, errors.total() as f64 * share);
    let outside = |x: f64| n - errors.below(x) as f64 + errors.below(-x) as f64;
    let slack = CONTRADICTED * (libm::sqrt(expected) + 1.0);
    if !normal.is_finite() || normal <= 0.0 || (outside(normal) - expected).abs() <= slack {
        return 1.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while outside(high * normal) > expected && high < 1e6 {
        (low, high) = (high, 2.0 * high);
    }
    for _ in 0..HALVINGS / 3 {
        let middle = (low + high) / 2.0;
        *(if outside(middle * normal) > expected { &mut low } else { &mut high }) = middle;
    }
    high
}

#[cfg(test)]
mod tests;
