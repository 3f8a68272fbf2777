//! Which state follows which: one table of states and events, and the request that belongs to each state.
//!
//! What happens within a station is in `station.rs` and `touching.rs`; the table calls it.

use super::request::{Do, Event, Fault, ProbeState, within};
use super::{Cycle, Ending, Kind, Leg, State};
use crate::refusal::{Refusal, RefusalKind};
use crate::setup::{Follows, Setup};
use crate::units::Temperature;

impl<const N: usize> Cycle<'_, N> {
    /// The state after an event; `None` where the event does not answer the pending request.
    ///
    /// Neither a state nor an event is left to a wildcard, so that a new one does not compile before it has
    /// its rows.
    #[inline(never)]
    pub(super) fn next_state(&mut self, setup: &Setup, event: Event) -> Option<State> {
        use Event as E;
        use State as S;
        let over = S::Finished(Ending::LiftedAndPutBack);
        Some(match (self.state, event) {
            // Before the first touch. A power cut may have left the probe fetched: nothing is touched before
            // that is known.
            (S::ExpectProbe, E::Probe(ProbeState::Unknown)) => self.fail(Fault::Probe),
            (S::ExpectProbe, E::Probe(state)) => {
                self.probe = state;
                if state == ProbeState::Fetched { S::ExpectEarlyPutBack } else { self.after_probe(setup) }
            }
            (S::ExpectEarlyPutBack, E::Done) => {
                self.probe = ProbeState::PutBack;
                self.after_probe(setup)
            }
            (S::ExpectHome, E::Done) => {
                self.homed = true;
                self.after_home(setup)
            }
            (S::ExpectLevel, E::Done) => self.after_level(setup),
            (S::ExpectWarm, E::Done) => S::ExpectMove(Leg::Tip),

            // The touches, with the probe fetched in between.
            (S::ExpectMove(leg), E::Done) => self.begin_touching(setup, leg),
            (S::ExpectTouch(leg), event) => return self.handle_touch(leg, event),
            (S::ExpectFetch, E::Done) => {
                self.probe = ProbeState::Fetched;
                S::ExpectMove(Leg::Shoulder)
            }
            (S::ExpectPutBack, E::Done) => {
                self.probe = ProbeState::PutBack;
                let full = matches!(self.job.kind, Kind::Full { .. });
                if full && setup.draft().touch.tip_again { S::ExpectMove(Leg::TipAgain) } else { over }
            }

            // A failure before the ending, between dock and tool or elsewhere.
            (S::ExpectEarlyPutBack | S::ExpectFetch | S::ExpectPutBack, E::Failed(fault)) => {
                self.probe = ProbeState::Unknown;
                self.fail(fault)
            }
            (
                S::ExpectProbe | S::ExpectHome | S::ExpectLevel | S::ExpectWarm | S::ExpectMove(_),
                E::Failed(fault),
            ) => self.fail(fault),

            // The ending after a refusal.
            (S::ExpectClear, E::Lifted { .. }) => match self.probe {
                ProbeState::PutBack => over,
                ProbeState::Fetched => S::ExpectLatePutBack,
                ProbeState::Unknown => S::ExpectLateProbe,
            },
            (S::ExpectLateProbe, E::Probe(ProbeState::PutBack)) | (S::ExpectLatePutBack, E::Done) => over,
            (S::ExpectLateProbe, E::Probe(ProbeState::Fetched)) => S::ExpectLatePutBack,
            (S::ExpectLateProbe, E::Probe(ProbeState::Unknown) | E::Failed(Fault::Probe))
            | (S::ExpectLatePutBack, E::Failed(Fault::Probe)) => self.give_up_probe(),
            (S::ExpectClear | S::ExpectLateProbe | S::ExpectLatePutBack, E::Failed(_)) => {
                self.keep(Refusal::bare(RefusalKind::MachineFault, None));
                S::ExpectHalt
            }
            (S::ExpectHalt, E::Done | E::Failed(_)) => S::Finished(Ending::Halted),

            // No other event answers these states' requests.
            (S::Idle | S::Finished(_), _) => return None,
            (
                S::ExpectProbe
                | S::ExpectEarlyPutBack
                | S::ExpectHome
                | S::ExpectLevel
                | S::ExpectWarm
                | S::ExpectMove(_)
                | S::ExpectFetch
                | S::ExpectPutBack
                | S::ExpectClear
                | S::ExpectLateProbe
                | S::ExpectLatePutBack
                | S::ExpectHalt,
                E::Done
                | E::Probe(_)
                | E::Tripped { .. }
                | E::FloorReached
                | E::AlreadyTripped
                | E::WrongSwitch
                | E::Lifted { .. },
            ) => return None,
        })
    }

    /// What each state asks for.
    #[inline(never)]
    pub(super) fn request(&self, setup: &Setup) -> Do {
        match self.state {
            State::ExpectTouch(_) => self.touching.request(&setup.draft().touch),
            State::ExpectMove(leg) => {
                let to = setup.draft().stations.of(leg.station());
                Do::Move { to, lowest: self.clear_height(setup), within: within::MOVE }
            }
            State::ExpectProbe | State::ExpectLateProbe => Do::FindProbe { within: within::FIND },
            State::ExpectEarlyPutBack if !self.homed => Do::PutBack { lowest: None, within: within::PROBE },
            State::ExpectEarlyPutBack | State::ExpectPutBack | State::ExpectLatePutBack => {
                Do::PutBack { lowest: Some(self.clear_height(setup)), within: within::PROBE }
            }
            State::ExpectHome => Do::Home { within: within::HOME },
            State::ExpectLevel => Do::Level { lowest: self.clear_height(setup), within: within::LEVEL },
            // Only entered where there is a touch temperature.
            State::ExpectWarm => {
                touch_temperature(setup).map_or(Do::Halt, |tool| Do::Warm { tool, within: within::WARM })
            }
            State::ExpectFetch => Do::Fetch { lowest: self.clear_height(setup), within: within::PROBE },
            State::ExpectClear => Do::Lift { to: self.clear_height(setup), within: within::LIFT },
            State::ExpectHalt => Do::Halt,
            State::Idle | State::Finished(_) => Do::Finished,
        }
    }

    /// Keeps a reason and turns to the ending: nothing moves any more where heights mean nothing.
    pub(super) fn refuse(&mut self, refusal: Refusal) -> State {
        self.keep(refusal);
        if self.homed { State::ExpectClear } else { State::ExpectHalt }
    }

    /// A fault: where the position is still known the tool is lifted, else nothing moves any more.
    pub(super) fn fail(&mut self, fault: Fault) -> State {
        if fault == Fault::Probe {
            self.probe = ProbeState::Unknown;
            return self.refuse(Refusal::bare(RefusalKind::ProbeStateUnknown, None));
        }
        if !fault.position_stands() {
            self.homed = false;
        }
        self.refuse(Refusal::bare(RefusalKind::MachineFault, None))
    }

    fn give_up_probe(&mut self) -> State {
        self.keep(Refusal::bare(RefusalKind::ProbeStateUnknown, None));
        State::Finished(Ending::LiftedProbeUnknown)
    }

    /// Two reasons can arise: what stopped the cycle, and what went wrong while ending it. The same one is
    /// kept once.
    fn keep(&mut self, refusal: Refusal) {
        let [first, second] = &mut self.stopped;
        match first {
            None => *first = Some(refusal),
            Some(kept) if kept.kind == refusal.kind => {}
            Some(_) => *second = Some(refusal),
        }
    }

    fn after_probe(&self, setup: &Setup) -> State {
        if self.homed { self.after_home(setup) } else { State::ExpectHome }
    }

    fn after_home(&self, setup: &Setup) -> State {
        if self.job.levelled { self.after_level(setup) } else { State::ExpectLevel }
    }

    fn after_level(&self, setup: &Setup) -> State {
        if touch_temperature(setup).is_some() { State::ExpectWarm } else { State::ExpectMove(Leg::Tip) }
    }
}

/// The tool's temperature at the touch: that of the first part which follows the tool.
fn touch_temperature(setup: &Setup) -> Option<Temperature> {
    setup.draft().growth.iter().find(|part| part.follows == Follows::Tool).map(|part| part.touch)
}
