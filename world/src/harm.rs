//! Collisions: what was driven into what.

use zdatum::Station;

use super::{Fault, Over, World, heat};

/// What met what.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Harm {
    /// The nozzle pressed into the plate.
    TipIntoPlate,
    /// The nozzle drove the datum switch beyond its overtravel.
    TipPastOvertravel,
    /// The nozzle met something on a move sideways.
    TipSideways,
    /// The shoulder drove the datum switch beyond its overtravel.
    ShoulderPastOvertravel,
    /// The probe's shoulder met the plate.
    ShoulderIntoPlate,
    /// The probe was dragged over something on a move sideways.
    ProbeSideways,
}

impl Harm {
    /// All of them, the nozzle's first.
    pub const ALL: [Self; 6] = [
        Self::TipIntoPlate,
        Self::TipPastOvertravel,
        Self::TipSideways,
        Self::ShoulderPastOvertravel,
        Self::ShoulderIntoPlate,
        Self::ProbeSideways,
    ];

    /// Whether it is the nozzle that crashed.
    pub const fn is_of_the_nozzle(self) -> bool {
        matches!(self, Self::TipIntoPlate | Self::TipPastOvertravel | Self::TipSideways)
    }

    /// For programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::TipIntoPlate => "tip-into-plate",
            Self::TipPastOvertravel => "tip-past-overtravel",
            Self::TipSideways => "tip-sideways",
            Self::ShoulderPastOvertravel => "shoulder-past-overtravel",
            Self::ShoulderIntoPlate => "shoulder-into-plate",
            Self::ProbeSideways => "probe-sideways",
        }
    }

    /// For people.
    pub const fn name(self) -> &'static str {
        match self {
            Self::TipIntoPlate => "tip into plate",
            Self::TipPastOvertravel => "tip drives the datum switch past its overtravel",
            Self::TipSideways => "tip into something, sideways",
            Self::ShoulderPastOvertravel => "shoulder drives the datum switch past its overtravel",
            Self::ShoulderIntoPlate => "shoulder into plate",
            Self::ProbeSideways => "probe dragged over something",
        }
    }
}

/// What the parts withstand, mm.
#[derive(Clone, Copy, Debug)]
pub struct Room {
    /// How far the datum switch may be pressed past its trip.
    pub overtravel: f64,
    /// How far the plunger stands out when nothing presses it.
    pub free_height: f64,
}

impl World<'_> {
    /// What is harmed where the carriage stands now.
    pub fn harm(&self, room: &Room) -> Option<Harm> {
        let (pin, plate) = self.surfaces();
        let z = self.z;
        match self.over {
            Over::Elsewhere => None,
            Over::Station(Station::Tip) => (z < pin - room.overtravel).then_some(Harm::TipPastOvertravel),
            // The tip may stand over the plate there.
            Over::Station(Station::Shoulder) if z < plate => Some(Harm::TipIntoPlate),
            Over::Station(Station::Shoulder) => {
                let pressed = pin + self.truth.drop - z;
                (self.fetched && pressed > room.overtravel).then_some(Harm::ShoulderPastOvertravel)
            }
            Over::Station(Station::Plate) if z < plate => Some(Harm::TipIntoPlate),
            Over::Station(Station::Plate) => {
                (self.probe_is_on() && z < plate + self.truth.drop).then_some(Harm::ShoulderIntoPlate)
            }
        }
    }

    /// What was harmed on a move sideways that has just been made.
    pub fn harm_sideways(&self, room: &Room) -> Option<Harm> {
        let (pin, plate) = self.surfaces();
        let highest = pin.max(plate);
        if self.z < highest {
            return Some(Harm::TipSideways);
        }
        let hangs = self.truth.drop + room.free_height;
        (self.probe_is_on() && self.z < highest + hangs).then_some(Harm::ProbeSideways)
    }

    /// Another place of the parts than was drawn: E + n as it comes to this, and r moved by that; mm.
    pub fn place(&mut self, tip: f64, rise_by: f64) {
        self.truth.landing += tip - self.truth.tip + rise_by;
        self.truth.tip = tip;
        self.truth.rise += rise_by;
    }

    fn probe_is_on(&self) -> bool {
        let lost = self.over == Over::Station(Station::Plate) && self.faults.contain(Fault::ProbeLost);
        self.fetched && !lost
    }

    /// Where the datum switch's pin trips, and the plate as the nozzle would meet it, in the coordinates of
    /// now.
    fn surfaces(&self) -> (f64, f64) {
        let now = self.truth.tip + heat::drift(&self.machine.noise, self.seconds) + self.steps_lost;
        if !self.faulty {
            return (now, now + self.truth.rise);
        }
        let plate = if self.faults.contain(Fault::NoPlate) {
            f64::NEG_INFINITY
        } else {
            now + self.truth.rise - self.faults.landing_hidden()
        };
        // The pin itself, without what lies on it.
        let knocked = self.faults.total(|f| match f {
            Fault::DatumKnocked(by) if self.was_fetched => *by,
            _ => 0.0,
        });
        (now + knocked, plate)
    }
}

#[cfg(test)]
mod tests;
