//! What the error of a run holds whatever the touching: the true trip depth, growth, the frame's drift.
//!
//! On common draws it is the same for all ways. It is found once, run by run, with switches that trip without noise, and so often that
//! its deviation is known. A way adds the rest, drawn apart from it: the variance of the rest is told from few runs, since neither the
//! luck of what is shared nor that of its product with the rest comes in. That is a control variate (Owen, Monte Carlo theory, methods
//! and examples, 2013, section 8.9).

use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;
use zdatum::setup::Touch;
use zdatum::{Setup, Uncertainty};

use super::LAST;
use crate::run::cycle::{Bench, run_block};
use crate::{Machine, Noise};

/// Runs: what is known of the shared part's deviation, to 0.14 %; at least as many as the ways get.
const RUNS: u64 = 262_144;
const _: () = assert!(RUNS >= LAST);
/// Runs at a time.
const BLOCK: u64 = 2_048;
/// Standard errors from which the rest is taken to depend on what is shared.
const DEPENDS: f64 = 4.0;
/// Fewest runs that tell a variance.
const LEAST: f64 = 32.0;

/// What all ways share.
#[derive(Debug)]
pub(super) struct Shared {
    /// Run by run, mm; no number where refused.
    each: Vec<f64>,
    mean: f64,
    variance: f64,
}

/// Moments of an error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moments {
    pub(super) mean: f64,
    pub(super) variance: f64,
    /// Standard error of the variance, as far as ways differ in it.
    pub(super) error: f64,
}

/// Sums over what a way adds to the shared part.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Apart {
    count: f64,
    /// Of the rest, of its powers, and of its product with what is shared.
    sums: [f64; 4],
    products: f64,
}

impl Shared {
    /// Of the machine as it is; `None` once stopped.
    pub(super) fn of(bench: &Bench, stop: &AtomicBool) -> Option<Self> {
        let quiet = Noise {
            tip_switch: 0.0,
            shoulder_switch: 0.0,
            plate_switch: 0.0,
            latency_jitter_s: 0.0,
            outlier_rate: 0.0,
            tip_filament: 0.0,
            ..bench.machine.noise
        };
        // Without noise two touches tell as much as any number.
        let mut draft = bench.setup.draft().clone();
        let most = draft.touch.most.min(2);
        draft.touch = Touch { settle: 0, least: most, most, target_u: Uncertainty::ZERO, ..draft.touch };
        let setup = Setup::check(draft).unwrap_or_else(|_| bench.setup.clone());
        let bench = Bench { machine: Machine::new(&setup, &quiet), setup, ..bench.clone() };
        let blocks: Option<Vec<Vec<f64>>> = (0..RUNS / BLOCK)
            .into_par_iter()
            .map(|block| {
                let mut each = Vec::with_capacity(BLOCK as usize);
                let runs = block * BLOCK..(block + 1) * BLOCK;
                run_block(&bench, runs, |ran| each.push(ran.error.unwrap_or(f64::NAN))).ok()?;
                (!stop.load(Ordering::Relaxed)).then_some(each)
            })
            .collect();
        let each = blocks?.concat();
        let seen = || each.iter().filter(|shared| shared.is_finite());
        let count = seen().count().max(1) as f64;
        let mean = seen().sum::<f64>() / count;
        let variance = seen().map(|shared| (shared - mean) * (shared - mean)).sum::<f64>() / count;
        Some(Self { each, mean, variance })
    }

    /// Of these runs, one after the other.
    pub(super) fn of_runs(&self, runs: Range<u64>) -> impl Iterator<Item = Option<f64>> + '_ {
        let each = self.each.get(runs.start as usize..runs.end as usize).unwrap_or(&[]);
        each.iter().map(|shared| shared.is_finite().then_some(*shared))
    }
}

impl Apart {
    pub(super) fn add(&mut self, shared: f64, error: f64) {
        let rest = error - shared;
        let square = rest * rest;
        self.count += 1.0;
        for (sum, power) in self.sums.iter_mut().zip([rest, square, square * rest, square * square]) {
            *sum += power;
        }
        self.products += rest * shared;
    }

    /// Of the whole error: those known of the shared part and those seen of the rest; `None` of too few runs.
    pub(super) fn moments(&self, shared: &Shared) -> Option<Moments> {
        let n = self.count;
        if n < LEAST {
            return None;
        }
        let [mean, second, third, fourth] = self.sums.map(|sum| sum / n);
        let square = mean * mean;
        let variance = (second - square).max(0.0);
        let central = (fourth - 4.0 * mean * third + 6.0 * square * second - 3.0 * square * square).max(0.0);
        // Drawn apart, they have no covariance: what is seen of one is luck, unless it is too much for that.
        let covariance = self.products / n - mean * shared.mean;
        let luck = libm::sqrt(variance * shared.variance / n);
        let depends = covariance.abs() > DEPENDS * luck;
        let (twice, doubt) = if depends { (2.0 * covariance, 2.0 * luck) } else { (0.0, 0.0) };
        let error = libm::sqrt((central - variance * variance).max(0.0) / n);
        Some(Moments {
            mean: shared.mean + mean,
            variance: (shared.variance + variance + twice).max(0.0),
            error: libm::hypot(error, doubt),
        })
    }
}

#[cfg(test)]
pub(super) mod tests;
