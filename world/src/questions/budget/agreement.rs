//! Does the core's interval agree with the simulated one? JCGM 101:2008 (Supplement 1 to the GUM), 7.7, 7.9
//! and 8.1; their rules *from memory*.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use crate::engine::gather::{Gathered, moments};
use crate::engine::{Bench, Estimate, Progress};

/// Most runs: 8 bytes are kept of each.
const MOST: u64 = 20_000_000;

/// The core's interval beside the simulated one.
#[derive(Clone, Debug, PartialEq)]
pub struct Agreement {
    /// Coverage probability p, 0 to 1: the machine file's.
    pub coverage: f64,
    /// What the core states of its own error.
    pub stated: Stated,
    /// What the simulated machine shows.
    pub simulated: Simulated,
    /// With two significant digits of u, then with one.
    pub checks: Vec<Check>,
}

/// An interval as the law of propagation states it. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// The estimate: 0, since the core holds its landing to be right on average.
    pub y: f64,
    /// Its standard uncertainty: root of the mean u² over accepted cycles.
    pub u: f64,
    /// U: mean over accepted cycles.
    pub expanded: f64,
}

/// What blocks of trials come to, each with the standard error that the blocks show. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Simulated {
    /// Blocks.
    pub blocks: u64,
    /// Trials in all.
    pub trials: u64,
    /// Of them accepted: those that have an error.
    pub accepted: u64,
    /// Mean.
    pub y: Estimate,
    /// Standard deviation.
    pub u: Estimate,
    /// Lower end of the probabilistically symmetric interval.
    pub low: Estimate,
    /// Upper end.
    pub high: Estimate,
    /// Whether all four are known to a fifth of the tolerance of two digits (7.9.4, as 8.1 asks); else the
    /// trials allowed ran out.
    pub stable: bool,
}

/// One comparison of 8.1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Check {
    /// Significant digits of u.
    pub digits: u32,
    /// The numerical tolerance δ, mm.
    pub delta: f64,
    /// |y − U − y_low|, with the standard error of y_low, mm.
    pub low: Estimate,
    /// |y + U − y_high|, with the standard error of y_high, mm.
    pub high: Estimate,
    /// The answer.
    pub agrees: Agrees,
}

/// Whether two intervals agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agrees {
    /// Both ends are within δ.
    Yes,
    /// One is not.
    No,
    /// An end is so near to δ that more trials would have to tell.
    TooClose,
}

impl Agrees {
    /// `yes`, `no` or `too-close`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::No => "no",
            Self::TooClose => "too-close",
        }
    }
}

/// The numerical tolerance δ of a standard uncertainty with so many significant digits: with u = c·10^l and c
/// a whole number of that many digits, δ = 10^l/2 (JCGM 101:2008, 7.9.2, *from memory*). 0 where u is.
pub fn tolerance(u: f64, digits: u32) -> f64 {
    if u <= 0.0 || !u.is_finite() {
        return 0.0;
    }
    // Rounding to the digits may carry, as 0.0996 does to 0.10: decimal text settles it.
    let text = format!("{u:.*e}", digits.saturating_sub(1) as usize);
    let exponent: i32 = text.split_once('e').and_then(|(_, e)| e.parse().ok()).unwrap_or(0);
    0.5 * libm::pow(10.0, f64::from(exponent - digits as i32 + 1))
}

/// Trials in a block: max(⌈100/(1 − p)⌉, 10⁴) (7.9.4).
pub fn block_size(coverage: f64) -> u64 {
    (libm::ceil(100.0 / (1.0 - coverage)) as u64).max(10_000)
}

/// The probabilistically symmetric interval of sorted values (7.7): q = ⌊pM + ½⌋, r = ⌊(M − q + 1)/2⌋, from
/// the r-th to the (r + q)-th. `None` for fewer than two values.
pub fn symmetric(sorted: &[f64], coverage: f64) -> Option<(f64, f64)> {
    let (m, q) = (sorted.len(), libm::floor(coverage * sorted.len() as f64 + 0.5) as usize);
    let r = m.checked_sub(q)?.div_ceil(2);
    let low = sorted.get(r.max(1) - 1)?;
    let high = sorted.get((r + q).min(m).checked_sub(1)?)?;
    (m >= 2).then_some((*low, *high))
}

/// Blocks worked on at a time: what one asks for too much is thrown away.
const AT_A_TIME: u64 = 16;

/// The adaptive procedure of 7.9.4: blocks of trials until mean, standard deviation and both ends of the
/// interval are known to `to`, each to twice its standard error over the blocks; at most `most` blocks.
///
/// `block` gives the accepted values of one block, or `None` to stop. `None` where fewer than two blocks were
/// made. The same bits with any number of threads: where to end is decided block by block.
pub fn adaptive(
    coverage: f64,
    to: f64,
    trials: u64,
    most: u64,
    block: impl Fn(u64) -> Option<Vec<f64>> + Sync,
) -> Option<Simulated> {
    let mut values = Vec::new();
    let mut seen: [Vec<f64>; 4] = Default::default();
    let mut blocks = 0;
    let mut stable = false;
    'all: while blocks < most {
        let next: Option<Vec<_>> = (blocks..most.min(blocks + AT_A_TIME))
            .into_par_iter()
            .map(|number| {
                let values = block(number)?;
                let four = four(&values, coverage)?;
                Some((values, four))
            })
            .collect();
        for (block, four) in next? {
            values.extend(block);
            blocks += 1;
            for (seen, value) in seen.iter_mut().zip(four) {
                seen.push(value);
            }
            stable = blocks >= 2 && seen.iter().all(|seen| 2.0 * standard_error(seen) <= to);
            if stable {
                break 'all;
            }
        }
    }
    if blocks < 2 {
        return None;
    }
    let [y, u, low, high] = four(&values, coverage)?;
    let [y_error, u_error, low_error, high_error] = seen.each_ref().map(|seen| standard_error(seen));
    Some(Simulated {
        blocks,
        trials: blocks * trials,
        accepted: values.len() as u64,
        y: Estimate { value: y, error: y_error },
        u: Estimate { value: u, error: u_error },
        low: Estimate { value: low, error: low_error },
        high: Estimate { value: high, error: high_error },
        stable,
    })
}

/// Mean, standard deviation and the ends of the symmetric interval.
fn four(values: &[f64], coverage: f64) -> Option<[f64; 4]> {
    let (mean, sd) = moments(values.iter().copied())?;
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let (low, high) = symmetric(&sorted, coverage)?;
    Some([mean.value, sd.value, low, high])
}

/// s/√h of what h blocks came to.
fn standard_error(seen: &[f64]) -> f64 {
    moments(seen.iter().copied()).map_or(f64::INFINITY, |(mean, _)| mean.error)
}

impl Check {
    /// Compares two intervals with the tolerance of so many digits (8.1). Both ends must be within δ by twice
    /// their standard error for a *yes*, one beyond it by as much for a *no*.
    pub fn of(stated: &Stated, simulated: &Simulated, digits: u32) -> Self {
        let delta = tolerance(stated.u, digits);
        let end =
            |stated: f64, end: &Estimate| Estimate { value: (stated - end.value).abs(), error: end.error };
        let low = end(stated.y - stated.expanded, &simulated.low);
        let high = end(stated.y + stated.expanded, &simulated.high);
        let agrees = if [low, high].iter().any(|d| d.value - 2.0 * d.error > delta) {
            Agrees::No
        } else if [low, high].iter().all(|d| d.value + 2.0 * d.error <= delta) {
            Agrees::Yes
        } else {
            Agrees::TooClose
        };
        Self { digits, delta, low, high, agrees }
    }
}

impl Agreement {
    /// Compares what the core states with the machine simulated, in at most `most` runs; `None` where they
    /// are fewer than two blocks or `stop` was set.
    pub(super) fn of(
        bench: &Bench,
        stated: Stated,
        most: u64,
        stop: &AtomicBool,
        progress: &Progress<'_>,
    ) -> Option<Self> {
        let coverage = f64::from(bench.setup.draft().accept.coverage.percent()) / 100.0;
        let size = block_size(coverage);
        // 8.1 asks for a fifth of δ where the result serves a comparison.
        let to = tolerance(stated.u, 2) / 5.0;
        let simulated = adaptive(coverage, to, size, most.min(MOST) / size, |block| {
            let gathered = Gathered::of(bench, block * size..(block + 1) * size, stop, progress)?;
            Some(gathered.errors.into_iter().filter(|error| error.is_finite()).collect())
        })?;
        let checks = [2, 1].map(|digits| Check::of(&stated, &simulated, digits)).to_vec();
        Some(Self { coverage, stated, simulated, checks })
    }
}

#[cfg(test)]
mod tests;
