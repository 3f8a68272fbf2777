//! What the owner wrote → what has been checked, the floors included.
//!
//! A [`Draft`] is the machine as written, each value already a quantity. [`Setup::check`] turns it into a
//! [`Setup`] or says which key is wrong and by how much. Everything else in the core takes a `Setup`: nothing
//! moves on an unchecked draft.

mod floors;
mod key;
mod rules;

pub use floors::{Floors, Press};
pub use key::{BadSetup, Fault, Key};

use crate::arith::{Bounded, signed_product};
use crate::budget::Coverage;
use crate::series::{Centre, Method, Pooled, Station};
use crate::units::{
    Growth, Latency, Length, OutOfRange, Speed, Step, Temperature, Uncertainty, Variance, Warming,
};

/// Most growing parts that a setup may name.
pub const MOST_GROWTH: usize = 8;

/// Lowest and highest value of what may vary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LengthRange {
    /// Lowest.
    pub low: Length,
    /// Highest; never below the lowest in a checked setup.
    pub high: Length,
}

impl LengthRange {
    /// The end that a value is beyond; `None` where it lies within, both ends included.
    pub(crate) fn passed_by(&self, value: Length) -> Option<Length> {
        if value < self.low {
            Some(self.low)
        } else if value > self.high {
            Some(self.high)
        } else {
            None
        }
    }
}

/// A carriage position in the plane of the plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// Across.
    pub x: Length,
    /// Along.
    pub y: Length,
}

/// Reach of the carriage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Travel {
    /// Reach across.
    pub x: LengthRange,
    /// Reach along.
    pub y: LengthRange,
    /// Reach in height.
    pub z: LengthRange,
    /// Motor steps of the height axis, as steps in so many millimetres.
    pub steps: (u32, u32),
}

/// Carriage position of each station.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Places {
    /// The tip stands over the datum switch.
    pub tip: Place,
    /// The shoulder stands over the datum switch.
    pub shoulder: Place,
    /// The plunger stands over the point of the plate.
    pub plate: Place,
}

impl Places {
    /// The position of one station.
    pub(crate) const fn of(&self, station: Station) -> Place {
        match station {
            Station::Tip => self.tip,
            Station::Shoulder => self.shoulder,
            Station::Plate => self.plate,
        }
    }
}

/// A switch's delay between the trip and its edge being seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Delay {
    /// τ.
    pub latency: Latency,
    /// Its standard uncertainty.
    pub latency_u: Latency,
}

/// The switch fixed to the frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DatumSwitch {
    /// T, the carriage height at which the tip trips it: lowest and highest expected.
    pub tip_height: LengthRange,
    /// How far past its trip it may be pressed.
    pub overtravel: Length,
    /// When its edge is seen.
    pub delay: Delay,
}

/// The probe and its own switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Probe {
    /// t, how far the plunger's end stands below the shoulder at the instant it trips.
    pub trip_depth: Length,
    /// u(t).
    pub trip_depth_u: Uncertainty,
    /// v₀, the speed at which t was trimmed; 0 for a value from the switch's sheet.
    pub trimmed_at_speed: Speed,
    /// d, the drop of a probe that is properly seated.
    pub drop: LengthRange,
    /// f, how far the plunger's end stands below the shoulder when nothing presses it.
    pub free_height: Length,
    /// When its switch's edge is seen.
    pub delay: Delay,
}

/// All plates that may be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plates {
    /// r, their rise over the datum switch's trip height.
    pub rise: LengthRange,
    /// Clearance kept under the tip.
    pub margin: Length,
}

/// How touches are taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Touch {
    /// Speed of the first approach, mm/s, above 0.
    pub first_speed: Speed,
    /// Speed of settling and fine touches, above 0 and at most the first's.
    pub fine_speed: Speed,
    /// How far the carriage backs off between touches.
    pub lift: Length,
    /// Longest way travelled after a trip.
    pub stop: Length,
    /// Slow touches thrown away, 0 to 16.
    pub settle: u8,
    /// Fewest counted touches, 1 to `most`; 2 without a study.
    pub least: u8,
    /// Most fine touches, up to 64.
    pub most: u8,
    /// Widest spread of the counted touches.
    pub band: Length,
    /// Which centre stands for a series.
    pub centre: Centre,
    /// Go on until a station's u is at most this; 0: no target.
    pub target_u: Uncertainty,
    /// Touch the tip once more at the end of the cycle.
    pub tip_again: bool,
}

/// What a growing part's temperature follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Follows {
    /// The tool: read at the tip's touches.
    Tool,
    /// The bed: read at the plate's touches.
    Bed,
    /// The chamber: read at the plate's touches.
    Chamber,
}

impl Follows {
    /// All of them.
    pub const ALL: [Follows; 3] = [Follows::Tool, Follows::Bed, Follows::Chamber];

    /// The word of the formats: `tool`, `bed`, `chamber`.
    pub const fn word(self) -> &'static str {
        match self {
            Follows::Tool => "tool",
            Follows::Bed => "bed",
            Follows::Chamber => "chamber",
        }
    }
}

/// A part that is longer at print than at the touch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Grows {
    /// What its temperature follows.
    pub follows: Follows,
    /// g = Σ αᵢ·lᵢ, what it adds to the landing per kelvin; may be negative.
    pub rate: Growth,
    /// u(g), not negative.
    pub rate_u: Growth,
    /// Its temperature at the touch, where none was read.
    pub touch: Temperature,
    /// Its temperature at the first layer.
    pub print: Temperature,
    /// u(Δθ), of print less the temperature read at the touch; not negative. Parts that follow one sensor share
    /// its error.
    pub delta_u: Warming,
    /// w, the warming that the trip depth has taken up: 0 for a t from a sheet, moved by each trim.
    pub trimmed: Warming,
}

/// What a landing must meet to be accepted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Accept {
    /// Window for L, guarded by U.
    pub landing: LengthRange,
    /// Largest change of a plate's span since its last accepted one.
    pub shift: Length,
    /// Largest U.
    pub expanded_u: Uncertainty,
    /// Coverage at which U is stated.
    pub coverage: Coverage,
}

/// A study's s at each station, where there is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Studied {
    /// Tip on datum switch.
    pub tip: Option<Pooled>,
    /// Shoulder on datum switch.
    pub shoulder: Option<Pooled>,
    /// Plunger on plate.
    pub plate: Option<Pooled>,
    /// b(tip): how far the tip's series scatter beyond the scatter within.
    pub tip_between: Option<Pooled>,
    /// b(span): how far the differences of plate and shoulder do.
    pub span_between: Option<Pooled>,
}

impl Studied {
    /// The study of one station.
    pub const fn of(&self, station: Station) -> Option<Pooled> {
        match station {
            Station::Tip => self.tip,
            Station::Shoulder => self.shoulder,
            Station::Plate => self.plate,
        }
    }
}

/// A machine as its owner wrote it, unchecked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// Reach of the carriage.
    pub travel: Travel,
    /// Where the stations are.
    pub stations: Places,
    /// The switch fixed to the frame.
    pub datum_switch: DatumSwitch,
    /// The probe.
    pub probe: Probe,
    /// The plates.
    pub plates: Plates,
    /// How touches are taken.
    pub touch: Touch,
    /// Parts that grow between touch and print.
    pub growth: heapless::Vec<Grows, MOST_GROWTH>,
    /// Most that the landing may still rise before the first layer, from the cycle's first touch; negative where it
    /// sinks.
    pub soak_left: Length,
    /// What three touches cannot show: flex, residue, pitch and cyclic errors that differ from the trimmed point.
    pub unseen: Uncertainty,
    /// What is accepted.
    pub accept: Accept,
    /// Studies of the switches.
    pub pooled: Studied,
}

/// A checked machine: every value in range, no contradiction, the floors safe.
///
/// ```compile_fail
/// // A setup comes from `Setup::check` alone.
/// let setup = zdatum::Setup { draft: todo!() };
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setup {
    draft: Draft,
    step: Step,
    /// Δ²/12.
    rounding: Variance,
    /// u²(t).
    trip_depth: Variance,
    /// left²/12.
    soak: Variance,
    /// u² of what no touch shows.
    unseen: Variance,
    /// (Σ gᵢ·u(Δθᵢ))² of the parts that follow tool, bed and chamber.
    readings: [Variance; 3],
    /// The sum of these, u²(t) included.
    known: Variance,
    floors: Floors,
}

impl Setup {
    /// Checks a draft.
    ///
    /// # Errors
    /// The first key that is wrong, what stands there, the limit, and the fault.
    pub fn check(draft: Draft) -> Result<Self, BadSetup> {
        let step = rules::check(&draft)?;
        let floors = Floors::work_out(&draft, step)?;
        // All at most 1 mm by the rules, so that they can be squared.
        let squared = |u: Uncertainty| u.variance().unwrap_or(Variance::ZERO);
        let (trip_depth, unseen) = (squared(draft.probe.trip_depth_u), squared(draft.unseen));
        let left = Variance::square_of(draft.soak_left.to_bits().unsigned_abs() << 14);
        let soak = Variance::from_bits((left.to_bits() + 6) / 12);
        let readings =
            readings(&draft.growth).map_err(|_| BadSetup::new(Key::GrowthDeltaU, Fault::TooUncertain))?;
        let mut known = trip_depth;
        for other in [soak, unseen].iter().chain(&readings) {
            let sum = known.plus(*other);
            known = sum.map_err(|_| BadSetup::new(Key::GrowthDeltaU, Fault::TooUncertain))?;
        }
        let rounding = step.rounding_variance();
        Ok(Self { draft, step, rounding, trip_depth, soak, unseen, readings, known, floors })
    }

    /// The values as written.
    pub const fn draft(&self) -> &Draft {
        &self.draft
    }

    /// The motor step Δ.
    pub const fn step(&self) -> Step {
        self.step
    }

    /// Δ²/12, below which no station's variance is.
    pub const fn rounding(&self) -> Variance {
        self.rounding
    }

    /// u²(t).
    pub const fn trip_depth_variance(&self) -> Variance {
        self.trip_depth
    }

    /// left²/12: what growth still to come, anything between 0 and left, adds to u² (JCGM 100:2008, 4.3.7).
    pub const fn soak_variance(&self) -> Variance {
        self.soak
    }

    /// What the readings of tool, bed and chamber add to u².
    pub const fn readings_variance(&self) -> [Variance; 3] {
        self.readings
    }

    /// The sum of all that does not depend on the touches: u²(t), readings, growth still to come, unseen.
    pub(crate) const fn known_variance(&self) -> Variance {
        self.known
    }

    /// What no touch shows adds to u².
    pub const fn unseen_variance(&self) -> Variance {
        self.unseen
    }

    /// The lowest heights of moves and approaches.
    pub const fn floors(&self) -> &Floors {
        &self.floors
    }

    /// How a station's series is closed.
    pub const fn method(&self, station: Station) -> Method {
        Method {
            centre: self.draft.touch.centre,
            pooled: self.draft.pooled.of(station),
            floor: self.rounding,
        }
    }
}

/// (Σ gᵢ·u(Δθᵢ))² of tool, bed and chamber: parts that follow one sensor share its error.
fn readings(parts: &[Grows]) -> Result<[Variance; 3], OutOfRange> {
    let mut shared = [0_i64; 3];
    for part in parts {
        let [tool, bed, chamber] = &mut shared;
        let own = match part.follows {
            Follows::Tool => tool,
            Follows::Bed => bed,
            Follows::Chamber => chamber,
        };
        // 2⁻⁴⁸ mm, below 2^58 in all.
        *own = own.plus(signed_product(part.rate.to_bits(), part.delta_u.to_bits()));
    }
    let mut squared = [Variance::ZERO; 3];
    for (variance, sum) in squared.iter_mut().zip(shared) {
        variance.add_square(sum.unsigned_abs())?;
    }
    Ok(squared)
}
