//! What many runs come to. Everything that is added up is a whole number, so the order of adding cannot show.

use super::cycle::Ran;
use super::histogram::Histogram;
use super::reasons::Reasons;
use crate::distributions::unseen;
use crate::switches::nearest_whole;
use zdatum::RefusalKind;

/// Errors are added up in units of 2⁻⁴⁰ mm (0.9 pm).
const UNIT: f64 = 1_099_511_627_776.0;

/// An estimate with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
}

/// A share of counted runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// How many it holds.
    pub part: u64,
    /// Of how many; at least one.
    pub whole: u64,
}

impl Share {
    /// `None` of nothing.
    pub fn of(part: u64, whole: u64) -> Option<Self> {
        (whole > 0).then_some(Self { part, whole })
    }

    /// The share, 0 to 1, with its standard error √(p·(1 − p)/n). Where it is none or all, that formula would
    /// claim to be sure: then the error is the standard deviation of the share given the count, √((k + ½)·(n
    /// − k + ½)/((n + 1)²·(n + 2))), with Jeffreys' prior; about 0.7/n.
    pub fn estimate(&self) -> Estimate {
        let (k, n) = (self.part as f64, self.whole as f64);
        let value = k / n;
        let square = if self.part == 0 || self.part == self.whole {
            (k + 0.5) * (n - k + 0.5) / ((n + 1.0) * (n + 1.0) * (n + 2.0))
        } else {
            value * (1.0 - value) / n
        };
        Estimate { value, error: libm::sqrt(square) }
    }

    /// What a share of none stays below, and one of all above 1 less this, at 95 %.
    pub fn unseen(&self) -> f64 {
        unseen(self.whole)
    }
}

/// Sums over runs.
#[derive(Clone, Debug)]
pub struct Tally {
    /// Runs done.
    pub runs: u64,
    /// Runs accepted.
    pub accepted: u64,
    /// Runs refused.
    refused: Reasons,
    /// Accepted runs whose |error| is beyond the tolerance.
    outside: u64,
    /// Accepted runs whose interval holds the true landing.
    covered: u64,
    touches: u64,
    /// Milliseconds.
    milliseconds: u64,
    touches_squares: u64,
    milliseconds_squares: u128,
    sum: i128,
    squares: u128,
    within: f64,
    /// The errors of accepted runs.
    pub errors: Histogram,
}

impl Tally {
    /// Nothing yet; `within` is the tolerance, mm.
    pub fn new(within: f64) -> Self {
        Self {
            runs: 0,
            accepted: 0,
            refused: Reasons::default(),
            outside: 0,
            covered: 0,
            touches: 0,
            milliseconds: 0,
            touches_squares: 0,
            milliseconds_squares: 0,
            sum: 0,
            squares: 0,
            within,
            errors: Histogram::default(),
        }
    }

    /// Counts a run.
    #[inline]
    pub fn add(&mut self, ran: &Ran) {
        self.runs += 1;
        self.touches += u64::from(ran.touches);
        self.touches_squares += u64::from(ran.touches) * u64::from(ran.touches);
        let milliseconds = nearest_whole(ran.seconds * 1e3).unsigned_abs();
        self.milliseconds += milliseconds;
        self.milliseconds_squares += u128::from(milliseconds) * u128::from(milliseconds);
        match (ran.error, ran.refused) {
            (Some(error), _) => {
                self.accepted += 1;
                let size = error.abs();
                self.outside += u64::from(size > self.within);
                self.covered += u64::from(size <= ran.expanded);
                // Errors of more than 2 m are beyond `nearest_whole`; `as` clips what cannot be held.
                let whole = (error * UNIT + 0.5_f64.copysign(error)) as i64;
                self.sum += i128::from(whole);
                self.squares += u128::from(whole.unsigned_abs()) * u128::from(whole.unsigned_abs());
                self.errors.add(error);
            }
            (None, first) => self.refused.add(first),
        }
    }

    /// Adds another tally of the same campaign.
    pub fn merge(&mut self, other: &Self) {
        self.runs += other.runs;
        self.accepted += other.accepted;
        self.refused.merge(&other.refused);
        self.outside += other.outside;
        self.covered += other.covered;
        self.touches += other.touches;
        self.milliseconds += other.milliseconds;
        self.touches_squares += other.touches_squares;
        self.milliseconds_squares += other.milliseconds_squares;
        self.sum += other.sum;
        self.squares += other.squares;
        self.errors.merge(&other.errors);
    }

    /// Refused runs by their first reason, in the order of the table; only what occurred.
    pub fn refusals(&self) -> impl Iterator<Item = (RefusalKind, u64)> + '_ {
        self.refused.in_order()
    }

    /// Mean error of accepted runs, mm.
    pub fn mean(&self) -> Option<Estimate> {
        let n = self.accepted as f64;
        let value = (self.accepted > 0).then(|| self.sum as f64 / UNIT / n)?;
        let error = self.spread().map_or(f64::NAN, |sd| sd / libm::sqrt(n));
        Some(Estimate { value, error })
    }

    /// Standard deviation of the errors, mm, about their mean. Its standard error comes from the fourth
    /// moment, √((m₄ − m₂²·(n − 3)/(n − 1))/n)/(2·sd), so that wild errors count in it; the moments are those
    /// of the histogram.
    pub fn sd(&self) -> Option<Estimate> {
        let value = self.spread()?;
        let n = self.accepted as f64;
        let mean = self.sum as f64 / UNIT / n;
        let (second, fourth) = self.errors.moments(mean);
        // Where all errors fall into a few bins far from zero, their kurtosis cannot be seen: that of normal
        // errors serves.
        let kurtosis =
            if value > 4.0 * self.errors.bound_at(mean) { fourth / (second * second) } else { 3.0 };
        let relative = libm::sqrt(((kurtosis - (n - 3.0) / (n - 1.0)) / n).max(0.0)) / 2.0;
        Some(Estimate { value, error: value * relative })
    }

    /// Standard deviation of the errors alone, mm.
    fn spread(&self) -> Option<f64> {
        let n = self.accepted;
        if n < 2 {
            return None;
        }
        // n·Σx² − (Σx)², exact while both stay below 2^128: 10^9 runs of 0.016 mm root mean square, 10^6 of
        // 16 mm. Beyond, in double precision.
        let numerator = (n as f64) * (self.squares as f64) - (self.sum as f64) * (self.sum as f64);
        let exact = u128::from(n)
            .checked_mul(self.squares)
            .zip(self.sum.unsigned_abs().checked_mul(self.sum.unsigned_abs()))
            .map(|(a, b)| a.saturating_sub(b) as f64);
        let n = n as f64;
        Some(libm::sqrt(exact.unwrap_or(numerator).max(0.0) / (n * (n - 1.0))) / UNIT)
    }

    /// Accepted runs beyond the tolerance.
    pub fn beyond(&self) -> Option<Share> {
        Share::of(self.outside, self.accepted)
    }

    /// Accepted runs whose interval holds the true landing.
    pub fn held(&self) -> Option<Share> {
        Share::of(self.covered, self.accepted)
    }

    /// Refused runs.
    pub fn turned_down(&self) -> Option<Share> {
        Share::of(self.runs - self.accepted, self.runs)
    }

    /// Share of accepted runs beyond the tolerance.
    pub fn p_outside(&self) -> Option<Estimate> {
        self.beyond().map(|share| share.estimate())
    }

    /// Share of accepted runs whose interval holds the true landing.
    pub fn coverage(&self) -> Option<Estimate> {
        self.held().map(|share| share.estimate())
    }

    /// Share of runs refused.
    pub fn p_refused(&self) -> Option<Estimate> {
        self.turned_down().map(|share| share.estimate())
    }

    /// Touches a run, refused ones included.
    pub fn touches(&self) -> Option<Estimate> {
        mean(self.runs, u128::from(self.touches), u128::from(self.touches_squares), 1.0)
    }

    /// Seconds a run, refused ones included.
    pub fn seconds(&self) -> Option<Estimate> {
        mean(self.runs, u128::from(self.milliseconds), self.milliseconds_squares, 1e3)
    }

    /// Touches a run.
    pub fn touches_mean(&self) -> f64 {
        if self.runs == 0 { 0.0 } else { self.touches as f64 / self.runs as f64 }
    }

    /// Seconds a cycle.
    pub fn cycle_s_mean(&self) -> f64 {
        if self.runs == 0 { 0.0 } else { self.milliseconds as f64 / 1e3 / self.runs as f64 }
    }
}

/// Mean of whole numbers in so many parts of the unit, with its standard error; 0 for a single one.
fn mean(count: u64, sum: u128, squares: u128, parts: f64) -> Option<Estimate> {
    if count == 0 {
        return None;
    }
    let n = count as f64;
    // n·Σx² − (Σx)², exact below 2^128: 10^12 runs of ten minutes each are.
    let scatter = u128::from(count).saturating_mul(squares).saturating_sub(sum.saturating_mul(sum)) as f64;
    let error = if count > 1 { libm::sqrt(scatter / (n * n * (n - 1.0))) } else { 0.0 };
    Some(Estimate { value: sum as f64 / n / parts, error: error / parts })
}

#[cfg(test)]
mod tests;
