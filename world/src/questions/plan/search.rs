//! Running candidates on common draws, choosing among them, and confirming the choice on fresh draws.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use rayon::prelude::*;
use zdatum::Setup;

use super::candidates::candidates;
use super::question::PlanQuestion;
use super::way::Way;
use crate::Machine;
use crate::engine::{Bench, Campaign, Progress, Tally, campaign, run_block};

/// Runs between two looks at whether to stop.
const BLOCK: u64 = 2_048;
/// A way is worth a confirmation if the chance it seems to take is at most this part of the risk.
pub(super) const WORTH_CONFIRMING: f64 = 0.75;
/// Confirmations that may fail before a promise is given up.
const MOST_TRIES: u64 = 4;
/// After a way that failed, the next must reach at most this part as far.
const NEXT_REACH: f64 = 0.995;
/// Probability that a stated bound is wrong, over all tries.
pub(super) const ALPHA: f64 = 0.05;
/// A confirmation is so long that a way at exactly the risk has about this many first layers beyond the
/// tolerance, but has no fewer and no more runs than these.
const EXPECTED_BEYOND: f64 = 300.0;
const CONFIRMATION_RUNS: (f64, f64) = (200_000.0, 1_000_000.0);
/// Runs of a confirmation where the round already shows more than twice the risk: enough to say by how much.
const MISSED_RUNS: u64 = 20_000;
/// Where no way suffices, chances that differ by less than this factor count as equal.
const AS_GOOD: f64 = 1.1;
/// Each way of the front reaches less far than the one before by at least this part: the tail's shape is
/// known no better.
const FRONT_STEP: f64 = 0.002;
/// Keeps the confirmations' draws apart: those of the round have chosen the winner.
const FRESH: u64 = 0x05EE_D0FA_F2E5;

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
    /// Lower bound of its chance to be beyond, at 95 % over all tries.
    pub lower: f64,
    /// Upper bound of it, at 95 % over all tries.
    pub upper: f64,
}

/// What is searched, and all that its steps need.
pub(super) struct Search<'a> {
    pub(super) asked: &'a PlanQuestion<'a>,
    stop: &'a AtomicBool,
    progress: &'a Progress<'a>,
    done: AtomicU64,
}

impl<'a> Search<'a> {
    pub(super) fn new(asked: &'a PlanQuestion<'a>, stop: &'a AtomicBool, progress: &'a Progress<'a>) -> Self {
        Self { asked, stop, progress, done: AtomicU64::new(0) }
    }

    /// Every candidate on the same draws, a candidate to a thread, with so many runs for all of them; the
    /// file's own way first. `None` once stopped.
    pub(super) fn round(&self, runs: u64) -> Option<Vec<Way>> {
        let setups = candidates(&self.asked.bench.setup, &self.asked.bench.machine.noise);
        let each = runs / setups.len().max(1) as u64;
        setups.par_iter().map(|setup| self.one(setup, each)).collect()
    }

    fn one(&self, setup: &Setup, runs: u64) -> Option<Way> {
        let bench = self.bench(setup);
        let mut tally = Tally::new(self.asked.within);
        let mut from = 0;
        while from < runs {
            if self.stop.load(Ordering::Relaxed) {
                return None;
            }
            let to = (from + BLOCK).min(runs);
            // A checked setup always finds room.
            run_block(&bench, from..to, |ran| tally.add(ran)).ok()?;
            self.tell(to - from);
            from = to;
        }
        Some(Way::of(setup, &tally, self.asked))
    }

    /// The quickest way that a fresh campaign confirms, else the one that comes nearest.
    pub(super) fn confirmed(&self, ways: &[Way], within: f64, risk: f64) -> Option<Promise> {
        let (mut nearest, mut tries, mut limit): (Option<Promise>, u64, f64) = (None, 0, f64::INFINITY);
        for way in in_order(ways) {
            let reach = way.reach_at(risk);
            if way.chance_beyond(within) > WORTH_CONFIRMING * risk || reach > limit || tries == MOST_TRIES {
                continue;
            }
            let promise = self.promise(way, within, risk, tries)?;
            if promise.met {
                return Some(promise);
            }
            if nearest.as_ref().is_none_or(|nearest| promise.upper < nearest.upper) {
                nearest = Some(promise);
            }
            (tries, limit) = (tries + 1, NEXT_REACH * reach);
        }
        if nearest.is_some() {
            return nearest;
        }
        let way = in_order(ways).into_iter().min_by(|a, b| a.reach_at(risk).total_cmp(&b.reach_at(risk)))?;
        self.promise(way, within, risk, tries)
    }

    fn promise(&self, way: &Way, within: f64, risk: f64, number: u64) -> Option<Promise> {
        let runs = if way.chance_beyond(within) > 2.0 * risk { MISSED_RUNS } else { confirming(risk) };
        let way = self.fresh(&self.bench(&way.setup), runs, within, FRESH.wrapping_add(number))?;
        let (lower, upper) = way.bounds(ALPHA / MOST_TRIES as f64);
        Some(Promise { within, risk, met: upper <= risk, way, lower, upper })
    }

    /// A machine on the round's own draws; `None` once stopped.
    pub(super) fn counted(&self, bench: &Bench, runs: u64) -> Option<Way> {
        self.campaign(bench, runs, self.asked.within)
    }

    /// A machine on draws that no choice has seen.
    pub(super) fn fresh(&self, bench: &Bench, runs: u64, within: f64, apart: u64) -> Option<Way> {
        self.campaign(&Bench { seed: bench.seed ^ apart, ..bench.clone() }, runs, within)
    }

    fn campaign(&self, bench: &Bench, runs: u64, within: f64) -> Option<Way> {
        let tally = campaign(&Campaign { bench, first: 0, runs, within }, self.stop, &|done| self.tell(done));
        (tally.runs == runs).then(|| Way::of(&bench.setup, &tally, self.asked))
    }

    fn tell(&self, done: u64) {
        self.done.fetch_add(done, Ordering::Relaxed);
        (self.progress)(done);
    }

    /// Runs so far.
    pub(super) fn done(&self) -> u64 {
        self.done.load(Ordering::Relaxed)
    }

    /// The world keeps the file's truth: only what the carriage does follows the way.
    pub(super) fn bench(&self, setup: &Setup) -> Bench {
        let machine = Machine::new(setup, &self.asked.bench.machine.noise);
        Bench { setup: setup.clone(), machine, ..self.asked.bench.clone() }
    }
}

/// Runs of a confirmation.
pub(super) fn confirming(risk: f64) -> u64 {
    (EXPECTED_BEYOND / risk).clamp(CONFIRMATION_RUNS.0, CONFIRMATION_RUNS.1) as u64
}

/// The quickest first; of those as quick the one that reaches least far, then the one that was named first.
fn in_order(ways: &[Way]) -> Vec<&Way> {
    let mut order: Vec<&Way> = ways.iter().collect();
    order.sort_by(|a, b| a.seconds.total_cmp(&b.seconds).then(a.reach.total_cmp(&b.reach)));
    order
}

/// Ways that no other beats in both time and reach, the quickest first; each reaches clearly less far than
/// the one before.
pub(super) fn pareto(ways: &[Way]) -> Vec<Way> {
    let mut best = f64::INFINITY;
    let mut front = Vec::new();
    for way in in_order(ways) {
        if way.reach.is_finite() && way.reach < best * (1.0 - FRONT_STEP) {
            best = way.reach;
            front.push(way.clone());
        }
    }
    front
}

/// The quickest way that is about as good as the best.
pub(super) fn base(ways: &[Way]) -> Option<Way> {
    let least = ways.iter().map(Way::chance).fold(f64::INFINITY, f64::min);
    let as_good = |way: &&Way| way.reach.is_finite() && way.chance() <= AS_GOOD * least;
    in_order(ways).into_iter().find(as_good).cloned()
}

#[cfg(test)]
mod tests;
