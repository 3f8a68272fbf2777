//! Any bytes as operations on a touch cycle.
//!
//! Two bytes an operation. The first says what: an answer of the model's machine, an event out of nowhere, a
//! cancel, a new start; the second says which.

use std::sync::LazyLock;

use zdatum::cycle::{Cycle, Do, Event, Fault, Job, ProbeState, Temperatures};
use zdatum::{Length, Setup};
use zdatum_tests::model::catalogue::quick;
use zdatum_tests::model::tight::{self, Corner};
use zdatum_tests::model::world::Probe;
use zdatum_tests::model::world_at;

static SETUP: LazyLock<Setup> = LazyLock::new(|| Setup::check(tight::draft()).expect("the tight machine"));

fn event(which: u8, cycle: &Cycle<'_, 3>) -> Event {
    let floor = match cycle.poll() {
        Do::Approach { floor, .. } => floor,
        _ => Length::ZERO,
    };
    match which % 12 {
        0 => Event::Done,
        1 => Event::FloorReached,
        2 => Event::AlreadyTripped,
        3 => Event::WrongSwitch,
        4 => Event::Lifted { open: which & 64 == 0 },
        5 => Event::Probe(ProbeState::PutBack),
        6 => Event::Probe(ProbeState::Fetched),
        7 => Event::Probe(ProbeState::Unknown),
        8 => Event::Failed(Fault::ALL[usize::from(which) % Fault::ALL.len()]),
        // From just below the floor to metres above it.
        n => {
            let above = (i64::from(which) - 8) << (4 * (n - 8));
            let z = Length::from_bits(i64::from(floor.to_bits()) + above).unwrap_or(floor);
            Event::Tripped { z, at: Temperatures::default() }
        }
    }
}

pub(crate) fn take(bytes: &[u8]) {
    let setup: &Setup = &SETUP;
    let jobs = [Job::full(), Job { homed: true, levelled: true, ..Job::full() }, quick()];
    let corner = Corner::of(bytes.first().copied().unwrap_or(0) % Corner::COUNT);
    let mut cycle = Cycle::<3>::idle();
    let mut world = world_at(setup, corner, Probe::Dock, true);
    let mut answered = 0;
    for operation in bytes.chunks_exact(2) {
        let &[what, which] = operation else { return };
        let (asked, before) = (cycle.poll(), cycle.clone());
        let event = match what % 16 {
            0 => {
                cycle.start(setup, jobs[usize::from(which) % 3]).expect("room");
                answered = 0;
                continue;
            }
            1 => {
                cycle.cancel();
                continue;
            }
            2..6 => event(which, &cycle),
            _ => world.execute(asked),
        };
        match cycle.handle(event) {
            Ok(()) => answered += 1,
            Err(wrong) => {
                assert_eq!((wrong.pending, wrong.got), (asked, event));
                assert_eq!(format!("{cycle:?}"), format!("{before:?}"));
            }
        }
        assert!(answered <= 52, "the tight machine's bound");
        assert_eq!(cycle.is_finished(), cycle.outcome().is_some());
    }
}
