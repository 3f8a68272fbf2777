//! How often the stated interval holds the true landing: over shapes of noise, numbers of touches, with and
//! without a study.
//!
//! Limits are opened wide and the band is eight times the scatter, so that no cycle is chosen for its luck;
//! all else is the machine file's. A study, where there is one, says what the scatter is.

use std::num::NonZeroU32;
use std::sync::atomic::{AtomicBool, Ordering};

use zdatum::setup::{Accept, LengthRange, Studied};
use zdatum::{Draft, Length, Pooled, Setup, Uncertainty};

use crate::engine::{Bench, Campaign, Progress, Share, campaign};
use crate::{Machine, Noise, Shape};

/// Counted touches per station; a single one needs a study.
pub const TOUCHES: [u8; 6] = [1, 2, 3, 5, 9, 15];
/// A count below this is a promise not kept (handbook's figure for a 95 % interval: 94 %), as a share of what
/// is stated.
const KEPT: f64 = 0.94 / 0.95;
/// Growth of the frame still to come where it drifts, mm: what is left of 0.14 mm after one time constant.
pub const DRIFT: f64 = 0.050;
/// The leading station's noise, in multiples of the file's.
const LEADS: f64 = 4.0;
/// A part known exactly beside it, in multiples of that station's u.
const BESIDE: f64 = 0.5;
/// Degrees of freedom of a study where the file has none: 49 touches in one series.
const STUDY: u32 = 48;
/// The band, in multiples of the largest scatter.
const BAND: f64 = 8.0;
/// Limits that refuse nothing, mm.
const OPEN: f64 = 1.0;

/// How the switches scatter, and whether the frame grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Condition {
    /// Normal noise.
    Normal,
    /// Rectangular noise of the same standard deviation.
    Rectangular,
    /// Heavy-tailed noise of the same standard deviation.
    HeavyTailed,
    /// Rectangular noise one motor step wide: a touch falls on one of two neighbouring steps.
    OneStep,
    /// Normal noise while the frame grows, and the file does not say so.
    Drifting,
    /// The same, stated in the file: then the interval allows for all of the growth to come.
    DriftStated,
}

impl Condition {
    /// All, in the order of the table.
    pub const ALL: [Self; 6] = [
        Self::Normal,
        Self::Rectangular,
        Self::HeavyTailed,
        Self::OneStep,
        Self::Drifting,
        Self::DriftStated,
    ];

    /// For programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Rectangular => "rectangular",
            Self::HeavyTailed => "heavy-tailed",
            Self::OneStep => "one-step",
            Self::Drifting => "drifting",
            Self::DriftStated => "drifting-stated",
        }
    }

    /// For people, at most 18 characters.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Rectangular => "rectangular",
            Self::HeavyTailed => "heavy-tailed",
            Self::OneStep => "one step wide",
            Self::Drifting => "frame grows",
            Self::DriftStated => "the same, stated",
        }
    }
}

/// What the interval rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rests {
    /// All that the machine file knows.
    OnAll,
    /// The touches alone: trip depth, latencies and growth are known exactly.
    OnTouches,
    /// One station above all: the probe's switch scatters four times as much, and beside it stands only a
    /// trip depth whose u is half of that station's.
    OnOneStation,
}

impl Rests {
    /// All, in the order of the tables.
    pub const ALL: [Self; 3] = [Self::OnAll, Self::OnTouches, Self::OnOneStation];

    /// For programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::OnAll => "all",
            Self::OnTouches => "touches",
            Self::OnOneStation => "one-station",
        }
    }

    /// For people.
    pub const fn name(self) -> &'static str {
        match self {
            Self::OnAll => "The machine as in its file",
            Self::OnTouches => "Touches alone: trip depth, latencies and growth known exactly",
            Self::OnOneStation => "One station dominates: the probe's switch four times as noisy",
        }
    }
}

/// One machine's count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoverageCell {
    /// What the interval rests on.
    pub rests: Rests,
    /// The noise.
    pub condition: Condition,
    /// Counted touches per station.
    pub touches: u8,
    /// Whether there is a study.
    pub studied: bool,
    /// Accepted cycles whose interval held the true landing; `None` where none was accepted.
    pub held: Option<Share>,
    /// Cycles refused.
    pub refused: Option<Share>,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Coverage {
    /// Cycles of each machine.
    pub runs: u64,
    /// What is stated: 0.90, 0.95 or 0.99.
    pub stated: f64,
    /// In the order of the tables; machines that the file does not allow are left out.
    pub cells: Vec<CoverageCell>,
    /// Whether all were counted.
    pub complete: bool,
}

/// Whether a count falls short of what is stated (0.90, 0.95 or 0.99), by more than two of its standard
/// errors.
pub fn falls_short(held: &Share, stated: f64) -> bool {
    let held = held.estimate();
    held.value + 2.0 * held.error < KEPT * stated
}

impl CoverageCell {
    /// Whether the count falls short of the promise.
    pub fn is_short(&self, stated: f64) -> bool {
        self.held.is_some_and(|held| falls_short(&held, stated))
    }
}

impl Coverage {
    /// The counts that fall short.
    pub fn short(&self) -> impl Iterator<Item = &CoverageCell> {
        self.cells.iter().filter(|cell| cell.is_short(self.stated))
    }
}

/// How many machines there are.
pub const CELLS: u64 = (Rests::ALL.len() * Condition::ALL.len() * (2 * TOUCHES.len() - 1)) as u64;

/// Counts on the current `rayon` pool, every machine on the same draws. `progress` and `stop` as for
/// [`campaign`](crate::engine::campaign()).
pub fn coverage(bench: &Bench, runs: u64, stop: &AtomicBool, progress: &Progress<'_>) -> Coverage {
    let mut cells = Vec::new();
    for rests in Rests::ALL {
        for condition in Condition::ALL {
            for studied in [true, false] {
                for touches in TOUCHES.into_iter().filter(|n| studied || *n > 1) {
                    if stop.load(Ordering::Relaxed) {
                        break;
                    }
                    let Some(bench) = machine(bench, rests, condition, touches, studied) else { continue };
                    let what = Campaign { bench: &bench, first: 0, runs, within: OPEN };
                    let tally = campaign(&what, stop, progress);
                    let (held, refused) = (tally.held(), tally.turned_down());
                    cells.push(CoverageCell { rests, condition, touches, studied, held, refused });
                }
            }
        }
    }
    let stated = f64::from(bench.setup.draft().accept.coverage.percent()) / 100.0;
    Coverage { runs, stated, cells, complete: !stop.load(Ordering::Relaxed) }
}

/// A machine of the map; `None` where the file does not allow it.
fn machine(bench: &Bench, rests: Rests, condition: Condition, touches: u8, studied: bool) -> Option<Bench> {
    let mut draft = bench.setup.draft().clone();
    let step = bench.setup.step();
    let step = f64::from(step.mm()) / f64::from(step.steps());
    let mut noise = quiet(&bench.machine.noise);
    draft.soak_left = Length::ZERO;
    match condition {
        Condition::Normal => {}
        Condition::Rectangular => noise.shape = Shape::Rectangular,
        Condition::HeavyTailed => noise.shape = Shape::HeavyTailed,
        // Four times as noisy is no longer one step wide.
        Condition::OneStep if rests == Rests::OnOneStation => return None,
        Condition::OneStep => {
            let sd = step / libm::sqrt(12.0);
            (noise.shape, noise.latency_jitter_s) = (Shape::Rectangular, 0.0);
            (noise.tip_switch, noise.shoulder_switch, noise.plate_switch) = (sd, sd, sd);
        }
        Condition::Drifting => noise.drift = DRIFT,
        Condition::DriftStated => {
            noise.drift = DRIFT;
            draft.soak_left = Length::from_f64(DRIFT).ok()?;
        }
    }
    if rests == Rests::OnOneStation {
        noise.plate_switch *= LEADS;
    }
    let jitter = draft.touch.fine_speed.to_f64() * noise.latency_jitter_s;
    let scatter = [noise.tip_switch, noise.shoulder_switch, noise.plate_switch]
        .map(|s| libm::sqrt(s * s + jitter * jitter + step * step / 12.0));
    let [tip, shoulder, plate] = scatter;
    if rests != Rests::OnAll {
        draft.growth.clear();
        draft.probe.trip_depth_u = Uncertainty::LEAST;
        draft.probe.delay.latency_u = Default::default();
        draft.datum_switch.delay.latency_u = Default::default();
    }
    if rests == Rests::OnOneStation {
        let beside = BESIDE * plate / libm::sqrt(f64::from(touches));
        draft.probe.trip_depth_u = Uncertainty::from_f64(beside).ok()?;
    }
    draft.touch.least = touches;
    draft.touch.most = touches.saturating_mul(2);
    draft.touch.target_u = Uncertainty::ZERO;
    draft.touch.band = Length::from_f64(BAND * tip.max(shoulder).max(plate)).ok()?;
    let pooled = &bench.setup.draft().pooled;
    let study = |s: f64, own: Option<Pooled>| {
        let dof = own.map_or(NonZeroU32::new(STUDY), |study| Some(study.dof))?;
        Some(Pooled { s: Uncertainty::from_f64(s).ok()?, dof })
    };
    draft.pooled = Studied::default();
    if studied {
        draft.pooled = Studied {
            tip: study(tip, pooled.tip),
            shoulder: study(shoulder, pooled.shoulder),
            plate: study(plate, pooled.plate),
            ..Studied::default()
        };
    }
    draft.accept = open(&draft)?;
    let setup = Setup::check(draft).ok()?;
    let machine = Machine::new(&setup, &noise);
    Some(Bench { setup, machine, ..bench.clone() })
}

/// The file's noise, without what is known to break the promise.
fn quiet(noise: &Noise) -> Noise {
    Noise { shape: Shape::Normal, drift: 0.0, outlier_rate: 0.0, tip_filament: 0.0, ..*noise }
}

/// Limits that choose nothing.
fn open(draft: &Draft) -> Option<Accept> {
    let landing = LengthRange { low: Length::from_f64(-1e3).ok()?, high: Length::from_f64(1e3).ok()? };
    let expanded_u = Uncertainty::from_f64(OPEN).ok()?;
    Some(Accept { landing, shift: Length::from_f64(OPEN).ok()?, expanded_u, ..draft.accept })
}

#[cfg(test)]
mod tests;
