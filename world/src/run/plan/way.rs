//! What a way to touch comes to, and how far its figures can be trusted.

use zdatum::setup::Touch;
use zdatum::{Centre, Setup};

use super::Asked;
use super::select::Wanted;
use super::shared::Moments;
use crate::distributions::{normal, share_limits};
use crate::run::histogram::Histogram;
use crate::run::tally::Tally;

/// Standard deviations of a count from which it is taken for the normal tail.
const COUNTED: f64 = 3.0;
/// Halvings that find a place to far below a nanometre.
const HALVINGS: u32 = 60;
/// Part of the runs that must be accepted: a way that is refused more often than not is none.
const LEAST_ACCEPTED: f64 = 0.5;
/// Standard errors of the reach within which ways cannot be told apart.
const MARGIN: f64 = 3.0;
/// And at least that part of it: the tail's shape is known no better.
pub(super) const LEAST_MARGIN: f64 = 0.002;

/// What a way to touch comes to.
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
    /// Touches of a cycle.
    pub touches: f64,
    /// Root mean square of the error, mm.
    pub rms: f64,
    /// What the error stays within but for the share that was asked for, mm; infinite where more than half are refused.
    pub reach: f64,
    /// The same for a tenth of that share.
    pub reach_tenth: f64,
    /// Standard error of `seconds`, from the refusals.
    pub(super) seconds_error: f64,
    /// Of the error, mm.
    pub(super) mean: f64,
    /// Of the error, mm.
    pub(super) sd: f64,
    /// By what part the reach may be off.
    pub(super) margin: f64,
    /// How much further than a normal tail the share asked for reaches; the same for a tenth of it.
    stretch: [f64; 2],
    risk: f64,
    within: f64,
    /// The share counted beyond the tolerance, where it contradicts the normal tail.
    counted: Option<f64>,
}

impl Way {
    pub(super) fn of(setup: &Setup, tally: &Tally, asked: &Asked<'_>, moments: Option<Moments>) -> Self {
        let (runs, accepted) = (tally.runs, tally.accepted);
        let (mean, sd) = match (tally.mean(), tally.sd()) {
            (Some(mean), Some(sd)) => (mean.value, sd.value),
            _ => (f64::INFINITY, f64::INFINITY),
        };
        let tail = |risk: f64| stretch(&tally.errors, mean, sd, risk);
        let stretch = [tail(asked.risk), tail(asked.risk / 10.0)];
        // Where nothing is known apart, the moments are those counted.
        let n = accepted.max(2) as f64;
        let moments =
            moments.unwrap_or(Moments { mean, variance: sd * sd, error: sd * sd * libm::sqrt(2.0 / n) });
        let cycles = tally.seconds().map_or(0.0, |seconds| seconds.value * runs as f64);
        let refused = (runs - accepted) as f64;
        let seconds = (cycles + refused * asked.refused_costs) / accepted as f64;
        // d(seconds)/d(refused share), times that share's standard error.
        let share = refused / runs.max(1) as f64;
        let slope = (asked.refused_costs + seconds) / (1.0 - share);
        let is_one = accepted > 0 && accepted as f64 >= LEAST_ACCEPTED * runs as f64;
        let mut way = Self {
            setup: setup.clone(),
            runs,
            accepted,
            outside: tally.beyond().map_or(0, |beyond| beyond.part),
            seconds: if accepted > 0 { seconds } else { f64::INFINITY },
            touches: tally.touches_mean(),
            rms: f64::INFINITY,
            reach: f64::INFINITY,
            reach_tenth: f64::INFINITY,
            seconds_error: slope * libm::sqrt((share * (1.0 - share)).max(0.25 / runs as f64) / runs as f64),
            mean: if is_one { moments.mean } else { f64::INFINITY },
            sd: if is_one { libm::sqrt(moments.variance) } else { f64::INFINITY },
            margin: (MARGIN * moments.error / (2.0 * moments.variance)).max(LEAST_MARGIN),
            stretch,
            risk: asked.risk,
            within: asked.within,
            counted: None,
        };
        way.measure();
        let expected = accepted as f64 * beyond(mean, sd, asked.within);
        let contradicts = (way.outside as f64 - expected).abs() > COUNTED * (libm::sqrt(expected) + 1.0);
        way.counted = contradicts.then(|| way.outside as f64 / n);
        way
    }

    /// The same way with a better part, put right by what this one's moments, known well, are off on the draws of `seen`.
    pub(super) fn put_right(&self, seen: &Self, mut other: Self) -> Self {
        other.mean += self.mean - seen.mean;
        let variance = other.sd * other.sd + self.sd * self.sd - seen.sd * seen.sd;
        other.sd = libm::sqrt(variance.max(0.0));
        other.measure();
        other
    }

    fn measure(&mut self) {
        let [_, stretch_tenth] = self.stretch;
        self.rms = libm::hypot(self.mean, self.sd);
        self.reach = self.reach_at(self.risk);
        self.reach_tenth = stretch_tenth * reach(self.mean, self.sd, self.risk / 10.0);
    }

    /// How far a share of the errors stays within, by the tail that was seen at the share asked for, mm.
    pub(super) fn reach_at(&self, risk: f64) -> f64 {
        let [stretch, _] = self.stretch;
        stretch * reach(self.mean, self.sd, risk)
    }

    /// Chance that an accepted first layer is beyond the tolerance: that of a normal tail with the moments seen, unless the count
    /// contradicts it; 1 for what is no way.
    pub fn chance(&self) -> f64 {
        let normal = || if self.sd.is_finite() { beyond(self.mean, self.sd, self.within) } else { 1.0 };
        self.counted.filter(|_| self.sd.is_finite()).unwrap_or_else(normal)
    }

    /// Whether it keeps the promise, as far as a search can tell.
    pub fn surely(&self) -> bool {
        self.reach * (1.0 + self.margin) <= self.within
    }

    /// Chance that a promise near to what is reached is broken.
    pub(super) fn predicted(&self, wanted: Wanted) -> f64 {
        let [stretch, stretch_tenth] = self.stretch;
        let stretch = if wanted.tenth { stretch_tenth } else { stretch };
        if self.sd.is_finite() { beyond(self.mean, self.sd, wanted.within / stretch) } else { 1.0 }
    }

    /// One-sided lower and upper bound of the share beyond, each wrong with a chance of `doubt`.
    pub fn bounds(&self, doubt: f64) -> (f64, f64) {
        share_limits(self.outside, self.accepted, doubt)
    }
}

/// A touching as numbers that can be put in order.
pub(super) type Key = ([u8; 4], [u64; 6]);

pub(super) fn key(touch: &Touch) -> Key {
    let centre = match touch.centre {
        Centre::Mean => 0,
        Centre::Median => 1,
        Centre::HodgesLehmann => 2,
    };
    // None of them is below zero, so their bits are in their order.
    let numbers = [
        touch.fine_speed.to_f64(),
        touch.first_speed.to_f64(),
        touch.lift.to_f64(),
        touch.stop.to_f64(),
        touch.band.to_f64(),
        touch.target_u.to_f64(),
    ];
    ([touch.least, touch.most, touch.settle, centre], numbers.map(f64::to_bits))
}

/// Chance that a normal variable lies beyond ±`within`.
fn beyond(mean: f64, sd: f64, within: f64) -> f64 {
    let at = |x: f64| if sd > 0.0 { x / sd } else { f64::INFINITY * x.signum() };
    normal(at(-within - mean)).0 + normal(at(within - mean)).1
}

/// What a normal variable stays within but for a share `risk`.
fn reach(mean: f64, sd: f64, risk: f64) -> f64 {
    let (mut low, mut high) = (0.0, mean.abs() + 40.0 * sd);
    if !high.is_finite() {
        return f64::INFINITY;
    }
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        *(if beyond(mean, sd, middle) > risk { &mut low } else { &mut high }) = middle;
    }
    high
}

/// By what factor the errors counted reach further than the normal tail; 1 where their number does not contradict it.
fn stretch(errors: &Histogram, mean: f64, sd: f64, risk: f64) -> f64 {
    let normal = reach(mean, sd, risk);
    let (n, expected) = (errors.total() as f64, errors.total() as f64 * risk);
    let outside = |x: f64| n - errors.below(x) as f64 + errors.below(-x) as f64;
    let slack = COUNTED * (libm::sqrt(expected) + 1.0);
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
