//! After a refusal: lift clear, put the probe back, or halt.

use super::outcome::Ending;
use super::request::{Do, Event, Fault, ProbeState, within};
use super::{Carrying, Cycle, State};
use crate::refusal::{Refusal, RefusalKind};
use crate::setup::Setup;

impl<const N: usize> Cycle<'_, N> {
    pub(super) fn ending_request(&self, setup: &Setup) -> Do {
        match self.state {
            State::ExpectClear => Do::Lift { to: self.clear_height(setup), within: within::LIFT },
            State::ExpectProbeAfter => Do::FindProbe { within: within::FIND },
            State::ExpectPutBackAfter => {
                Do::PutBack { lowest: Some(self.clear_height(setup)), within: within::PROBE }
            }
            _ => Do::Halt,
        }
    }

    /// Keeps a reason and turns to the ending: nothing moves any more where heights mean nothing.
    pub(super) fn refuse(&mut self, refusal: Refusal) -> State {
        self.keep(refusal);
        if self.homed { State::ExpectClear } else { State::ExpectHalt }
    }

    pub(super) fn handle_ending(&mut self, event: Event) -> Option<State> {
        let put_back = State::Finished(Ending::LiftedAndPutBack);
        match (self.state, event) {
            (State::ExpectHalt, Event::Done | Event::Failed(_)) => Some(State::Finished(Ending::Halted)),
            (State::ExpectClear, Event::Lifted { .. }) => Some(match self.carrying {
                Carrying::Nothing => put_back,
                Carrying::Probe => State::ExpectPutBackAfter,
                Carrying::NotKnown => State::ExpectProbeAfter,
            }),
            (State::ExpectProbeAfter, Event::Probe(ProbeState::PutBack)) => Some(put_back),
            (State::ExpectProbeAfter, Event::Probe(ProbeState::Fetched)) => Some(State::ExpectPutBackAfter),
            (State::ExpectProbeAfter, Event::Probe(ProbeState::Unknown)) => Some(self.probe_unknown()),
            (State::ExpectPutBackAfter, Event::Done) => Some(put_back),
            (State::ExpectProbeAfter | State::ExpectPutBackAfter, Event::Failed(Fault::Probe)) => {
                Some(self.probe_unknown())
            }
            (_, Event::Failed(_)) => {
                self.keep(Refusal::bare(RefusalKind::MachineFault, None));
                Some(State::ExpectHalt)
            }
            _ => None,
        }
    }

    fn probe_unknown(&mut self) -> State {
        self.keep(Refusal::bare(RefusalKind::ProbeStateUnknown, None));
        State::Finished(Ending::LiftedProbeUnknown)
    }

    /// Two reasons can arise: what stopped the cycle, and what went wrong while ending it. The same one is kept once.
    fn keep(&mut self, refusal: Refusal) {
        let [first, second] = &mut self.stopped;
        match first {
            None => *first = Some(refusal),
            Some(kept) if kept.kind == refusal.kind => {}
            Some(_) => *second = Some(refusal),
        }
    }
}
