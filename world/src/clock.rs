//! How long things take. Sizes of *common practice*; the machine file has none of them.

use zdatum::setup::Place;

/// Sideways, mm/s.
const SIDEWAYS_MM_PER_S: f64 = 150.0;
/// Upwards at 15 mm/s, s/mm.
pub(super) const SECONDS_PER_MM_UP: f64 = 1.0 / 15.0;
/// Homing, s.
pub(super) const HOME: f64 = 20.0;
/// Levelling, s.
pub(super) const LEVEL: f64 = 40.0;
/// Fetching the probe or putting it back, the way to the dock included, s.
pub(super) const FETCH: f64 = 5.0;
/// From somewhere else to a station, mm.
const ELSEWHERE_MM: f64 = 100.0;

/// Seconds of a way sideways from somewhere else to a station.
pub(super) const FROM_ELSEWHERE: f64 = ELSEWHERE_MM / SIDEWAYS_MM_PER_S;

/// Seconds of a way sideways.
pub(super) fn sideways(from: Place, to: Place) -> f64 {
    let along = |a: zdatum::Length, b: zdatum::Length| a.to_f64() - b.to_f64();
    libm::hypot(along(from.x, to.x), along(from.y, to.y)) / SIDEWAYS_MM_PER_S
}
