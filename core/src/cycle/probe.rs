//! Fetching the probe and putting it back, in the course of a cycle.

use super::outcome::Ending;
use super::request::{Do, Event, within};
use super::{Carrying, Cycle, Kind, Leg, State};
use crate::setup::Setup;

impl<const N: usize> Cycle<'_, N> {
    pub(super) fn probe_request(&self, setup: &Setup) -> Do {
        if self.state == State::ExpectPutBack {
            return Do::PutBack { lowest: Some(self.clear_height(setup)), within: within::PROBE };
        }
        Do::Fetch { lowest: self.clear_height(setup), within: within::PROBE }
    }

    pub(super) fn handle_probe(&mut self, setup: &Setup, event: Event) -> Option<State> {
        match (self.state, event) {
            (_, Event::Failed(fault)) => {
                // Whatever failed, the probe may be anywhere between dock and tool.
                self.carrying = Carrying::NotKnown;
                Some(self.fail(fault))
            }
            (State::ExpectFetch, Event::Done) => {
                self.carrying = Carrying::Probe;
                Some(State::ExpectMove(Leg::Shoulder))
            }
            (State::ExpectPutBack, Event::Done) => {
                self.carrying = Carrying::Nothing;
                let full = matches!(self.job.kind, Kind::Full { .. });
                if full && setup.draft().touch.tip_again {
                    return Some(State::ExpectMove(Leg::TipAgain));
                }
                Some(State::Finished(Ending::LiftedAndPutBack))
            }
            _ => None,
        }
    }
}
