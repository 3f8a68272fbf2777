//! The touch cycle under any list of operations: events in and out of turn, cancel, a new start, a machine
//! that mixes truth and nonsense. It never panics, keeps its contract, and ends within its bound of requests.

use proptest::collection::vec;
use proptest::prelude::*;
use zdatum::cycle::{Cycle, Do, Ending, Event, Fault, Job, Kind, ProbeState, Temperatures, most_requests};
use zdatum::{Length, Setup, Station, Temperature};
use zdatum_tests::generate::{length, property};
use zdatum_tests::machine::workshop;
use zdatum_tests::model::catalogue::quick;
use zdatum_tests::model::tight::{self, Corner};
use zdatum_tests::model::world::Probe;
use zdatum_tests::model::world_at;

const ROOM: usize = 9;

/// One operation on a cycle.
#[derive(Clone, Debug)]
enum Op {
    /// An event out of nowhere.
    Event(Event),
    /// What the model's machine answers, so that cycles get far.
    Answer,
    /// The same with another height.
    AnswerAt(Length),
    Cancel,
    /// Which job, and on which of the setups.
    Start(u8),
    Poll,
}

fn any_event() -> impl Strategy<Value = Event> {
    let fault = proptest::sample::select(Fault::ALL.to_vec());
    let probe = proptest::sample::select(vec![ProbeState::PutBack, ProbeState::Fetched, ProbeState::Unknown]);
    let reading = proptest::option::of(zdatum_tests::generate::temperature());
    let readings = (reading.clone(), reading.clone(), reading);
    prop_oneof![
        Just(Event::Done),
        probe.prop_map(Event::Probe),
        (length(), readings).prop_map(|(z, (tool, bed, chamber)): (Length, (Option<Temperature>, _, _))| {
            Event::Tripped { z, at: Temperatures { tool, bed, chamber } }
        }),
        Just(Event::FloorReached),
        Just(Event::AlreadyTripped),
        Just(Event::WrongSwitch),
        any::<bool>().prop_map(|open| Event::Lifted { open }),
        fault.prop_map(Event::Failed),
    ]
}

fn operation() -> impl Strategy<Value = Op> {
    prop_oneof![
        60 => Just(Op::Answer),
        3 => (-3_000_i64..3_000).prop_map(|z| Op::AnswerAt(tight::length(z * 40))),
        4 => any_event().prop_map(Op::Event),
        1 => Just(Op::Cancel),
        1 => any::<u8>().prop_map(Op::Start),
        4 => Just(Op::Poll),
    ]
}

fn job(number: u8) -> Job {
    match number % 3 {
        0 => Job::full(),
        1 => Job { homed: true, ..Job::full() },
        _ => quick(),
    }
}

fn setups() -> [Setup; 2] {
    let mut wide = workshop();
    wide.touch.most = ROOM as u8;
    [tight::draft(), wide].map(|draft| Setup::check(draft).unwrap_or_else(|bad| panic!("{bad}")))
}

#[test]
fn any_list_of_operations_keeps_the_contract() {
    let setups = setups();
    property((vec(operation(), 1..160), 0..Corner::COUNT, any::<u8>()), |(operations, corner, first)| {
        let which = |number: u8| &setups[usize::from(number / 3) % 2];
        let mut setup = which(first);
        let mut kind = job(first).kind;
        let mut cycle = Cycle::<ROOM>::new(setup, job(first)).expect("room");
        let mut world = world_at(setup, Corner::of(corner), Probe::Dock, true);
        let mut answered = 0;
        for operation in operations {
            let (before, asked) = (cycle.clone(), cycle.poll());
            let was_over = cycle.is_finished();
            let event = match operation {
                Op::Poll => {
                    prop_assert_eq!(cycle.poll(), asked);
                    continue;
                }
                Op::Cancel => {
                    cycle.cancel();
                    prop_assert_eq!(cycle.is_finished(), was_over);
                    let safe = matches!(
                        cycle.poll(),
                        Do::Lift { .. } | Do::FindProbe { .. } | Do::PutBack { .. } | Do::Halt | Do::Finished
                    );
                    prop_assert!(safe, "after cancel: {:?}", cycle.poll());
                    continue;
                }
                Op::Start(number) => {
                    setup = which(number);
                    kind = job(number).kind;
                    cycle.start(setup, job(number)).expect("room");
                    world = world_at(setup, Corner::of(corner), Probe::Tool, true);
                    answered = 0;
                    prop_assert!(!cycle.is_finished(), "a start begins anew");
                    continue;
                }
                Op::Event(event) => event,
                Op::Answer => world.execute(asked),
                Op::AnswerAt(z) => match world.execute(asked) {
                    Event::Tripped { at, .. } => Event::Tripped { z, at },
                    event => event,
                },
            };
            match cycle.handle(event) {
                Ok(()) => {
                    answered += 1;
                    prop_assert!(!was_over, "{:?} after the end", event);
                    prop_assert!(answered <= most_requests(&setup.draft().touch), "{answered} requests");
                }
                Err(wrong) => {
                    prop_assert_eq!((wrong.pending, wrong.got), (asked, event));
                    prop_assert_eq!(format!("{cycle:?}"), format!("{before:?}"));
                }
            }
            let outcome = cycle.outcome();
            prop_assert_eq!(cycle.is_finished(), outcome.is_some());
            prop_assert_eq!(cycle.is_finished(), cycle.poll() == Do::Finished);
            if let Some(outcome) = outcome {
                prop_assert!(!outcome.accepted() || outcome.ending == Ending::LiftedAndPutBack);
                prop_assert!(!outcome.accepted() || outcome.refusals().is_empty());
                let full = matches!(kind, Kind::Full { .. });
                prop_assert!(outcome.landing().is_none() || full);
                prop_assert!(outcome.quick.is_none() || !full);
                let says_something =
                    outcome.landing().is_some() || outcome.quick.is_some() || !outcome.refusals().is_empty();
                prop_assert!(says_something, "{outcome:?}");
            }
            match cycle.poll() {
                Do::Approach { station: Station::Tip, floor, .. } => {
                    prop_assert_eq!(floor, setup.floors().tip)
                }
                Do::Move { lowest, .. } | Do::Fetch { lowest, .. } | Do::Level { lowest, .. } => {
                    prop_assert!(lowest >= setup.floors().clear_with_probe);
                }
                _ => {}
            }
        }
        // Whatever came, cancelled and obeyed it ends in four requests at most.
        cycle.cancel();
        for _ in 0..4 {
            let event = match cycle.poll() {
                Do::Finished => break,
                Do::Lift { .. } => Event::Lifted { open: true },
                Do::FindProbe { .. } => Event::Probe(ProbeState::Fetched),
                _ => Event::Done,
            };
            cycle.handle(event).expect("an answer in turn");
        }
        prop_assert!(cycle.is_finished(), "{:?}", cycle.poll());
        Ok(())
    });
}

/// A cycle to its end: a full or a quick one, cancelled after so many answers.
fn ended(setup: &Setup, corner: u8, job: Job, cancel: usize) -> Cycle<'_, ROOM> {
    let mut cycle = Cycle::<ROOM>::idle();
    let mut world = world_at(setup, Corner::of(corner), Probe::Dock, true);
    cycle.start(setup, job).expect("room");
    for answered in 0.. {
        if cycle.is_finished() {
            break;
        }
        if answered == cancel {
            cycle.cancel();
        }
        let event = world.execute(cycle.poll());
        let _ = cycle.handle(event);
    }
    cycle
}

/// An outcome's memory holds nothing of the one before it: accepted, cancelled early and late, a quick check.
#[test]
fn an_outcomes_memory_may_be_used_again() {
    let setup = Setup::check(tight::draft()).expect("the tight machine");
    let sound = Job { homed: true, levelled: true, ..Job::full() };
    let accepted =
        |corner: &u8| ended(&setup, *corner, sound, 1000).outcome().expect("ended").landing().is_some();
    let corner = (0..Corner::COUNT).find(accepted).expect("somewhere it lands");
    let cycles = [(sound, 1000), (sound, 2), (sound, 20), (quick(), 1000), (quick(), 5)]
        .map(|(job, cancel)| ended(&setup, corner, job, cancel));
    let outcomes: Vec<_> = cycles.iter().map(|cycle| cycle.outcome().expect("ended")).collect();
    assert!(outcomes[0].landing().is_some() && outcomes[1].landing().is_none());
    assert!(outcomes.iter().any(|outcome| outcome.quick.is_some()));
    assert!(!outcomes[1].refusals().is_empty());
    for before in &outcomes {
        for (cycle, fresh) in cycles.iter().zip(&outcomes) {
            let mut again = before.clone();
            assert!(cycle.judge(&mut again));
            assert_eq!(&again, fresh);
        }
    }
}
