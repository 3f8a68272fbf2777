//! Errors one by one, in the order of their runs: for statistics that sums cannot give.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;
use zdatum::{Setup, Source, landing};

use super::cycle::{Bench, Ran, Seen, run_block_seen};
use super::tally::Estimate;
use crate::engine::Progress;

/// Runs handed out at a time.
const BLOCK: u64 = 2_048;
/// Sources that a landing's budget can name: three stations, t, two latencies, the soak, then growing parts.
const SOURCES: usize = landing::MOST_TERMS;

/// What runs came to, each by itself. 8 bytes a run.
#[derive(Clone, Debug, Default)]
pub(crate) struct Gathered {
    /// First-layer error of each run, mm; NaN where refused.
    pub(crate) errors: Vec<f64>,
    /// What the core stated.
    pub(crate) stated: StatedSums,
}

/// Sums of what the core states with accepted landings. Whole numbers, so their order cannot show.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct StatedSums {
    accepted: u64,
    /// Variance by source, in the core's bits.
    variances: [u128; SOURCES],
    /// u² in the core's bits.
    variance: u128,
    /// U in the core's bits.
    expanded: u128,
}

impl Gathered {
    /// These runs of a machine, on the current `rayon` pool; `None` once `stop` is set.
    pub(crate) fn of(
        bench: &Bench,
        runs: Range<u64>,
        stop: &AtomicBool,
        progress: &Progress<'_>,
    ) -> Option<Self> {
        let blocks = (runs.end - runs.start).div_ceil(BLOCK);
        let blocks: Option<Vec<Self>> = (0..blocks)
            .into_par_iter()
            .map(|block| {
                let from = runs.start + block * BLOCK;
                let to = (from + BLOCK).min(runs.end);
                let mut gathered = Self::default();
                // A checked setup always finds room.
                run_block_seen(bench, from..to, |ran, seen| gathered.add(&bench.setup, ran, seen)).ok()?;
                progress(to - from);
                (!stop.load(Ordering::Relaxed)).then_some(gathered)
            })
            .collect();
        Some(blocks?.into_iter().fold(Self::default(), |mut all, block| {
            all.errors.extend(block.errors);
            all.stated.merge(&block.stated);
            all
        }))
    }

    fn add(&mut self, setup: &Setup, ran: &Ran, seen: Option<Seen<'_>>) {
        self.errors.push(ran.error.unwrap_or(f64::NAN));
        if let Some(seen) = seen {
            self.stated.add(setup, seen);
        }
    }
}

impl StatedSums {
    /// Counts an accepted landing.
    pub(crate) fn add(&mut self, setup: &Setup, seen: Seen<'_>) {
        let (Some(landing), Some(touches)) = (seen.outcome.landing(), seen.touches) else { return };
        self.accepted += 1;
        self.variance += u128::from(landing.uncertainty.variance.to_bits());
        self.expanded += u128::from(landing.uncertainty.expanded.to_bits());
        for term in landing::budget(setup, touches).iter().flatten() {
            if let Some(sum) = place(term.source).and_then(|place| self.variances.get_mut(place)) {
                *sum += u128::from(term.variance.to_bits());
            }
        }
    }

    pub(crate) fn merge(&mut self, other: &Self) {
        self.accepted += other.accepted;
        self.variance += other.variance;
        self.expanded += other.expanded;
        for (mine, theirs) in self.variances.iter_mut().zip(&other.variances) {
            *mine += theirs;
        }
    }

    /// Root of the mean u², mm; `None` where nothing was accepted.
    pub(crate) fn u(&self) -> Option<f64> {
        self.mean(self.variance, 60).map(libm::sqrt)
    }

    /// Mean U, mm.
    pub(crate) fn expanded(&self) -> Option<f64> {
        self.mean(self.expanded, 24)
    }

    /// Mean u² of one source, mm².
    pub(crate) fn variance_of(&self, source: Source) -> Option<f64> {
        self.mean(place(source).and_then(|place| self.variances.get(place).copied())?, 60)
    }

    fn mean(&self, sum: u128, fraction_bits: i32) -> Option<f64> {
        (self.accepted > 0).then(|| libm::ldexp(sum as f64 / self.accepted as f64, -fraction_bits))
    }
}

fn place(source: Source) -> Option<usize> {
    Some(match source {
        Source::Touches(zdatum::Station::Tip) => 0,
        Source::Touches(zdatum::Station::Shoulder) => 1,
        Source::Touches(zdatum::Station::Plate) => 2,
        Source::TripDepth => 3,
        Source::PlateLatency => 4,
        Source::DatumLatency => 5,
        Source::Soak => 6,
        Source::TipBetween => 7,
        Source::SpanBetween => 8,
        Source::Unseen => 9,
        Source::Readings(follows) => 10 + follows as usize,
        Source::Growth(index) => 13 + usize::from(index),
        Source::Other(_) => return None,
    })
}

/// Mean and standard deviation of some values, each with its standard error; that of the latter from their
/// fourth moment. `None` for fewer than two values.
pub(crate) fn moments(values: impl Iterator<Item = f64> + Clone) -> Option<(Estimate, Estimate)> {
    let (count, sum) = values.clone().fold((0_u64, 0.0), |(count, sum), x| (count + 1, sum + x));
    if count < 2 {
        return None;
    }
    let n = count as f64;
    let mean = sum / n;
    let (squares, fourths) = values.fold((0.0, 0.0), |(squares, fourths), x| {
        let square = (x - mean) * (x - mean);
        (squares + square, fourths + square * square)
    });
    let variance = squares / (n - 1.0);
    let sd = libm::sqrt(variance);
    let of_variance = libm::sqrt((fourths / n - variance * variance).max(0.0) / n);
    let sd_error = if sd > 0.0 { of_variance / (2.0 * sd) } else { 0.0 };
    Some((Estimate { value: mean, error: sd / libm::sqrt(n) }, Estimate { value: sd, error: sd_error }))
}

#[cfg(test)]
mod tests;
