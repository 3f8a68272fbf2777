//! The touch cycle: a state machine without input or output.
//!
//! The firmware owns motors, heaters and switches; the cycle owns the order, the decisions and the numbers.
//!
//! ```text
//!   find probe ─ (put back) ─ (home) ─ (level) ─ (warm) ─ tip
//!        ─ fetch ─ shoulder ─ plate ─ put back ─ (tip again)
//!   and from any of them, once it must end:  lift ─ put back ─ end
//! ```
//!
//! Why this order: the floors of shoulder and plate are worked out from the tip's height, so the tip comes
//! first; it is touched with the probe put back, because the probe hangs lower. Shoulder and plate belong to
//! one fetch, and the shoulder comes before the plate, because the plate's floor needs the drop and a probe
//! that is not seated shows in the drop.
//!
//! # Contract
//!
//! - [`Cycle::poll`] says what to do now; it changes nothing and gives the same answer until that is handled.
//! - [`Cycle::handle`] takes the answer. An event that does not answer the pending request is the caller's
//!   error ([`OutOfTurn`]) and changes nothing; so is every event after the end.
//! - [`Cycle::cancel`] is legal at any time: the pending request is void, and the next `poll` begins a safe
//!   ending. Stop its motion by slowing down; where steps may be lost, answer the lift that follows with
//!   [`Fault::Position`].
//! - A cycle ends: it asks for at most [`most_requests`]. Work per call is bounded: `poll` is a
//!   handful of comparisons; `handle` a few passes over the touches of one station, and where a series is
//!   complete what [`Series::close`](crate::Series::close) takes; [`Cycle::outcome`] one landing.
//! - The firmware reports the height latched at the edge, stops within `touch.stop` after it, watches both
//!   switches on every approach, keeps the longest times, and never moves below the height that a request
//!   names.
//!
//! # Example
//!
//! ```
//! # use zdatum::cycle::{Cycle, Do, Event, Job, OutOfTurn};
//! # type Failed = Box<dyn core::error::Error>;
//! # fn drive(setup: &zdatum::Setup, mut machine: impl FnMut(Do) -> Event) -> Result<(), Failed> {
//! let mut cycle = Cycle::<9>::new(setup, Job::full())?;
//! loop {
//!     match cycle.poll() {
//!         Do::Finished => break,
//!         request => cycle.handle(machine(request))?,
//!     }
//! }
//! let outcome = cycle.outcome().ok_or("not started")?;
//! if let Some(landing) = outcome.landing() {
//!     // Make landing.height the zero of the height axis; it is sure to ± landing.uncertainty.expanded.
//! }
//! # Ok(()) }
//! ```

mod machine;
mod outcome;
mod request;
mod station;
#[cfg(test)]
mod tests;
mod touching;
mod transitions;

pub use machine::{Edge, Machine, run};
pub use outcome::{Ending, Known, Outcome, Quick};
pub use request::{Do, Event, Fault, OutOfTurn, ProbeState, Seconds, Temperatures};

use crate::landing::{Conditions, Touches};
use crate::refusal::{Refusal, RefusalKind};
use crate::series::{Station, Summary};
use crate::setup::{Setup, Touch};
use crate::units::Length;
use crate::verdict::LastSpan;
use touching::{Step, Touching};

/// What to do with a cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Job {
    /// The machine is homed and has been since: do not home again.
    pub homed: bool,
    /// The machine is level, or cannot level itself: do not ask.
    pub levelled: bool,
    /// Which kind of cycle.
    pub kind: Kind,
}

/// The two kinds of cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// All touches; hands over a landing.
    Full {
        /// The plate's last accepted span, where the plate is known.
        last: Option<LastSpan>,
    },
    /// One fine touch per station, compared with what is known; says whether a full cycle is needed.
    Quick(Known),
}

impl Job {
    /// A full cycle of an unknown plate, from homing on.
    pub const fn full() -> Self {
        Self { homed: false, levelled: false, kind: Kind::Full { last: None } }
    }
}

/// A setup asks for more touches than the cycle has room for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoRoom {
    /// `touch.most` of the setup.
    pub most: u8,
    /// Touches per station that this cycle can hold.
    pub room: usize,
}

impl core::fmt::Display for NoRoom {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(
            "touch.most is more than this cycle has room for; lower it, or give the cycle a larger capacity",
        )
    }
}

impl core::error::Error for NoRoom {}

/// Most requests that a cycle with these touches can ask for: `16 + 6·(2 + settle + most)`.
///
/// At each of three stations a move, and an approach and a lift for each touch: the first, those that settle,
/// the fine ones; the rest is for the beginning, fetching and putting back, the tip touched again, and the
/// ending.
pub const fn most_requests(touch: &Touch) -> u32 {
    16 + 6 * (2 + touch.settle as u32 + touch.most as u32)
}

/// Which touch of the order comes next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Leg {
    Tip,
    Shoulder,
    Plate,
    TipAgain,
}

impl Leg {
    const fn station(self) -> Station {
        match self {
            Leg::Tip | Leg::TipAgain => Station::Tip,
            Leg::Shoulder => Station::Shoulder,
            Leg::Plate => Station::Plate,
        }
    }
}

/// The states, each named by what it waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Nothing has been started.
    Idle,
    /// Where the probe is, before anything moves.
    ExpectProbe,
    /// The probe back in its dock, where an interrupted cycle has left it fetched.
    ExpectEarlyPutBack,
    /// Homing.
    ExpectHome,
    /// Levelling.
    ExpectLevel,
    /// The tool at its touch temperature.
    ExpectWarm,
    /// The carriage over a station.
    ExpectMove(Leg),
    /// A touch or a lift at a station.
    ExpectTouch(Leg),
    /// The probe on the tool.
    ExpectFetch,
    /// The probe back in its dock after the last touch with it.
    ExpectPutBack,
    /// After a refusal: the tool lifted clear.
    ExpectClear,
    /// After a refusal: where the probe is.
    ExpectLateProbe,
    /// After a refusal: the probe back in its dock.
    ExpectLatePutBack,
    /// All motion stopped.
    ExpectHalt,
    /// Nothing more: the outcome is final.
    Finished(Ending),
}

/// Which stations' series have been closed, a bit for each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Closed(u8);

impl Closed {
    const NONE: Self = Self(0);
    const ALL: Self = Self(0b111);

    const fn has(self, station: Station) -> bool {
        self.0 & (1 << station as u8) != 0
    }

    const fn add(&mut self, station: Station) {
        self.0 |= 1 << station as u8;
    }
}

/// A touch cycle with room for `N` fine touches per station; see the [module](self) for its contract.
///
/// For nine touches at most 512 bytes on every target. [`Cycle::idle`] makes one in a `const` or `static`,
/// without a setup.
#[derive(Clone, Debug)]
pub struct Cycle<'s, const N: usize> {
    setup: Option<&'s Setup>,
    job: Job,
    state: State,
    /// Where the cycle takes the probe to be.
    probe: ProbeState,
    /// Whether heights mean anything yet.
    homed: bool,
    touching: Touching<N>,
    /// What the stations have shown, as far as `closed` says.
    touches: Touches,
    closed: Closed,
    /// What stopped the cycle, and what went wrong while ending it.
    stopped: [Option<Refusal>; 2],
}

impl<'s, const N: usize> Cycle<'s, N> {
    /// A cycle that has nothing to do; [`Cycle::start`] gives it something.
    pub const fn idle() -> Self {
        Self {
            setup: None,
            job: Job::full(),
            state: State::Idle,
            probe: ProbeState::Unknown,
            homed: false,
            touching: Touching::idle(),
            touches: Touches::OPEN,
            closed: Closed::NONE,
            stopped: [None, None],
        }
    }

    /// A cycle that begins at its first `poll`.
    ///
    /// # Errors
    /// [`NoRoom`] where the setup's `touch.most` is above `N`.
    pub fn new(setup: &'s Setup, job: Job) -> Result<Self, NoRoom> {
        let mut cycle = Self::idle();
        cycle.start(setup, job)?;
        Ok(cycle)
    }

    /// Begins anew, whatever was there before. Cancel a running cycle and see it to its end first.
    ///
    /// # Errors
    /// As [`Cycle::new`]; then nothing changes.
    pub fn start(&mut self, setup: &'s Setup, job: Job) -> Result<(), NoRoom> {
        let most = setup.draft().touch.most;
        if usize::from(most) > N {
            return Err(NoRoom { most, room: N });
        }
        // Field by field: what the touching holds is set when it begins, what a station has shown when it is
        // closed, and their room need not be written before.
        (self.setup, self.job, self.state) = (Some(setup), job, State::ExpectProbe);
        (self.probe, self.homed) = (ProbeState::Unknown, job.homed);
        (self.closed, self.touches.conditions) = (Closed::NONE, Conditions::NONE);
        self.stopped = [None, None];
        Ok(())
    }

    /// Takes the answer to the pending request.
    ///
    /// # Errors
    /// [`OutOfTurn`] where the event does not answer it; then nothing changes.
    #[inline(always)]
    pub fn handle(&mut self, event: Event) -> Result<(), OutOfTurn> {
        let Some(setup) = self.setup else { return Err(OutOfTurn { pending: Do::Finished, got: event }) };
        // Almost all events go on with a series, and change no more than that.
        if let State::ExpectTouch(leg) = self.state {
            match self.step_on(setup, &event) {
                Some(Step::Again) => return Ok(()),
                Some(step) => {
                    self.state = self.leave(setup, leg, step);
                    return Ok(());
                }
                None => {}
            }
        }
        match self.next_state(setup, event) {
            Some(state) => {
                self.state = state;
                Ok(())
            }
            // Not in a function of its own: called with `self`, it would keep the compiler from going
            // straight from request to answer.
            None => Err(OutOfTurn { pending: self.poll(), got: event }),
        }
    }

    /// Asks to stop. The pending request is void; the next `poll` begins a safe ending. Nothing changes where
    /// the cycle is ending already, or over.
    pub fn cancel(&mut self) {
        match self.state {
            State::Idle
            | State::Finished(_)
            | State::ExpectClear
            | State::ExpectLateProbe
            | State::ExpectLatePutBack
            | State::ExpectHalt => return,
            // The probe may be anywhere between dock and tool.
            State::ExpectProbe | State::ExpectEarlyPutBack | State::ExpectFetch | State::ExpectPutBack => {
                self.probe = ProbeState::Unknown;
            }
            State::ExpectHome
            | State::ExpectLevel
            | State::ExpectWarm
            | State::ExpectMove(_)
            | State::ExpectTouch(_) => {}
        }
        self.state = self.refuse(Refusal::bare(RefusalKind::Cancelled, None));
    }

    /// What to do now.
    #[inline(always)]
    pub fn poll(&self) -> Do {
        match (self.setup, self.state) {
            (None, _) => Do::Finished,
            // Almost all requests are a series' own.
            (Some(setup), State::ExpectTouch(_)) => self.touching.request(&setup.draft().touch),
            (Some(setup), _) => self.request(setup),
        }
    }

    /// The outcome, once finished.
    pub fn outcome(&self) -> Option<Outcome> {
        let mut outcome = Outcome::open();
        self.judge(&mut outcome).then_some(outcome)
    }

    /// [`Cycle::outcome`] in the caller's memory, whatever was there before: an outcome has room for many
    /// reasons, and this way it is not moved about. `false`, and nothing changes, before the cycle is
    /// finished.
    #[must_use]
    pub fn judge(&self, outcome: &mut Outcome) -> bool {
        let (Some(setup), State::Finished(ending)) = (self.setup, self.state) else { return false };
        outcome.reopen(&self.stopped, ending);
        match &self.job.kind {
            Kind::Full { last } => outcome.judge(setup, self.touches(), last.as_ref()),
            Kind::Quick(known) => outcome.find(self.quick(known)),
        }
        true
    }

    /// The closed series of a full cycle, once all three stations have been touched.
    pub fn touches(&self) -> Option<&Touches> {
        (self.closed == Closed::ALL && matches!(self.job.kind, Kind::Full { .. })).then_some(&self.touches)
    }

    /// Whether the cycle is over.
    pub const fn is_finished(&self) -> bool {
        matches!(self.state, State::Finished(_))
    }

    /// A station's series, where it has been closed.
    fn closed(&self, station: Station) -> Option<&Summary> {
        let summary = match station {
            Station::Tip => &self.touches.tip,
            Station::Shoulder => &self.touches.shoulder,
            Station::Plate => &self.touches.plate,
        };
        self.closed.has(station).then_some(summary)
    }

    fn quick(&self, known: &Known) -> Option<Quick> {
        let centre = |station| self.closed(station).map(Summary::centre);
        let (tip, shoulder, plate) =
            (centre(Station::Tip)?, centre(Station::Shoulder)?, centre(Station::Plate)?);
        let drop = shoulder.minus(tip).round().ok()?;
        let span = plate.minus(shoulder).round().ok()?;
        let changed =
            |seen: Length, was: Length, most: Length| seen.distance(was).map_or(true, |change| change > most);
        let full_cycle_needed =
            changed(drop, known.drop, known.drop_change) || changed(span, known.span, known.span_change);
        Some(Quick { span, drop, full_cycle_needed })
    }

    /// Lowest height for going sideways. It leaves room for the probe always: one wrong answer about the probe
    /// must not drag it across the plate. A tip that was touched above its range raises it, up to the top of the
    /// travel; only an ending meets that.
    fn clear_height(&self, setup: &Setup) -> Length {
        let draft = setup.draft();
        let (base, top) = (setup.floors().clear_with_probe, draft.travel.z.high);
        let Some(tip) = self.closed(Station::Tip) else { return base };
        let above = tip.centre().round().and_then(|tip| tip.minus(draft.datum_switch.tip_height.high));
        above.and_then(|above| base.plus(above.max(Length::ZERO))).unwrap_or(top).min(top)
    }
}
