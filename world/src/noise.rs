//! What the noise is made of: the settings of the machine file's `[noise]`.

use super::random::Random;

/// The shape of the switches' scatter; each has the standard deviation that is asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Shape {
    /// Normal.
    #[default]
    Normal,
    /// Rectangular: anywhere within ±√3 of it, never beyond.
    Rectangular,
    /// Student's t with four degrees of freedom: one touch in 474 lies beyond five times it, where of normal
    /// ones one in 1.7 million does.
    HeavyTailed,
}

impl Shape {
    /// All, in the order of [`WORDS`](Self::WORDS).
    pub const ALL: [Self; 3] = [Self::Normal, Self::Rectangular, Self::HeavyTailed];
    /// For files and programs.
    pub const WORDS: [&'static str; 3] = ["normal", "rectangular", "heavy-tailed"];

    /// A number of this shape, mean 0 and standard deviation 1.
    #[inline]
    pub(super) fn draw(self, random: &mut Random) -> f64 {
        match self {
            Self::Normal => random.normal(),
            Self::Rectangular => ROOT_12 * random.centred(),
            Self::HeavyTailed => heavy_tailed(random),
        }
    }
}

/// √12: a rectangle of width 1 has the standard deviation 1/√12.
const ROOT_12: f64 = 3.464_101_615_137_754_6;

/// t₄/√2, whose variance is 1: Z/√(χ²₄/4)/√2 with χ²₄ = −2·ln(U₁·U₂).
fn heavy_tailed(random: &mut Random) -> f64 {
    // In (0, 1], so that the logarithm exists.
    let product = (1.0 - random.uniform()) * (1.0 - random.uniform());
    random.normal() / libm::sqrt((-libm::log(product)).max(f64::EPSILON))
}

/// One standard deviation unless said; lengths in mm, times in s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Shape of the scatter of all three switches, their jitter included.
    pub shape: Shape,
    /// Datum switch, pressed by the tip.
    pub tip_switch: f64,
    /// Datum switch, pressed by the shoulder.
    pub shoulder_switch: f64,
    /// The probe's own switch.
    pub plate_switch: f64,
    /// Seating of the probe, per fetch.
    pub reseat: f64,
    /// Jitter of both latencies, per touch.
    pub latency_jitter_s: f64,
    /// Movement differential of the datum switch: how far above its trip it opens.
    pub datum_differential: f64,
    /// Movement differential of the probe's own switch.
    pub plate_differential: f64,
    /// How long either contact bounces once it opens.
    pub bounce_s: f64,
    /// Growth of the frame still to come at the cycle's start.
    pub drift: f64,
    /// Its time constant.
    pub drift_tau_s: f64,
    /// From the cycle's end to the first layer.
    pub print_delay_s: f64,
    /// Chance that a touch is wild, 0 to 1.
    pub outlier_rate: f64,
    /// By how much, either sign alike.
    pub outlier_size: f64,
    /// Filament on the tip at the cycle's start.
    pub tip_filament: f64,
    /// Share of it that each touch of the tip squashes, 0 to 1.
    pub tip_squash: f64,
    /// Shift of a station from series to series.
    pub station_shift: f64,
    /// What no touch shows, per cycle.
    pub unseen: f64,
    /// Amplitude of the drive's cyclic error.
    pub cyclic: f64,
    /// Carriage way of one of its periods, above 0.
    pub cyclic_period: f64,
    /// Error of every temperature reading, K; one for each sensor, the same throughout a cycle.
    pub temperature_error_c: f64,
}

impl Noise {
    /// No noise at all: every switch trips where it should, and nothing moves.
    pub const SILENT: Self = Self {
        shape: Shape::Normal,
        tip_switch: 0.0,
        shoulder_switch: 0.0,
        plate_switch: 0.0,
        reseat: 0.0,
        latency_jitter_s: 0.0,
        datum_differential: 0.0,
        plate_differential: 0.0,
        bounce_s: 0.0,
        drift: 0.0,
        drift_tau_s: 1500.0,
        print_delay_s: 90.0,
        outlier_rate: 0.0,
        outlier_size: 0.0,
        tip_filament: 0.0,
        tip_squash: 0.3,
        station_shift: 0.0,
        unseen: 0.0,
        cyclic: 0.0,
        cyclic_period: 0.04,
        temperature_error_c: 0.0,
    };
}

impl Default for Noise {
    /// Sizes of *common practice*, as the demo's machine has them.
    fn default() -> Self {
        Self {
            tip_switch: 0.0010,
            shoulder_switch: 0.0010,
            plate_switch: 0.0025,
            reseat: 0.020,
            latency_jitter_s: 0.0002,
            outlier_size: 0.050,
            ..Self::SILENT
        }
    }
}
