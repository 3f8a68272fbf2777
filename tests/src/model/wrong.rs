//! What can go wrong at one request, and how it is done to the world.

use zdatum::cycle::{Do, Event, Fault, ProbeState, Temperatures};
use zdatum::{Length, Station};

use super::tight::length;
use super::world::{Probe, Switch, World};

/// Shifts that are tried: half a band, which no guard can see, and 0.1 mm, below the margin's 0.2 mm.
const SMALL: i64 = 640;
const LARGE: i64 = 6_553;
/// The band of the tight machine, and a millimetre.
const BAND: i64 = 1_280;
const MILLIMETRE: i64 = 1 << 16;

/// A single thing that is wrong. Those of the first block last; the others concern one request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wrong {
    /// A switch never closes again.
    Dead(Switch),
    /// A switch never opens again.
    Jammed(Switch),
    /// The probe falls off.
    ProbeLost,
    /// The plate is taken away.
    PlateGone,
    /// The pin trips higher (debris) or lower (it sticks) from now on.
    PinShift(i64),
    /// The same until the carriage goes elsewhere.
    PinShiftHere(i64),
    /// The probe slips in its mount, lower where positive.
    Slip(i64),
    /// The height axis loses steps: the carriage is lower than it is taken to be, where positive.
    HeightLost(i64),
    /// Steps are lost sideways: the tool stands over the plate.
    Astray,

    /// A switch does not close this time.
    DeadOnce(Switch),
    /// A switch closes without being pressed: at once.
    EarlyAtOnce(Switch),
    /// The same, half way to the floor.
    EarlyHalfway(Switch),
    /// Carried out, but a trip at another height is told.
    Height(Told),
    /// Carried out, but something else is told.
    Says(Event),
    /// Not carried out, but this is told.
    Idle(Event),
}

/// What height is told instead of the true one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// The approach's floor.
    Floor,
    /// One bit below it.
    BelowFloor,
    /// Where the carriage began.
    Start,
    /// A metre too high.
    Nowhere,
    /// So much beside the truth.
    Off(i64),
}

/// What kind of wrong, for counting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// The datum switch does not close.
    DatumDead,
    /// The probe's switch does not close.
    PlungerDead,
    /// A switch closes too early or stays closed.
    Closed,
    /// A wrong height is told.
    Height,
    /// A wrong answer about a touch or a lift.
    Answer,
    /// A lift, homing, levelling or warming that is reported done and was not.
    NotMade,
    /// A wrong answer about the probe, or a fetch or put-back that was not made.
    ProbeTold,
    /// The probe falls off.
    ProbeLost,
    /// The probe slips in its mount.
    ProbeSlips,
    /// The plate is taken away.
    PlateGone,
    /// Debris on the pin, or a pin that sticks.
    Pin,
    /// Height steps lost.
    HeightLost,
    /// Sideways not where it is taken to be: steps lost, or a move not made.
    Astray,
    /// The machine says that it failed.
    Failed,
}

impl Group {
    /// What it is, and the hardware that prevents or shows it.
    pub const fn text(self) -> (&'static str, &'static str) {
        match self {
            Group::DatumDead => (
                "datum switch does not close",
                "a datum switch that opens when pressed shows a broken wire, a second contact a welded one; a pin with more overtravel",
            ),
            Group::PlungerDead => (
                "probe's switch does not close",
                "a probe switch that opens when pressed shows a broken wire, a second contact a welded one; free height well above the press that `setup` states",
            ),
            Group::Closed => (
                "switch closes too early or stays closed",
                "shielded wiring and a filter shorter than the declared latency",
            ),
            Group::Height => (
                "wrong height reported",
                "a second reading of the height, such as a scale or an encoder on its axis",
            ),
            Group::Answer => (
                "wrong answer about a touch or lift",
                "switch inputs read by the controller itself, not sent as messages",
            ),
            Group::NotMade => (
                "a lift, homing, levelling or warming reported done that was not",
                "encoders or stall detection on every axis",
            ),
            Group::ProbeTold => (
                "probe reported wrong",
                "two sensors for the probe, one in the dock and one on the tool, that must disagree",
            ),
            Group::ProbeLost => (
                "probe falls off",
                "a mount that holds the probe against a push, and a sensor for it on the tool",
            ),
            Group::ProbeSlips => ("probe slips in its mount", "a mount with three-point location"),
            Group::PlateGone => ("plate taken away", "a sensor under the plate"),
            Group::Pin => ("debris on the pin, or the pin sticks", "a wiper, and a cap over the pin"),
            Group::HeightLost => ("height steps lost", "an encoder or stall detection on the height axis"),
            Group::Astray => (
                "sideways steps lost, or a move reported done that was not",
                "encoders or stall detection on the axes in the plane",
            ),
            Group::Failed => ("the machine says that it failed", "none needed"),
        }
    }
}

impl Wrong {
    /// One of each kind of failure that the cycle tells apart: position lost, probe in doubt, everything
    /// else.
    pub const FAILED: [Fault; 3] = [Fault::Position, Fault::Probe, Fault::Heat];

    /// Of what kind it is, at this request.
    pub const fn group(self, request: &Do) -> Group {
        match self {
            Wrong::Dead(Switch::Datum) | Wrong::DeadOnce(Switch::Datum) => Group::DatumDead,
            Wrong::Dead(Switch::Plunger) | Wrong::DeadOnce(Switch::Plunger) => Group::PlungerDead,
            Wrong::Jammed(_) | Wrong::EarlyAtOnce(_) | Wrong::EarlyHalfway(_) => Group::Closed,
            Wrong::ProbeLost => Group::ProbeLost,
            Wrong::PlateGone => Group::PlateGone,
            Wrong::PinShift(_) | Wrong::PinShiftHere(_) => Group::Pin,
            Wrong::Slip(_) => Group::ProbeSlips,
            Wrong::HeightLost(_) => Group::HeightLost,
            Wrong::Astray => Group::Astray,
            Wrong::Height(_) => Group::Height,
            Wrong::Says(event) | Wrong::Idle(event) => match (event, request) {
                (Event::Failed(_), _) => Group::Failed,
                (_, Do::FindProbe { .. } | Do::Fetch { .. } | Do::PutBack { .. }) => Group::ProbeTold,
                (_, Do::Move { .. }) => Group::Astray,
                (_, Do::Lift { .. } | Do::Home { .. } | Do::Level { .. } | Do::Warm { .. }) => Group::NotMade,
                _ => Group::Answer,
            },
        }
    }

    /// Whether the error that it leaves in a landing lies in what was measured, and nothing can show it
    /// within the ranges.
    pub const fn shifts(self) -> Option<i64> {
        match self {
            Wrong::PinShift(by) | Wrong::PinShiftHere(by) | Wrong::Slip(by) | Wrong::HeightLost(by) => {
                Some(by)
            }
            _ => None,
        }
    }

    /// Everything that can go wrong at a request, appended to `all`.
    ///
    /// Not `full`, what comes to the same as another is left out: faults that the cycle treats alike (a test
    /// shows that it does), and what lasts is tried only where something is met next, at moves and
    /// approaches. The shifts are smaller than the lift, so none of them changes what a lift tells.
    pub fn at(request: &Do, world: &World, full: bool, all: &mut Vec<Wrong>) {
        let meets =
            matches!(request, Do::Move { .. } | Do::Approach { .. } | Do::Fetch { .. } | Do::PutBack { .. });
        match request {
            Do::Halt | Do::Finished => return,
            _ if full => {
                all.extend(Fault::ALL.map(|fault| Wrong::Says(Event::Failed(fault))));
                all.extend([
                    Wrong::Idle(Event::Failed(Fault::Probe)),
                    Wrong::Idle(Event::Failed(Fault::Heat)),
                ]);
            }
            _ => all.extend(Wrong::FAILED.map(|fault| Wrong::Says(Event::Failed(fault)))),
        }
        if full || meets {
            lasting(world, all);
        }
        if !full && matches!(request, Do::Lift { .. }) {
            all.extend([Switch::Datum, Switch::Plunger].map(Wrong::Jammed));
        }
        if matches!(request, Do::Fetch { .. } | Do::PutBack { .. }) {
            all.push(Wrong::Idle(Event::Failed(Fault::Probe)));
        }
        match request {
            Do::FindProbe { .. } => {
                let states = [ProbeState::PutBack, ProbeState::Fetched, ProbeState::Unknown];
                all.extend(states.map(|state| Wrong::Says(Event::Probe(state))));
            }
            Do::Home { .. }
            | Do::Level { .. }
            | Do::Warm { .. }
            | Do::Move { .. }
            | Do::PutBack { .. }
            | Do::Fetch { .. } => {
                all.push(Wrong::Idle(Event::Done));
            }
            Do::Approach { station, .. } => approach(*station, all),
            Do::Lift { .. } => {
                let lifted = |open| Event::Lifted { open };
                all.extend([Wrong::Says(lifted(false)), Wrong::Says(lifted(true))]);
                all.extend([Wrong::Idle(lifted(false)), Wrong::Idle(lifted(true))]);
            }
            Do::Halt | Do::Finished => {}
        }
    }

    /// Carries the request out, wrongly.
    pub fn execute(self, request: Do, world: &mut World) -> Event {
        let start = world.z;
        match self {
            Wrong::Dead(switch) => world.kill(switch),
            Wrong::Jammed(switch) => world.jam(switch),
            Wrong::ProbeLost => world.probe = Probe::Lost,
            Wrong::PlateGone => world.remove_plate(),
            Wrong::PinShift(by) => world.shift_pin(by, false),
            Wrong::PinShiftHere(by) => world.shift_pin(by, true),
            Wrong::Slip(by) => world.slip_probe(by),
            Wrong::HeightLost(by) => world.lose_height(by),
            Wrong::Astray => world.go_astray(),
            Wrong::DeadOnce(switch) => world.kill_once(switch),
            Wrong::EarlyAtOnce(switch) => world.close_early(switch, start),
            Wrong::EarlyHalfway(switch) => {
                let floor = floor_of(&request).map_or(start, |floor| i64::from(floor.to_bits()));
                world.close_early(switch, (start + floor) >> 1);
            }
            Wrong::Idle(event) => return event,
            Wrong::Height(_) | Wrong::Says(_) => {}
        }
        let truth = world.execute(request);
        match self {
            Wrong::Says(event) => event,
            Wrong::Height(told) => {
                let floor = floor_of(&request).map_or(start, |floor| i64::from(floor.to_bits()));
                let z = match (told, truth) {
                    (Told::Floor, _) => floor,
                    (Told::BelowFloor, _) => floor - 1,
                    (Told::Start, _) => start,
                    (Told::Nowhere, _) => start + 1_000 * MILLIMETRE,
                    (Told::Off(by), Event::Tripped { z, .. }) => i64::from(z.to_bits()) + by,
                    (Told::Off(by), _) => world.z + by,
                };
                Event::Tripped { z: length(z), at: Temperatures::default() }
            }
            _ => truth,
        }
    }
}

/// What lasts.
fn lasting(world: &World, all: &mut Vec<Wrong>) {
    for switch in [Switch::Datum, Switch::Plunger] {
        all.extend([Wrong::Dead(switch), Wrong::Jammed(switch)]);
    }
    if world.probe == Probe::Tool {
        all.extend([-LARGE, -SMALL, SMALL, LARGE].map(Wrong::Slip));
        all.push(Wrong::ProbeLost);
    }
    all.push(Wrong::PlateGone);
    all.extend([-LARGE, -SMALL, SMALL, LARGE].map(Wrong::PinShift));
    all.extend([-LARGE, -SMALL, SMALL, LARGE].map(Wrong::PinShiftHere));
    all.extend([-LARGE, -SMALL, SMALL, LARGE].map(Wrong::HeightLost));
    all.push(Wrong::Astray);
}

fn approach(station: Station, all: &mut Vec<Wrong>) {
    let awaited = Switch::of(station);
    all.push(Wrong::DeadOnce(awaited));
    for switch in [Switch::Datum, Switch::Plunger] {
        all.extend([Wrong::EarlyAtOnce(switch), Wrong::EarlyHalfway(switch)]);
    }
    all.extend([Told::Floor, Told::BelowFloor, Told::Start, Told::Nowhere].map(Wrong::Height));
    all.extend([-MILLIMETRE, -BAND, -SMALL, SMALL, BAND, MILLIMETRE].map(|by| Wrong::Height(Told::Off(by))));
    for event in [Event::FloorReached, Event::AlreadyTripped, Event::WrongSwitch] {
        all.extend([Wrong::Says(event), Wrong::Idle(event)]);
    }
}

const fn floor_of(request: &Do) -> Option<Length> {
    match request {
        Do::Approach { floor, .. } => Some(*floor),
        _ => None,
    }
}
