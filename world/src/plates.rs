//! Plates: how high they stand, how they lie, and debris.

use zdatum::Station;

use super::faults::{Fault, Faults, every_other};

/// The rise of the plate that is fitted: uniform over so wide a part about the middle, mm; `which` is in [−½,
/// ½).
pub(super) fn rise(middle: f64, width: f64, which: f64) -> f64 {
    middle + width * which
}

impl Faults {
    /// How much higher the plunger finds the plate.
    pub(crate) fn plate_raised(&self) -> f64 {
        self.total(|fault| match fault {
            Fault::PlateRaised(by) | Fault::ChipUnderPlunger(by) => *by,
            _ => 0.0,
        })
    }

    /// What the plunger met and the nozzle will not.
    pub(super) fn landing_hidden(&self) -> f64 {
        self.total(|fault| if let Fault::ChipUnderPlunger(by) = fault { *by } else { 0.0 })
    }

    /// How much higher a plate that does not lie down stands at a touch.
    pub(super) fn wild_plate(&self, station: Station, touches: u32) -> f64 {
        self.total(|fault| match fault {
            Fault::WildPlate(by) if station == Station::Plate => every_other(*by, touches),
            _ => 0.0,
        })
    }
}
