//! How often an accepted landing lets the nozzle scrape, where counting cycles would take years: importance
//! sampling through the real cycle.
//!
//! Nine runs of ten have the draws that make the error moved along the linear model's shortest way to the
//! event, one of ten has them as they are. A run counts with the nominal density over that of the mixture
//! (the balance heuristic; Veach, Guibas, SIGGRAPH 1995; Owen, Zhou, J. Amer. Statist. Assoc. 95, 2000),
//! which is never above 10: whatever the linear model has wrong makes the interval wider, not the estimate
//! wrong.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::iter::{IntoParallelIterator, ParallelIterator};
use zdatum::cycle::Cycle;

use crate::distributions::{normal, share_limits, unseen};
use crate::engine::cycle::{ROOM, SMALL, is_large, judge, to_its_end};
use crate::engine::{Bench, Campaign, Estimate, Progress, Ran, campaign};
use crate::{Tilt, World};

/// Of so many runs, one is drawn as it is.
const ONE_IN: u64 = 10;
/// Runs handed out at a time, a multiple of [`ONE_IN`].
const BLOCK: u64 = 2_000;
/// Runs that tell where the errors lie.
const PILOT: u64 = 20_000;
/// At least so many.
const LEAST_PILOT: u64 = 2_000;
/// Keeps the pilot's draws apart.
const PILOT_SEED: u64 = 0x3C6E_F372_FE94_F82B;
/// Keeps the counted cycles' draws apart.
const CHECK_SEED: u64 = 0xA54F_F53A_5F1D_36F1;
/// Fewer scraping runs than this, weighed, tell nothing that can be relied on.
pub const LEAST_EFFECTIVE: f64 = 100.0;
/// Two-sided 95 % of the normal.
const K: f64 = 1.959_963_984_540_054;

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct ScrapeQuestion<'a> {
    /// The machine.
    pub bench: &'a Bench,
    /// The nozzle scrapes where it lands so much too low, mm.
    pub gap: f64,
    /// Runs; rounded up to a multiple of ten.
    pub runs: u64,
    /// Cycles to count as they come beside it, 0 for none.
    pub check: u64,
}

/// The chance that a cycle is accepted and its nozzle scrapes.
#[derive(Clone, Debug, PartialEq)]
pub struct Scrape {
    /// The nozzle scrapes where it lands so much too low, mm.
    pub gap: f64,
    /// Runs done.
    pub runs: u64,
    /// The chance, with its standard error.
    pub p: Estimate,
    /// Its 95 % interval: p·exp(±1.96·se/p), or from 0 to what none among the runs drawn as they are
    /// excludes. `None` where no run was done.
    pub interval: Option<(f64, f64)>,
    /// Runs that scraped.
    pub scraped: u64,
    /// How many equally weighed ones they are worth, (Σw)²/Σw².
    pub effective: f64,
    /// Share of cycles accepted, as they come.
    pub accepted: f64,
    /// Mean of the error as it comes, mm; `None` with fewer than two accepted.
    pub mean: Option<Estimate>,
    /// Its standard deviation, mm.
    pub sd: Option<Estimate>,
    /// The chance if errors were normal with that mean and standard deviation, and all accepted.
    pub normal: Option<f64>,
    /// Standard deviation of the linear model, mm; `None` where nothing moves the error.
    pub linear_sd: Option<f64>,
    /// What counting cycles as they come gave.
    pub counted: Option<CountedScrapes>,
    /// Whether everything asked for was done.
    pub complete: bool,
}

/// Cycles counted as they come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CountedScrapes {
    /// Cycles.
    pub runs: u64,
    /// Those that scraped.
    pub scraped: u64,
    /// Clopper–Pearson's 95 % interval (Biometrika 26, 1934).
    pub interval: (f64, f64),
}

impl Scrape {
    /// Whether enough scraping runs were seen for the interval to hold what it says.
    pub fn tells(&self) -> bool {
        self.effective >= LEAST_EFFECTIVE
    }

    /// Whether counting cycles, where it was done, gave an interval that meets this one.
    pub fn agrees(&self) -> bool {
        self.counted.zip(self.interval).is_none_or(|(counted, interval)| counted.agrees(interval))
    }
}

impl CountedScrapes {
    fn of(scraped: u64, runs: u64) -> Self {
        Self { runs, scraped, interval: share_limits(scraped, runs, 0.025) }
    }

    /// Whether the other interval and this one have a point in common.
    pub fn agrees(&self, (low, high): (f64, f64)) -> bool {
        self.interval.0 <= high && low <= self.interval.1
    }
}

/// Sums of one stratum in one block: the runs, those that scraped, Σw, Σw².
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    runs: u64,
    scraped: u64,
    weights: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, weight: Option<f64>) {
        self.runs += 1;
        if let Some(weight) = weight {
            self.scraped += 1;
            self.weights += weight;
            self.squares += weight * weight;
        }
    }

    fn merge(&mut self, other: &Self) {
        self.runs += other.runs;
        self.scraped += other.scraped;
        self.weights += other.weights;
        self.squares += other.squares;
    }

    /// n·s², the part of the whole sum's variance.
    fn variance(&self) -> f64 {
        let n = self.runs as f64;
        if self.runs < 2 {
            return 0.0;
        }
        (self.squares - self.weights * self.weights / n).max(0.0) * n / (n - 1.0)
    }
}

/// Runs it on the current `rayon` pool; the same bits with any number of threads. `progress` and `stop` as
/// for [`campaign`](crate::engine::campaign()).
pub fn scrape(what: &ScrapeQuestion<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Scrape {
    let bench = what.bench;
    let counting = |seed: u64, runs: u64| {
        let bench = Bench { seed: bench.seed ^ seed, ..bench.clone() };
        let what = Campaign { bench: &bench, first: 0, runs, within: what.gap };
        campaign(&what, stop, progress)
    };
    let pilot = counting(PILOT_SEED, what.runs.clamp(LEAST_PILOT, PILOT));
    let (mean, sd) = (pilot.mean().filter(|_| pilot.accepted >= 2), pilot.sd());
    let touch = &bench.setup.draft().touch;
    let distance = -what.gap - mean.map_or(0.0, |mean| mean.value);
    let toward = Tilt::toward(&bench.machine, touch.least, touch.settle, distance);
    let tilt = toward.map_or_else(Tilt::default, |(tilt, _)| tilt);

    let runs = what.runs.div_ceil(ONE_IN) * ONE_IN;
    let blocks: Vec<Option<[Sums; 2]>> = (0..runs.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            let range = block * BLOCK..(block * BLOCK + BLOCK).min(runs);
            let count = range.end - range.start;
            let sums = sums(bench, what.gap, tilt, range);
            progress(count);
            Some(sums)
        })
        .collect();
    // In the order of the blocks, so that the threads cannot show.
    let [plain, moved] = blocks.iter().flatten().fold([Sums::default(); 2], |mut all, block| {
        all.iter_mut().zip(block).for_each(|(mine, theirs)| mine.merge(theirs));
        all
    });
    let counted = (what.check > 0 && !stop.load(Ordering::Relaxed)).then(|| {
        let tally = counting(CHECK_SEED, what.check);
        (tally.runs > 0).then(|| CountedScrapes::of(tally.errors.below(-what.gap), tally.runs))
    });
    let of_normal = |mean: Estimate, sd: Estimate| normal((-what.gap - mean.value) / sd.value).0;
    let mut found = estimate(plain, moved);
    found.gap = what.gap;
    found.accepted = pilot.accepted as f64 / pilot.runs.max(1) as f64;
    found.normal = mean.zip(sd).filter(|(_, sd)| sd.value > 0.0).map(|(mean, sd)| of_normal(mean, sd));
    (found.mean, found.sd) = (mean, sd);
    found.linear_sd = toward.map(|(_, sd)| sd);
    found.counted = counted.flatten();
    found.complete = !stop.load(Ordering::Relaxed);
    found
}

/// Standard deviations from the mean at which the curve begins and ends.
const CURVE: (f64, f64) = (2.5, 7.0);
/// Points of the curve.
const POINTS: u32 = 10;

/// The chance over a range of gaps, from what happens now and then to what never will; empty where nothing
/// moves the error.
pub fn curve(what: &ScrapeQuestion<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Vec<Scrape> {
    let first = scrape(&ScrapeQuestion { runs: 1_000, check: 0, ..*what }, stop, progress);
    let Some((mean, sd)) = first.mean.zip(first.sd) else { return Vec::new() };
    let gaps = (0..POINTS).map(|at| {
        let sigmas = CURVE.0 + (CURVE.1 - CURVE.0) * f64::from(at) / f64::from(POINTS - 1);
        // Whole tenths of a micrometre.
        libm::round((sigmas * sd.value - mean.value) * 1e4) / 1e4
    });
    let some = gaps.filter(|gap| *gap > 0.0).take_while(|_| !stop.load(Ordering::Relaxed));
    some.map(|gap| scrape(&ScrapeQuestion { gap, check: 0, ..*what }, stop, progress))
        .filter(|found| found.runs > 0)
        .collect()
}

fn estimate(plain: Sums, moved: Sums) -> Scrape {
    let n = (plain.runs + moved.runs) as f64;
    let mut both = plain;
    both.merge(&moved);
    let (value, error) = match both.runs {
        0 => (0.0, 0.0),
        _ => (both.weights / n, libm::sqrt(plain.variance() + moved.variance()) / n),
    };
    let none = unseen(plain.runs.max(1));
    let interval = (both.runs > 0).then(|| {
        if both.scraped == 0 {
            return (0.0, none);
        }
        let factor = libm::exp(K * error / value);
        (value / factor, (value * factor).min(1.0))
    });
    Scrape {
        gap: 0.0,
        runs: both.runs,
        p: Estimate { value, error },
        interval,
        scraped: both.scraped,
        effective: if both.squares > 0.0 { both.weights * both.weights / both.squares } else { 0.0 },
        accepted: 0.0,
        mean: None,
        sd: None,
        normal: None,
        linear_sd: None,
        counted: None,
        complete: true,
    }
}

/// The strata's sums of a block: as they come, moved.
fn sums(bench: &Bench, gap: f64, tilt: Tilt, runs: Range<u64>) -> [Sums; 2] {
    if is_large(&bench.setup) {
        sums_in(&mut Cycle::<ROOM>::idle(), bench, gap, tilt, runs)
    } else {
        sums_in(&mut Cycle::<SMALL>::idle(), bench, gap, tilt, runs)
    }
}

fn sums_in<'b, const N: usize>(
    cycle: &mut Cycle<'b, N>,
    bench: &'b Bench,
    gap: f64,
    tilt: Tilt,
    runs: Range<u64>,
) -> [Sums; 2] {
    let share = 1.0 / ONE_IN as f64;
    let [mut plain, mut moved] = [Sums::default(); 2];
    for run in runs {
        let is_moved = !run.is_multiple_of(ONE_IN);
        let mut world = World::tilted(&bench.machine, &bench.faults, bench.seed, run, tilt, is_moved);
        // A checked setup always finds room.
        if cycle.start(&bench.setup, bench.job).is_err() {
            continue;
        }
        to_its_end(cycle, &mut world, |_, _, _| {});
        let ran: Ran = judge(&world, cycle.outcome().as_ref());
        let scrapes = ran.error.is_some_and(|error| error < -gap);
        let weight = scrapes.then(|| 1.0 / (share + (1.0 - share) * libm::exp(world.log_ratio())));
        if is_moved { moved.add(weight) } else { plain.add(weight) }
    }
    [plain, moved]
}

#[cfg(test)]
mod tests;
