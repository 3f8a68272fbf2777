//! Which way of touching keeps a promise in the least time.
//!
//! One round over all candidates on common random draws, then a confirmation of the quickest that seems to
//! keep the promise, by a fresh campaign with draws that no choice has seen. Few runs show few chances of one
//! in a thousand, so candidates are told apart by how far their errors reach at that share, which follows
//! from the moments unless the count says otherwise. All budgets are in runs, so that the answer does not
//! depend on how fast the host is.

use std::sync::atomic::AtomicBool;

use crate::engine::Progress;
use search::Search;

mod candidates;
mod improve;
mod question;
mod search;
mod way;

pub use candidates::{FEWEST_STUDIED, FEWEST_UNSTUDIED, SMALL_LIFT};
pub use improve::Improvement;
pub use question::{PlanQuestion, REFUSED_COSTS, RISK};
pub use search::Promise;
pub use way::Way;

/// Runs of the round, over all candidates together; a front alone takes a quarter.
const ROUND: u64 = 1_200_000;
const SHORT_ROUND: u64 = ROUND / 4;

/// The plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What was asked for.
    pub asked: Promise,
    /// What it costs to be stricter: a tenth of the risk, half the tolerance, both.
    pub stricter: Vec<Promise>,
    /// The Pareto front of time and error, and the file's own way.
    pub front: Front,
    /// Runs of all of it, confirmations included.
    pub runs: u64,
    /// Where the promise cannot be kept: the quickest way about as good as the nearest, with which a better
    /// part is tried.
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
    /// The Pareto front: ways that no other beats in both time and reach, the quickest first.
    pub ways: Vec<Way>,
    /// The file's own way.
    pub own: Way,
    /// Ways tried.
    pub tried: usize,
}

/// Plans on the current `rayon` pool; `None` once `stop` is set. `progress` is told how many runs have been
/// done.
pub fn plan(asked: &PlanQuestion<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Option<Plan> {
    let search = Search::new(asked, stop, progress);
    let ways = search.round(ROUND)?;
    let (within, risk) = (asked.within, asked.risk);
    let promise = search.confirmed(&ways, within, risk)?;
    let stricter = [(within, risk / 10.0), (within / 2.0, risk), (within / 2.0, risk / 10.0)]
        .into_iter()
        .map(|(within, risk)| search.confirmed(&ways, within, risk))
        .collect::<Option<Vec<Promise>>>()?;
    let base = if promise.met { None } else { search::base(&ways) };
    let improvements = match &base {
        Some(base) => improve::all(&search, base)?,
        None => Vec::new(),
    };
    let front = front_of(asked, &ways)?;
    Some(Plan { asked: promise, stricter, front, runs: search.done(), base, improvements })
}

/// The front alone, nothing confirmed, on the current `rayon` pool; with a quarter of the runs. `None` once
/// `stop` is set.
pub fn front(asked: &PlanQuestion<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Option<Front> {
    front_of(asked, &Search::new(asked, stop, progress).round(SHORT_ROUND)?)
}

fn front_of(asked: &PlanQuestion<'_>, ways: &[Way]) -> Option<Front> {
    let PlanQuestion { within, risk, refused_costs, .. } = *asked;
    // The file's own is the first candidate.
    let own = ways.first()?.clone();
    Some(Front { within, risk, refused_costs, ways: search::pareto(ways), own, tried: ways.len() })
}

#[cfg(test)]
mod tests;
