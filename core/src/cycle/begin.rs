//! Before the first touch: the probe's state, homing, levelling, the touch temperature.

use super::request::{Do, Event, Fault, ProbeState, within};
use super::{Carrying, Cycle, Leg, State};
use crate::refusal::{Refusal, RefusalKind};
use crate::setup::{Follows, Setup};
use crate::units::Temperature;

impl<const N: usize> Cycle<'_, N> {
    pub(super) fn begin_request(&self, setup: &Setup) -> Do {
        match self.state {
            State::ExpectPutAway => {
                Do::PutBack { lowest: self.homed.then(|| self.clear_height(setup)), within: within::PROBE }
            }
            State::ExpectHome => Do::Home { within: within::HOME },
            State::ExpectLevel => Do::Level { lowest: self.clear_height(setup), within: within::LEVEL },
            State::ExpectWarm => match touch_temperature(setup) {
                Some(tool) => Do::Warm { tool, within: within::WARM },
                None => Do::FindProbe { within: within::FIND },
            },
            _ => Do::FindProbe { within: within::FIND },
        }
    }

    pub(super) fn handle_begin(&mut self, setup: &Setup, event: Event) -> Option<State> {
        match (self.state, event) {
            (State::ExpectPutAway, Event::Failed(fault)) => {
                self.carrying = Carrying::NotKnown;
                Some(self.fail(fault))
            }
            (_, Event::Failed(fault)) => Some(self.fail(fault)),
            // A power cut may have left the probe fetched: nothing is touched before that is known.
            (State::ExpectProbe, Event::Probe(ProbeState::PutBack)) => {
                self.carrying = Carrying::Nothing;
                Some(self.after_probe(setup))
            }
            (State::ExpectProbe, Event::Probe(ProbeState::Fetched)) => {
                self.carrying = Carrying::Probe;
                Some(State::ExpectPutAway)
            }
            (State::ExpectProbe, Event::Probe(ProbeState::Unknown)) => Some(self.fail(Fault::Probe)),
            (State::ExpectPutAway, Event::Done) => {
                self.carrying = Carrying::Nothing;
                Some(self.after_probe(setup))
            }
            (State::ExpectHome, Event::Done) => {
                self.homed = true;
                Some(self.after_home(setup))
            }
            (State::ExpectLevel, Event::Done) => Some(self.after_level(setup)),
            (State::ExpectWarm, Event::Done) => Some(State::ExpectMove(Leg::Tip)),
            _ => None,
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

    /// A fault: where the position still stands the tool is lifted, else nothing moves any more.
    pub(super) fn fail(&mut self, fault: Fault) -> State {
        if fault == Fault::Probe {
            self.carrying = Carrying::NotKnown;
            return self.refuse(Refusal::bare(RefusalKind::ProbeStateUnknown, None));
        }
        if !fault.position_stands() {
            self.homed = false;
        }
        self.refuse(Refusal::bare(RefusalKind::MachineFault, None))
    }
}

/// At what temperature the tool touches: that of the first part which follows it.
fn touch_temperature(setup: &Setup) -> Option<Temperature> {
    setup.draft().growth.iter().find(|part| part.follows == Follows::Tool).map(|part| part.touch)
}
