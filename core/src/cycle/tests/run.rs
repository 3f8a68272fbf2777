//! The blocking calls: each request reaches the call of its name, each answer becomes its event.

extern crate std;

use std::format;
use std::string::String;
use std::vec::Vec;

use crate::cycle::{Cycle, Edge, Ending, Fault, Job, Machine, ProbeState, Seconds, Temperatures, run};
use crate::refusal::RefusalKind;
use crate::series::Station;
use crate::setup::{Follows, Place};
use crate::units::{Length, Speed, Temperature};

use super::machine::{ROOM, mm, part, with};

/// Writes down what it is asked, and fails or is stopped at one of the calls.
struct Notes {
    calls: Vec<String>,
    fails_at: Option<(usize, Fault)>,
    stops_at: Option<usize>,
    edge: fn(Station) -> Edge,
    open: bool,
    probe: ProbeState,
}

impl Notes {
    fn new() -> Self {
        let edge = |station| {
            let z = mm(match station {
                Station::Tip => "0.6",
                Station::Shoulder => "6.7",
                Station::Plate => "7.35",
            });
            Edge::Tripped { z, at: Temperatures::default() }
        };
        Self {
            calls: Vec::new(),
            fails_at: None,
            stops_at: None,
            edge,
            open: true,
            probe: ProbeState::Fetched,
        }
    }

    fn note<T>(&mut self, call: String, answer: T) -> Result<T, Fault> {
        let number = self.calls.len();
        self.calls.push(call);
        match self.fails_at {
            Some((at, fault)) if at == number => Err(fault),
            _ => Ok(answer),
        }
    }
}

impl Machine for Notes {
    fn find_probe(&mut self, within: Seconds) -> Result<ProbeState, Fault> {
        let probe = self.probe;
        self.note(format!("find probe {}", within.0), probe)
    }

    fn home(&mut self, within: Seconds) -> Result<(), Fault> {
        self.note(format!("home {}", within.0), ())
    }

    fn level(&mut self, lowest: Length, within: Seconds) -> Result<(), Fault> {
        self.note(format!("level {lowest} {}", within.0), ())
    }

    fn warm(&mut self, tool: Temperature, within: Seconds) -> Result<(), Fault> {
        self.note(format!("warm {tool} {}", within.0), ())
    }

    fn fetch(&mut self, lowest: Length, within: Seconds) -> Result<(), Fault> {
        self.probe = ProbeState::Fetched;
        self.note(format!("fetch {lowest} {}", within.0), ())
    }

    fn put_back(&mut self, lowest: Option<Length>, within: Seconds) -> Result<(), Fault> {
        self.probe = ProbeState::PutBack;
        self.note(format!("put back {lowest:?} {}", within.0), ())
    }

    fn move_to(&mut self, to: Place, lowest: Length, within: Seconds) -> Result<(), Fault> {
        self.note(format!("move {} {} {lowest} {}", to.x, to.y, within.0), ())
    }

    fn approach(&mut self, at: Station, floor: Length, speed: Speed, within: Seconds) -> Result<Edge, Fault> {
        let edge = (self.edge)(at);
        self.note(format!("approach {} {floor} {speed} {}", at.word(), within.0), edge)
    }

    fn lift(&mut self, to: Length, within: Seconds) -> Result<bool, Fault> {
        let open = self.open;
        self.note(format!("lift {to} {}", within.0), open)
    }

    fn halt(&mut self) {
        self.calls.push(String::from("halt"));
    }

    fn stop_asked(&mut self) -> bool {
        self.stops_at == Some(self.calls.len())
    }
}

fn setup() -> crate::Setup {
    with(|draft| {
        draft.touch.tip_again = true;
        draft.growth.push(part(Follows::Tool)).expect("room");
    })
}

fn driven(notes: &mut Notes) -> (Vec<RefusalKind>, Ending) {
    let setup = setup();
    let mut cycle = Cycle::<ROOM>::new(&setup, Job::full()).expect("room");
    let outcome = run(&mut cycle, notes).expect("an outcome");
    assert_eq!(Some(&outcome), cycle.outcome().as_ref());
    (outcome.refusals().iter().map(|refusal| refusal.kind).collect(), outcome.ending)
}

#[test]
fn a_whole_cycle_by_calls() {
    let mut notes = Notes::new();
    assert_eq!(driven(&mut notes), (Vec::new(), Ending::LiftedAndPutBack));
    let calls: Vec<&str> = notes.calls.iter().map(String::as_str).collect();
    let begin = [
        "find probe 10",
        "put back None 90",
        "home 180",
        "level 10.375 600",
        "warm 150 1200",
        "move 190 190 10.375 60",
        "approach tip 0.03882 6 11",
        "lift 1.35 60",
        "approach tip 0.03882 1.5 5",
    ];
    assert!(calls.starts_with(&begin), "{calls:?}");
    assert_eq!(calls.iter().filter(|call| call.starts_with("approach")).count(), 14);
    for (station, place) in [("shoulder", "move 190 160 10.375 60"), ("plate", "move 100 100 10.375 60")] {
        assert!(calls.contains(&place), "{station}");
    }
    assert!(calls.contains(&"fetch 10.375 90"));
    assert!(calls.contains(&"put back Some(Length(10.375)) 90"));
    assert!(!calls.contains(&"halt"));
}

#[test]
fn what_an_approach_met_becomes_its_event() {
    for (edge, kind) in [
        ((|_| Edge::Floor) as fn(Station) -> Edge, RefusalKind::NoTrip),
        (|_| Edge::Already, RefusalKind::AlreadyTripped),
        (|_| Edge::Wrong, RefusalKind::WrongSwitch),
    ] {
        let mut notes = Notes { edge, ..Notes::new() };
        assert_eq!(driven(&mut notes), ([kind].to_vec(), Ending::LiftedAndPutBack));
    }
    let mut notes = Notes { open: false, ..Notes::new() };
    assert_eq!(driven(&mut notes).0, [RefusalKind::StillTripped]);
    let mut notes = Notes { probe: ProbeState::Unknown, ..Notes::new() };
    assert_eq!(driven(&mut notes), ([RefusalKind::ProbeStateUnknown].to_vec(), Ending::Halted));
    assert_eq!(notes.calls, ["find probe 10", "halt"]);
}

/// A failure of any call reaches the cycle, and the cycle ends.
#[test]
fn a_failed_call_ends_the_cycle() {
    let mut whole = Notes::new();
    driven(&mut whole);
    for at in 0..whole.calls.len() {
        let mut notes = Notes { fails_at: Some((at, Fault::Position)), ..Notes::new() };
        assert_eq!(driven(&mut notes), ([RefusalKind::MachineFault].to_vec(), Ending::Halted), "call {at}");
        assert_eq!(notes.calls.len(), at + 2, "the failed call, and halt");
        assert_eq!(notes.calls.last().map(String::as_str), Some("halt"));
    }
}

#[test]
fn a_stop_is_looked_at_before_each_request() {
    let mut whole = Notes::new();
    driven(&mut whole);
    for at in 0..whole.calls.len() {
        let mut notes = Notes { stops_at: Some(at), ..Notes::new() };
        let (reasons, _) = driven(&mut notes);
        assert_eq!(reasons, [RefusalKind::Cancelled], "call {at}");
        assert_eq!(notes.calls.get(..at), whole.calls.get(..at), "the pending request is not made");
        assert!(notes.calls.len() <= at + 3);
    }
}

#[test]
fn a_cycle_that_was_not_started_runs_nothing() {
    let mut notes = Notes::new();
    assert_eq!(run(&mut Cycle::<ROOM>::idle(), &mut notes), None);
    assert!(notes.calls.is_empty());
}

/// Nobody asks to stop where the machine does not say.
#[test]
fn by_default_no_stop_is_asked() {
    struct Deaf;
    impl Machine for Deaf {
        fn find_probe(&mut self, _: Seconds) -> Result<ProbeState, Fault> {
            Err(Fault::Probe)
        }
        fn home(&mut self, _: Seconds) -> Result<(), Fault> {
            Err(Fault::Home)
        }
        fn level(&mut self, _: Length, _: Seconds) -> Result<(), Fault> {
            Err(Fault::Level)
        }
        fn warm(&mut self, _: Temperature, _: Seconds) -> Result<(), Fault> {
            Err(Fault::Heat)
        }
        fn fetch(&mut self, _: Length, _: Seconds) -> Result<(), Fault> {
            Err(Fault::Probe)
        }
        fn put_back(&mut self, _: Option<Length>, _: Seconds) -> Result<(), Fault> {
            Err(Fault::Probe)
        }
        fn move_to(&mut self, _: Place, _: Length, _: Seconds) -> Result<(), Fault> {
            Err(Fault::Move)
        }
        fn approach(&mut self, _: Station, _: Length, _: Speed, _: Seconds) -> Result<Edge, Fault> {
            Err(Fault::Move)
        }
        fn lift(&mut self, _: Length, _: Seconds) -> Result<bool, Fault> {
            Err(Fault::Move)
        }
        fn halt(&mut self) {}
    }
    let setup = setup();
    let mut cycle = Cycle::<ROOM>::new(&setup, Job::full()).expect("room");
    let outcome = run(&mut cycle, &mut Deaf).expect("an outcome");
    let kinds: Vec<_> = outcome.refusals().iter().map(|refusal| refusal.kind).collect();
    assert_eq!(kinds, [RefusalKind::ProbeStateUnknown], "not cancelled");
}
