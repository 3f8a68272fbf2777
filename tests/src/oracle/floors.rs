//! Floors by the formulas of `docs/geometry.md`, lengths in mm.

use num_traits::{Signed, Zero};

use super::{Exact, whole};

/// What goes in.
#[derive(Clone, Debug)]
pub struct Machine {
    /// First speed.
    pub first_speed: Exact,
    /// Fine speed.
    pub fine_speed: Exact,
    /// τ and u(τ) of the datum switch.
    pub datum: (Exact, Exact),
    /// τ and u(τ) of the probe's switch.
    pub plate: (Exact, Exact),
    /// Longest stop after a trip.
    pub stop: Exact,
    /// Δ.
    pub step: Exact,
    /// t and u(t).
    pub trip_depth: (Exact, Exact),
    /// T, lowest and highest.
    pub tip_height: (Exact, Exact),
    /// d, lowest and highest.
    pub drop: (Exact, Exact),
    /// r, lowest and highest.
    pub rise: (Exact, Exact),
    /// Clearance under the tip.
    pub margin: Exact,
    /// f.
    pub free_height: Exact,
}

impl Machine {
    fn overrun(&self, (latency, latency_u): &(Exact, Exact)) -> Exact {
        &self.first_speed * (latency + whole(3) * latency_u) + &self.stop + &self.step
    }

    /// e for the datum switch.
    pub fn datum_overrun(&self) -> Exact {
        self.overrun(&self.datum)
    }

    /// e for the probe's switch.
    pub fn plate_overrun(&self) -> Exact {
        self.overrun(&self.plate) + whole(3) * &self.trip_depth.1
    }

    /// How far below the trip a fine touch of the datum switch may read: seen late, and half a step rounded.
    pub fn reads_low(&self) -> Exact {
        &self.fine_speed * (&self.datum.0 + whole(3) * &self.datum.1) + &self.step / whole(2)
    }

    /// Floor of the tip's approach.
    pub fn tip(&self) -> Exact {
        &self.tip_height.0 - self.datum_overrun()
    }

    /// Floor of the shoulder's approach.
    pub fn shoulder(&self, tip: &Exact) -> Exact {
        tip + &self.drop.0 - self.datum_overrun()
    }

    /// Floor of the plate's approach.
    pub fn plate(&self, tip: &Exact, drop: &Exact) -> Exact {
        tip + &self.rise.0 + drop + &self.trip_depth.0 - self.plate_overrun()
    }

    /// Lowest height of lateral moves with the probe put back, and fetched.
    pub fn clear(&self) -> (Exact, Exact) {
        let top = if self.rise.1.is_negative() { Exact::zero() } else { self.rise.1.clone() };
        let clear = &self.tip_height.1 + top + &self.margin;
        let fetched = &clear + &self.drop.1 + &self.free_height;
        (clear, fetched)
    }

    /// How far the tip's approach may press the datum switch.
    pub fn tip_press(&self) -> Exact {
        &self.tip_height.1 - &self.tip_height.0 + self.datum_overrun()
    }

    /// How far the shoulder's approach may press it.
    pub fn shoulder_press(&self) -> Exact {
        &self.drop.1 - &self.drop.0 + self.datum_overrun()
    }

    /// Room under the tip over the highest plate at the shoulder's floor, beyond the margin; must be above 0.
    pub fn shoulder_room(&self) -> Exact {
        &self.drop.0 - self.datum_overrun() - &self.rise.1 - &self.margin
    }

    /// The same at the plate's floor with the probe lost.
    pub fn plate_room(&self) -> Exact {
        &self.drop.0 + &self.trip_depth.0
            - self.plate_overrun()
            - (&self.rise.1 - &self.rise.0)
            - &self.margin
    }

    /// How far past its trip a dead plunger is pressed over the highest plate.
    pub fn dead_plunger(&self) -> Exact {
        &self.rise.1 - &self.rise.0 + self.plate_overrun()
    }
}
