//! Switches and steps: how a true height becomes the height that a firmware reports.

use super::noise::{Noise, Shape};
use super::random::Random;
use super::truth::Truth;
use zdatum::units::Step;
use zdatum::{Length, Setup, Speed, Station};

/// A length in mm.
pub(super) fn height(z: Length) -> f64 {
    z.to_f64()
}

/// The nearest whole number, ties to even, for |x| below 2⁵¹; beyond that, some whole number.
///
/// Added to 1.5 · 2⁵², a double has no bits left behind the point: its lower bits are the whole number. No
/// call, no branch.
#[inline]
pub(crate) fn nearest_whole(x: f64) -> i64 {
    const MAGIC: f64 = 6_755_399_441_055_744.0;
    (x + MAGIC).to_bits().wrapping_sub(MAGIC.to_bits()) as i64
}

/// Whole motor steps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Steps {
    /// Δ, mm.
    pub(super) size: f64,
    per_mm: f64,
    /// Δ in bits of a length, as a ratio: mm · 2^16 over steps.
    bits_numerator: f64,
    bits_denominator: f64,
}

impl Steps {
    pub(super) fn new(step: Step) -> Self {
        let (steps, mm) = (f64::from(step.steps()), f64::from(step.mm()));
        Self { size: mm / steps, per_mm: steps / mm, bits_numerator: mm * 65536.0, bits_denominator: steps }
    }

    /// The multiple of Δ nearest to a height, as the firmware's own fixed point gives it; a height that
    /// cannot be held becomes the lowest, below every floor.
    #[inline]
    pub(super) fn nearest(&self, z: f64) -> Length {
        let count = nearest_whole(z * self.per_mm) as f64;
        // count · mm · 2^16 is whole and below 2^53; a quotient by at most 2^20 is never rounded across a
        // tie. Ties themselves need a step of an odd number of mm over 2^17 or more, which no motor has.
        let bits = nearest_whole(count * self.bits_numerator / self.bits_denominator);
        Length::from_bits(bits).unwrap_or(Length::from_mm(i16::MIN))
    }
}

/// Both switches as seen at the three stations.
#[derive(Clone, Debug)]
pub(super) struct Switches {
    noise: PerStation,
    shape: Shape,
    jitter: f64,
    outlier_rate: f64,
    outlier_size: f64,
    /// At the setup's two speeds, the fine one first.
    fine: AtSpeed,
    first: AtSpeed,
}

/// A value for each station.
#[derive(Clone, Copy, Debug)]
struct PerStation {
    tip: f64,
    shoulder: f64,
    plate: f64,
}

impl PerStation {
    #[inline]
    fn at(&self, station: Station) -> f64 {
        match station {
            Station::Tip => self.tip,
            Station::Shoulder => self.shoulder,
            Station::Plate => self.plate,
        }
    }

    fn map(self, f: impl Fn(f64) -> f64) -> Self {
        Self { tip: f(self.tip), shoulder: f(self.shoulder), plate: f(self.plate) }
    }
}

/// What an approach at one speed needs.
#[derive(Clone, Copy, Debug)]
pub(super) struct AtSpeed {
    speed: Speed,
    /// mm/s.
    pub(super) v: f64,
    /// s/mm.
    pub(super) per_v: f64,
    /// Switch noise and jitter are independent normals, so their sum is drawn as one.
    sd: PerStation,
}

impl Switches {
    pub(super) fn new(setup: &Setup, noise: &Noise) -> Self {
        let stations =
            PerStation { tip: noise.tip_switch, shoulder: noise.shoulder_switch, plate: noise.plate_switch };
        let touch = &setup.draft().touch;
        Self {
            noise: stations,
            shape: noise.shape,
            jitter: noise.latency_jitter_s,
            outlier_rate: noise.outlier_rate,
            outlier_size: noise.outlier_size,
            fine: AtSpeed::new(touch.fine_speed, stations, noise.latency_jitter_s),
            first: AtSpeed::new(touch.first_speed, stations, noise.latency_jitter_s),
        }
    }

    /// What an approach at this speed needs: worked out already for the setup's two, else in `own`.
    #[inline]
    pub(super) fn at<'a>(&'a self, speed: Speed, own: &'a mut Option<AtSpeed>) -> &'a AtSpeed {
        if speed == self.fine.speed {
            &self.fine
        } else if speed == self.first.speed {
            &self.first
        } else {
            own.insert(AtSpeed::new(speed, self.noise, self.jitter))
        }
    }

    /// Standard deviation of a fine touch at a station, mm, and the fine speed, mm/s.
    pub(super) fn fine_sd(&self) -> (impl Fn(Station) -> f64 + use<>, f64) {
        let sd = self.fine.sd;
        (move |station| sd.at(station), self.fine.v)
    }

    /// True height + N(0, switch) − v·(τ + N(0, jitter)), or of another shape with the same standard
    /// deviation, and now and then a wild one.
    #[inline(always)]
    pub(super) fn read(
        &self,
        station: Station,
        height: f64,
        at: &AtSpeed,
        truth: &Truth,
        random: &mut Random,
    ) -> f64 {
        let latency = if station == Station::Plate { truth.plate_latency } else { truth.datum_latency };
        let mut reading = height + at.sd.at(station) * self.shape.draw(random) - at.v * latency;
        if self.outlier_rate > 0.0 && random.uniform() < self.outlier_rate {
            reading += if random.uniform() < 0.5 { -self.outlier_size } else { self.outlier_size };
        }
        reading
    }
}

impl AtSpeed {
    fn new(speed: Speed, noise: PerStation, jitter: f64) -> Self {
        let v = speed.to_f64();
        Self { speed, v, per_v: 1.0 / v, sd: noise.map(|s| libm::hypot(s, v * jitter)) }
    }
}
