//! Events out of turn, twice and after the end; poll.

extern crate std;

use std::format;
use std::string::String;
use std::vec::Vec;

use crate::cycle::{Cycle, Do, Event, Fault, Job, OutOfTurn};
use crate::setup::Follows;

use super::machine::{READY, ROOM, part, with};
use super::script::{event, run};

/// Every kind of event.
const EVENTS: [&str; 16] = [
    "done",
    "put back",
    "fetched",
    "unknown",
    "0.6",
    "6.7",
    "7.35",
    "40.5",
    "floor",
    "already",
    "wrong",
    "open",
    "closed",
    "failed move",
    "failed heat",
    "failed probe",
];

/// Whole cycles, step by step, from all beginnings; whether the probe hangs on the tool when a request is
/// pending.
const WHOLE: [(Job, &str); 2] = [(Job::full(), BEGIN_FETCHED), (READY, "put back\n done\n")];
const BEGIN_FETCHED: &str = "fetched\n done\n done\n done\n done\n done\n";

pub(super) fn at_every_step(mut look: impl FnMut(&Cycle<'_, ROOM>, bool)) {
    let setup = with(|draft| {
        draft.touch.tip_again = true;
        draft.growth.push(part(Follows::Tool)).expect("room");
    });
    for (job, begin) in WHOLE {
        let mut cycle = super::machine::cycle(&setup, job);
        let mut script = String::from(begin);
        if job == READY {
            // The touch temperature.
            script.push_str("done\n");
        }
        let touches = |z: &str| format!("{z}\n open\n").repeat(4);
        script.push_str(&touches("0.6"));
        script.push_str("done\n done\n");
        script.push_str(&touches("6.7"));
        script.push_str("done\n");
        script.push_str(&touches("7.35"));
        script.push_str("done\n done\n");
        script.push_str(&"0.6\n open\n".repeat(2));
        let mut hangs = job == Job::full();
        for answer in script.lines().map(str::trim) {
            look(&cycle, hangs);
            match cycle.poll() {
                Do::Fetch { .. } => hangs = true,
                Do::PutBack { .. } => hangs = false,
                _ => {}
            }
            run(&mut cycle, &format!("| {answer}"));
        }
        assert!(cycle.is_finished());
        assert!(cycle.outcome().is_some_and(|outcome| outcome.accepted()));
        look(&cycle, hangs);
    }
}

/// Which events answer which request: the contract, written down once more.
fn answers(request: &Do, event: &Event) -> bool {
    match (request, event) {
        (Do::Finished, _) => false,
        (Do::Halt, Event::Done) => true,
        (_, Event::Failed(_)) => true,
        (Do::FindProbe { .. }, Event::Probe(_)) => true,
        (Do::Approach { .. }, Event::Tripped { .. } | Event::FloorReached) => true,
        (Do::Approach { .. }, Event::AlreadyTripped | Event::WrongSwitch) => true,
        (Do::Lift { .. }, Event::Lifted { .. }) => true,
        (Do::Home { .. } | Do::Level { .. } | Do::Warm { .. } | Do::Move { .. }, Event::Done) => true,
        (Do::Fetch { .. } | Do::PutBack { .. }, Event::Done) => true,
        _ => false,
    }
}

/// Tries every event on a clone: those that do not answer change nothing; those that do are taken, and their
/// second coming as well only where it answers what is asked next.
fn try_all(cycle: &Cycle<'_, ROOM>) -> usize {
    let before = format!("{cycle:?}");
    let pending = cycle.poll();
    let mut refused = 0;
    for got in EVENTS.map(event) {
        let mut other = cycle.clone();
        let taken = other.handle(got);
        if answers(&pending, &got) {
            assert_eq!(taken, Ok(()), "{pending:?}, {got:?}");
        } else {
            assert_eq!(taken, Err(OutOfTurn { pending, got }));
            assert_eq!(format!("{other:?}"), before, "{pending:?}, {got:?}");
            assert_eq!(other.poll(), pending);
            refused += 1;
        }
        let (after, next) = (format!("{other:?}"), other.poll());
        let again = other.handle(got);
        assert_eq!(again.is_ok(), answers(&next, &got), "{next:?}, {got:?}");
        if again.is_err() {
            assert_eq!(format!("{other:?}"), after);
        }
    }
    refused
}

#[test]
fn an_event_out_of_turn_changes_nothing() {
    let mut refused = 0;
    at_every_step(|cycle, _| {
        refused += try_all(cycle);
        // The endings too: from every step, by every way into them.
        for way in ["failed move", "failed heat", "failed probe"] {
            let mut ending = cycle.clone();
            if ending.handle(event(way)).is_err() {
                continue;
            }
            for answer in ["open", "fetched", "done", "done"] {
                refused += try_all(&ending);
                let _ = ending.handle(event(answer));
            }
        }
    });
    assert!(refused > 1_000, "{refused}");
}

#[test]
fn poll_changes_nothing() {
    let mut requests = Vec::new();
    at_every_step(|cycle, _| {
        let before = format!("{cycle:?}");
        let first = cycle.poll();
        assert_eq!(cycle.poll(), first);
        assert_eq!(format!("{cycle:?}"), before);
        requests.push(first);
    });
    // All kinds of request but the halt have come by.
    let kinds = |wanted: fn(&Do) -> bool| requests.iter().filter(|request| wanted(request)).count();
    assert_eq!(kinds(|r| matches!(r, Do::Home { .. } | Do::Level { .. })), 2);
    assert_eq!(kinds(|r| matches!(r, Do::PutBack { .. })), 3);
    assert_eq!(kinds(|r| matches!(r, Do::Fetch { .. })), 2);
    assert_eq!(kinds(|r| matches!(r, Do::Finished)), 2);
    assert_eq!(kinds(|r| matches!(r, Do::Approach { .. })), 28);
}

#[test]
fn after_the_end_nothing_is_taken() {
    let setup = super::machine::setup();
    let mut cycle = super::machine::at_put_back(&setup);
    run(&mut cycle, "put back | done\n finished");
    let outcome = cycle.outcome();
    assert_eq!(try_all(&cycle), EVENTS.len());
    cycle.cancel();
    assert_eq!(cycle.outcome(), outcome);
    assert!(outcome.is_some_and(|outcome| outcome.accepted()));
}

#[test]
fn before_a_start_nothing_is_taken() {
    let mut cycle = Cycle::<ROOM>::idle();
    assert_eq!(try_all(&cycle), EVENTS.len());
    cycle.cancel();
    assert_eq!(cycle.poll(), Do::Finished);
    assert!(!cycle.is_finished());
    let wrong = cycle.handle(Event::Done).expect_err("out of turn");
    assert!(format!("{wrong}").contains("poll again"));
}

#[test]
fn every_fault_answers_every_request() {
    at_every_step(|cycle, _| {
        for fault in Fault::ALL {
            let mut other = cycle.clone();
            assert_eq!(other.handle(Event::Failed(fault)).is_ok(), !cycle.is_finished());
            if !cycle.is_finished() {
                let moves = !matches!(other.poll(), Do::Halt);
                let homed = !matches!(cycle.poll(), Do::Home { .. }) && cycle.homed;
                assert_eq!(moves, homed && fault.position_stands(), "{fault:?} at {:?}", cycle.poll());
            }
        }
    });
}
