//! Which touching keeps a promise in the least time.
//!
//! Successive halving on common random draws: a coarse grid with few runs, what is good and its neighbours with more, the
//! best with many. The winner is confirmed by a fresh campaign with draws that no choice has seen. All budgets are in runs,
//! so that the answer does not depend on how fast the host is.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;
use statrs::distribution::{Beta, ContinuousCDF, Normal};

use super::campaign::{Campaign, campaign};
use super::cycle::{Bench, run_block};
use super::tally::Tally;
use crate::Machine;
use crate::run::Progress;
use candidates::{Allowed, Candidate};

mod candidates;
mod improve;

pub use improve::Improvement;

/// Runs of each candidate in the three rounds.
const ROUNDS: [u64; 3] = [256, 2_048, 32_768];
/// Best of each promise kept after the first round, and after the second.
const KEPT: [usize; 2] = [40, 6];
/// Whose neighbours are tried.
const REFINED: usize = 8;
/// Winners that may fail their confirmation before the promise is given up.
const TRIES: u32 = 4;
/// What a stated bound may be wrong with, over all tries.
const DOUBT: f64 = 0.05;
/// Runs beyond the tolerance from which they are counted; with fewer, the normal tail of mean and deviation serves.
const COUNTED: u64 = 12;
/// Apart from the search: its draws have chosen the winner.
const FRESH: u64 = 0x05EE_D0FA_F2E5;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// Names of growing parts, in the setup's order.
    pub growth_names: &'a [String],
    /// The machine in the world.
    pub bench: &'a Bench,
    /// Tolerance of the first-layer error, mm.
    pub within: f64,
    /// Largest chance that an accepted first layer is beyond it.
    pub risk: f64,
    /// What a refused cycle costs beside its own time, s.
    pub refused_costs: f64,
}

/// What a way to touch comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Its setup.
    pub setup: zdatum::Setup,
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
    mean: f64,
    sd: f64,
}

/// A promise, and what keeps it.
#[derive(Clone, Debug, PartialEq)]
pub struct Promise {
    /// Tolerance, mm.
    pub within: f64,
    /// Largest chance to be beyond it.
    pub risk: f64,
    /// Whether a fresh campaign confirmed it.
    pub met: bool,
    /// The way that keeps it, else the one that comes nearest; figures of its fresh campaign.
    pub way: Way,
    /// Upper bound of its chance to be beyond, at 95 % over all tries.
    pub upper: f64,
}

/// The plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What was asked for.
    pub asked: Promise,
    /// What it costs to be stricter.
    pub stricter: Vec<Promise>,
    /// The file's own way, on the search's draws.
    pub own: Way,
    /// Ways that no other beats in both time and error, the quickest first.
    pub front: Vec<Way>,
    /// Ways tried.
    pub tried: usize,
    /// Runs of the whole search.
    pub runs: u64,
    /// Where the promise cannot be kept: what to improve, the smallest change first.
    pub improvements: Vec<Improvement>,
}

impl Way {
    fn of(setup: &zdatum::Setup, tally: &Tally, refused_costs: f64) -> Self {
        let accepted = tally.accepted;
        let (mean, sd) = match (tally.mean(), tally.sd()) {
            (Some(mean), Some(sd)) => (mean.value, sd.value),
            _ => (f64::INFINITY, f64::INFINITY),
        };
        let all = tally.seconds().map_or(0.0, |seconds| seconds.value * tally.runs as f64);
        let refused = (tally.runs - accepted) as f64 * refused_costs;
        let seconds = if accepted > 0 { (all + refused) / accepted as f64 } else { f64::INFINITY };
        let outside = tally.p_outside().map_or(accepted, |p| libm::round(p.value * accepted as f64) as u64);
        let rms = libm::hypot(mean, sd);
        Self { setup: setup.clone(), runs: tally.runs, accepted, outside, seconds, rms, mean, sd }
    }

    /// Chance that an accepted first layer is beyond a tolerance, from what was counted at the asked one or from mean and
    /// deviation.
    pub fn chance(&self, within: f64, counted_at: f64) -> f64 {
        if within == counted_at && self.outside >= COUNTED {
            return self.outside as f64 / self.accepted as f64;
        }
        let Ok(normal) = Normal::new(0.0, 1.0) else { return 1.0 };
        if !self.sd.is_finite() {
            return 1.0;
        }
        let at = |x: f64| if self.sd > 0.0 { x / self.sd } else { f64::INFINITY * x.signum() };
        normal.cdf(at(-within - self.mean)) + normal.cdf(at(self.mean - within))
    }

    /// Upper bound of that chance (Clopper and Pearson, 1934): the share at which so few would be seen with this doubt.
    pub fn upper(&self, doubt: f64) -> f64 {
        upper(self.outside, self.accepted, doubt)
    }
}

/// One-sided Clopper–Pearson: the quantile of Beta(k + 1, n − k).
fn upper(part: u64, whole: u64, doubt: f64) -> f64 {
    if part >= whole {
        return 1.0;
    }
    Beta::new(part as f64 + 1.0, (whole - part) as f64).map_or(1.0, |beta| beta.inverse_cdf(1.0 - doubt))
}

/// Plans on the current `rayon` pool; `None` once `stop` is set. `progress` is told how many runs have been done.
pub fn plan(asked: &Asked<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Option<Plan> {
    let search = Search { asked, stop, progress };
    let allowed = Allowed::new(&asked.bench.setup, &asked.bench.machine.noise);
    let [few, more, many] = ROUNDS;
    let [broad, narrow] = KEPT;
    let grid = allowed.grid();
    let first = search.all(&grid, few)?;
    let mut kept: Vec<Candidate> = search.best(&first, broad).into_iter().map(Candidate::of).collect();
    let centres: Vec<Candidate> = search.best(&first, REFINED).into_iter().map(Candidate::of).collect();
    let before = kept.len();
    centres.iter().for_each(|candidate| allowed.near(candidate, &mut kept));
    let tried = grid.len() + kept.len() - before;
    let second = search.all(&kept, more)?;
    let mut last: Vec<Candidate> = search.best(&second, narrow).into_iter().map(Candidate::of).collect();
    let own = Candidate { setup: asked.bench.setup.clone() };
    if !last.contains(&own) {
        last.push(own.clone());
    }
    let ways = search.all(&last, many)?;
    let runs = grid.len() as u64 * few + kept.len() as u64 * more + last.len() as u64 * many;
    let own = ways.iter().find(|way| way.setup == own.setup)?.clone();

    let promise = search.confirmed(&ways, asked.within, asked.risk)?;
    let [_, stricter @ ..] = search.promises();
    let stricter: Option<Vec<Promise>> =
        stricter.into_iter().map(|(within, risk)| search.confirmed(&ways, within, risk)).collect();
    let improvements = if promise.met { Vec::new() } else { improve::all(&search, &promise.way)? };
    Some(Plan { asked: promise, stricter: stricter?, own, front: front(&ways), tried, runs, improvements })
}

/// The search, and all that its steps need.
struct Search<'a> {
    asked: &'a Asked<'a>,
    stop: &'a AtomicBool,
    progress: &'a Progress<'a>,
}

impl Search<'_> {
    /// What is asked for, then what is stricter.
    fn promises(&self) -> [(f64, f64); 4] {
        let (within, risk) = (self.asked.within, self.asked.risk);
        [(within, risk), (within, risk / 10.0), (within / 2.0, risk), (within / 2.0, risk / 10.0)]
    }

    /// Every candidate on the same draws, a candidate to a thread.
    fn all(&self, candidates: &[Candidate], runs: u64) -> Option<Vec<Way>> {
        candidates
            .par_iter()
            .map(|candidate| {
                let bench = self.bench(candidate.setup.clone());
                let mut tally = Tally::new(self.asked.within);
                run_block(&bench, 0..runs, |ran| tally.add(ran)).ok()?;
                (self.progress)(runs);
                let way = Way::of(&candidate.setup, &tally, self.asked.refused_costs);
                (!self.stop.load(Ordering::Relaxed)).then_some(way)
            })
            .collect()
    }

    fn bench(&self, setup: zdatum::Setup) -> Bench {
        // The world keeps the file's truth: only what the carriage does follows the candidate.
        let machine = Machine::new(&setup, &self.asked.bench.machine.noise);
        Bench { setup, machine, ..self.asked.bench.clone() }
    }

    /// The quickest that seem to keep each promise, those nearest to it where few do, and the front.
    fn best<'w>(&self, ways: &'w [Way], count: usize) -> Vec<&'w Way> {
        let mut chosen = BTreeSet::new();
        for (within, risk) in self.promises() {
            let mut order: Vec<(usize, f64)> =
                ways.iter().map(|way| self.chance(way, within)).enumerate().collect();
            order.sort_by(|a, b| {
                let keeps = |p: f64| p > risk;
                let (x, y) = (&ways[a.0], &ways[b.0]);
                let later = if keeps(a.1) { a.1.total_cmp(&b.1) } else { x.seconds.total_cmp(&y.seconds) };
                keeps(a.1).cmp(&keeps(b.1)).then(later).then(a.0.cmp(&b.0))
            });
            chosen.extend(order.iter().take(count).map(|(index, _)| *index));
        }
        let front = front_of(ways);
        chosen.extend(front.into_iter().take(count));
        chosen.into_iter().filter_map(|index| ways.get(index)).collect()
    }

    fn chance(&self, way: &Way, within: f64) -> f64 {
        way.chance(within, self.asked.within)
    }

    /// The quickest way that a fresh campaign confirms, else the one that comes nearest.
    fn confirmed(&self, ways: &[Way], within: f64, risk: f64) -> Option<Promise> {
        let mut order: Vec<&Way> = ways.iter().filter(|way| self.chance(way, within) <= risk).collect();
        order.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
        order.truncate(TRIES as usize);
        if order.is_empty() {
            let nearest = |a: &&Way, b: &&Way| self.chance(a, within).total_cmp(&self.chance(b, within));
            order.extend(ways.iter().min_by(nearest));
        }
        let mut nearest: Option<Promise> = None;
        for (number, way) in order.into_iter().enumerate() {
            let way = self.fresh(&self.bench(way.setup.clone()), within, risk, number as u64)?;
            let upper = way.upper(DOUBT / f64::from(TRIES));
            let promise = Promise { within, risk, met: upper <= risk, way, upper };
            if promise.met {
                return Some(promise);
            }
            if nearest.as_ref().is_none_or(|nearest| promise.upper < nearest.upper) {
                nearest = Some(promise);
            }
        }
        nearest
    }

    /// Many runs on the search's own draws; `None` once stopped.
    fn counted(&self, bench: &Bench, runs: u64) -> Option<Way> {
        let what = Campaign { bench, first: 0, runs, within: self.asked.within };
        let tally = campaign(&what, self.stop, self.progress);
        (tally.runs == runs).then(|| Way::of(&bench.setup, &tally, self.asked.refused_costs))
    }

    /// A campaign on draws of its own; `None` once stopped.
    fn fresh(&self, bench: &Bench, within: f64, risk: f64, number: u64) -> Option<Way> {
        let runs = confirming(risk);
        let bench = Bench { seed: bench.seed ^ FRESH.wrapping_add(number), ..bench.clone() };
        let what = Campaign { bench: &bench, first: 0, runs, within };
        let tally = campaign(&what, self.stop, self.progress);
        (tally.runs == runs).then(|| Way::of(&bench.setup, &tally, self.asked.refused_costs))
    }
}

/// Runs that can tell whether a risk is kept: none beyond shows less than 4.4 over their number.
pub fn confirming(risk: f64) -> u64 {
    (200.0 / risk).clamp(200_000.0, 1_000_000.0) as u64
}

impl Candidate {
    fn of(way: &Way) -> Self {
        Self { setup: way.setup.clone() }
    }
}

/// Ways that no other beats in both time and error, the quickest first.
fn front_of(ways: &[Way]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..ways.len()).filter(|index| ways[*index].seconds.is_finite()).collect();
    order.sort_by(|a, b| {
        let (a, b) = (&ways[*a], &ways[*b]);
        a.seconds.total_cmp(&b.seconds).then(a.rms.total_cmp(&b.rms))
    });
    let mut best = f64::INFINITY;
    order.retain(|index| {
        let better = ways[*index].rms < best;
        best = best.min(ways[*index].rms);
        better
    });
    order
}

fn front(ways: &[Way]) -> Vec<Way> {
    front_of(ways).into_iter().filter_map(|index| ways.get(index).cloned()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Clopper and Pearson: none of n has the upper bound 1 − α^(1/n); 1 of 10 at 5 % one-sided 0.39416 (closed form: the
    /// root of (1 − p)^10 + 10 p (1 − p)^9 = 0.05).
    #[test]
    fn upper_bounds_are_those_of_the_binomial() {
        let none = upper(0, 1000, 0.05);
        assert!((none + libm::expm1(libm::log(0.05) / 1000.0)).abs() < 1e-9, "{none}");
        let p = upper(1, 10, 0.05);
        let tail = libm::pow(1.0 - p, 10.0) + 10.0 * p * libm::pow(1.0 - p, 9.0);
        assert!((tail - 0.05).abs() < 1e-6, "{p} {tail}");
        assert_eq!(upper(5, 5, 0.05), 1.0);
    }
}
