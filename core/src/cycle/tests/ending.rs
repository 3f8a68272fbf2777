//! Every ending, and what is claimed of it.

extern crate std;

use std::vec::Vec;

use crate::cycle::{Cycle, Do, Ending, Job};
use crate::refusal::RefusalKind;

use super::machine::{READY, ROOM, at_fetch, at_plate, at_put_back, at_shoulder, at_tip, cycle, setup};
use super::script::run;

fn ended(cycle: &Cycle<'_, ROOM>) -> (Vec<RefusalKind>, Ending) {
    let outcome = cycle.outcome().expect("an outcome");
    (outcome.refusals().iter().map(|refusal| refusal.kind).collect(), outcome.ending)
}

#[test]
fn a_good_cycle_ends_with_the_probe_put_back() {
    let setup = setup();
    let mut cycle = at_put_back(&setup);
    run(&mut cycle, "put back | done\n finished");
    assert_eq!(ended(&cycle), (Vec::new(), Ending::LiftedAndPutBack));
    assert!(cycle.is_finished());
}

/// The first of two reasons is what stopped the cycle, the second what went wrong while ending it.
#[test]
fn how_a_refused_cycle_ends() {
    use RefusalKind as R;
    let setup = setup();
    for (script, reasons, ending) in [
        ("lift | open\n find probe | put back", &[R::NoTrip][..], Ending::LiftedAndPutBack),
        (
            "lift | open\n find probe | fetched\n put back above 10.375 | done",
            &[R::NoTrip],
            Ending::LiftedAndPutBack,
        ),
        (
            "lift | open\n find probe | unknown",
            &[R::NoTrip, R::ProbeStateUnknown],
            Ending::LiftedProbeUnknown,
        ),
        (
            "lift | open\n find probe | failed probe",
            &[R::NoTrip, R::ProbeStateUnknown],
            Ending::LiftedProbeUnknown,
        ),
        (
            "lift | open\n find probe | fetched\n put back | failed probe",
            &[R::NoTrip, R::ProbeStateUnknown],
            Ending::LiftedProbeUnknown,
        ),
        ("lift | failed move\n halt | done", &[R::NoTrip, R::MachineFault], Ending::Halted),
        ("lift | failed probe\n halt | done", &[R::NoTrip, R::MachineFault], Ending::Halted),
        (
            "lift | open\n find probe | failed timed out\n halt | done",
            &[R::NoTrip, R::MachineFault],
            Ending::Halted,
        ),
        (
            "lift | open\n find probe | fetched\n put back | failed position\n halt | failed position",
            &[R::NoTrip, R::MachineFault],
            Ending::Halted,
        ),
    ] {
        let mut cycle = at_plate(&setup);
        run(&mut cycle, "approach | floor");
        run(&mut cycle, script);
        run(&mut cycle, "finished");
        assert_eq!(ended(&cycle), (reasons.to_vec(), ending), "{script}");
    }
}

#[test]
fn one_reason_twice_is_told_once() {
    let setup = setup();
    let mut cycle = at_tip(&setup);
    run(&mut cycle, "approach | failed heat\n lift | failed move\n halt | done\n finished");
    assert_eq!(ended(&cycle), ([RefusalKind::MachineFault].to_vec(), Ending::Halted));
    let mut cycle = at_fetch(&setup);
    run(&mut cycle, "fetch | failed probe\n lift | open\n find probe | unknown\n finished");
    assert_eq!(ended(&cycle), ([RefusalKind::ProbeStateUnknown].to_vec(), Ending::LiftedProbeUnknown));
}

/// Whatever a fetch or put-back failed of, the probe is looked for.
#[test]
fn a_fetch_or_put_back_that_fails_leaves_the_probe_in_doubt() {
    let setup = setup();
    for fault in ["heat", "level", "probe"] {
        let mut cycle = at_fetch(&setup);
        run(&mut cycle, &std::format!("fetch | failed {fault}"));
        run(&mut cycle, "lift | open\n find probe | fetched\n put back | done\n finished");
        let mut cycle = at_put_back(&setup);
        run(&mut cycle, &std::format!("put back | failed {fault}"));
        run(&mut cycle, "lift | open\n find probe | fetched\n put back | done\n finished");
        let (_, ending) = ended(&cycle);
        assert_eq!(ending, Ending::LiftedAndPutBack);
        let outcome = cycle.outcome().expect("an outcome");
        assert!(outcome.landing().is_none() && outcome.landing_seen().is_some());
    }
}

/// Where the probe is known to hang and nothing has shown otherwise, it is put back without being looked for.
#[test]
fn a_probe_that_is_sure_to_hang_is_put_back() {
    let setup = setup();
    for (mut cycle, script) in [
        (at_shoulder(&setup), "approach | cancel"),
        (at_shoulder(&setup), "approach | failed heat"),
        (at_plate(&setup), "approach | 7.35\n lift | cancel"),
    ] {
        run(&mut cycle, script);
        run(&mut cycle, "lift to 10.375 | open\n put back above 10.375 | done\n finished");
        assert_eq!(ended(&cycle).1, Ending::LiftedAndPutBack);
    }
}

/// At every step of a whole cycle: cancelled, it rises, puts the probe back and ends; nothing goes down any
/// more.
#[test]
fn cancel_ends_safely_at_every_step() {
    let mut seen = 0;
    super::turns::at_every_step(|cycle, hangs| {
        let mut cycle = cycle.clone();
        let was_over = cycle.is_finished();
        let before = std::format!("{cycle:?}");
        cycle.cancel();
        if was_over {
            assert_eq!(std::format!("{cycle:?}"), before);
            return;
        }
        seen += 1;
        let cancelled = std::format!("{cycle:?}");
        cycle.cancel();
        assert_eq!(std::format!("{cycle:?}"), cancelled, "a second cancel changes nothing");

        let mut asked = Vec::new();
        while !cycle.is_finished() {
            asked.push(super::script::text(&cycle));
            assert!(asked.len() <= 4, "{asked:?}");
            let answer = match cycle.poll() {
                Do::Lift { .. } => "open",
                Do::FindProbe { .. } if hangs => "fetched",
                Do::FindProbe { .. } => "put back",
                Do::PutBack { lowest: Some(_), .. } | Do::Halt => "done",
                other => panic!("after cancel: {other:?}"),
            };
            run(&mut cycle, &std::format!("| {answer}"));
        }
        let (reasons, ending) = ended(&cycle);
        assert_eq!(reasons, [RefusalKind::Cancelled]);
        let halts = asked.iter().any(|request| request == "halt");
        assert_eq!(ending, if halts { Ending::Halted } else { Ending::LiftedAndPutBack });
        let put_back = asked.iter().any(|request| request.starts_with("put back"));
        assert_eq!(put_back, hangs && !halts, "{asked:?}");
        assert!(cycle.outcome().is_some_and(|outcome| outcome.landing().is_none()));
    });
    assert!(seen > 30, "{seen} steps");
}

/// Broken off on its way between dock and tool, the probe may be anywhere: whatever was taken of it before,
/// it is looked for.
#[test]
fn a_fetch_or_put_back_that_is_cancelled_leaves_the_probe_in_doubt() {
    use RefusalKind as R;
    let setup = setup();
    let at_put_away = |script| {
        let mut cycle = cycle(&setup, READY);
        run(&mut cycle, script);
        cycle
    };
    for (pending, script) in [
        (at_fetch(&setup), "fetch above | cancel"),
        (at_put_back(&setup), "put back above | cancel"),
        (at_put_away("find probe | fetched"), "put back above | cancel"),
        (at_put_away(""), "find probe | cancel"),
    ] {
        for (found, reasons, ending) in [
            ("find probe | put back", &[R::Cancelled][..], Ending::LiftedAndPutBack),
            ("find probe | fetched\n put back above | done", &[R::Cancelled], Ending::LiftedAndPutBack),
            ("find probe | unknown", &[R::ProbeStateUnknown, R::Cancelled], Ending::LiftedProbeUnknown),
            ("find probe | failed probe", &[R::ProbeStateUnknown, R::Cancelled], Ending::LiftedProbeUnknown),
        ] {
            let mut cycle = pending.clone();
            run(&mut cycle, script);
            run(&mut cycle, "lift to 10.375 | open");
            run(&mut cycle, found);
            run(&mut cycle, "finished");
            assert_eq!(ended(&cycle), (reasons.to_vec(), ending), "{script}, {found}");
        }
        // Steps that were lost while stopping, or a dock that could not be left, are told by the lift.
        let mut cycle = pending.clone();
        run(&mut cycle, script);
        run(&mut cycle, "lift to 10.375 | failed position\n halt | done\n finished");
        assert_eq!(ended(&cycle), ([R::MachineFault, R::Cancelled].to_vec(), Ending::Halted), "{script}");
    }
    // Before homing there is no height to lift to.
    let mut unhomed = cycle(&setup, Job::full());
    run(&mut unhomed, "find probe | fetched\n put back not homed | cancel\n halt | failed move\n finished");
    assert_eq!(ended(&unhomed), ([R::Cancelled].to_vec(), Ending::Halted));
}
