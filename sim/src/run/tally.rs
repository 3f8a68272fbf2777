//! What many runs come to. Everything that is added up is a whole number, so the order of adding cannot show.

use super::cycle::Ran;
use super::histogram::Histogram;
use crate::world::switches::nearest_whole;
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

/// Sums over runs.
#[derive(Clone, Debug)]
pub struct Tally {
    /// Runs done.
    pub runs: u64,
    /// Runs accepted.
    pub accepted: u64,
    /// Runs refused, by the code of their first reason.
    refused: [u64; 32],
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
    /// Nothing yet; `within` is the tolerance, `sd` about what the errors' standard deviation will be.
    pub fn new(within: f64, sd: f64) -> Self {
        Self {
            runs: 0,
            accepted: 0,
            refused: [0; 32],
            outside: 0,
            covered: 0,
            touches: 0,
            milliseconds: 0,
            touches_squares: 0,
            milliseconds_squares: 0,
            sum: 0,
            squares: 0,
            within,
            errors: Histogram::around(sd),
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
            (None, Some(kind)) => self.count_refusal(kind),
            (None, None) => self.count_refusal(RefusalKind::MachineFault),
        }
    }

    fn count_refusal(&mut self, kind: RefusalKind) {
        if let Some(count) = self.refused.get_mut(usize::from(kind.code())) {
            *count += 1;
        }
    }

    /// Adds another tally of the same campaign.
    pub fn merge(&mut self, other: &Self) {
        self.runs += other.runs;
        self.accepted += other.accepted;
        for (mine, theirs) in self.refused.iter_mut().zip(&other.refused) {
            *mine += theirs;
        }
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
        RefusalKind::ALL.iter().filter_map(|kind| {
            let count = self.refused.get(usize::from(kind.code())).copied().unwrap_or(0);
            (count > 0).then_some((*kind, count))
        })
    }

    /// Mean error of accepted runs, mm.
    pub fn mean(&self) -> Option<Estimate> {
        let n = self.accepted as f64;
        let value = (self.accepted > 0).then(|| self.sum as f64 / UNIT / n)?;
        let error = self.sd().map_or(f64::NAN, |sd| sd.value / libm::sqrt(n));
        Some(Estimate { value, error })
    }

    /// Standard deviation of the errors, mm, about their mean; its standard error as for normal errors.
    pub fn sd(&self) -> Option<Estimate> {
        let n = self.accepted;
        if n < 2 {
            return None;
        }
        // n·Σx² − (Σx)², exact: both below 2^127 for 10^9 runs of errors below 1 mm; beyond, in double precision.
        let numerator = (n as f64) * (self.squares as f64) - (self.sum as f64) * (self.sum as f64);
        let exact = u128::from(n)
            .checked_mul(self.squares)
            .zip(self.sum.unsigned_abs().checked_mul(self.sum.unsigned_abs()))
            .map(|(a, b)| a.saturating_sub(b) as f64);
        let n = n as f64;
        let value = libm::sqrt(exact.unwrap_or(numerator).max(0.0) / (n * (n - 1.0))) / UNIT;
        Some(Estimate { value, error: value / libm::sqrt(2.0 * (n - 1.0)) })
    }

    /// Share of accepted runs beyond the tolerance.
    pub fn p_outside(&self) -> Option<Estimate> {
        share(self.outside, self.accepted)
    }

    /// Share of accepted runs whose interval holds the true landing.
    pub fn coverage(&self) -> Option<Estimate> {
        share(self.covered, self.accepted)
    }

    /// Share of runs refused.
    pub fn p_refused(&self) -> Option<Estimate> {
        share(self.runs - self.accepted, self.runs)
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

/// A share with its binomial standard error.
pub(crate) fn share(part: u64, whole: u64) -> Option<Estimate> {
    if whole == 0 {
        return None;
    }
    let n = whole as f64;
    let value = part as f64 / n;
    Some(Estimate { value, error: libm::sqrt(value * (1.0 - value) / n) })
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
