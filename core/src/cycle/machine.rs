//! Blocking calls instead of events, for firmware that prefers them.

use super::request::{Do, Event, Fault, ProbeState, Seconds, Temperatures};
use super::{Cycle, Outcome};
use crate::series::Station;
use crate::setup::Place;
use crate::units::{Length, Speed, Temperature};

/// A machine as seen by the cycle. Each call blocks until it is done; each may fail with a [`Fault`], a
/// time-out included.
///
/// What each must guarantee stands with the request of the same name in [`Do`].
pub trait Machine {
    /// Where the probe is, without moving.
    fn find_probe(&mut self, within: Seconds) -> Result<ProbeState, Fault>;
    /// Homes all axes, the probe put back; sideways only at a safe height.
    fn home(&mut self, within: Seconds) -> Result<(), Fault>;
    /// Levels the axes or the bed, where the machine can.
    fn level(&mut self, lowest: Length, within: Seconds) -> Result<(), Fault>;
    /// Brings the tool to within a few kelvin of its touch temperature, from above as from below.
    fn warm(&mut self, tool: Temperature, within: Seconds) -> Result<(), Fault>;
    /// Fetches the probe and makes sure of it.
    fn fetch(&mut self, lowest: Length, within: Seconds) -> Result<(), Fault>;
    /// Puts the probe back and makes sure of it; without `lowest` the machine has not been homed.
    fn put_back(&mut self, lowest: Option<Length>, within: Seconds) -> Result<(), Fault>;
    /// Rises to `lowest` where lower, then goes sideways.
    fn move_to(&mut self, to: Place, lowest: Length, within: Seconds) -> Result<(), Fault>;
    /// Goes down until a switch trips or the floor is reached.
    fn approach(
        &mut self,
        station: Station,
        floor: Length,
        speed: Speed,
        within: Seconds,
    ) -> Result<Edge, Fault>;
    /// Rises; tells whether the station's switch is open again, which counts after a touch only.
    fn lift(&mut self, to: Length, within: Seconds) -> Result<bool, Fault>;
    /// Ceases all motion and calls for a person.
    fn halt(&mut self);
    /// Whether somebody asked to stop; looked at before each request, never during one. A machine that must
    /// stop inside a long call breaks it off with a [`Fault`]: [`Fault::Position`] where steps may be lost.
    fn stop_asked(&mut self) -> bool {
        false
    }
}

/// How an approach ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// The awaited switch tripped.
    Tripped {
        /// Carriage height latched at the edge.
        z: Length,
        /// Read at the touch.
        at: Temperatures,
    },
    /// The floor was reached.
    Floor,
    /// A switch was closed before the start.
    Already,
    /// The other station's switch closed.
    Wrong,
}

/// Runs a started cycle to its end and hands over the outcome; `None` for a cycle that was never started.
pub fn run<const N: usize>(cycle: &mut Cycle<'_, N>, machine: &mut impl Machine) -> Option<Outcome> {
    loop {
        if machine.stop_asked() {
            cycle.cancel();
        }
        let event = match cycle.poll() {
            Do::Finished => return cycle.outcome(),
            Do::FindProbe { within } => machine.find_probe(within).map(Event::Probe),
            Do::Home { within } => machine.home(within).map(|()| Event::Done),
            Do::Level { lowest, within } => machine.level(lowest, within).map(|()| Event::Done),
            Do::Warm { tool, within } => machine.warm(tool, within).map(|()| Event::Done),
            Do::Fetch { lowest, within } => machine.fetch(lowest, within).map(|()| Event::Done),
            Do::PutBack { lowest, within } => machine.put_back(lowest, within).map(|()| Event::Done),
            Do::Move { to, lowest, within } => machine.move_to(to, lowest, within).map(|()| Event::Done),
            Do::Approach { station, floor, speed, within } => {
                machine.approach(station, floor, speed, within).map(|edge| match edge {
                    Edge::Tripped { z, at } => Event::Tripped { z, at },
                    Edge::Floor => Event::FloorReached,
                    Edge::Already => Event::AlreadyTripped,
                    Edge::Wrong => Event::WrongSwitch,
                })
            }
            Do::Lift { to, within } => machine.lift(to, within).map(|open| Event::Lifted { open }),
            Do::Halt => {
                machine.halt();
                Ok(Event::Done)
            }
        };
        // Each arm answers its own request, so the event cannot be out of turn; were it ever, stop.
        if cycle.handle(event.unwrap_or_else(Event::Failed)).is_err() {
            machine.halt();
            return cycle.outcome();
        }
    }
}
