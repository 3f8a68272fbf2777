//! The touch cycle in the model world: every script of events with at most two wrong ones.

use std::collections::BTreeSet;

use zdatum::cycle::{Cycle, Event, Fault, Job};
use zdatum::{RefusalKind, Setup};
use zdatum_tests::model::scripts::{Loosen, Tally};
use zdatum_tests::model::tight::{self, Corner};
use zdatum_tests::model::world::{Harm, Probe};
use zdatum_tests::model::wrong::{Group, Wrong};
use zdatum_tests::model::{Scripts, catalogue, causes, world_at};

fn setup() -> Setup {
    Setup::check(tight::draft()).unwrap_or_else(|bad| panic!("the tight machine: {bad}"))
}

/// The proof: no harm by one wrong event, but where the carriage is astray; every cycle ends; accepted
/// landings are as sure as the page says; the double faults are those of the page.
#[test]
fn one_fault_does_no_harm_and_two_are_listed() {
    let runs = catalogue::run();
    let told = |tally: &Tally| tally.broken.join("\n");
    assert!(runs.single.broken.is_empty(), "{}", told(&runs.single));
    assert!(runs.double.broken.is_empty(), "{}", told(&runs.double));
    assert!(runs.single.single.keys().all(|(group, _)| *group == Group::Astray), "{:?}", runs.single.single);
    assert!(runs.single.scripts[1] > 1_000_000, "{:?}", runs.single.scripts);
    assert!(runs.double.scripts[2] > 20_000_000, "{:?}", runs.double.scripts);
    let page = include_str!("../../docs/tables/cycle-faults.md");
    assert!(
        runs.page() == page,
        "docs/tables/cycle-faults.md is out of date; the page is now:\n{}",
        runs.page()
    );
}

/// A floor lowered by its margin does no harm; by one bit more it does, and the model sees it.
#[test]
fn no_floor_can_be_lowered() {
    let setup = setup();
    let draft = setup.draft();
    let bits = |length: zdatum::Length| i64::from(length.to_bits());
    let margin = bits(draft.plates.margin);
    let run = |setup: &Setup, loosen| Scripts { loosen, ..Scripts::full(1) }.run(setup).single;
    let harm = |group, harm| move |key: &&(Group, Harm)| **key == (group, harm);

    // The sum of the setup's check is met exactly, so the tip's floor has no slack at all. Made of what was
    // measured, the next two have the one bit by which Δ/2 is rounded up.
    let tip = |by| Loosen { tip: by, ..Loosen::default() };
    let shoulder = |by| Loosen { shoulder: by, ..Loosen::default() };
    let plate = |by| Loosen { plate: by, ..Loosen::default() };
    let clear = |by| Loosen { clear: by, ..Loosen::default() };
    for (name, slack, loosen, group, what) in [
        ("tip", 0, &tip as &dyn Fn(i64) -> Loosen, Group::DatumDead, Harm::PinPastOvertravel),
        ("shoulder", 1, &shoulder, Group::DatumDead, Harm::PinPastOvertravel),
        ("plate", 1, &plate, Group::PlungerDead, Harm::ShoulderIntoPlate),
    ] {
        let kept = run(&setup, loosen(slack));
        assert!(kept.keys().all(|(group, _)| *group == Group::Astray), "{name}: {kept:?}");
        let loosened = run(&setup, loosen(slack + 1));
        assert!(loosened.keys().any(|key| harm(group, what)(&key)), "{name}: {loosened:?}");
    }
    let broken = Scripts { loosen: clear(1), ..Scripts::full(0) }.run(&setup).broken;
    assert!(
        broken.iter().any(|text| text.contains("SidewaysTooLow by 1 bits with nothing wrong")),
        "{broken:?}"
    );

    // What keeps the tip off the plate shows where neither pin nor shoulder is met first: with the probe
    // fallen off.
    let tip_off = |loosened: &std::collections::BTreeMap<(Group, Harm), _>| {
        !loosened.contains_key(&(Group::ProbeLost, Harm::TipIntoPlate))
    };
    for loosen in [&shoulder as &dyn Fn(i64) -> Loosen, &plate] {
        // The checks ask for more than the margin, by a bit; Δ/2 rounded up is another.
        assert!(tip_off(&run(&setup, loosen(margin + 2))), "within the margin");
        assert!(!tip_off(&run(&setup, loosen(margin + 3))), "beyond the margin");
    }
}

/// What the scripts with two wrong events leave out: faults that the cycle treats alike, at every request of
/// a cycle and of each ending that a fault leads to.
#[test]
fn a_fault_of_each_kind_stands_for_the_others() {
    let setup = setup();
    for job in [Job::full(), catalogue::quick()] {
        let mut world = world_at(&setup, Corner::of(0), Probe::Tool, true);
        let mut cycle = Cycle::<3>::new(&setup, job).expect("room");
        while !cycle.is_finished() {
            stand_for_the_others(&cycle);
            for fault in Wrong::FAILED {
                let (mut cycle, mut world) = (cycle.clone(), world.clone());
                cycle.handle(Event::Failed(fault)).expect("a failure answers every request");
                while !cycle.is_finished() {
                    stand_for_the_others(&cycle);
                    let event = world.execute(cycle.poll());
                    cycle.handle(event).expect("an answer in turn");
                }
            }
            let event = world.execute(cycle.poll());
            cycle.handle(event).expect("an answer in turn");
        }
    }
}

fn stand_for_the_others(cycle: &Cycle<'_, 3>) {
    let after = |fault| {
        let mut cycle = cycle.clone();
        cycle.handle(Event::Failed(fault)).expect("a failure answers every request");
        format!("{cycle:?}")
    };
    for fault in Fault::ALL {
        let stands_for = match fault {
            Fault::Move | Fault::Position | Fault::TimedOut | Fault::Home => Fault::Position,
            Fault::Level | Fault::Heat => Fault::Heat,
            Fault::Probe => Fault::Probe,
        };
        assert!(Wrong::FAILED.contains(&stands_for));
        assert_eq!(after(fault), after(stands_for), "{fault:?} at {:?}", cycle.poll());
    }
}

#[test]
fn every_refusal_is_reached_by_a_physical_cause() {
    let mut reached = BTreeSet::new();
    for cause in causes::all() {
        let outcome = cause.outcome();
        assert!(
            outcome.refusals().iter().any(|refusal| refusal.kind == cause.kind),
            "{:?} is not reached where {}: {:?}",
            cause.kind,
            cause.what,
            outcome.refusals()
        );
        assert!(outcome.landing().is_none());
        reached.insert(cause.kind.code());
    }
    for kind in RefusalKind::ALL {
        assert!(reached.contains(&kind.code()), "{kind:?} has no cause");
    }
    assert_eq!(
        causes::page(),
        include_str!("../../docs/tables/refusals-reached.md"),
        "the page is out of date"
    );
}
