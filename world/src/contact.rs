//! Contacts: how far a switch must be left before it reads open.
//!
//! A switch opens only its **movement differential** above the height at which it tripped, and for `bounce_s` afterwards its contact
//! **bounces**, while the carriage goes on up. A lift that ends before leaves it closed: it must exceed
//! differential + bounce·speed. The edge on the way down is latched, so that bounce does not move a height.

use zdatum::Station;

use super::clock::SECONDS_PER_MM_UP;
use super::faults::{Fault, Faults, same_switch};
use super::noise::Noise;

/// Nothing is pressed.
pub(super) const FREE: f64 = f64::NEG_INFINITY;

/// Whether any switch has a differential or bounces.
pub(super) fn matters(noise: &Noise) -> bool {
    noise.datum_differential > 0.0 || noise.plate_differential > 0.0 || noise.bounce_s > 0.0
}

/// Whether a switch that tripped at `pressed` reads open once the carriage has been lifted to `z`, mm.
pub(super) fn is_open(noise: &Noise, station: Station, pressed: f64, z: f64) -> bool {
    let differential = match station {
        Station::Plate => noise.plate_differential,
        Station::Tip | Station::Shoulder => noise.datum_differential,
    };
    let needed = differential + noise.bounce_s / SECONDS_PER_MM_UP;
    needed == 0.0 || z - pressed >= needed
}

impl Faults {
    /// How much higher a switch trips for what lies on the datum switch.
    pub(super) fn chips(&self, station: Station, was_fetched: bool) -> f64 {
        self.total(|fault| match fault {
            Fault::ChipOnDatum(by) if station != Station::Plate => *by,
            Fault::ChipGone(by) if station == Station::Tip && !was_fetched => *by,
            _ => 0.0,
        })
    }

    /// How much too early a switch fires at a touch.
    pub(super) fn early(&self, station: Station, touches: u32) -> f64 {
        self.total(|fault| match fault {
            Fault::FiresEarly(at, by) if same_switch(*at, station) && touches % 3 == 2 => *by,
            _ => 0.0,
        })
    }

    /// How much later a switch is seen tripped than it should be, s.
    pub(super) fn seen_later(&self, station: Station) -> f64 {
        self.total(|fault| match fault {
            Fault::SeenLater(at, by) if same_switch(*at, station) => *by,
            _ => 0.0,
        })
    }
}
