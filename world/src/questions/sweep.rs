//! One setting changed step by step: for charts.

use std::sync::atomic::{AtomicBool, Ordering};

use super::compare::with_touches;
use crate::Machine;
use crate::engine::{Bench, Figures, Progress};

/// Touches per station are swept up to here, or to as many as the machine file asks for.
const TOUCHES: u8 = 16;
/// What the switches' noise is multiplied with.
const MULTIPLES: [f64; 9] = [0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0];

/// What is changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Swept {
    /// Counted touches per station.
    Touches,
    /// The noise of all three switches, in multiples of the machine file's.
    Noise,
}

impl Swept {
    /// For programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Touches => "touches",
            Self::Noise => "noise",
        }
    }

    /// For people.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Touches => "Counted touches per station",
            Self::Noise => "Noise of all three switches",
        }
    }

    /// For the head of a column.
    pub const fn head(self) -> &'static str {
        match self {
            Self::Touches => "touches",
            Self::Noise => "noise",
        }
    }
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// What was changed.
    pub swept: Swept,
    /// Runs at each point.
    pub runs: u64,
    /// In rising order of `at`.
    pub points: Vec<SweepPoint>,
}

/// One point.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepPoint {
    /// Touches, or the multiple.
    pub at: f64,
    /// Whether this is the machine file's own setting.
    pub is_own: bool,
    /// What came of it.
    pub figures: Figures,
    /// The core's u: root of the mean u² over accepted cycles, mm; `None` where none was accepted.
    pub core_u: Option<f64>,
}

/// Sweeps one setting on the current `rayon` pool; every point on the same draws. All else stays as the
/// machine file says it: limits, study and spare touches. Settings that the machine does not allow are left
/// out. `progress` and `stop` as for [`campaign`](crate::engine::campaign()).
pub fn sweep(
    bench: &Bench,
    swept: Swept,
    runs: u64,
    within: f64,
    stop: &AtomicBool,
    progress: &Progress<'_>,
) -> Sweep {
    let own = &bench.setup.draft().touch;
    let ats: Vec<(f64, bool)> = match swept {
        Swept::Touches => (1..=TOUCHES.max(own.least)).map(|n| (f64::from(n), n == own.least)).collect(),
        Swept::Noise => MULTIPLES.iter().map(|at| (*at, *at == 1.0)).collect(),
    };
    let points = ats
        .into_iter()
        .take_while(|_| !stop.load(Ordering::Relaxed))
        .filter_map(|(at, is_own)| {
            let bench = at_setting(bench, swept, at)?;
            let (figures, core_u) = Figures::with_core_u(&bench, runs, within, stop, progress)?;
            Some(SweepPoint { at, is_own, figures, core_u })
        })
        .collect();
    Sweep { swept, runs, points }
}

/// The machine with one setting changed; `None` where it does not allow that.
fn at_setting(bench: &Bench, swept: Swept, at: f64) -> Option<Bench> {
    let mut bench = bench.clone();
    let mut noise = bench.machine.noise;
    match swept {
        Swept::Touches => {
            bench.setup = with_touches(&bench.setup, at as u8, bench.setup.draft().touch.centre).ok()?
        }
        Swept::Noise => {
            noise.tip_switch *= at;
            noise.shoulder_switch *= at;
            noise.plate_switch *= at;
        }
    }
    bench.machine = Machine::new(&bench.setup, &noise);
    Some(bench)
}

#[cfg(test)]
mod tests;
