//! What may have changed since a height was set by hand.

use zdatum::Setup;
use zdatum::setup::Follows;

use crate::Noise;
use crate::truth::width;

/// What has changed between the day on which heights were set by hand and today's cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Situation {
    /// Nothing but the homing, which is good to one motor step.
    Nothing,
    /// Another plate is fitted.
    PlateSwap,
    /// Another nozzle is fitted.
    NozzleChange,
    /// The probe has been off its mount and on again.
    Reseated,
    /// Set by hand on a cold machine; today bed and frame have grown, and the frame still grows.
    WarmUp,
}

impl Situation {
    /// All of them, in the order in which they are shown.
    pub const ALL: [Self; 5] =
        [Self::Nothing, Self::PlateSwap, Self::NozzleChange, Self::Reseated, Self::WarmUp];

    /// For people.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Nothing => "nothing changed",
            Self::PlateSwap => "plate swap",
            Self::NozzleChange => "nozzle change",
            Self::Reseated => "probe re-seated",
            Self::WarmUp => "warm-up",
        }
    }

    /// For programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::PlateSwap => "plate-swap",
            Self::NozzleChange => "nozzle-change",
            Self::Reseated => "re-seated",
            Self::WarmUp => "warm-up",
        }
    }
}

/// How large the changes are. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sizes {
    /// A swapped plate differs by up to so much, either way, each difference as likely as another.
    pub plate: f64,
    /// A changed nozzle is longer or shorter by up to so much, likewise.
    pub nozzle: f64,
    /// Seating of the probe, one standard deviation per fetch: the machine file's.
    pub seat: f64,
    /// What the frame has grown before today's cycle starts.
    pub frame_grown: f64,
    /// What it will still grow after the cycle's start, with the machine file's time constant.
    pub frame_to_come: f64,
    /// What the bed has grown: the plate stands so much higher over the datum switch.
    pub bed_grown: f64,
}

/// Sheets differ by tenths of a millimetre (*common practice*).
const PLATES_DIFFER: f64 = 0.200;
/// Nozzles of one kind, and how far they are screwed in (*common practice*).
const NOZZLES_DIFFER: f64 = 0.150;
/// Part of a declared range that a change may take: the middle fifth is taken up by where runs begin.
const OF_THE_RANGE: f64 = 0.35;
/// The frame's growth from cold to warmed through, mm: the middle of 50 to 300 µm (*common practice*).
const FRAME_GROWS: f64 = 0.150;
/// How long the machine has been warming up when today's cycle starts, s (*common practice*: twenty minutes).
const WARMING_S: f64 = 1_200.0;
/// A cold bed or chamber, °C (*common practice*).
const ROOM_C: f64 = 20.0;

impl Sizes {
    /// For a machine: no plate and no nozzle beyond what its file declares.
    pub fn of(setup: &Setup, noise: &Noise) -> Self {
        let draft = setup.draft();
        let nozzle = width(draft.datum_switch.tip_height).min(width(draft.probe.drop));
        let grows = FRAME_GROWS.min(OF_THE_RANGE * width(draft.datum_switch.tip_height));
        let left = libm::exp(-WARMING_S / noise.drift_tau_s);
        let of_the_bed = draft.growth.iter().filter(|part| part.follows != Follows::Tool);
        let bed_grown =
            of_the_bed.fold(0.0, |sum, part| sum + part.rate.to_f64() * (part.touch.to_f64() - ROOM_C));
        Self {
            plate: PLATES_DIFFER.min(OF_THE_RANGE * width(draft.plates.rise)),
            nozzle: NOZZLES_DIFFER.min(OF_THE_RANGE * nozzle),
            seat: noise.reseat,
            frame_grown: grows * (1.0 - left),
            frame_to_come: grows * left,
            bed_grown,
        }
    }
}

#[cfg(test)]
mod tests;
