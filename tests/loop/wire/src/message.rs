//! The messages. Lengths, speeds and temperatures travel as their bits.

use serde::{Deserialize, Serialize};
use zdatum::cycle::{Do, Event, Fault, ProbeState, Seconds, Temperatures};
use zdatum::setup::Place;
use zdatum::{Length, Speed, Station, Temperature};

/// Every word of an outcome.
pub type Words = heapless::Vec<u32, 200>;

/// One frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Frame {
    /// The session that the machine gave; 0 before.
    pub session: u32,
    /// Number of the request within the session; an answer carries that of its request.
    pub seq: u32,
    /// What is said.
    pub body: Body,
}

/// What is said. There is no heap to keep the large one in.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Body {
    /// Firmware: idle; its first frame.
    Hello(u16),
    /// Machine: begin a session.
    Start {
        /// Of the protocol.
        version: u16,
        /// Number of the invented machine.
        case: u32,
        /// Homed and levelled since.
        ready: bool,
        /// Silence after which the machine stops by itself and lifts, ms. The firmware outlasts it.
        dead_man: u16,
        /// A session broke off: end it safely, land nothing.
        broken_off: bool,
        /// Whether stop is pressed.
        stop: bool,
    },
    /// Firmware: carry this out.
    Ask(Ask),
    /// Machine: what came of it.
    Answer {
        /// The event.
        answer: Answer,
        /// Whether stop is pressed.
        stop: bool,
    },
    /// Firmware: the cycle's outcome; repeated until taken.
    Outcome(Words),
    /// Machine: the outcome is taken.
    Taken,
}

/// A request of the cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Ask {
    FindProbe { within: u16 },
    Home { within: u16 },
    Level { lowest: i32, within: u16 },
    Warm { tool: i32, within: u16 },
    Fetch { lowest: i32, within: u16 },
    PutBack { lowest: Option<i32>, within: u16 },
    Move { x: i32, y: i32, lowest: i32, within: u16 },
    Approach { station: u8, floor: i32, speed: u32, within: u16 },
    Lift { to: i32, within: u16 },
    Halt,
}

impl Ask {
    /// Of a request; `None` of the one that asks for nothing.
    pub fn of(request: Do) -> Option<Self> {
        Some(match request {
            Do::FindProbe { within } => Self::FindProbe { within: within.0 },
            Do::Home { within } => Self::Home { within: within.0 },
            Do::Level { lowest, within } => Self::Level { lowest: lowest.to_bits(), within: within.0 },
            Do::Warm { tool, within } => Self::Warm { tool: tool.to_bits(), within: within.0 },
            Do::Fetch { lowest, within } => Self::Fetch { lowest: lowest.to_bits(), within: within.0 },
            Do::PutBack { lowest, within } => {
                Self::PutBack { lowest: lowest.map(Length::to_bits), within: within.0 }
            }
            Do::Move { to, lowest, within } => Self::Move {
                x: to.x.to_bits(),
                y: to.y.to_bits(),
                lowest: lowest.to_bits(),
                within: within.0,
            },
            Do::Approach { station, floor, speed, within } => Self::Approach {
                station: zdatum_boards_cases::digest::station(station) as u8,
                floor: floor.to_bits(),
                speed: speed.to_bits(),
                within: within.0,
            },
            Do::Lift { to, within } => Self::Lift { to: to.to_bits(), within: within.0 },
            Do::Halt => Self::Halt,
            Do::Finished => return None,
        })
    }

    /// The request; `None` where a value is out of its range.
    pub fn request(self) -> Option<Do> {
        let length = |bits: i32| Length::from_bits(i64::from(bits)).ok();
        Some(match self {
            Self::FindProbe { within } => Do::FindProbe { within: Seconds(within) },
            Self::Home { within } => Do::Home { within: Seconds(within) },
            Self::Level { lowest, within } => Do::Level { lowest: length(lowest)?, within: Seconds(within) },
            Self::Warm { tool, within } => {
                Do::Warm { tool: Temperature::from_bits(i64::from(tool)).ok()?, within: Seconds(within) }
            }
            Self::Fetch { lowest, within } => Do::Fetch { lowest: length(lowest)?, within: Seconds(within) },
            Self::PutBack { lowest: None, within } => Do::PutBack { lowest: None, within: Seconds(within) },
            Self::PutBack { lowest: Some(lowest), within } => {
                Do::PutBack { lowest: Some(length(lowest)?), within: Seconds(within) }
            }
            Self::Move { x, y, lowest, within } => Do::Move {
                to: Place { x: length(x)?, y: length(y)? },
                lowest: length(lowest)?,
                within: Seconds(within),
            },
            Self::Approach { station, floor, speed, within } => Do::Approach {
                station: match station {
                    1 => Station::Tip,
                    2 => Station::Shoulder,
                    3 => Station::Plate,
                    _ => return None,
                },
                floor: length(floor)?,
                speed: Speed::from_bits(i64::from(speed)).ok()?,
                within: Seconds(within),
            },
            Self::Lift { to, within } => Do::Lift { to: length(to)?, within: Seconds(within) },
            Self::Halt => Do::Halt,
        })
    }
}

/// An event of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Answer {
    Done,
    /// 0 put back, 1 fetched, else unknown.
    Probe(u8),
    Tripped {
        z: i32,
        tool: Option<i32>,
        bed: Option<i32>,
        chamber: Option<i32>,
    },
    FloorReached,
    AlreadyTripped,
    WrongSwitch,
    Lifted {
        open: bool,
    },
    /// Its place in [`Fault::ALL`].
    Failed(u8),
}

impl Answer {
    /// Of an event.
    pub fn of(event: Event) -> Self {
        match event {
            Event::Done => Self::Done,
            Event::Probe(ProbeState::PutBack) => Self::Probe(0),
            Event::Probe(ProbeState::Fetched) => Self::Probe(1),
            Event::Probe(ProbeState::Unknown) => Self::Probe(2),
            Event::Tripped { z, at } => {
                let bits = |read: Option<Temperature>| read.map(Temperature::to_bits);
                Self::Tripped {
                    z: z.to_bits(),
                    tool: bits(at.tool),
                    bed: bits(at.bed),
                    chamber: bits(at.chamber),
                }
            }
            Event::FloorReached => Self::FloorReached,
            Event::AlreadyTripped => Self::AlreadyTripped,
            Event::WrongSwitch => Self::WrongSwitch,
            Event::Lifted { open } => Self::Lifted { open },
            Event::Failed(fault) => {
                Self::Failed(Fault::ALL.iter().position(|known| *known == fault).unwrap_or(0) as u8)
            }
        }
    }

    /// The event; what is out of range is a machine whose position is not known.
    pub fn event(self) -> Event {
        self.checked().unwrap_or(Event::Failed(Fault::Position))
    }

    fn checked(self) -> Option<Event> {
        let read = |bits: Option<i32>| match bits {
            None => Some(None),
            Some(bits) => Temperature::from_bits(i64::from(bits)).ok().map(Some),
        };
        Some(match self {
            Self::Done => Event::Done,
            Self::Probe(0) => Event::Probe(ProbeState::PutBack),
            Self::Probe(1) => Event::Probe(ProbeState::Fetched),
            Self::Probe(_) => Event::Probe(ProbeState::Unknown),
            Self::Tripped { z, tool, bed, chamber } => Event::Tripped {
                z: Length::from_bits(i64::from(z)).ok()?,
                at: Temperatures { tool: read(tool)?, bed: read(bed)?, chamber: read(chamber)? },
            },
            Self::FloorReached => Event::FloorReached,
            Self::AlreadyTripped => Event::AlreadyTripped,
            Self::WrongSwitch => Event::WrongSwitch,
            Self::Lifted { open } => Event::Lifted { open },
            Self::Failed(place) => Event::Failed(*Fault::ALL.get(usize::from(place))?),
        })
    }
}
