//! A cycle with a person as the machine: the core says what to do, the person does it and types what came of
//! it.
//!
//! Moves and lifts ask nothing: their lines are collected until a question comes. All of it follows from the
//! answers, so a session that is taken up again stands where it stood.

use zdatum::cycle::{Cycle, Do, Event, Fault, Job, Kind, Outcome, ProbeState, Temperatures};
use zdatum::setup::Place;
use zdatum::{Length, Setup, Speed, Station};

use super::heights;
use super::invented::Practice;
use crate::text::number::plain;
use crate::text::written::Written;
use crate::world::{self, World};

/// Room for as many touches as a setup may ask for.
const ROOM: usize = 64;

/// Something to do or to know, before the question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GuideNote {
    /// A sentence.
    Say(String),
    /// A line of RS-274 and what it does.
    Line(String, String),
}

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GuidedStep {
    /// Where the probe is.
    Probe,
    /// Whether it was done.
    Done(PersonTask),
    /// What a touch came to.
    Touch {
        /// Where.
        station: Station,
        /// Its number at this station, from 1.
        number: usize,
        /// Which kind.
        kind: Touched,
        /// Never lower.
        floor: Length,
        /// From where it goes down, where that is known.
        from: Option<Length>,
        /// Where the carriage stands.
        place: Option<Place>,
    },
}

/// What a person does in its own way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PersonTask {
    /// Home.
    Home,
    /// Warm the nozzle.
    Warm,
    /// Fetch the probe.
    Fetch,
    /// Put it back.
    PutBack,
}

/// The kinds of touches, as in a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Touched {
    /// The fast first approach.
    First,
    /// Thrown away.
    Settle,
    /// A fine one.
    Fine,
}

impl Touched {
    /// Its word in a touch log.
    pub const fn word(self) -> &'static str {
        match self {
            Touched::First => "first",
            Touched::Settle => "settle",
            Touched::Fine => "fine",
        }
    }
}

/// A touch that was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GuidedTouch {
    /// Where.
    pub station: Station,
    /// Which kind.
    pub kind: Touched,
    /// The height.
    pub z: Length,
    /// Speed of the approach.
    pub speed: Speed,
    /// Whether it counts.
    pub counted: bool,
}

/// How far a cycle has come.
#[derive(Clone, Debug)]
pub struct GuidedCycle {
    /// What to do before the question.
    pub notes: Vec<GuideNote>,
    /// The question; `None` once the cycle is over.
    pub asked: Option<GuidedStep>,
    /// What the practice machine would answer.
    pub practice: Option<String>,
    /// All touches so far.
    pub touches: Vec<GuidedTouch>,
    /// Once the cycle is over.
    pub outcome: Option<Outcome>,
    /// Practice: the true landing, mm.
    pub true_landing: Option<f64>,
    /// How many answers were used.
    pub used: usize,
}

/// Takes answers one after the other until they are used up, or the cycle is over.
///
/// # Errors
/// The answer that does not fit, with why.
pub fn drive(setup: &Setup, practice: Option<Practice<'_>>, answers: &[&str]) -> Result<GuidedCycle, String> {
    let machine = practice.map(|practice| world::Machine::new(setup, practice.noise));
    let mut invented = practice.zip(machine.as_ref()).map(|(practice, machine)| practice.begin(machine));
    let job = Job { homed: false, levelled: false, kind: Kind::Full { last: None } };
    let mut cycle = Cycle::<ROOM>::new(setup, job).map_err(|error| error.to_string())?;
    let mut steps = MachineSteps { setup, notes: Vec::new(), touches: Vec::new(), z: None, place: None };
    let mut answers = answers.iter();
    let mut used = 0;
    loop {
        let request = cycle.poll();
        if request == Do::Finished {
            mark_counted(setup, &mut steps.touches);
            let true_landing = invented.as_ref().map(|(_, world)| World::true_landing(world));
            let outcome = cycle.outcome();
            return Ok(GuidedCycle {
                notes: steps.notes,
                asked: None,
                practice: None,
                touches: steps.touches,
                outcome,
                true_landing,
                used,
            });
        }
        let answered = invented.as_mut().map(|(streams, world)| {
            let event = world.answer(request);
            streams.follow(world, &request);
            event
        });
        let event = match steps.meet(request) {
            None => silent(request),
            Some(asked) => {
                let Some(text) = answers.next() else {
                    let practice = answered.map(|event| printed(&event, steps.place));
                    mark_counted(setup, &mut steps.touches);
                    return Ok(GuidedCycle {
                        notes: steps.notes,
                        asked: Some(asked),
                        practice,
                        touches: steps.touches,
                        outcome: None,
                        true_landing: None,
                        used,
                    });
                };
                used += 1;
                steps.notes.clear();
                if text.trim() == "stop" {
                    cycle.cancel();
                    steps.notes.push(GuideNote::Say("Stopped. The next steps end the cycle safely.".into()));
                    continue;
                }
                read(&asked, text)?
            }
        };
        steps.follow(request, event);
        cycle.handle(event).map_err(|error| error.to_string())?;
    }
}

/// What is answered without asking.
fn silent(request: Do) -> Event {
    match request {
        // A switch that stays closed shows at the next approach, which is then answered so.
        Do::Lift { .. } => Event::Lifted { open: true },
        _ => Event::Done,
    }
}

/// What the practice machine prints.
fn printed(event: &Event, place: Option<Place>) -> String {
    match event {
        Event::Tripped { z, .. } => {
            let (x, y) = place.map_or((Length::ZERO, Length::ZERO), |place| (place.x, place.y));
            format!("edge at X{} Y{} Z{}", x.text(), y.text(), z.text())
        }
        Event::FloorReached => "floor".into(),
        Event::AlreadyTripped => "closed".into(),
        Event::WrongSwitch => "wrong".into(),
        Event::Probe(ProbeState::PutBack) => "away".into(),
        Event::Probe(ProbeState::Fetched) => "fetched".into(),
        Event::Failed(_) => "failed".into(),
        _ => "done".into(),
    }
}

/// An answer as the event that it is.
///
/// # Errors
/// Why it is none.
pub fn read(asked: &GuidedStep, text: &str) -> Result<Event, String> {
    let word = text.trim().to_lowercase();
    match asked {
        GuidedStep::Probe => match word.as_str() {
            "away" => Ok(Event::Probe(ProbeState::PutBack)),
            "fetched" => Ok(Event::Probe(ProbeState::Fetched)),
            "unknown" => Ok(Event::Probe(ProbeState::Unknown)),
            _ => {
                Err("type away (put back in its dock, or in your hand), fetched (on the tool) or unknown"
                    .into())
            }
        },
        GuidedStep::Done(task) => match word.as_str() {
            "done" => Ok(Event::Done),
            "failed" => Ok(Event::Failed(match task {
                PersonTask::Home => Fault::Home,
                PersonTask::Warm => Fault::Heat,
                PersonTask::Fetch | PersonTask::PutBack => Fault::Probe,
            })),
            _ => {
                Err("type done when it is done, failed if it cannot be done, or stop to end the cycle safely"
                    .into())
            }
        },
        GuidedStep::Touch { floor, from, place, .. } => match word.as_str() {
            "floor" => Ok(Event::FloorReached),
            "closed" => Ok(Event::AlreadyTripped),
            "wrong" => Ok(Event::WrongSwitch),
            "failed" => Ok(Event::Failed(Fault::Move)),
            _ => {
                let z = heights::height(text, *place)?;
                if z < *floor {
                    return Err(format!(
                        "{} is below this approach's floor of {}. Type the height again; if the machine \
                            really went there, \
                         do not go on: type failed",
                        z.text(),
                        floor.text()
                    ));
                }
                if let Some(from) = from.filter(|from| z > *from) {
                    return Err(format!(
                        "{} is above {}, where this approach began. Type the height of the trip, not where \
                            the carriage stands",
                        z.text(),
                        from.text()
                    ));
                }
                Ok(Event::Tripped { z, at: Temperatures::default() })
            }
        },
    }
}

/// The touches that count: at each station the longest unbroken tail within the band, as the core counts
/// them.
fn mark_counted(setup: &Setup, touches: &mut [GuidedTouch]) {
    let band = setup.draft().touch.band;
    for station in Station::ALL {
        let mut extremes: Option<(Length, Length)> = None;
        for touch in touches.iter_mut().rev().filter(|touch| touch.station == station) {
            let (low, high) =
                extremes.map_or((touch.z, touch.z), |(low, high)| (low.min(touch.z), high.max(touch.z)));
            if touch.kind != Touched::Fine || high.minus(low).map_or(true, |spread| spread > band) {
                break;
            }
            extremes = Some((low, high));
            touch.counted = true;
        }
    }
}

/// Where the carriage is, and what has been collected to do.
struct MachineSteps<'s> {
    setup: &'s Setup,
    notes: Vec<GuideNote>,
    touches: Vec<GuidedTouch>,
    /// Height of the carriage, where it is known.
    z: Option<Length>,
    place: Option<Place>,
}

impl MachineSteps<'_> {
    fn say(&mut self, text: impl Into<String>) {
        self.notes.push(GuideNote::Say(text.into()));
    }

    fn line(&mut self, code: impl Into<String>, what: impl Into<String>) {
        self.notes.push(GuideNote::Line(code.into(), what.into()));
    }

    /// Collects what a request asks to be done; a question where the answer must come from the person.
    fn meet(&mut self, request: Do) -> Option<GuidedStep> {
        match request {
            Do::FindProbe { .. } => Some(GuidedStep::Probe),
            Do::Home { .. } => {
                self.say(
                    "Home all axes in the machine's own way. Then work in its own coordinates: no offset \
                        active, absolute \
                     heights in mm.",
                );
                self.line("G21", "lengths in millimetres");
                self.line("G90", "absolute heights");
                self.line("G92.1", "clear any G92 offset");
                self.line("G10 L2 P1 Z0", "clear an applied landing");
                Some(GuidedStep::Done(PersonTask::Home))
            }
            Do::Level { .. } => {
                self.say("If the machine can level its axes or bed, let it do so now.");
                None
            }
            Do::Warm { tool, .. } => {
                self.say(format!(
                    "Bring the nozzle to {tool} °C, and the bed and chamber to print temperature. Then \
                        clean the tip: \
                     filament on it is measured as if it were nozzle."
                ));
                Some(GuidedStep::Done(PersonTask::Warm))
            }
            Do::Move { to, lowest, .. } => {
                self.rise(lowest);
                self.line(format!("G1 X{} Y{} F3000", to.x.text(), to.y.text()), "over the station");
                self.place = Some(to);
                None
            }
            Do::Fetch { lowest, .. } => {
                self.rise(lowest);
                self.say(
                    "Fetch the probe, in the machine's own way or by hand, and make sure that it is \
                    fully seated.",
                );
                Some(GuidedStep::Done(PersonTask::Fetch))
            }
            Do::PutBack { lowest, .. } => {
                if let Some(lowest) = lowest {
                    self.rise(lowest);
                }
                self.say("Put the probe back, in the machine's own way or by hand.");
                Some(GuidedStep::Done(PersonTask::PutBack))
            }
            Do::Lift { to, .. } => {
                if self.z.is_none_or(|z| z < to) {
                    self.line(format!("G1 Z{} F300", plain(to)), "straight up");
                    self.z = Some(to);
                }
                None
            }
            Do::Approach { station, floor, speed, .. } => Some(self.approach(station, floor, speed)),
            Do::Halt => {
                self.say("Move nothing: the position is unknown. If in doubt, switch off, and look.");
                None
            }
            Do::Finished => None,
        }
    }

    fn rise(&mut self, lowest: Length) {
        match self.z {
            Some(z) if z >= lowest => {}
            Some(_) => {
                self.line(format!("G1 Z{} F300", plain(lowest)), "up, clear of everything");
                self.z = Some(lowest);
            }
            None => {
                self.line(format!("G1 Z{} F300", plain(lowest)), "only if Z is lower now");
            }
        }
    }

    fn approach(&mut self, station: Station, floor: Length, speed: Speed) -> GuidedStep {
        let (number, kind) = self.next_touch(station);
        let feed =
            crate::text::number::rounded(i64::from(speed.to_bits()) * 60, Speed::SPEC.fraction_bits, 0);
        self.line(format!("G38.2 Z{} F{feed}", plain(up(floor))), "down until the switch trips");
        GuidedStep::Touch { station, number, kind, floor, from: self.z, place: self.place }
    }

    /// Which touch at a station comes next, from 1, and of which kind it is.
    fn next_touch(&self, station: Station) -> (usize, Touched) {
        let number = 1 + self.touches.iter().filter(|touch| touch.station == station).count();
        let settle = usize::from(self.setup.draft().touch.settle);
        let kind = match number {
            1 => Touched::First,
            n if n <= 1 + settle => Touched::Settle,
            _ => Touched::Fine,
        };
        (number, kind)
    }

    /// What an event did to the carriage.
    fn follow(&mut self, request: Do, event: Event) {
        if let (Do::Approach { station, speed, .. }, Event::Tripped { z, .. }) = (request, event) {
            let (_, kind) = self.next_touch(station);
            self.touches.push(GuidedTouch { station, kind, z, speed, counted: false });
            self.z = Some(z);
        } else if matches!(
            request,
            Do::Approach { .. } | Do::Home { .. } | Do::Level { .. } | Do::Fetch { .. } | Do::PutBack { .. }
        ) {
            self.z = None;
        }
    }
}

/// A floor to the next tenth of a micrometre above, so that the line never goes below it.
fn up(floor: Length) -> Length {
    let shown = Length::read(&plain(floor)).unwrap_or(floor);
    if shown >= floor {
        floor
    } else {
        floor.plus(Length::read("0.0001").unwrap_or_default()).unwrap_or(floor)
    }
}
