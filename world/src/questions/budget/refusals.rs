//! Sobol' indices: what part of the variance of a result each source makes, alone and with all it acts together with.
//!
//! With f a result, A and B two independent sets of draws, and Aᵢ the set A with source i from B (Saltelli et al., Computer Physics
//! Communications 181, 2010):
//!
//! ```text
//!     V   = variance of f over A and B
//!     S_i = 1 − Σ (f(B) − f(A_i))² / (2·n·V)     first order: Jansen's estimator
//!     T_i =     Σ (f(A) − f(A_i))² / (2·n·V)     total: Jansen's estimator (Computer Physics Communications 117, 1999)
//! ```
//!
//! Every source of the world has a stream of its own, so *source i from B* is exact. Points are random: with some hundreds of normal numbers
//! a run, sequences of low discrepancy bring nothing. Intervals are bootstrapped over blocks of runs.

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
pub struct Pair {
    /// Alone.
    pub first: Index,
    /// With all that it acts together with.
    pub total: Index,
}

/// Sums over one block of runs, for one result and k inputs.
#[derive(Clone, Debug, PartialEq)]
pub struct Sums {
    count: f64,
    sum: f64,
    squares: f64,
    /// For each input: how many, Σ (f(B) − f(A_i))², Σ (f(A) − f(A_i))².
    inputs: Vec<[f64; 3]>,
}

impl Sums {
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
pub fn indices(blocks: &[Sums], seed: u64) -> Option<Vec<Pair>> {
    let empty = Sums::new(blocks.first()?.inputs.len());
    let all = |picked: &mut dyn Iterator<Item = &Sums>| {
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
            .map(|(input, [first, total])| Pair {
                first: index(input, 0, *first),
                total: index(input, 1, *total),
            })
            .collect(),
    )
}

/// What came of it, for each source in the order of [`Drawn::ALL`].
#[derive(Clone, Debug, PartialEq)]
pub struct Sensitivity {
    /// Runs with A; twelve times as many cycles were run.
    pub runs: u64,
    /// Of the first-layer error, over cycles that were accepted with A, with B and mixed; `None` where it does not vary.
    pub error: Option<Vec<Pair>>,
    /// Of being refused, as 1 or 0; `None` where all are, or none.
    pub refusal: Option<Vec<Pair>>,
    /// Standard deviation of the error, mm.
    pub sd: Option<f64>,
    /// Share of cycles refused.
    pub refused: f64,
    /// Whether all was done.
    pub complete: bool,
}

/// Cycles for each run: A, B, and one for each source.
pub const CYCLES: u64 = 2 + Drawn::ALL.len() as u64;

/// Both results of a block of runs.
struct Block {
    error: Sums,
    refusal: Sums,
}

/// Runs it on the current `rayon` pool; the same bits with any number of threads. `runs` is rounded up to whole blocks; `progress` is told of cycles.
pub fn sensitivity(bench: &Bench, runs: u64, stop: &AtomicBool, progress: &Progress<'_>) -> Sensitivity {
    let each = runs.div_ceil(BLOCKS as u64);
    let blocks: Vec<Option<Block>> = (0..BLOCKS as u64)
        .into_par_iter()
        .map(|block| {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            let block = if is_large(&bench.setup) {
                block_of::<ROOM>(bench, block * each, each)
            } else {
                block_of::<SMALL>(bench, block * each, each)
            };
            progress(each * CYCLES);
            Some(block)
        })
        .collect();
    let complete = blocks.iter().all(Option::is_some);
    let (error, refusal): (Vec<Sums>, Vec<Sums>) =
        blocks.into_iter().flatten().map(|block| (block.error, block.refusal)).unzip();
    let mut whole = [&error, &refusal].map(|blocks| {
        let mut sums = Sums::new(Drawn::ALL.len());
        blocks.iter().for_each(|block| sums.merge(block));
        sums
    });
    let [errors, refusals] = &mut whole;
    Sensitivity {
        runs: each * error.len() as u64,
        sd: errors.variance().map(libm::sqrt),
        refused: if refusals.count > 0.0 { refusals.sum / refusals.count } else { 0.0 },
        error: indices(&error, bench.seed),
        refusal: indices(&refusal, bench.seed),
        complete,
    }
}

fn block_of<const N: usize>(bench: &Bench, from: u64, runs: u64) -> Block {
    let mut cycle = Cycle::<N>::idle();
    let sums = || Sums::new(Drawn::ALL.len());
    let mut block = Block { error: sums(), refusal: sums() };
    let mut errors = [None; Drawn::ALL.len()];
    let mut refusals = [None; Drawn::ALL.len()];
    for run in from..from + runs {
        let mut one = |seed_of: &dyn Fn(Drawn) -> u64| one(&mut cycle, bench, run, seed_of);
        let other = bench.seed ^ OTHER;
        let (a, b) = (one(&|_| bench.seed), one(&|_| other));
        for ((drawn, error), refusal) in Drawn::ALL.iter().zip(&mut errors).zip(&mut refusals) {
            (*error, *refusal) = result(one(&|source| if source == *drawn { other } else { bench.seed }));
        }
        let ((error_a, refusal_a), (error_b, refusal_b)) = (result(a), result(b));
        block.error.add(error_a, error_b, &errors);
        block.refusal.add(refusal_a, refusal_b, &refusals);
    }
    block
}

/// The error, and whether it was refused.
fn result(error: Option<f64>) -> (Option<f64>, Option<f64>) {
    (error, Some(f64::from(u8::from(error.is_none()))))
}

/// One cycle; its error where it is accepted.
fn one<'b, const N: usize>(
    cycle: &mut Cycle<'b, N>,
    bench: &'b Bench,
    run: u64,
    seed_of: &dyn Fn(Drawn) -> u64,
) -> Option<f64> {
    let (mut streams, mut world) = Streams::begin(&bench.machine, &bench.faults, run, seed_of);
    // A checked setup always finds room.
    cycle.start(&bench.setup, bench.job).ok()?;
    to_its_end(cycle, &mut world, |world, request, _| streams.follow(world, request));
    judge(&world, cycle.outcome().as_ref()).error
}

#[cfg(test)]
mod tests;
