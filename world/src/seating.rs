//! Seating of the probe: anew at each fetch, and what a bad mount does.

use zdatum::Station;

use super::faults::{Fault, Faults, every_other};
use super::random::Random;
use super::truth::{Machine, Truth};

impl Truth {
    /// The probe seats anew: d from N(middle of its range, `reseat`).
    pub(super) fn seat(&mut self, machine: &Machine, faults: &Faults, random: &mut Random) {
        self.drop = machine.drop_middle + machine.noise.reseat * random.normal() + faults.seated_low();
    }
}

impl Faults {
    fn seated_low(&self) -> f64 {
        self.total(|fault| if let Fault::SeatedLow(by) = fault { *by } else { 0.0 })
    }

    /// How much lower a loose mount lets the probe hang at a touch; what hangs lower trips higher.
    pub(super) fn loose_mount(&self, station: Station, touches: u32) -> f64 {
        self.total(|fault| match fault {
            Fault::LooseMount(by) if station != Station::Tip => every_other(*by, touches),
            _ => 0.0,
        })
    }

    /// How much higher the plunger trips where the probe was shifted after the shoulder's touches.
    pub(super) fn probe_shifted(&self, station: Station) -> f64 {
        self.total(|fault| match fault {
            Fault::ProbeShifted(by) if station == Station::Plate => *by,
            _ => 0.0,
        })
    }
}
