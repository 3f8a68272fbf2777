//! Draws moved towards a rare event, with the exact ratio of what they are drawn from to what they should be.
//!
//! A standard normal draw x is replaced by z = x + μ, whose density over the nominal one is exp(μ·z − μ²/2).
//! Draws that are moved stay the same draws in the same order, so a run that is not tilted is untouched.

use zdatum::Station;

use super::noise::Shape;
use super::random::Random;
use super::truth::{Machine, Truth};

/// By how many standard deviations each draw is moved.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tilt {
    trip_depth: f64,
    datum_latency: f64,
    plate_latency: f64,
    growth: f64,
    /// Counted touches at tip, shoulder and plate.
    touches: [f64; 3],
    /// Touches of a series that are not counted, the first approach included.
    uncounted: u32,
}

/// A run's own tilt: what is moved, and the ratio so far.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tilted {
    by: Tilt,
    /// Whether draws are moved; else the ratio alone is kept.
    moved: bool,
    /// ln of the tilted density over the nominal one.
    pub(super) log_ratio: f64,
}

fn index(station: Station) -> usize {
    match station {
        Station::Tip => 0,
        Station::Shoulder => 1,
        Station::Plate => 2,
    }
}

impl Tilt {
    /// The shortest way to a first-layer error that is so much further off, mm: each draw in the proportion
    /// in which it moves the error of the linear model, with `least` counted touches per station after
    /// `settle` and the first approach. Also the model's standard deviation. `None` where no draw moves the
    /// error.
    pub fn toward(machine: &Machine, least: u8, settle: u8, distance: f64) -> Option<(Self, f64)> {
        let fine = machine.switches.fine_sd();
        let n = f64::from(least.max(1));
        let normal = machine.noise.shape == Shape::Normal;
        let touch = |station, sign: f64| if normal { sign * fine.0(station) / n } else { 0.0 };
        let touches = [touch(Station::Tip, 1.0), touch(Station::Shoulder, -1.0), touch(Station::Plate, 1.0)];
        let (trip_depth, plate_latency, growth) = machine.effects(fine.1);
        let of_touches: f64 = touches.iter().map(|a| a * a).sum();
        let square =
            trip_depth * trip_depth + plate_latency * plate_latency + growth * growth + n * of_touches;
        let scale = distance / square;
        let tilt = Self {
            trip_depth: trip_depth * scale,
            datum_latency: 0.0,
            plate_latency: plate_latency * scale,
            growth: growth * scale,
            touches: touches.map(|a| a * scale),
            uncounted: u32::from(settle) + 1,
        };
        (square > 0.0 && scale.is_finite()).then(|| (tilt, libm::sqrt(square)))
    }
}

impl Tilted {
    /// Moves what was drawn once; `random` is the run's stream from its start.
    pub(super) fn start(
        by: Tilt,
        moved: bool,
        machine: &Machine,
        truth: &mut Truth,
        random: &mut Random,
    ) -> Self {
        let mut tilted = Self { by, moved, log_ratio: 0.0 };
        let once = [by.trip_depth, by.datum_latency, by.plate_latency, by.growth];
        let moves = once.map(|shift| tilted.take(shift, random.normal()));
        truth.move_by(machine, moves);
        tilted
    }

    /// By how many standard deviations the next touch is moved; it is `number` in its series, from 0.
    pub(super) fn touch(&mut self, station: Station, number: u32, random: &Random) -> f64 {
        if number < self.by.uncounted {
            return 0.0;
        }
        let shift = self.by.touches.get(index(station)).copied().unwrap_or(0.0);
        self.take(shift, random.clone().normal())
    }

    fn take(&mut self, shift: f64, x: f64) -> f64 {
        let by = if self.moved { shift } else { 0.0 };
        self.log_ratio += shift * (x + by) - shift * shift / 2.0;
        by
    }
}

#[cfg(test)]
mod tests;
