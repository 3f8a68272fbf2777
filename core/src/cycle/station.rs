//! At a station: going there, touching, closing its series and judging it.

use super::request::{Do, Event, within};
use super::touching::{Plan, Step};
use super::{Carrying, Cycle, Ending, Kind, Leg, State};
use crate::guard;
use crate::refusal::{Amount, Refusal, RefusalKind, Refusals};
use crate::series::{CannotClose, Station, Summary};
use crate::setup::Setup;
use crate::units::{Length, OutOfRange};

impl<const N: usize> Cycle<'_, N> {
    pub(super) fn move_request(&self, setup: &Setup, leg: Leg) -> Do {
        let places = &setup.draft().stations;
        let to = match leg.station() {
            Station::Tip => places.tip,
            Station::Shoulder => places.shoulder,
            Station::Plate => places.plate,
        };
        Do::Move { to, lowest: self.clear_height(setup), within: within::MOVE }
    }

    pub(super) fn handle_move(&mut self, setup: &Setup, leg: Leg, event: Event) -> Option<State> {
        match event {
            Event::Failed(fault) => Some(self.fail(fault)),
            Event::Done => {
                let Ok(floor) = self.floor(setup, leg) else {
                    return Some(self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(leg.station()))));
                };
                let plan = match (leg, self.job.kind) {
                    (Leg::TipAgain, _) | (_, Kind::Quick(_)) => Plan::ONE,
                    _ => Plan::full(&setup.draft().touch),
                };
                self.touching.begin(leg.station(), plan, floor, setup);
                Some(State::ExpectTouch(leg))
            }
            _ => None,
        }
    }

    /// The lowest height of a leg's approaches, from what has been measured so far.
    fn floor(&self, setup: &Setup, leg: Leg) -> Result<Length, OutOfRange> {
        let floors = setup.floors();
        let height =
            |summary: &Option<Summary>| summary.as_ref().map_or(Ok(Length::ZERO), |s| s.centre().round());
        match leg {
            Leg::Tip | Leg::TipAgain => Ok(floors.tip),
            Leg::Shoulder => floors.shoulder(floors.tip_at_most(height(&self.tip)?)?),
            Leg::Plate => {
                // Both heights read low alike, so the drop stands as measured.
                let (tip, shoulder) = (height(&self.tip)?, height(&self.shoulder)?);
                floors.plate(floors.tip_at_most(tip)?, shoulder.minus(tip)?)
            }
        }
    }

    /// What most events are: a trip that was awaited, a lift that opened the switch. `None` for any other.
    #[inline(always)]
    pub(super) fn step_on(&mut self, setup: &Setup, event: &Event) -> Option<Step> {
        match (self.touching.is_lifting(), event) {
            (false, Event::Tripped { z, at }) => {
                let step = self.touching.tripped(*z, at, setup);
                if self.touching.is_complete() {
                    self.touching.lift_clear(self.clear_height(setup));
                }
                Some(step)
            }
            (true, Event::Lifted { open: true }) => Some(self.touching.lifted(&setup.draft().touch)),
            _ => None,
        }
    }

    /// What stops a series.
    #[inline(never)]
    pub(super) fn handle_touch(&mut self, leg: Leg, event: Event) -> Option<State> {
        let station = leg.station();
        let kind = match (self.touching.is_lifting(), event) {
            (_, Event::Failed(fault)) => return Some(self.fail(fault)),
            (false, Event::FloorReached) => RefusalKind::NoTrip,
            (false, Event::AlreadyTripped) => RefusalKind::AlreadyTripped,
            (false, Event::WrongSwitch) => RefusalKind::WrongSwitch,
            (true, Event::Lifted { open: false }) => RefusalKind::StillTripped,
            _ => return None,
        };
        Some(self.stop_at(kind, station))
    }

    /// The station is done with, one way or another.
    #[inline(never)]
    pub(super) fn leave(&mut self, setup: &Setup, leg: Leg, step: Step) -> State {
        let station = leg.station();
        match step {
            Step::Again => State::ExpectTouch(leg),
            Step::Complete => self.close(setup, leg),
            Step::Unsteady(spread) => {
                let (seen, limit) = (Amount::Length(spread), Amount::Length(setup.draft().touch.band));
                self.refuse(Refusal::new(RefusalKind::Unsteady, Some(station), seen, limit))
            }
            Step::OutsideApproach => {
                // A height that this approach cannot have met: the position is not what it seems.
                self.homed = false;
                self.refuse(Refusal::bare(RefusalKind::MachineFault, Some(station)))
            }
        }
    }

    /// A refusal at a station without a number. The probe may be lost where it is meant to hang, and hang where it is meant to
    /// be put back: its state is asked for before the cycle claims anything of it.
    fn stop_at(&mut self, kind: RefusalKind, station: Station) -> State {
        self.carrying = Carrying::NotKnown;
        self.refuse(Refusal::bare(kind, Some(station)))
    }

    /// Closes the station's series and goes on, or refuses.
    fn close(&mut self, setup: &Setup, leg: Leg) -> State {
        let station = leg.station();
        let summary = if self.touching.series().len() > 1 || setup.draft().pooled.of(station).is_some() {
            self.touching.series().close(&setup.method(station))
        } else {
            // One touch without a study (quick check, tip again): its height serves, its uncertainty is not asked for.
            self.touching.series().close_single(setup.rounding())
        };
        let summary = match summary {
            Ok(summary) => summary,
            Err(CannotClose::TooFew | CannotClose::OutOfRange(_)) => {
                return self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(station)));
            }
        };
        if leg == Leg::TipAgain {
            return self.compare_tip(setup, &summary);
        }

        let mut reasons = Refusals::new();
        if matches!(self.job.kind, Kind::Full { .. }) {
            guard::judge_series(setup, station, &summary, &mut reasons);
        }
        let (first, second) = self.touching.mean_readings();
        match leg {
            Leg::Tip | Leg::TipAgain => (self.tip, self.tool) = (Some(summary), first),
            Leg::Shoulder => self.shoulder = Some(summary),
            Leg::Plate => (self.plate, self.bed, self.chamber) = (Some(summary), first, second),
        }
        if let Some(reason) = reasons.as_slice().first() {
            return self.refuse(*reason);
        }
        match leg {
            Leg::Tip | Leg::TipAgain if self.clear_height_needed(setup).is_err() => {
                self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(station)))
            }
            Leg::Tip | Leg::TipAgain => State::ExpectFetch,
            Leg::Shoulder => self.check_drop(setup),
            Leg::Plate => State::ExpectPutBack,
        }
    }

    /// The plate's floor is made of the drop, so a drop out of place ends the cycle before the plate is approached.
    fn check_drop(&mut self, setup: &Setup) -> State {
        let (Some(tip), Some(shoulder)) = (&self.tip, &self.shoulder) else {
            return self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(Station::Shoulder)));
        };
        let Ok(drop) = shoulder.centre().minus(tip.centre()).round() else {
            return self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(Station::Shoulder)));
        };
        let Some(limit) = setup.draft().probe.drop.passed_by(drop) else {
            return State::ExpectMove(Leg::Plate);
        };
        let (seen, limit) = (Amount::Length(drop), Amount::Length(limit));
        self.refuse(Refusal::new(RefusalKind::DropOutOfPlace, None, seen, limit))
    }

    /// The tip touched again at the end: within the band of its first height, or something moved.
    fn compare_tip(&mut self, setup: &Setup, again: &Summary) -> State {
        let band = setup.draft().touch.band;
        let moved = self.tip.as_ref().and_then(|tip| again.centre().minus(tip.centre()).round().ok());
        match moved.and_then(|moved| moved.distance(Length::ZERO).ok()) {
            Some(moved) if moved <= band => State::Finished(Ending::LiftedAndPutBack),
            Some(moved) => {
                let (seen, limit) = (Amount::Length(moved), Amount::Length(band));
                self.refuse(Refusal::new(RefusalKind::MovedDuringCycle, Some(Station::Tip), seen, limit))
            }
            None => self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(Station::Tip))),
        }
    }
}
