//! The rules of a draft, key by key, in the order of the machine file.

use super::key::{BadSetup, Fault, Key};
use super::{Draft, LengthRange, Place, Touch, Travel};
use crate::series::{MOST_TOUCHES, Pooled, Station};
use crate::units::{Growth, Length, Speed, Step, Uncertainty, Warming};

/// Slow touches that may be thrown away.
const MOST_SETTLE: u8 = 16;

// Beyond these a value was meant in another unit (*common practice*): each is several times what the sources of
// `docs/uncertainty.md` come to, and far below what the same digits are in micrometres.

/// Standard and expanded uncertainties.
const MOST_U: Uncertainty = Uncertainty::from_word(1 << 24);
/// Spread of a series.
const MOST_BAND: Length = Length::from_mm(1);
/// Way travelled after a trip.
const MOST_STOP: Length = Length::from_mm(10);
/// Growth still to come, up or down.
const MOST_LEFT: Length = Length::from_mm(1);
/// Uncertainty of a temperature difference.
const MOST_DELTA_U: Warming = Warming::from_word(100 << 16);

/// Checks everything but the floors.
pub(super) fn check(draft: &Draft) -> Result<Step, BadSetup> {
    let step = travel(&draft.travel)?;
    for (key, place) in [
        (Key::StationTip, draft.stations.tip),
        (Key::StationShoulder, draft.stations.shoulder),
        (Key::StationPlate, draft.stations.plate),
    ] {
        inside(key, place, &draft.travel)?;
    }

    ordered(Key::TipHeight, draft.datum_switch.tip_height)?;
    positive(Key::Overtravel, draft.datum_switch.overtravel)?;

    let probe = &draft.probe;
    positive(Key::TripDepth, probe.trip_depth)?;
    plausible(Key::TripDepthU, probe.trip_depth_u)?;
    if probe.trip_depth_u == Uncertainty::ZERO {
        return Err(BadSetup::new(Key::TripDepthU, Fault::KnownExactly));
    }
    ordered(Key::Drop, probe.drop)?;
    positive(Key::Drop, probe.drop.low)?;
    positive(Key::FreeHeight, probe.free_height)?;
    if probe.trip_depth > probe.free_height {
        return Err(BadSetup::with(
            Key::TripDepth,
            Fault::AboveFreeHeight,
            probe.trip_depth,
            probe.free_height,
        ));
    }

    ordered(Key::Rise, draft.plates.rise)?;
    not_negative(Key::Margin, draft.plates.margin)?;
    touch(&draft.touch)?;
    studies(draft)?;

    if draft.growth.iter().any(|part| part.rate_u < Growth::ZERO) {
        return Err(BadSetup::new(Key::GrowthU, Fault::Negative));
    }
    if draft.growth.iter().any(|part| part.delta_u < Warming::ZERO) {
        return Err(BadSetup::new(Key::GrowthDeltaU, Fault::Negative));
    }
    if draft.growth.iter().any(|part| part.delta_u > MOST_DELTA_U) {
        return Err(BadSetup::new(Key::GrowthDeltaU, Fault::ImplausibleWarming));
    }
    at_most(Key::SoakLeft, draft.soak_left, MOST_LEFT)?;
    if draft.soak_left.to_bits() < -MOST_LEFT.to_bits() {
        return Err(BadSetup::with(Key::SoakLeft, Fault::Implausible, draft.soak_left, MOST_LEFT));
    }
    plausible(Key::Unseen, draft.unseen)?;
    strictly_ordered(Key::AcceptLanding, draft.accept.landing)?;
    positive(Key::AcceptShift, draft.accept.shift)?;
    if draft.accept.expanded_u == Uncertainty::ZERO {
        return Err(BadSetup::new(Key::AcceptU, Fault::NotPositive));
    }
    plausible(Key::AcceptU, draft.accept.expanded_u)?;
    Ok(step)
}

fn travel(travel: &Travel) -> Result<Step, BadSetup> {
    strictly_ordered(Key::TravelX, travel.x)?;
    strictly_ordered(Key::TravelY, travel.y)?;
    strictly_ordered(Key::TravelZ, travel.z)?;
    let (steps, mm) = travel.steps;
    Step::new(steps, mm).map_err(|_| BadSetup::new(Key::TravelSteps, Fault::BadSteps))
}

fn touch(touch: &Touch) -> Result<(), BadSetup> {
    if touch.first_speed == Speed::ZERO {
        return Err(BadSetup::new(Key::FirstSpeed, Fault::NotPositive));
    }
    if touch.fine_speed == Speed::ZERO {
        return Err(BadSetup::new(Key::FineSpeed, Fault::NotPositive));
    }
    if touch.fine_speed > touch.first_speed {
        return Err(BadSetup::new(Key::FineSpeed, Fault::FineAboveFirst));
    }
    positive(Key::Lift, touch.lift)?;
    not_negative(Key::Stop, touch.stop)?;
    at_most(Key::Stop, touch.stop, MOST_STOP)?;
    if touch.settle > MOST_SETTLE {
        return Err(BadSetup::new(Key::Settle, Fault::TooMany));
    }
    if usize::from(touch.most) > MOST_TOUCHES {
        return Err(BadSetup::new(Key::Most, Fault::TooMany));
    }
    if touch.least == 0 {
        return Err(BadSetup::new(Key::Least, Fault::NotPositive));
    }
    if touch.least > touch.most {
        return Err(BadSetup::new(Key::Least, Fault::LeastAboveMost));
    }
    positive(Key::Band, touch.band)?;
    at_most(Key::Band, touch.band, MOST_BAND)?;
    plausible(Key::TargetU, touch.target_u)
}

/// What needs a study at every station, and what a study must be.
fn studies(draft: &Draft) -> Result<(), BadSetup> {
    let pooled = &draft.pooled;
    for (key, study) in [
        (Key::PooledTip, pooled.tip),
        (Key::PooledShoulder, pooled.shoulder),
        (Key::PooledPlate, pooled.plate),
        (Key::PooledTipBetween, pooled.tip_between),
        (Key::PooledSpanBetween, pooled.span_between),
    ] {
        if let Some(Pooled { s, .. }) = study {
            plausible(key, s)?;
        }
    }
    let all = Station::ALL.iter().all(|station| draft.pooled.of(*station).is_some());
    if draft.touch.least == 1 && !all {
        return Err(BadSetup::new(Key::Least, Fault::OneNeedsStudy));
    }
    if draft.touch.target_u > Uncertainty::ZERO && !all {
        return Err(BadSetup::new(Key::TargetU, Fault::TargetNeedsStudy));
    }
    Ok(())
}

fn inside(key: Key, place: Place, travel: &Travel) -> Result<(), BadSetup> {
    for (value, reach) in [(place.x, travel.x), (place.y, travel.y)] {
        if let Some(limit) = reach.passed_by(value) {
            return Err(BadSetup::with(key, Fault::OutsideTravel, value, limit));
        }
    }
    Ok(())
}

fn ordered(key: Key, range: LengthRange) -> Result<(), BadSetup> {
    if range.low > range.high {
        return Err(BadSetup::with(key, Fault::LowAboveHigh, range.low, range.high));
    }
    Ok(())
}

fn strictly_ordered(key: Key, range: LengthRange) -> Result<(), BadSetup> {
    if range.low >= range.high {
        return Err(BadSetup::with(key, Fault::LowAboveHigh, range.low, range.high));
    }
    Ok(())
}

fn positive(key: Key, value: Length) -> Result<(), BadSetup> {
    if value <= Length::ZERO {
        return Err(BadSetup::with(key, Fault::NotPositive, value, Length::ZERO));
    }
    Ok(())
}

fn not_negative(key: Key, value: Length) -> Result<(), BadSetup> {
    if value < Length::ZERO {
        return Err(BadSetup::with(key, Fault::Negative, value, Length::ZERO));
    }
    Ok(())
}

fn at_most(key: Key, value: Length, most: Length) -> Result<(), BadSetup> {
    if value > most {
        return Err(BadSetup::with(key, Fault::Implausible, value, most));
    }
    Ok(())
}

fn plausible(key: Key, u: Uncertainty) -> Result<(), BadSetup> {
    if u > MOST_U {
        return Err(BadSetup::with(key, Fault::Implausible, u.ceil(), MOST_U.ceil()));
    }
    Ok(())
}
