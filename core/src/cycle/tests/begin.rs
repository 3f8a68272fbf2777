//! Before the first touch.

extern crate std;

use crate::cycle::{Cycle, Ending, Job, NoRoom};
use crate::landing::Conditions;
use crate::refusal::RefusalKind;
use crate::setup::Follows;

use super::machine::{READY, ROOM, cycle, part, setup, with};
use super::script::run;

#[test]
fn it_makes_sure_of_the_probe_then_homes_levels_and_warms() {
    let setup = with(|draft| draft.growth.push(part(Follows::Tool)).expect("room"));
    let mut cycle = cycle(&setup, Job::full());
    run(
        &mut cycle,
        "find probe          | put back
         home within 180     | done
         level               | done
         warm to 150 within  | done
         move to tip         | done
         approach tip",
    );
}

#[test]
fn what_stands_is_not_asked_for_again() {
    let setup = setup();
    let mut homed = cycle(&setup, Job { homed: true, ..Job::full() });
    run(&mut homed, "find probe | put back\n level | done\n move to tip");
    let mut level = cycle(&setup, Job { levelled: true, ..Job::full() });
    run(&mut level, "find probe | put back\n home | done\n move to tip");
    let mut both = cycle(&setup, READY);
    run(&mut both, "find probe | put back\n move to tip");
}

/// Only what follows the tool has a touch temperature that the machine can bring about.
#[test]
fn a_part_that_follows_the_bed_warms_nothing() {
    let setup = with(|draft| draft.growth.push(part(Follows::Bed)).expect("room"));
    run(&mut cycle(&setup, READY), "find probe | put back\n move to tip");
    let setup = with(|draft| {
        draft.growth.push(part(Follows::Chamber)).expect("room");
        draft.growth.push(part(Follows::Tool)).expect("room");
    });
    run(&mut cycle(&setup, READY), "find probe | put back\n warm to 150 | done\n move to tip");
}

#[test]
fn a_probe_that_was_left_fetched_is_put_back_first() {
    let setup = setup();
    let mut unhomed = cycle(&setup, Job::full());
    run(&mut unhomed, "find probe | fetched\n put back not homed within 90 s | done\n home | done\n level");
    let mut homed = cycle(&setup, READY);
    run(&mut homed, "find probe | fetched\n put back above 10.375 within 90 s | done\n move to tip");
}

#[test]
fn no_room_changes_nothing() {
    let (small, large) = (setup(), with(|draft| draft.touch.most = 7));
    let no_room = NoRoom { most: 7, room: ROOM };
    assert_eq!(Cycle::<ROOM>::new(&large, READY).err(), Some(no_room));
    let mut cycle = cycle(&small, READY);
    run(&mut cycle, "find probe | put back\n move to tip | done");
    let before = std::format!("{cycle:?}");
    assert_eq!(cycle.start(&large, Job::full()), Err(no_room));
    assert_eq!(std::format!("{cycle:?}"), before);
    assert!(std::format!("{no_room}").contains("touch.most"));

    let exact = with(|draft| draft.touch.most = ROOM as u8);
    assert_eq!(cycle.start(&exact, Job::full()), Ok(()));
    run(&mut cycle, "find probe | put back\n home");
}

#[test]
fn a_cycle_begins_anew_whatever_was_before() {
    let setup = setup();
    let mut cycle = super::machine::at_put_back(&setup);
    assert_eq!(cycle.start(&setup, READY), Ok(()));
    let mut other = super::machine::cycle(&setup, READY);
    for cycle in [&mut cycle, &mut other] {
        run(cycle, "find probe | put back\n move to tip | done");
        run(cycle, super::machine::TIP);
        run(
            cycle,
            "fetch | done\n move | done\n approach | floor\n lift | open\n find probe | unknown\n finished",
        );
    }
    assert_eq!(cycle.outcome(), other.outcome());
}

/// Cycles that came to nothing on a machine with sensors, the tip above what was expected.
fn old_runs(setup: &crate::Setup) -> [Cycle<'_, ROOM>; 4] {
    let touches = |what: &str| std::format!("approach | {what}\n lift | open\n");
    let tip = touches("1.1 tool 171").repeat(4);
    let plate = touches("7.85 bed 91 chamber 61").repeat(4);
    let to_put_back = std::format!(
        "find probe | put back\n warm | done\n move to tip | done\n {tip} fetch | done\n move | done\n {}
         move | done\n {plate}",
        touches("7.2").repeat(4)
    );
    [
        "put back | done\n move to tip | done\n approach | 1.1\n lift | open\n approach | 1.15\n lift | open
         lift to 10.375 | open\n finished",
        "put back | failed position\n halt | done\n finished",
        "put back | cancel\n lift | open\n find probe | unknown\n finished",
        // Not over yet.
        "put back | done\n move to tip | done\n approach | 1.1\n lift",
    ]
    .map(|end| {
        let mut cycle = cycle(setup, READY);
        run(&mut cycle, &to_put_back);
        run(&mut cycle, end);
        assert!(cycle.outcome().is_none_or(|outcome| !outcome.refusals().is_empty()));
        cycle
    })
}

/// Nothing of a run before shows in the next: it asks for the same as a fresh cycle, and comes to the same.
#[test]
fn a_cycle_started_again_is_as_a_fresh_one() {
    let old_setup = with(|draft| {
        draft.touch.tip_again = true;
        draft.growth.push(part(Follows::Tool)).expect("room");
    });
    let setup = with(|draft| {
        for follows in [Follows::Tool, Follows::Bed, Follows::Chamber] {
            draft.growth.push(part(follows)).expect("room");
        }
        draft.accept.expanded_u = super::machine::u("0.1");
    });
    let begin = "home | done\n level | done\n warm | done\n move | done";
    let whole = [
        "find probe | put back",
        begin,
        super::machine::TIP,
        "fetch | done\n move to shoulder above 10.375 | done",
        super::machine::SHOULDER,
        "move | done",
        super::machine::PLATE,
        "put back | done\n finished",
    ]
    .join("\n");
    // Of the probe, the heights and the position nothing is known anew.
    let cut_short = ["| cancel", "find probe | failed heat", "find probe | put back\n home | cancel"];
    let ready = ["find probe | cancel", "find probe | failed heat"];
    let scripts = [(Job::full(), whole.as_str())]
        .into_iter()
        .chain(cut_short.map(|script| (Job::full(), script)))
        .chain(ready.map(|script| (READY, script)));

    let mut accepted = 0;
    for (job, script) in scripts {
        for mut again in old_runs(&old_setup) {
            assert!(again.touches.conditions != Conditions::NONE);
            assert_eq!(again.start(&setup, job), Ok(()));
            assert!(again.outcome().is_none() && !again.is_finished());
            assert_eq!(again.touches.conditions, Conditions::NONE, "from the start on");
            let mut fresh = cycle(&setup, job);
            for line in script.lines() {
                assert_eq!(again.poll(), fresh.poll(), "{line}");
                run(&mut again, line);
                run(&mut fresh, line);
            }
            let ending =
                ["lift to 10.375 | open\n find probe | put back\n finished", "halt | done\n finished"];
            if !fresh.is_finished() {
                let ending = if job == READY { ending[0] } else { ending[1] };
                run(&mut again, ending);
                run(&mut fresh, ending);
            }
            let outcome = again.outcome().expect("an outcome");
            assert_eq!(Some(&outcome), fresh.outcome().as_ref(), "{script}");
            if script == whole {
                accepted += 1;
                assert!(outcome.accepted() && outcome.refusals().is_empty(), "{:?}", outcome.refusals());
                // The machine reads nothing now; what was read before is forgotten.
                let seen = again.touches().expect("touches").conditions;
                assert_eq!(seen, Conditions::NONE);
                assert_eq!(std::format!("{again:?}"), std::format!("{fresh:?}"));
            } else {
                assert!(again.touches().is_none() && outcome.refusals().len() == 1, "{script}: {outcome:?}");
            }
        }
    }
    assert_eq!(accepted, 4);
}

/// Before homing no height means anything: nothing moves any more.
#[test]
fn a_failure_before_homing_halts() {
    let setup = setup();
    for script in [
        "find probe | unknown",
        "find probe | failed probe",
        "find probe | failed heat",
        "find probe | fetched\n put back | failed probe",
        "find probe | fetched\n put back | failed move",
        "find probe | put back\n home | failed home",
        "find probe | put back\n home | failed timed out",
        "find probe | put back\n home | cancel",
    ] {
        let mut cycle = cycle(&setup, Job::full());
        run(&mut cycle, script);
        run(&mut cycle, "halt | done\n finished");
        assert_eq!(cycle.outcome().map(|outcome| outcome.ending), Some(Ending::Halted), "{script}");
    }
}

#[test]
fn a_failure_after_homing_lifts_where_the_position_stands() {
    let setup = with(|draft| draft.growth.push(part(Follows::Tool)).expect("room"));
    for (script, kind, ending) in [
        ("level | failed level", RefusalKind::MachineFault, "lift to 10.375 | open\n finished"),
        ("level | failed position", RefusalKind::MachineFault, "halt | done\n finished"),
        ("level | done\n warm | failed heat", RefusalKind::MachineFault, "lift to 10.375 | open\n finished"),
        ("level | done\n warm | failed timed out", RefusalKind::MachineFault, "halt | done\n finished"),
        ("level | done\n warm | cancel", RefusalKind::Cancelled, "lift to 10.375 | open\n finished"),
    ] {
        let mut cycle = cycle(&setup, Job::full());
        run(&mut cycle, "find probe | put back\n home | done");
        run(&mut cycle, script);
        run(&mut cycle, ending);
        let outcome = cycle.outcome().expect("an outcome");
        assert_eq!(
            outcome.refusals().iter().map(|r| r.kind).collect::<std::vec::Vec<_>>(),
            [kind],
            "{script}"
        );
        assert!(outcome.landing_seen().is_none());
    }
}

#[test]
fn a_probe_in_doubt_at_the_start_is_looked_for_again() {
    let setup = setup();
    let mut cycle = cycle(&setup, READY);
    run(
        &mut cycle,
        "find probe     | fetched
         put back       | failed heat
         lift to 10.375  | open
         find probe     | fetched
         put back above | done
         finished",
    );
    let outcome = cycle.outcome().expect("an outcome");
    assert_eq!(outcome.ending, Ending::LiftedAndPutBack);
}
