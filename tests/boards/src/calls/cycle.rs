use zdatum::cycle::{
    Cycle, Do, Edge, Event, Fault, Job, Kind, Known, Machine, Outcome, ProbeState, Seconds, Temperatures,
    most_requests, run,
};
use zdatum::setup::Place;
use zdatum::{LastSpan, Length, Setup, Speed, Station, Temperature, Variance};

use super::{TOUCHES, degrees, mm, setup, show};
use crate::{given, keep};

/// A machine on which everything goes well: the heights are those of the invented setup.
struct Well;

impl Machine for Well {
    fn find_probe(&mut self, _: Seconds) -> Result<ProbeState, Fault> {
        given(Ok(ProbeState::PutBack))
    }
    fn home(&mut self, _: Seconds) -> Result<(), Fault> {
        given(Ok(()))
    }
    fn level(&mut self, _: Length, _: Seconds) -> Result<(), Fault> {
        given(Ok(()))
    }
    fn warm(&mut self, _: Temperature, _: Seconds) -> Result<(), Fault> {
        given(Ok(()))
    }
    fn fetch(&mut self, _: Length, _: Seconds) -> Result<(), Fault> {
        given(Ok(()))
    }
    fn put_back(&mut self, _: Option<Length>, _: Seconds) -> Result<(), Fault> {
        given(Ok(()))
    }
    fn move_to(&mut self, _: Place, _: Length, _: Seconds) -> Result<(), Fault> {
        given(Ok(()))
    }
    fn approach(&mut self, station: Station, _: Length, _: Speed, _: Seconds) -> Result<Edge, Fault> {
        let z = match station {
            Station::Tip => mm("0.5"),
            Station::Shoulder => mm("6.5"),
            Station::Plate => mm("7.34"),
        };
        let at = Temperatures { tool: Some(degrees("150")), bed: Some(degrees("60")), chamber: None };
        given(Ok(Edge::Tripped { z, at }))
    }
    fn lift(&mut self, _: Length, _: Seconds) -> Result<bool, Fault> {
        given(Ok(true))
    }
    fn halt(&mut self) {}
}

pub(super) fn all() {
    let Some(setup) = setup::checked() else { return };
    whole(given(&setup));
    broken_off(given(&setup));
    keep(most_requests(given(&setup.draft().touch)));
    for fault in Fault::ALL {
        keep(given(fault).position_stands());
    }
}

/// Both kinds of cycle, to their end.
fn whole(setup: &Setup) {
    let last = LastSpan::new(mm("0.84"), Variance::from_bits(given(1 << 40)));
    let known = Known { span: mm("0.84"), span_change: mm("0.02"), drop: mm("6"), drop_change: mm("0.1") };
    let jobs = [
        Job::full(),
        Job { homed: true, levelled: true, kind: Kind::Full { last: Some(last) } },
        Job { homed: true, levelled: true, kind: Kind::Quick(known) },
    ];
    for job in jobs {
        let mut cycle = given(Cycle::<TOUCHES>::idle());
        match given(&mut cycle).start(setup, given(job)) {
            Ok(()) => {
                let outcome = run(given(&mut cycle), given(&mut Well));
                if let Some(outcome) = &outcome {
                    keep(given(outcome).landing());
                    keep(given(outcome).landing_seen());
                    keep(given(outcome).refusals());
                    keep(given(outcome).accepted());
                    keep(given(outcome).for_gauge_check());
                }
                keep(outcome);
                keep(given(&cycle).judge(given(&mut Outcome::open())));
                keep(given(&cycle).touches());
            }
            Err(no_room) => show(&no_room),
        }
    }
}

/// A cycle by hand: an event out of turn, then cancelled.
fn broken_off(setup: &Setup) {
    let Ok(mut cycle) = Cycle::<TOUCHES>::new(given(setup), given(Job::full())) else { return };
    if let Err(out_of_turn) = given(&mut cycle).handle(given(Event::FloorReached)) {
        show(&out_of_turn);
    }
    given(&mut cycle).cancel();
    while given(&cycle).poll() != Do::Finished {
        keep(given(&mut cycle).handle(given(Event::Done)));
    }
    keep(given(&cycle).is_finished());
    keep(given(&cycle).outcome());
}
