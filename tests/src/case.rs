//! From the core's types to the oracle's plain numbers, and the core's series from plain heights.

use zdatum::setup::{Delay, Follows};
use zdatum::{
    Centre, Draft, Growth, Latency, Length, Pooled, Readings, Recorded, Series, Setup, Speed, Station, Step,
    Temperature, Uncertainty, Variance, Warming, Wide,
};

use crate::generate::Case;
use crate::oracle::{Exact, floors, fraction, landing, of_bits, series};

/// The widest series that the tests use.
pub type Touches = Series<64>;

/// A series of heights in bits.
pub fn series_of(z: &[i64]) -> Touches {
    let mut series = Series::new();
    for z in z {
        series.push(Length::from_bits(*z).expect("a length")).expect("room for 64 touches");
    }
    series
}

/// A station's record.
pub fn recorded(z: &[i64], readings: Readings) -> Recorded<64> {
    Recorded { series: series_of(z), readings }
}

/// A value as an exact number of its unit.
pub trait ToExact {
    /// The exact number, in the unit held.
    fn exact(&self) -> Exact;
}

macro_rules! exact {
    ($($name:ident)*) => {$(
        impl ToExact for $name {
            fn exact(&self) -> Exact {
                of_bits(self.to_bits(), $name::SPEC.fraction_bits)
            }
        }
    )*};
}

exact!(Length Speed Latency Temperature Warming Growth Uncertainty Variance);

impl ToExact for Wide {
    fn exact(&self) -> Exact {
        of_bits(self.to_bits(), 32)
    }
}

impl ToExact for Step {
    fn exact(&self) -> Exact {
        fraction(self.mm(), self.steps())
    }
}

fn delay(delay: &Delay) -> (Exact, Exact) {
    (delay.latency.exact(), delay.latency_u.exact())
}

/// The oracle's name for a centre.
pub fn centre(which: Centre) -> series::Centre {
    match which {
        Centre::Mean => series::Centre::Mean,
        Centre::Median => series::Centre::Median,
        Centre::HodgesLehmann => series::Centre::HodgesLehmann,
    }
}

/// The centre's variance factor, which has tests of its own, as an input.
pub fn factor(which: Centre, count: usize) -> Exact {
    of_bits(zdatum::series::variance_factor(which, count), 15)
}

fn study(pooled: Option<Pooled>) -> Option<(Exact, u32)> {
    pooled.map(|pooled| (pooled.s.exact(), pooled.dof.get()))
}

/// A cycle as the oracle takes it.
pub fn for_oracle(case: &Case) -> landing::Cycle {
    let draft = &case.draft;
    let [tip, shoulder, plate] = &case.readings;
    let fine = draft.touch.fine_speed;
    let station = |which: Station, place: usize, readings: &Readings| landing::Station {
        touches: case.touches[place].clone(),
        pooled: study(draft.pooled.of(which)),
        factor: factor(draft.touch.centre, case.touches[place].len()),
        speed: readings.speed.unwrap_or(fine).exact(),
    };
    let parts = draft.growth.iter().map(|part| {
        let read = match part.follows {
            Follows::Tool => tip.tool,
            Follows::Bed => plate.bed,
            Follows::Chamber => plate.chamber,
        };
        landing::Part {
            rate: part.rate.exact(),
            rate_u: part.rate_u.exact(),
            warmer: part.print.exact() - read.unwrap_or(part.touch).exact(),
            trimmed: part.trimmed.exact(),
            delta_u: part.delta_u.exact(),
            sensor: part.follows as usize,
        }
    });
    landing::Cycle {
        centre: centre(draft.touch.centre),
        step: fraction(draft.travel.steps.1, draft.travel.steps.0),
        stations: [
            station(Station::Tip, 0, tip),
            station(Station::Shoulder, 1, shoulder),
            station(Station::Plate, 2, plate),
        ],
        trip_depth: draft.probe.trip_depth.exact(),
        trip_depth_u: draft.probe.trip_depth_u.exact(),
        trimmed_at: draft.probe.trimmed_at_speed.exact(),
        plate_latency: delay(&draft.probe.delay),
        datum_latency: delay(&draft.datum_switch.delay),
        parts: parts.collect(),
        left: draft.soak_left.exact(),
        unseen: draft.unseen.exact(),
        between: [study(draft.pooled.tip_between), study(draft.pooled.span_between)],
    }
}

/// A machine's floors as the oracle takes them.
pub fn floors_of(draft: &Draft) -> floors::Machine {
    let range = |range: zdatum::setup::LengthRange| (range.low.exact(), range.high.exact());
    floors::Machine {
        first_speed: draft.touch.first_speed.exact(),
        fine_speed: draft.touch.fine_speed.exact(),
        datum: delay(&draft.datum_switch.delay),
        plate: delay(&draft.probe.delay),
        stop: draft.touch.stop.exact(),
        step: fraction(draft.travel.steps.1, draft.travel.steps.0),
        trip_depth: (draft.probe.trip_depth.exact(), draft.probe.trip_depth_u.exact()),
        tip_height: range(draft.datum_switch.tip_height),
        drop: range(draft.probe.drop),
        rise: range(draft.plates.rise),
        margin: draft.plates.margin.exact(),
        free_height: draft.probe.free_height.exact(),
    }
}

/// The closed series and the landing of a case, as the core computes them.
pub fn land(
    setup: &Setup,
    case: &Case,
) -> Option<(zdatum::Touches, Result<zdatum::Landing, zdatum::OutOfRange>)> {
    let close =
        |station: Station, place: usize| series_of(&case.touches[place]).close(&setup.method(station)).ok();
    let touches = zdatum::Touches {
        tip: close(Station::Tip, 0)?,
        shoulder: close(Station::Shoulder, 1)?,
        plate: close(Station::Plate, 2)?,
        conditions: zdatum::landing::Conditions::of(&case.readings[0], &case.readings[1], &case.readings[2]),
    };
    Some((touches, zdatum::Landing::of(setup, &touches)))
}

/// A length of so many bits.
pub fn bits(bits: i64) -> Length {
    Length::from_bits(bits).expect("a length")
}

/// An uncertainty of so many bits.
pub fn u_bits(bits: i64) -> Uncertainty {
    Uncertainty::from_bits(bits).expect("an uncertainty")
}
