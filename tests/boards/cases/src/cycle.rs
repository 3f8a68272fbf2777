//! Whole cycles, request by request, most of them sound and many with one thing wrong.

use zdatum::cycle::{Cycle, Do, Ending, Event, Fault, Job, Kind, Known, Outcome, ProbeState, Temperatures};
use zdatum::{Draft, LastSpan, Length, Setup, Step, Touches, Variance};

use crate::digest::{self, Sink};
use crate::machine::{self, Heights, Noise, ROOM, celsius};
use crate::numbers::Numbers;

/// The one thing that goes wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// Nothing.
    None,
    /// An approach ends so: at the leg, at its touch of that number.
    Approach(usize, u32, Event),
    /// The switch stays closed after that touch.
    StillTripped(usize, u32),
    /// A height above where the approach began.
    TooHigh(usize, u32),
    /// The fetch fails.
    Fetch(Fault),
    /// The put-back fails.
    PutBack(Fault),
    /// Homing, levelling or warming fails.
    Begin(Fault),
    /// Asked to stop at the request of that number.
    Cancel(u32),
}

/// What goes in.
#[derive(Clone, Debug)]
pub struct Script {
    /// Which case this is: the touches follow from it.
    pub case: u32,
    /// The machine.
    pub draft: Draft,
    /// The job.
    pub job: Job,
    /// Whether a broken-off cycle left the probe on the tool.
    pub left_fetched: bool,
    /// What goes wrong.
    pub trouble: Trouble,
    /// Whether the probe can be found where that is asked after trouble.
    pub lost: bool,
    /// At this request an event comes that answers nothing.
    pub stray_at: u32,
    heights: Heights,
    noise: [Noise; 3],
    again: i32,
    readings: Temperatures,
}

impl Script {
    /// Of a case.
    #[inline(never)]
    pub fn of(case: u32) -> Self {
        let mut numbers = Numbers::of(case, 0);
        let draft = machine::draft(&mut numbers);
        let heights = Heights::new(&draft, &mut numbers);
        let noise = [Noise::new(&mut numbers), Noise::new(&mut numbers), Noise::new(&mut numbers)];
        let [_, shoulder, plate] = heights.of;
        let span = machine::length(plate - shoulder + i64::from(numbers.from_to(-8_000, 8_000)));
        let kind = match numbers.below(6) {
            0 => Kind::Quick(Known {
                span,
                span_change: machine::um(numbers.from_to(5, 100)),
                drop: machine::um(numbers.from_to(5_600, 6_650)),
                drop_change: machine::um(numbers.from_to(5, 900)),
            }),
            1 | 2 => Kind::Full { last: Some(LastSpan::new(span, Variance::from_bits(numbers.sized(44)))) },
            _ => Kind::Full { last: None },
        };
        let trouble = trouble(&mut numbers);
        let mut maybe = |low: i32, high: i32| {
            let value = numbers.from_to(low, high);
            numbers.one_in(2).then(|| celsius(value))
        };
        let readings = Temperatures {
            tool: maybe(20 * 16, 200 * 16),
            bed: maybe(15 * 16, 120 * 16),
            chamber: maybe(10 * 16, 80 * 16),
        };
        Self {
            case,
            draft,
            job: Job { homed: numbers.one_in(3), levelled: numbers.one_in(2), kind },
            left_fetched: numbers.one_in(8),
            trouble,
            lost: numbers.one_in(4),
            stray_at: numbers.below(160),
            heights,
            noise,
            again: if numbers.one_in(4) { numbers.from_to(-4_000, 4_000) } else { 0 },
            readings,
        }
    }

    /// Height of a touch: legs are tip, shoulder, plate and the tip once more, touches count from 0, the
    /// first approach.
    pub fn touch(&self, leg: usize, number: u32) -> Length {
        let Ok(step) = Step::new(self.draft.travel.steps.0, self.draft.travel.steps.1) else {
            return Length::ZERO;
        };
        let place = leg % 3;
        let (Some(base), Some(noise)) = (self.heights.of.get(place), self.noise.get(place)) else {
            return Length::ZERO;
        };
        let moved = if leg == 3 { i64::from(self.again) } else { 0 };
        let mut numbers = Numbers::of(self.case, 1 + leg as u32 * 64 + number);
        noise.touch(*base + moved, number, step, &mut numbers)
    }

    /// What is read beside a touch; the tool cools a little from touch to touch.
    pub fn beside(&self, number: u32) -> Temperatures {
        let cooler = |at: zdatum::Temperature| {
            zdatum::Temperature::from_bits(i64::from(at.to_bits()) - i64::from(number) * 1_000).unwrap_or(at)
        };
        Temperatures { tool: self.readings.tool.map(cooler), ..self.readings }
    }
}

fn fault(numbers: &mut Numbers) -> Fault {
    Fault::ALL.get(numbers.below(7) as usize).copied().unwrap_or(Fault::Move)
}

fn trouble(numbers: &mut Numbers) -> Trouble {
    let (leg, touch) = (numbers.below(4) as usize, numbers.below(6));
    match numbers.below(18) {
        0 => Trouble::Approach(leg, touch, Event::FloorReached),
        1 => Trouble::Approach(leg, touch, Event::AlreadyTripped),
        2 => Trouble::Approach(leg, touch, Event::WrongSwitch),
        3 => Trouble::Approach(leg, touch, Event::Failed(fault(numbers))),
        4 => Trouble::StillTripped(leg, touch),
        5 => Trouble::TooHigh(leg, touch),
        6 => Trouble::Fetch(fault(numbers)),
        7 => Trouble::PutBack(fault(numbers)),
        8 => Trouble::Begin(fault(numbers)),
        9 => Trouble::Cancel(numbers.below(70)),
        _ => Trouble::None,
    }
}

/// A machine that does as the script says.
#[derive(Clone, Debug)]
struct Player<'a> {
    script: &'a Script,
    fetched: bool,
    moves: usize,
    touches: u32,
    /// Something has gone wrong already: it does so once.
    struck: bool,
}

impl Player<'_> {
    fn leg(&self) -> usize {
        self.moves.wrapping_sub(1)
    }

    fn strikes(&mut self, now: bool) -> bool {
        let strikes = now && !self.struck;
        self.struck |= strikes;
        strikes
    }

    fn answer(&mut self, request: Do) -> Event {
        let script = self.script;
        match request {
            Do::FindProbe { .. } if self.struck && script.lost => Event::Probe(ProbeState::Unknown),
            Do::FindProbe { .. } if self.fetched => Event::Probe(ProbeState::Fetched),
            Do::FindProbe { .. } => Event::Probe(ProbeState::PutBack),
            Do::Home { .. } | Do::Level { .. } | Do::Warm { .. } => match script.trouble {
                Trouble::Begin(fault) if self.strikes(true) => Event::Failed(fault),
                _ => Event::Done,
            },
            Do::Fetch { .. } => match script.trouble {
                Trouble::Fetch(fault) if self.strikes(true) => Event::Failed(fault),
                _ => {
                    self.fetched = true;
                    Event::Done
                }
            },
            Do::PutBack { .. } => match script.trouble {
                Trouble::PutBack(fault) if self.strikes(true) => Event::Failed(fault),
                _ => {
                    self.fetched = false;
                    Event::Done
                }
            },
            Do::Move { .. } => {
                (self.moves, self.touches) = (self.moves + 1, 0);
                Event::Done
            }
            Do::Approach { .. } => self.approach(),
            Do::Lift { .. } => {
                let last = self.touches.wrapping_sub(1);
                let stuck = script.trouble == Trouble::StillTripped(self.leg(), last);
                Event::Lifted { open: !self.strikes(stuck) }
            }
            Do::Halt | Do::Finished => Event::Done,
        }
    }

    fn approach(&mut self) -> Event {
        let (leg, number, trouble) = (self.leg(), self.touches, self.script.trouble);
        self.touches += 1;
        match trouble {
            Trouble::Approach(at, touch, event) if (at, touch) == (leg, number) && self.strikes(true) => {
                event
            }
            Trouble::TooHigh(at, touch) if (at, touch) == (leg, number) && self.strikes(true) => {
                Event::Tripped { z: machine::um(170_000), at: Temperatures::default() }
            }
            _ => Event::Tripped { z: self.script.touch(leg, number), at: self.script.beside(number) },
        }
    }
}

fn request(asked: Do, sink: &mut impl Sink) {
    let bits = |length: Length| length.to_bits() as u32;
    let (kind, first, second, within) = match asked {
        Do::FindProbe { within } => (1, 0, 0, within.0),
        Do::Home { within } => (2, 0, 0, within.0),
        Do::Level { lowest, within } => (3, bits(lowest), 0, within.0),
        Do::Warm { tool, within } => (4, tool.to_bits() as u32, 0, within.0),
        Do::Fetch { lowest, within } => (5, bits(lowest), 0, within.0),
        Do::PutBack { lowest, within } => (6, lowest.map_or(0, bits), u32::from(lowest.is_some()), within.0),
        Do::Move { to, lowest, within } => (7, bits(lowest), bits(to.x) ^ bits(to.y), within.0),
        Do::Approach { station, floor, speed, within } => {
            (8 + digest::station(station), bits(floor), speed.to_bits(), within.0)
        }
        Do::Lift { to, within } => (12, bits(to), 0, within.0),
        Do::Halt => (13, 0, 0, 0),
        Do::Finished => (14, 0, 0, 0),
    };
    sink.put("asked", kind);
    sink.put("height", first);
    sink.put("second", second);
    sink.put("within", u32::from(within));
}

/// More requests than any cycle with nine touches per station can make.
const PATIENCE: u32 = 256;

/// Runs a script; the cycle at its end.
#[inline(never)]
pub fn play<'s>(script: &Script, setup: &'s Setup, sink: &mut impl Sink) -> Option<Cycle<'s, ROOM>> {
    let mut cycle = Cycle::<ROOM>::new(setup, script.job).ok()?;
    let mut player = Player { script, fetched: script.left_fetched, moves: 0, touches: 0, struck: false };
    for turn in 0..PATIENCE {
        let asked = cycle.poll();
        request(asked, sink);
        if asked == Do::Finished {
            return Some(cycle);
        }
        if turn == script.stray_at && !matches!(asked, Do::Approach { .. }) {
            sink.put("out of turn", u32::from(cycle.handle(Event::FloorReached).is_err()));
        }
        if script.trouble == Trouble::Cancel(turn) {
            player.struck = true;
            cycle.cancel();
            continue;
        }
        if cycle.handle(player.answer(asked)).is_err() {
            sink.put("refused answer", turn);
            return None;
        }
    }
    None
}

// Script, cycle and outcome each in a function of their own, so that they do not all lie on the stack at
// once: a small board has 8 KiB.

#[inline(never)]
fn setup_of(case: u32) -> Option<Setup> {
    Setup::check(Script::of(case).draft).ok()
}

#[inline(never)]
fn played<'s>(case: u32, setup: &'s Setup, sink: &mut impl Sink) -> Option<Cycle<'s, ROOM>> {
    play(&Script::of(case), setup, sink)
}

#[inline(never)]
pub(crate) fn run(case: u32, sink: &mut impl Sink) {
    let Some(setup) = setup_of(case) else { return sink.put("bad setup", 1) };
    match played(case, &setup, sink) {
        Some(cycle) => finished(&cycle, sink),
        None => sink.put("no end", 1),
    }
}

#[inline(never)]
fn finished(cycle: &Cycle<'_, ROOM>, sink: &mut impl Sink) {
    match cycle.outcome() {
        Some(outcome) => ended(&outcome, cycle.touches(), sink),
        None => sink.put("no outcome", 1),
    }
}

/// Puts every bit of an outcome.
#[inline(never)]
pub fn ended(outcome: &Outcome, touches: Option<&Touches>, sink: &mut impl Sink) {
    sink.put(
        "ending",
        match outcome.ending {
            Ending::LiftedAndPutBack => 1,
            Ending::LiftedProbeUnknown => 2,
            Ending::Halted => 3,
        },
    );
    sink.put("accepted", u32::from(outcome.accepted()));
    digest::refusals(sink, outcome.refusals());
    if let Some(landing) = outcome.landing_seen() {
        digest::landing(sink, landing);
    }
    if let Some(quick) = &outcome.quick {
        sink.put("span", quick.span.to_bits() as u32);
        sink.put("drop", quick.drop.to_bits() as u32);
        sink.put("full cycle needed", u32::from(quick.full_cycle_needed));
    }
    if let Some(touches) = touches {
        for summary in [&touches.tip, &touches.shoulder, &touches.plate] {
            crate::landing::closed(summary, sink);
        }
    }
}
