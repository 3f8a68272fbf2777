//! The ways people set this height, side by side, on the same draws.

mod methods;
mod situations;
mod trial;

use std::sync::atomic::{AtomicBool, Ordering};

use crate::engine::{Bench, Figures, Progress};

pub use methods::{FEEL, Method, with_touches};
pub use situations::{Situation, Sizes};
pub use trial::Trial;

/// All methods in all situations.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Runs asked for in each cell.
    pub runs: u64,
    /// Tolerance of the first-layer error, mm.
    pub within: f64,
    /// How large the changes are.
    pub sizes: Sizes,
    /// Feel of a gauge or a sheet of paper: one standard deviation of what is set by hand, mm.
    pub feel: f64,
    /// A row for each method that this machine allows, in the order of [`Method::ALL`].
    pub rows: Vec<MethodRow>,
    /// Methods that this machine does not allow, and why.
    pub left_out: Vec<LeftOut>,
}

/// One method in all situations.
#[derive(Clone, Debug, PartialEq)]
pub struct MethodRow {
    /// The method.
    pub method: Method,
    /// A cell for each situation, in the order of [`Situation::ALL`]; fewer where it was interrupted.
    pub cells: Vec<MethodCell>,
}

/// One method in one situation.
#[derive(Clone, Debug, PartialEq)]
pub struct MethodCell {
    /// The situation.
    pub situation: Situation,
    /// What came of it.
    pub figures: Figures,
    /// Whether it holds there.
    pub grade: Grade,
}

/// Whether a method holds in a situation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grade {
    /// At most [`HOLDS`] of the accepted first layers are beyond the tolerance.
    Holds,
    /// At most [`RISKY`] are.
    Risky,
    /// More are.
    Fails,
    /// More than [`REFUSES`] of the cycles are refused.
    Refuses,
}

/// Largest share of first layers beyond the tolerance with which a method is said to hold.
pub const HOLDS: f64 = 0.01;
/// Largest share with which it is said to be risky; beyond, it fails.
pub const RISKY: f64 = 0.10;
/// Largest share of refused cycles with which a method is judged by its errors.
pub const REFUSES: f64 = 0.10;

/// A method that a machine does not allow.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// The method.
    pub method: Method,
    /// Why.
    pub why: String,
}

impl Grade {
    /// Judges figures by the stated thresholds.
    pub fn of(figures: &Figures) -> Self {
        let Some(outside) = figures.outside else { return Self::Refuses };
        if figures.refused.value > REFUSES {
            Self::Refuses
        } else if outside.value <= HOLDS {
            Self::Holds
        } else if outside.value <= RISKY {
            Self::Risky
        } else {
            Self::Fails
        }
    }

    /// `holds`, `risky`, `fails` or `refuses`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::Risky => "risky",
            Self::Fails => "fails",
            Self::Refuses => "refuses",
        }
    }
}

impl MethodRow {
    /// Whether the method holds in every situation.
    pub fn holds_throughout(&self) -> bool {
        self.cells.len() == Situation::ALL.len() && self.cells.iter().all(|cell| cell.grade == Grade::Holds)
    }
}

impl Comparison {
    /// Whether every cell was run to its end.
    pub fn complete(&self) -> bool {
        // A method that was not begun stands in neither list.
        let all_begun = self.rows.len() + self.left_out.len() == Method::ALL.len();
        all_begun
            && self.rows.iter().all(|row| {
                row.cells.len() == Situation::ALL.len()
                    && row.cells.iter().all(|cell| cell.figures.runs == self.runs)
            })
    }
}

/// Runs every method in every situation on the current `rayon` pool; the same bits with any number of
/// threads. `progress` is told how many runs have been done since its last call. Once `stop` is set no new
/// block begins.
pub fn compare(
    bench: &Bench,
    runs: u64,
    within: f64,
    stop: &AtomicBool,
    progress: &Progress<'_>,
) -> Comparison {
    let sizes = Sizes::of(&bench.setup, &bench.machine.noise);
    let (mut rows, mut left_out) = (Vec::new(), Vec::new());
    for method in Method::ALL {
        let mut cells = Vec::new();
        for situation in Situation::ALL {
            let trial = match Trial::new(bench, method, situation, sizes) {
                Ok(trial) => trial,
                Err(why) => {
                    left_out.push(LeftOut { method, why });
                    break;
                }
            };
            if stop.load(Ordering::Relaxed) {
                break;
            }
            let tally = trial.tally(runs, within, stop, progress);
            if let Some(figures) = Figures::of(&tally, method.states_u()) {
                cells.push(MethodCell { situation, grade: Grade::of(&figures), figures });
            }
        }
        if !cells.is_empty() {
            rows.push(MethodRow { method, cells });
        }
    }
    Comparison { runs, within, sizes, feel: FEEL, rows, left_out }
}

#[cfg(test)]
mod tests;
