//! The lowest heights of moves and approaches (`docs/geometry.md`).
//!
//! They keep the nozzle off the plate and the frame whatever single thing fails, within the ranges a setup
//! declares. With
//!
//! ```text
//!     e_datum = first speed · (τ + 3u(τ)) + stop + Δ               of the datum switch
//!     e_plate = first speed · (τ + 3u(τ)) + stop + Δ + 3u(t)       of the probe's switch
//! ```
//!
//! the floors are: tip T_lo − e, shoulder T + d_lo − e, plate T + r_lo + d + t − e.

use super::key::{BadSetup, Fault, Key};
use super::{Delay, Draft, LengthRange};
use crate::arith::{self, Bounded};
use crate::units::{Length, OutOfRange, Step};

/// What the floors are made of; all sums rounded to the safe side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Floors {
    /// Furthest past a trip of the datum switch that the carriage may run: e_datum.
    pub datum_overrun: Length,
    /// The same for the probe's switch, the trip depth's own doubt included: e_plate.
    pub plate_overrun: Length,
    /// Lowest height of the tip's approach.
    pub tip: Length,
    /// Lowest height of lateral moves with the probe put back.
    pub clear: Length,
    /// Lowest height of lateral moves with the probe fetched.
    pub clear_with_probe: Length,
    drop_low: Length,
    rise_low: Length,
    trip_depth: Length,
    /// How far a fine touch of the datum switch can read below its trip: fine speed · (τ + 3u(τ)) + Δ/2.
    reads_low: Length,
}

/// How far a dead plunger would be pressed over the highest plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Press {
    /// Past its trip: r_hi − r_lo + e_plate.
    pub past_trip: Length,
    /// How far beyond that the shoulder would press the plate; zero or below where it stays clear.
    pub shoulder_into_plate: Length,
}

impl Floors {
    /// Works the floors out and refuses unsafe ones.
    pub(super) fn work_out(draft: &Draft, step: Step) -> Result<Self, BadSetup> {
        let tip_height = draft.datum_switch.tip_height;
        let (probe, plates) = (&draft.probe, &draft.plates);

        // Δ rounded up, like every part of e.
        let step = in_range(Key::TravelSteps, Length::from_bits(i64::from(step.one().to_bits()).plus(1)))?;
        let overrun = |delay: &Delay| -> Result<Length, OutOfRange> {
            late_by(draft.touch.first_speed.to_bits(), delay)?.plus(draft.touch.stop)?.plus(step)
        };
        let datum_overrun = in_range(Key::FirstSpeed, overrun(&draft.datum_switch.delay))?;
        let triple_u = in_range(
            Key::TripDepthU,
            Length::from_bits(i64::from(probe.trip_depth_u.ceil().to_bits()).times(3)),
        )?;
        let plate_overrun = in_range(Key::FirstSpeed, overrun(&probe.delay).and_then(|e| e.plus(triple_u)))?;

        // How far the datum switch may be pressed; tip: T_hi − T_lo + e ≤ o, shoulder: d_hi − d_lo + e ≤ o.
        let overtravel = draft.datum_switch.overtravel;
        let press = |range| width(range)?.plus(datum_overrun);
        let by_tip = in_range(Key::TipHeight, press(tip_height))?;
        at_most(Key::Overtravel, Fault::TipOverpress, by_tip, overtravel)?;
        let by_shoulder = in_range(Key::Drop, press(probe.drop))?;
        at_most(Key::Overtravel, Fault::ShoulderOverpress, by_shoulder, overtravel)?;

        // How far the tip stands clear at the shoulder's floor: d_lo − e > r_hi + margin.
        let tip_stands = in_range(Key::Drop, probe.drop.low.minus(datum_overrun))?;
        let must_clear = in_range(Key::Rise, plates.rise.high.plus(plates.margin))?;
        above(Key::Drop, Fault::ShoulderLow, tip_stands, must_clear)?;

        // And above the lowest plate at the plate's floor: d_lo + t − e > r_hi − r_lo + margin.
        let tip_stands =
            in_range(Key::Drop, probe.drop.low.plus(probe.trip_depth).and_then(|z| z.minus(plate_overrun)))?;
        let must_clear = in_range(Key::Rise, width(plates.rise).and_then(|w| w.plus(plates.margin)))?;
        above(Key::Rise, Fault::PlateLow, tip_stands, must_clear)?;

        let reads_low = in_range(Key::FineSpeed, reads_low(draft, step))?;
        let tip = in_range(Key::TipHeight, tip_height.low.minus(datum_overrun))?;
        let clear = in_range(
            Key::TipHeight,
            tip_height.high.plus(plates.rise.high.max(Length::ZERO)).and_then(|z| z.plus(plates.margin)),
        )?;
        let clear_with_probe =
            in_range(Key::Drop, clear.plus(probe.drop.high).and_then(|z| z.plus(probe.free_height)))?;

        // The lowest approach of all is the tip's or the plate's; the highest move is with the probe fetched.
        let reach = draft.travel.z;
        let plate =
            in_range(Key::Rise, tip_height.low.plus(plates.rise.low).and_then(|z| z.plus(tip_stands)))?;
        for (key, lowest) in [(Key::TipHeight, tip), (Key::Rise, plate)] {
            if lowest < reach.low {
                return Err(BadSetup::with(key, Fault::BeyondReach, lowest, reach.low));
            }
        }
        let highest = in_range(Key::Lift, clear_with_probe.plus(draft.touch.lift))?;
        at_most(Key::TravelZ, Fault::BeyondReach, highest, reach.high)?;

        Ok(Self {
            datum_overrun,
            plate_overrun,
            tip,
            clear,
            clear_with_probe,
            drop_low: probe.drop.low,
            rise_low: plates.rise.low,
            trip_depth: probe.trip_depth,
            reads_low,
        })
    }

    /// The highest that T can be where fine touches read `seen`: seen + fine speed · (τ + 3u(τ)) + Δ/2.
    ///
    /// A trip is seen late and so reads low. Floors made of the reading alone would lie as much too low: a
    /// dead switch would be pressed further than the setup's check allowed for. Made of this, they still lie
    /// below every trip within the ranges.
    ///
    /// # Errors
    /// *Out of range* where a sum leaves the range of lengths.
    pub fn tip_at_most(&self, seen: Length) -> Result<Length, OutOfRange> {
        seen.plus(self.reads_low)
    }

    /// Lowest height of the shoulder's approach, for the tip's height: T + d_lo − e.
    ///
    /// # Errors
    /// *Out of range* where a sum leaves the range of lengths.
    pub fn shoulder(&self, tip: Length) -> Result<Length, OutOfRange> {
        tip.plus(self.drop_low)?.minus(self.datum_overrun)
    }

    /// Lowest height of the plate's approach, for the tip's height and the drop as measured: T + r_lo + d + t
    /// − e.
    ///
    /// # Errors
    /// *Out of range* where a sum leaves the range of lengths.
    pub fn plate(&self, tip: Length, drop: Length) -> Result<Length, OutOfRange> {
        self.plate_at_rise(tip, drop, self.rise_low)
    }

    /// The same for a known plate, whose lowest rise narrows the press of a dead plunger.
    ///
    /// # Errors
    /// *Out of range* where a sum leaves the range of lengths.
    pub fn plate_at_rise(&self, tip: Length, drop: Length, rise_low: Length) -> Result<Length, OutOfRange> {
        tip.plus(rise_low)?.plus(drop)?.plus(self.trip_depth)?.minus(self.plate_overrun)
    }

    /// How far a dead plunger would be pressed over a plate that rises up to `rise_high`.
    ///
    /// # Errors
    /// *Out of range* where a sum leaves the range of lengths.
    pub fn dead_plunger(&self, rise_high: Length) -> Result<Press, OutOfRange> {
        let past_trip = rise_high.minus(self.rise_low)?.plus(self.plate_overrun)?;
        Ok(Press { past_trip, shoulder_into_plate: past_trip.minus(self.trip_depth)? })
    }
}

/// How far a fine touch of the datum switch can read below its trip: fine speed · (τ + 3u(τ)) + Δ/2.
fn reads_low(draft: &Draft, step: Length) -> Result<Length, OutOfRange> {
    let half_step = Length::from_bits(i64::from(step.to_bits().unsigned_abs().div_ceil(2)))?;
    late_by(draft.touch.fine_speed.to_bits(), &draft.datum_switch.delay)?.plus(half_step)
}

/// speed · (τ + 3u(τ)), rounded up. Speeds are below 2^26, the time below 4 · 2^29: the product fits 64
/// bits.
fn late_by(speed_bits: u32, delay: &Delay) -> Result<Length, OutOfRange> {
    let time = u64::from(delay.latency.to_bits()).plus(u64::from(delay.latency_u.to_bits()).times(3));
    let product = u64::from(speed_bits).times(time);
    Length::from_bits(arith::shift_ceil(product, 32) as i64)
}

fn width(range: LengthRange) -> Result<Length, OutOfRange> {
    range.high.minus(range.low)
}

/// A sum of the setup's values, or the fault of a key where it leaves the range.
fn in_range(key: Key, sum: Result<Length, OutOfRange>) -> Result<Length, BadSetup> {
    sum.map_err(|_| BadSetup::new(key, Fault::CannotHold))
}

fn at_most(key: Key, fault: Fault, seen: Length, limit: Length) -> Result<(), BadSetup> {
    if seen > limit { Err(BadSetup::with(key, fault, seen, limit)) } else { Ok(()) }
}

fn above(key: Key, fault: Fault, seen: Length, limit: Length) -> Result<(), BadSetup> {
    if seen > limit { Ok(()) } else { Err(BadSetup::with(key, fault, seen, limit)) }
}
