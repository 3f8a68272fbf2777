//! At a station: going there, touching, closing its series and judging it.

use super::request::{Event, ProbeState};
use super::touching::{Plan, Step};
use super::{Cycle, Ending, Kind, Leg, State};
use crate::refusal::{Amount, Refusal, RefusalKind};
use crate::series::{Centre, Station};
use crate::setup::Setup;
use crate::units::{Length, OutOfRange};
use crate::verdict;

impl<const N: usize> Cycle<'_, N> {
    /// The carriage is over the station: begins its touches, or refuses where their floor cannot be held.
    pub(super) fn begin_touching(&mut self, setup: &Setup, leg: Leg) -> State {
        let Ok(floor) = self.floor(setup, leg) else {
            return self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(leg.station())));
        };
        let plan = match (leg, self.job.kind) {
            (Leg::TipAgain, _) | (_, Kind::Quick(_)) => Plan::ONE,
            (Leg::Tip | Leg::Shoulder | Leg::Plate, Kind::Full { .. }) => Plan::full(&setup.draft().touch),
        };
        self.touching.begin(leg.station(), plan, floor, setup);
        State::ExpectTouch(leg)
    }

    /// The lowest height of a leg's approaches, from what has been measured so far.
    fn floor(&self, setup: &Setup, leg: Leg) -> Result<Length, OutOfRange> {
        let floors = setup.floors();
        let height = |station| self.closed(station).map_or(Ok(Length::ZERO), |s| s.centre().round());
        match leg {
            Leg::Tip | Leg::TipAgain => Ok(floors.tip),
            Leg::Shoulder => floors.shoulder(floors.tip_at_most(height(Station::Tip)?)?),
            Leg::Plate => {
                // Both heights read low alike, so the drop stands as measured.
                let (tip, shoulder) = (height(Station::Tip)?, height(Station::Shoulder)?);
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
            (true, Event::FloorReached | Event::AlreadyTripped | Event::WrongSwitch)
            | (_, Event::Done | Event::Probe(_) | Event::Tripped { .. } | Event::Lifted { .. }) => {
                return None;
            }
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

    /// A refusal at a station without a number. The probe may be lost where it is meant to hang, and hang
    /// where it is meant to be put back: its state is asked for before the cycle claims anything of it.
    fn stop_at(&mut self, kind: RefusalKind, station: Station) -> State {
        self.probe = ProbeState::Unknown;
        self.refuse(Refusal::bare(kind, Some(station)))
    }

    /// Closes the station's series and goes on, or refuses.
    fn close(&mut self, setup: &Setup, leg: Leg) -> State {
        let station = leg.station();
        if leg == Leg::TipAgain {
            return self.compare_tip(setup);
        }
        let closed = match station {
            Station::Tip => &mut self.touches.tip,
            Station::Shoulder => &mut self.touches.shoulder,
            Station::Plate => &mut self.touches.plate,
        };
        let series = self.touching.series();
        let held = if series.len() > 1 || setup.draft().pooled.of(station).is_some() {
            series.close_into(&setup.method(station), closed)
        } else {
            // One touch without a study (quick check): its height serves, its uncertainty is not asked for.
            series.close_single_into(setup.rounding(), closed)
        };
        if held.is_err() {
            return self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(station)));
        }
        let mut reason = None;
        if matches!(self.job.kind, Kind::Full { .. }) {
            verdict::judge_series(setup, station, closed, |refusal| reason = reason.or(Some(refusal)));
        }
        self.closed.add(station);
        let ((first, second), read) = (self.touching.mean_readings(), &mut self.touches.conditions);
        match station {
            Station::Tip => read.tool = first,
            Station::Shoulder => {}
            Station::Plate => (read.bed, read.chamber) = (first, second),
        }
        if let Some(reason) = reason {
            return self.refuse(reason);
        }
        match station {
            Station::Tip => self.check_tip(setup),
            Station::Shoulder => self.check_drop(setup),
            Station::Plate => State::ExpectPutBack,
        }
    }

    /// All that follows reckons from the tip's height, so one outside its range ends the cycle before the probe is
    /// fetched: an offset may be in force.
    fn check_tip(&mut self, setup: &Setup) -> State {
        match verdict::tip_out_of_place(setup, &self.touches.tip) {
            Ok(Some(reason)) => self.refuse(reason),
            Ok(None) => State::ExpectFetch,
            Err(_) => self.refuse(Refusal::bare(RefusalKind::OutOfRange, Some(Station::Tip))),
        }
    }

    /// The plate's floor is made of the drop, so a drop out of place ends the cycle before the plate is
    /// approached.
    fn check_drop(&mut self, setup: &Setup) -> State {
        let (Some(tip), Some(shoulder)) = (self.closed(Station::Tip), self.closed(Station::Shoulder)) else {
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
    fn compare_tip(&mut self, setup: &Setup) -> State {
        let band = setup.draft().touch.band;
        // One touch: its height serves, its uncertainty is not asked for.
        let again = self.touching.series().centre(Centre::Mean).ok().flatten();
        let moved = again
            .zip(self.closed(Station::Tip))
            .and_then(|(again, tip)| again.minus(tip.centre()).round().ok());
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
