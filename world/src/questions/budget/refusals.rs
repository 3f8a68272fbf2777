//! What makes cycles refused: Sobol' indices of being refused, 1 or 0. The first-order index of a source is
//! the part of the variance that would go if it were known; the total index what would stay if all others
//! were.
//!
//! With f a result, A and B two independent sets of draws, and Aᵢ the set A with source i from B (Saltelli et
//! al., Computer Physics Communications 181, 2010), by Jansen's estimators (the same, 117, 1999):
//!
//! ```text
//!     V   = variance of f over A and B
//!     S_i = 1 − Σ (f(B) − f(A_i))² / (2·n·V)     first order
//!     T_i =     Σ (f(A) − f(A_i))² / (2·n·V)     total
//! ```
//!
//! Every source of the world has a stream of its own, so *source i from B* is exact. Points are random: with
//! some hundreds of normal numbers a run, sequences of low discrepancy bring nothing. Intervals are
//! bootstrapped over blocks of runs.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::iter::{IntoParallelIterator, ParallelIterator};
use zdatum::cycle::Cycle;

use crate::engine::cycle::{ROOM, SMALL, is_large, judge, to_its_end};
use crate::engine::{Bench, Progress};
use crate::picked::{Drawn, Streams};
use crate::random::Random;

/// Blocks that are drawn with replacement.
const BLOCKS: usize = 256;
/// How often.
const RESAMPLES: usize = 400;
/// Keeps B's draws apart from A's.
const OTHER: u64 = 0x6A09_E667_F3BC_C909;
/// Keeps the bootstrap's apart from both.
const BOOTSTRAP: u64 = 0xBB67_AE85_84CA_A73B;

/// An index with its bootstrapped 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Index {
    /// The estimate; below 0 or above 1 by chance alone.
    pub value: f64,
    /// The interval's ends.
    pub low: f64,
    /// The interval's ends.
    pub high: f64,
}

/// Both indices of one input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IndexPair {
    /// Alone.
    pub first: Index,
    /// With all that it acts together with.
    pub total: Index,
}

/// IndexSums over one block of runs, for one result and k inputs.
#[derive(Clone, Debug, PartialEq)]
pub struct IndexSums {
    count: f64,
    sum: f64,
    squares: f64,
    /// For each input: how many, Σ (f(B) − f(A_i))², Σ (f(A) − f(A_i))².
    inputs: Vec<[f64; 3]>,
}

impl IndexSums {
    /// Nothing yet, for so many inputs.
    pub fn new(inputs: usize) -> Self {
        Self { count: 0.0, sum: 0.0, squares: 0.0, inputs: vec![[0.0; 3]; inputs] }
    }

    /// Counts a run: f(A), f(B), and f(A_i) for each input; what has no result is left out.
    pub fn add(&mut self, a: Option<f64>, b: Option<f64>, mixed: &[Option<f64>]) {
        for value in [a, b].into_iter().flatten() {
            self.count += 1.0;
            self.sum += value;
            self.squares += value * value;
        }
        let Some((a, b)) = a.zip(b) else { return };
        for (sums, mixed) in self.inputs.iter_mut().zip(mixed) {
            if let Some(mixed) = mixed {
                let (first, total) = (b - mixed, a - mixed);
                *sums = [sums[0] + 1.0, sums[1] + first * first, sums[2] + total * total];
            }
        }
    }

    fn merge(&mut self, other: &Self) {
        self.count += other.count;
        self.sum += other.sum;
        self.squares += other.squares;
        for (mine, theirs) in self.inputs.iter_mut().zip(&other.inputs) {
            *mine = [mine[0] + theirs[0], mine[1] + theirs[1], mine[2] + theirs[2]];
        }
    }

    /// Variance of the result; `None` where it does not vary.
    fn variance(&self) -> Option<f64> {
        let mean = self.sum / self.count;
        let variance = (self.squares / self.count - mean * mean) * self.count / (self.count - 1.0);
        // Below the doubles' own rounding there is none.
        (self.count > 1.0 && variance > 1e-12 * (self.squares / self.count)).then_some(variance)
    }

    /// First-order and total index of each input.
    fn indices(&self) -> Option<Vec<[f64; 2]>> {
        let variance = self.variance()?;
        let one = |[count, first, total]: &[f64; 3]| {
            let scale = 2.0 * count * variance;
            [1.0 - first / scale, total / scale]
        };
        Some(self.inputs.iter().map(one).collect())
    }
}

/// Indices from the sums of blocks of equally many runs; `None` where the result does not vary.
pub fn indices(blocks: &[IndexSums], seed: u64) -> Option<Vec<IndexPair>> {
    let empty = IndexSums::new(blocks.first()?.inputs.len());
    let all = |picked: &mut dyn Iterator<Item = &IndexSums>| {
        let mut sums = empty.clone();
        picked.for_each(|block| sums.merge(block));
        sums.indices()
    };
    let values = all(&mut blocks.iter())?;
    let mut random = Random::of_run(seed ^ BOOTSTRAP, 0);
    let mut resamples: Vec<Vec<[f64; 2]>> = Vec::with_capacity(RESAMPLES);
    for _ in 0..RESAMPLES {
        let pick = |random: &mut Random| (random.uniform() * blocks.len() as f64) as usize;
        let picked: Vec<usize> = blocks.iter().map(|_| pick(&mut random)).collect();
        resamples.extend(all(&mut picked.iter().filter_map(|at| blocks.get(*at))));
    }
    let index = |input: usize, which: usize, value: f64| {
        let mut seen: Vec<f64> =
            resamples.iter().filter_map(|one| one.get(input)?.get(which).copied()).collect();
        seen.sort_by(f64::total_cmp);
        let at = |p: f64| seen.get((p * seen.len() as f64) as usize).copied().unwrap_or(value);
        // The percentile interval (Efron, Tibshirani, 1993, 13.3).
        Index { value, low: at(0.025), high: at(0.975) }
    };
    Some(
        values
            .iter()
            .enumerate()
            .map(|(input, [first, total])| IndexPair {
                first: index(input, 0, *first),
                total: index(input, 1, *total),
            })
            .collect(),
    )
}

/// Where refusals come from.
#[derive(Clone, Debug, PartialEq)]
pub struct RefusalSources {
    /// Runs with A; twelve times as many cycles were run.
    pub runs: u64,
    /// Share of cycles refused.
    pub refused: f64,
    /// For each source in the order of [`Drawn::ALL`]; `None` where all cycles are refused, or none.
    pub indices: Option<Vec<IndexPair>>,
    /// Whether all was done.
    pub complete: bool,
}

/// Cycles for each run: A, B, and one for each source.
pub const CYCLES: u64 = 2 + Drawn::ALL.len() as u64;

/// Runs it on the current `rayon` pool; the same bits with any number of threads. `runs` is rounded up to
/// whole blocks; `progress` is told of cycles.
pub fn refusal_sources(
    bench: &Bench,
    runs: u64,
    stop: &AtomicBool,
    progress: &Progress<'_>,
) -> RefusalSources {
    let each = runs.div_ceil(BLOCKS as u64);
    let blocks: Vec<Option<IndexSums>> = (0..BLOCKS as u64)
        .into_par_iter()
        .map(|block| {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            let sums = if is_large(&bench.setup) {
                block_of::<ROOM>(bench, block * each, each)
            } else {
                block_of::<SMALL>(bench, block * each, each)
            };
            progress(each * CYCLES);
            Some(sums)
        })
        .collect();
    let complete = blocks.iter().all(Option::is_some);
    let blocks: Vec<IndexSums> = blocks.into_iter().flatten().collect();
    let mut whole = IndexSums::new(Drawn::ALL.len());
    blocks.iter().for_each(|block| whole.merge(block));
    RefusalSources {
        runs: each * blocks.len() as u64,
        refused: if whole.count > 0.0 { whole.sum / whole.count } else { 0.0 },
        indices: indices(&blocks, bench.seed),
        complete,
    }
}

fn block_of<const N: usize>(bench: &Bench, from: u64, runs: u64) -> IndexSums {
    let mut cycle = Cycle::<N>::idle();
    let mut sums = IndexSums::new(Drawn::ALL.len());
    let mut mixed = [None; Drawn::ALL.len()];
    for run in from..from + runs {
        let mut one = |seed_of: &dyn Fn(Drawn) -> u64| one(&mut cycle, bench, run, seed_of);
        let other = bench.seed ^ OTHER;
        let (a, b) = (one(&|_| bench.seed), one(&|_| other));
        for (drawn, mixed) in Drawn::ALL.iter().zip(&mut mixed) {
            *mixed = Some(one(&|source| if source == *drawn { other } else { bench.seed }));
        }
        sums.add(Some(a), Some(b), &mixed);
    }
    sums
}

/// One cycle: 1 where it is refused, else 0.
fn one<'b, const N: usize>(
    cycle: &mut Cycle<'b, N>,
    bench: &'b Bench,
    run: u64,
    seed_of: &dyn Fn(Drawn) -> u64,
) -> f64 {
    let (mut streams, mut world) = Streams::begin(&bench.machine, &bench.faults, run, seed_of);
    // A checked setup always finds room.
    if cycle.start(&bench.setup, bench.job).is_err() {
        return 1.0;
    }
    to_its_end(cycle, &mut world, |world, request, _| streams.follow(world, request));
    f64::from(u8::from(judge(&world, cycle.outcome().as_ref()).error.is_none()))
}

#[cfg(test)]
mod tests;
