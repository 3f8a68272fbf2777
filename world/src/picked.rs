//! A world whose draws come from streams of their own, source by source, so that one source can be drawn anew
//! while all else stays.

use zdatum::Station;
use zdatum::cycle::Do;

use super::random::Random;
use super::truth::{Numbers, Truth};
use super::{Faults, Machine, Over, World};

/// What is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drawn {
    /// How far the true trip depth is from what was entered.
    TripDepth,
    /// The datum switch's latency.
    DatumLatency,
    /// The probe's switch's latency.
    PlateLatency,
    /// Growth between touch and print.
    Growth,
    /// Where the tip stands within a motor step.
    Position,
    /// Which plate is fitted.
    Plate,
    /// How the probe seats.
    Seating,
    /// Noise, jitter and wild touches at a station.
    Touches(Station),
}

impl Drawn {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::TripDepth,
        Self::DatumLatency,
        Self::PlateLatency,
        Self::Growth,
        Self::Position,
        Self::Plate,
        Self::Seating,
        Self::Touches(Station::Tip),
        Self::Touches(Station::Shoulder),
        Self::Touches(Station::Plate),
    ];

    /// For programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::TripDepth => "trip-depth",
            Self::DatumLatency => "datum-latency",
            Self::PlateLatency => "plate-latency",
            Self::Growth => "growth",
            Self::Position => "position",
            Self::Plate => "plate",
            Self::Seating => "seating",
            Self::Touches(Station::Tip) => "tip-touches",
            Self::Touches(Station::Shoulder) => "shoulder-touches",
            Self::Touches(Station::Plate) => "plate-touches",
        }
    }

    /// For people.
    pub const fn name(self) -> &'static str {
        match self {
            Self::TripDepth => "trip depth",
            Self::DatumLatency => "datum switch latency",
            Self::PlateLatency => "plate switch latency",
            Self::Growth => "growth until print",
            Self::Position => "place in motor step",
            Self::Plate => "plate",
            Self::Seating => "probe seating",
            Self::Touches(Station::Tip) => "tip touches",
            Self::Touches(Station::Shoulder) => "shoulder touches",
            Self::Touches(Station::Plate) => "plate touches",
        }
    }

    /// Keeps the streams of the sources apart.
    const fn tag(self) -> u64 {
        let number = match self {
            Self::TripDepth => 1,
            Self::DatumLatency => 2,
            Self::PlateLatency => 3,
            Self::Growth => 4,
            Self::Position => 5,
            Self::Plate => 6,
            Self::Seating => 7,
            Self::Touches(Station::Tip) => 8,
            Self::Touches(Station::Shoulder) => 9,
            Self::Touches(Station::Plate) => 10,
        };
        // Any odd constant: 2^64 over the golden ratio.
        0x9E37_79B9_7F4A_7C15_u64.wrapping_mul(number)
    }
}

/// The streams of a run's touches and fetches.
#[derive(Clone, Debug)]
pub struct Streams {
    seating: Random,
    touches: [Random; 3],
    at: Option<Station>,
}

impl Streams {
    /// A run's world and its streams; `seed_of` says from which seed a source is drawn.
    pub fn begin<'m>(
        machine: &'m Machine,
        faults: &'m Faults,
        run: u64,
        seed_of: impl Fn(Drawn) -> u64,
    ) -> (Self, World<'m>) {
        let stream = |drawn: Drawn| Random::of_run(seed_of(drawn) ^ drawn.tag(), run);
        let normal = [Drawn::TripDepth, Drawn::DatumLatency, Drawn::PlateLatency, Drawn::Growth]
            .map(|drawn| stream(drawn).normal());
        let centred = [Drawn::Position, Drawn::Plate].map(|drawn| stream(drawn).centred());
        // The growth's second number, of its own stream.
        let mut growth = stream(Drawn::Growth);
        let _ = growth.normal();
        let trimmed = growth.normal();
        let mut world = World::new(machine, faults, 0, run);
        world.truth = Truth::of(machine, faults, &Numbers { normal, centred, trimmed });
        let touches = Station::ALL.map(|station| stream(Drawn::Touches(station)));
        (Self { seating: stream(Drawn::Seating), touches, at: None }, world)
    }

    /// To be called once a request has been answered: the draws to come are then those of where the tool head
    /// is now.
    #[inline]
    pub fn follow(&mut self, world: &mut World<'_>, request: &Do) {
        match request {
            Do::Move { .. } => {
                // What this station has drawn stays drawn: it may be touched again.
                self.swap(world);
                self.at = match world.over {
                    Over::Station(station) => Some(station),
                    Over::Elsewhere => None,
                };
                self.swap(world);
            }
            Do::Fetch { .. } => world.truth.seat(world.machine, world.faults, &mut self.seating),
            _ => {}
        }
    }

    /// The world's stream for that of the station, or back.
    fn swap(&mut self, world: &mut World<'_>) {
        let [tip, shoulder, plate] = &mut self.touches;
        match self.at {
            None => {}
            Some(Station::Tip) => std::mem::swap(tip, &mut world.random),
            Some(Station::Shoulder) => std::mem::swap(shoulder, &mut world.random),
            Some(Station::Plate) => std::mem::swap(plate, &mut world.random),
        }
    }
}
