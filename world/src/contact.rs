//! Contacts: how far a switch must be left before it reads open.
//!
//! A switch opens only its **movement differential** above the height at which it tripped, and for `bounce_s`
//! afterwards its contact
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

/// How far a switch must be left before it reads open, mm.
pub(crate) fn lift_needed(noise: &Noise, station: Station) -> f64 {
    let differential = match station {
        Station::Plate => noise.plate_differential,
        Station::Tip | Station::Shoulder => noise.datum_differential,
    };
    differential + noise.bounce_s / SECONDS_PER_MM_UP
}

/// Whether a switch that tripped at `pressed` reads open once the carriage has been lifted to `z`, mm.
pub(super) fn is_open(noise: &Noise, station: Station, pressed: f64, z: f64) -> bool {
    let needed = lift_needed(noise, station);
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

#[cfg(test)]
mod tests {
    use super::*;

    const AT: [Station; 3] = [Station::Tip, Station::Shoulder, Station::Plate];

    #[test]
    fn a_switch_opens_above_its_differential_and_its_bounce() {
        let noise =
            Noise { datum_differential: 0.25, plate_differential: 0.5, bounce_s: 0.0, ..Noise::default() };
        let opens = |noise: &Noise, lift: f64| AT.map(|at| is_open(noise, at, 2.0, 2.0 + lift));
        assert_eq!(opens(&noise, 0.2), [false; 3]);
        assert_eq!(opens(&noise, 0.25), [true, true, false]);
        assert_eq!(opens(&noise, 0.5), [true; 3]);
        // 1/64 s of bouncing, on the way up.
        let bounces = Noise { bounce_s: 0.015_625, ..noise };
        let more = 0.015_625 / SECONDS_PER_MM_UP;
        assert_eq!(opens(&bounces, 0.25 + more - 1e-6), [false; 3]);
        assert_eq!(opens(&bounces, 0.25 + more + 1e-6), [true, true, 0.25 + more >= 0.5 + more]);
        // Nothing to leave: open at once.
        let none = Noise { datum_differential: 0.0, plate_differential: 0.0, bounce_s: 0.0, ..noise };
        assert_eq!(opens(&none, 0.0), [true; 3]);
        assert!(!matters(&none) && matters(&noise) && matters(&Noise { bounce_s: 0.1, ..none }));
    }

    /// Tip and shoulder press one switch, the plate another.
    #[test]
    fn a_fault_of_a_switch_is_seen_where_it_is_pressed() {
        let later = |at| Faults::new(vec![Fault::SeenLater(at, 0.125)]);
        let seen = |faults: &Faults| AT.map(|at| faults.seen_later(at));
        assert_eq!(seen(&later(Station::Tip)), [0.125, 0.125, 0.0]);
        assert_eq!(seen(&later(Station::Plate)), [0.0, 0.0, 0.125]);

        let early = Faults::new(vec![Fault::FiresEarly(Station::Plate, 0.5)]);
        // Every third touch.
        let touches = |at| [0, 1, 2, 3, 4, 5].map(|touch| early.early(at, touch));
        assert_eq!(touches(Station::Plate), [0.0, 0.0, 0.5, 0.0, 0.0, 0.5]);
        assert_eq!(touches(Station::Tip), [0.0; 6]);

        let chip = Faults::new(vec![Fault::ChipOnDatum(0.25)]);
        assert_eq!(AT.map(|at| chip.chips(at, true)), [0.25, 0.25, 0.0]);
        let gone = Faults::new(vec![Fault::ChipGone(0.25)]);
        assert_eq!(AT.map(|at| gone.chips(at, false)), [0.25, 0.0, 0.0]);
        assert_eq!(AT.map(|at| gone.chips(at, true)), [0.0; 3]);
    }
}
