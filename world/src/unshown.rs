//! What touches do not show of themselves: shifts from series to series, the drive's cyclic error, and readings that are
//! off. Each is drawn only where the noise names it. (`unseen` adds to the plate's height alone, as an error of the trip
//! depth does, and is drawn with it: see [`truth`](super::truth).)

use super::noise::Noise;
use super::random::Random;
use zdatum::cycle::Temperatures;
use zdatum::setup::{Follows, Grows};
use zdatum::{Setup, Station, Temperature};

/// Of one run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Unshown {
    /// Of the drive's cyclic error at Z = 0, rad.
    phase: f64,
    /// Added to the readings of tool, bed and chamber, K.
    errors: [f64; 3],
    /// Of the series being touched, mm.
    pub(super) shift: f64,
}

impl Unshown {
    /// Nothing.
    pub(super) const NONE: Self = Self { phase: 0.0, errors: [0.0; 3], shift: 0.0 };

    /// Whether the noise names any of it.
    pub(super) fn is_any(noise: &Noise) -> bool {
        noise.station_shift != 0.0 || noise.cyclic != 0.0 || noise.temperature_error_c != 0.0
    }

    pub(super) fn draw(noise: &Noise, random: &mut Random) -> Self {
        let mut drawn = Self::NONE;
        if noise.cyclic != 0.0 {
            drawn.phase = core::f64::consts::TAU * random.uniform();
        }
        if noise.temperature_error_c != 0.0 {
            drawn.errors = drawn.errors.map(|_| noise.temperature_error_c * random.normal());
        }
        drawn
    }

    /// The carriage goes to a station: a series of its own.
    pub(super) fn begin_series(&mut self, noise: &Noise, random: &mut Random) {
        if noise.station_shift != 0.0 {
            self.shift = noise.station_shift * random.normal();
        }
    }

    /// The drive's cyclic error at a height: a·sin(2π·z/period + phase).
    pub(super) fn cyclic(&self, noise: &Noise, z: f64) -> f64 {
        if noise.cyclic == 0.0 {
            return 0.0;
        }
        noise.cyclic * libm::sin(core::f64::consts::TAU * z / noise.cyclic_period + self.phase)
    }

    /// What the core is told at a touch: the setup's touch temperatures, off by the run's errors.
    pub(super) fn readings(&self, touched: &Touched, station: Station) -> Temperatures {
        let at = |sensor: usize| {
            let (Some(celsius), Some(error)) = (touched.0.get(sensor)?, self.errors.get(sensor)) else {
                return None;
            };
            Temperature::from_f64(celsius + error).ok()
        };
        match station {
            Station::Tip => Temperatures { tool: at(0), ..Temperatures::default() },
            Station::Shoulder => Temperatures::default(),
            Station::Plate => Temperatures { bed: at(1), chamber: at(2), ..Temperatures::default() },
        }
    }
}

/// Temperatures of tool, bed and chamber at the touches, as the setup has them: that of the first part which follows
/// each; `None` where none does, or where readings have no error and the setup's own serve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Touched([Option<f64>; 3]);

impl Touched {
    pub(super) fn of(setup: &Setup, noise: &Noise) -> Self {
        if noise.temperature_error_c == 0.0 {
            return Self([None; 3]);
        }
        let growth = &setup.draft().growth;
        let of = |follows| growth.iter().find(|part: &&Grows| part.follows == follows);
        Self(Follows::ALL.map(|follows| of(follows).map(|part| part.touch.to_f64())))
    }
}
