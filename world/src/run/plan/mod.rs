//! Which touching keeps a promise in the least time.
//!
//! Successive halving on common random draws, with growing runs: a coarse grid, then what cannot be told apart from the best and its
//! neighbours. Chances of one in a thousand are seldom seen in few runs, so ways are told apart by how far their errors reach at that
//! share, which follows from the moments unless the count says otherwise, and the moments are freed of what all ways share. The winner
//! is confirmed by a fresh campaign with draws that no choice has seen. All budgets are in runs, so that the answer does not depend on how fast the host is.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;

use super::cycle::Bench;
use crate::run::Progress;
use candidates::Allowed;
use search::Search;
use select::Wanted;

mod candidates;
mod improve;
mod search;
mod select;
mod shared;
mod way;

pub use candidates::{FEWEST_STUDIED, FEWEST_UNSTUDIED, SMALL_LIFT};
pub use improve::Improvement;
pub use way::Way;

/// A round of the search.
struct Round {
    /// Of each way.
    runs: u64,
    /// Ways that go on.
    kept: usize,
    /// Ways whose neighbours are tried beside.
    refined: usize,
}

const ROUNDS: [Round; 3] = [
    Round { runs: 256, kept: 64, refined: 16 },
    Round { runs: 1_024, kept: 40, refined: 8 },
    Round { runs: 4_096, kept: 12, refined: 0 },
];
/// Runs of each way in the last round, from which the winner is chosen.
const LAST: u64 = 32_768;
/// A short search has a quarter of the runs.
const PART: u64 = 4;
/// Winners that may fail their confirmation before the promise is given up.
const TRIES: u64 = 4;
/// What a stated bound may be wrong with, over all tries.
const DOUBT: f64 = 0.05;
/// How much less far the next winner must reach after one that failed.
const CLEARER: f64 = 0.995;
/// Standard deviations of the confirming count to be kept in hand.
const IN_HAND: f64 = 3.0;
/// Upper bound times runs where none is beyond: −ln(DOUBT / TRIES).
const NONE_BEYOND: f64 = 4.4;
/// Most runs of a confirmation with few touches; and how many touches those are.
const MOST_CONFIRMING: f64 = 1_000_000.0;
const FEW_TOUCHES: f64 = 21.0;
/// Runs that show how far beyond its risk a promise is that cannot be kept: where it is near, and where it is not.
const UNMET: [u64; 2] = [200_000, 20_000];
/// Times the risk.
const NEAR: f64 = 2.0;
/// Chances that differ less than this factor are as good where none suffices.
const AS_GOOD: f64 = 1.1;
/// Keeps the confirmations' draws apart: those of the search have chosen the winner.
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
    /// Runs of all of it, confirmations included.
    pub runs: u64,
    /// Where the promise cannot be kept: the quickest way as good as the nearest, with which a better part is tried.
    pub base: Option<Way>,
    /// Where the promise cannot be kept: what to improve, the smallest change first.
    pub improvements: Vec<Improvement>,
}

/// What a landing takes against how far the first layer may be off.
#[derive(Clone, Debug, PartialEq)]
pub struct Front {
    /// Tolerance of the first-layer error, mm.
    pub within: f64,
    /// Share of the first layers for which a way's reach holds no more.
    pub risk: f64,
    /// What a refused cycle costs beside its own time, s.
    pub refused_costs: f64,
    /// Ways that no other beats in both time and reach, the quickest first.
    pub ways: Vec<Way>,
    /// The file's own way.
    pub own: Way,
    /// Ways tried.
    pub tried: usize,
}

/// Plans on the current `rayon` pool; `None` once `stop` is set. `progress` is told how many runs have been done.
pub fn plan(asked: &Asked<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Option<Plan> {
    let search = Search::begun(asked, stop, progress)?;
    let found = search.found(true)?;
    let [wanted, stricter @ ..] = search.promises();
    let promise = search.confirmed(&found.last, wanted)?;
    let stricter: Option<Vec<Promise>> =
        stricter.into_iter().map(|wanted| search.confirmed(&found.last, wanted)).collect();
    let base = if promise.met { None } else { search.base(&found.ways) };
    let improvements = base.as_ref().map_or(Some(Vec::new()), |base| improve::all(&search, base))?;
    Some(Plan {
        asked: promise,
        stricter: stricter?,
        front: search.front(&found.ways),
        own: found.own,
        tried: found.tried,
        runs: search.done(),
        base,
        improvements,
    })
}

/// The front alone, nothing confirmed, on the current `rayon` pool; with a quarter of the runs. `None` once `stop` is set.
pub fn front(asked: &Asked<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Option<Front> {
    let search = Search::begun(asked, stop, progress)?;
    let Found { ways, own, tried, .. } = search.found(false)?;
    let Asked { within, risk, refused_costs, .. } = *asked;
    Some(Front { within, risk, refused_costs, ways: search.front(&ways), own, tried })
}

/// What a search has found.
struct Found {
    /// Ways of the last two rounds, each with the most runs it had.
    ways: Vec<Way>,
    /// Those of the last round.
    last: Vec<Way>,
    /// The file's own.
    own: Way,
    tried: usize,
}

impl Search<'_> {
    fn found(&self, whole: bool) -> Option<Found> {
        let part = if whole { 1 } else { PART };
        let own = &self.asked.bench.setup;
        let allowed = Allowed::new(own, &self.asked.bench.machine.noise);
        let mut seen = BTreeSet::new();
        let mut setups = allowed.grid(&mut seen);
        let mut tried = setups.len();
        let mut ways = Vec::new();
        for round in &ROUNDS {
            ways = self.all(&setups, round.runs / part)?;
            setups = self.kept(&ways, round.kept).into_iter().map(|way| way.setup.clone()).collect();
            if !setups.contains(own) {
                setups.push(own.clone());
            }
            let before = setups.len();
            for way in self.kept(&ways, round.refined) {
                allowed.near(&way.setup, &mut seen, &mut setups);
            }
            tried += setups.len() - before;
        }
        let last = self.all(&setups, LAST / part)?;
        let own = last.iter().find(|way| way.setup == *own)?.clone();
        ways.retain(|way| !setups.contains(&way.setup));
        ways.extend(last.iter().cloned());
        Some(Found { ways, last, own, tried })
    }

    /// The quickest way that a fresh campaign confirms, else the one that comes nearest.
    fn confirmed(&self, ways: &[Way], wanted: Wanted) -> Option<Promise> {
        let (within, risk) =
            (wanted.within, if wanted.tenth { self.asked.risk / 10.0 } else { self.asked.risk });
        let order = self.in_order(ways);
        let (mut nearest, mut number, mut limit): (Option<Promise>, u64, f64) = (None, 0, within);
        for way in &order {
            let Some(runs) = confirming(way.predicted(wanted), risk, way.touches) else { continue };
            if wanted.reach(way) > limit || number == TRIES {
                continue;
            }
            let promise = self.promise(way, wanted, risk, runs, number)?;
            if promise.met {
                return Some(promise);
            }
            if nearest.as_ref().is_none_or(|nearest| promise.upper < nearest.upper) {
                nearest = Some(promise);
            }
            (number, limit) = (number + 1, CLEARER * wanted.reach(way));
        }
        if nearest.is_some() {
            return nearest;
        }
        let way = order.into_iter().min_by(|a, b| wanted.reach(a).total_cmp(&wanted.reach(b)))?;
        let [near, far] = UNMET;
        let runs = if way.predicted(wanted) <= NEAR * risk { near } else { far };
        self.promise(way, wanted, risk, runs, number)
    }

    fn promise(&self, way: &Way, wanted: Wanted, risk: f64, runs: u64, number: u64) -> Option<Promise> {
        let within = wanted.within;
        let way = self.fresh(&self.bench(&way.setup), runs, within, FRESH.wrapping_add(number))?;
        let (lower, upper) = way.bounds(DOUBT / TRIES as f64);
        Some(Promise { within, risk, met: upper <= risk, way, lower, upper })
    }

    /// The quickest way that is about as good as the best.
    fn base(&self, ways: &[Way]) -> Option<Way> {
        let least = ways.iter().map(Way::chance).fold(f64::INFINITY, f64::min);
        let as_good = |way: &&Way| way.reach.is_finite() && way.chance() <= AS_GOOD * least;
        self.in_order(ways).into_iter().find(as_good).cloned()
    }
}

/// Runs that will most likely confirm a risk with such a chance; `None` where even the most that are made would leave it open.
fn confirming(chance: f64, risk: f64, touches: f64) -> Option<u64> {
    let least = (200.0 / risk).clamp(200_000.0, MOST_CONFIRMING);
    let most = (MOST_CONFIRMING * FEW_TOUCHES / touches.max(1.0)).clamp(least, MOST_CONFIRMING);
    let needs = |runs: f64| chance + IN_HAND * libm::sqrt(chance / runs) + NONE_BEYOND / runs;
    [least, 2.0 * least, 5.0 * least]
        .into_iter()
        .find(|runs| *runs <= most && needs(*runs) <= risk)
        .map(|runs| runs as u64)
}

#[cfg(test)]
mod tests;
