//! What the cycle asks of a machine, and what a machine may answer.

use crate::series::Station;
use crate::setup::Place;
use crate::units::{Length, Speed, Temperature};

/// Whole seconds: the longest that a request may take. Watching it is the firmware's part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Seconds(pub u16);

/// What to do now.
///
/// Heights are carriage heights in mm, up is positive. Every request that moves says how low it may go and
/// how long it may take; a machine that cannot keep to either answers [`Event::Failed`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[must_use]
pub enum Do {
    /// Tell whether the tool carries the probe, without moving. Answer: [`Event::Probe`].
    FindProbe {
        /// Longest time.
        within: Seconds,
    },
    /// Home all axes. The probe is put back. The tool may stand anywhere: it rises, or is homed in height, to
    /// where it is safe before it goes sideways. Answer: [`Event::Done`].
    Home {
        /// Longest time.
        within: Seconds,
    },
    /// Level the axes or the bed, where the machine can: a tilt makes the landing wrong away from the point
    /// touched. Answer: [`Event::Done`].
    Level {
        /// Never lower than this beside the machine's own levelling touches.
        lowest: Length,
        /// Longest time.
        within: Seconds,
    },
    /// Bring the tool to its touch temperature, below that at which filament oozes: to within a few kelvin of
    /// it (*common practice*). A hotter tool cools down to it. Answer: [`Event::Done`].
    Warm {
        /// Temperature of the tool: that of the first part which follows the tool; later ones do not change
        /// it.
        tool: Temperature,
        /// Longest time.
        within: Seconds,
    },
    /// Fetch the probe and make sure of it. Answer: [`Event::Done`], or [`Fault::Probe`] where it cannot be
    /// confirmed.
    ///
    /// Where it failed or is cancelled, the tool may still stand in the dock. Before the [`Do::Lift`] that
    /// follows is answered, the machine leaves the dock sideways by its own routine; else it answers
    /// [`Fault::Position`].
    Fetch {
        /// Never lower on the way there and back.
        lowest: Length,
        /// Longest time.
        within: Seconds,
    },
    /// Put the probe back and make sure of it. Answer as for [`Do::Fetch`].
    PutBack {
        /// Never lower on the way there and back; `None` where the machine has not been homed yet: its own
        /// routine homes what it needs without lowering the tool.
        lowest: Option<Length>,
        /// Longest time.
        within: Seconds,
    },
    /// Rise to `lowest` where the carriage is lower (never sink), then go sideways. Answer: [`Event::Done`].
    Move {
        /// Where to.
        to: Place,
        /// Lowest height on the way.
        lowest: Length,
        /// Longest time.
        within: Seconds,
    },
    /// Go down until a switch trips or the floor is reached, watching both switches from before the start.
    ///
    /// At the tip's station the probe's switch counts by its closing edge, not by its state: wired so that a
    /// missing probe reads as tripped, it is closed while the probe is in its dock. Where both switches close
    /// at once, report the wrong one; where the awaited one trips while the carriage slows down at the floor,
    /// report the trip.
    ///
    /// Answers: [`Event::Tripped`], [`Event::FloorReached`], [`Event::AlreadyTripped`],
    /// [`Event::WrongSwitch`].
    Approach {
        /// Whose switch is awaited: the datum switch at tip and shoulder, the probe's at the plate.
        station: Station,
        /// Never lower, the stop after a trip included.
        floor: Length,
        /// Speed on the way down.
        speed: Speed,
        /// Longest time.
        within: Seconds,
    },
    /// Rise to a height, straight up; never sink. Answer: [`Event::Lifted`].
    ///
    /// It may follow a [`Cycle::cancel`](super::Cycle::cancel). Where the stop may have lost steps, answer
    /// [`Fault::Position`].
    Lift {
        /// Height to rise to; a carriage that is higher stays.
        to: Length,
        /// Longest time.
        within: Seconds,
    },
    /// No further motion: ask a person. Answer: [`Event::Done`] once motion has ceased; any [`Event::Failed`]
    /// ends it as well.
    Halt,
    /// Nothing: the cycle is over and its outcome stands.
    Finished,
}

/// What was read beside a touch; `None` where there is no such sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Temperatures {
    /// Of the tool.
    pub tool: Option<Temperature>,
    /// Of the bed.
    pub bed: Option<Temperature>,
    /// Of the chamber.
    pub chamber: Option<Temperature>,
}

/// Where the probe is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProbeState {
    /// In its dock.
    PutBack,
    /// On the tool.
    Fetched,
    /// Not to be told.
    Unknown,
}

/// What a machine answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// The request has been carried out.
    Done,
    /// Where the probe is.
    Probe(ProbeState),
    /// The awaited switch tripped.
    Tripped {
        /// Carriage height at the edge, latched by hardware or interrupt; not where the carriage stopped.
        z: Length,
        /// Read at the touch.
        at: Temperatures,
    },
    /// The floor was reached and nothing tripped.
    FloorReached,
    /// A switch that has to be open was closed before the approach; the carriage has not moved. At the tip's
    /// station the probe's switch is left out where a missing probe reads as tripped; see [`Do::Approach`].
    AlreadyTripped,
    /// The other station's switch closed; the carriage has stopped.
    WrongSwitch,
    /// The carriage has been lifted.
    Lifted {
        /// Whether the station's switch is open again. Looked at after a touch only; in an ending it is
        /// ignored.
        open: bool,
    },
    /// The request could not be carried out.
    Failed(Fault),
}

/// Why a machine could not do as asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// A move was not completed.
    Move,
    /// The carriage's position is no longer known.
    Position,
    /// The longest time passed.
    TimedOut,
    /// Homing failed.
    Home,
    /// Levelling failed; the position is still known.
    Level,
    /// A temperature was not reached or a sensor failed; the position is still known.
    Heat,
    /// A fetch or put-back could not be confirmed; the position is still known.
    Probe,
}

impl Fault {
    /// All of them.
    pub const ALL: [Fault; 7] =
        [Fault::Move, Fault::Position, Fault::TimedOut, Fault::Home, Fault::Level, Fault::Heat, Fault::Probe];

    /// Whether the carriage may still be moved afterwards.
    pub const fn position_stands(self) -> bool {
        matches!(self, Fault::Level | Fault::Heat | Fault::Probe)
    }
}

/// An event that does not answer the pending request: the caller's error. Nothing has changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutOfTurn {
    /// What is pending.
    pub pending: Do,
    /// What came.
    pub got: Event,
}

impl core::fmt::Display for OutOfTurn {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("the event does not answer the pending request; poll again and answer that")
    }
}

impl core::error::Error for OutOfTurn {}

/// Times that the firmware watches; generous ones, since all they must catch is a machine that hangs (*common
/// practice*).
pub(super) mod within {
    use super::Seconds;

    pub(in crate::cycle) const FIND: Seconds = Seconds(10);
    pub(in crate::cycle) const HOME: Seconds = Seconds(180);
    pub(in crate::cycle) const LEVEL: Seconds = Seconds(600);
    pub(in crate::cycle) const WARM: Seconds = Seconds(1_200);
    pub(in crate::cycle) const PROBE: Seconds = Seconds(90);
    pub(in crate::cycle) const MOVE: Seconds = Seconds(60);
    pub(in crate::cycle) const LIFT: Seconds = Seconds(60);
    /// On top of the time that an approach's way takes at its speed.
    pub(in crate::cycle) const APPROACH: u16 = 5;
}
