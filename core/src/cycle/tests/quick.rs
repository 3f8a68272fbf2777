//! The quick check: one fine touch a station.

extern crate std;

use crate::cycle::{Cycle, Ending, Job, Kind, Known, Quick};
use crate::refusal::RefusalKind;

use super::machine::{READY, ROOM, mm, setup, with};
use super::script::run;

fn known(span: &str, drop: &str) -> Job {
    let known = Known { span: mm(span), span_change: mm("0.05"), drop: mm(drop), drop_change: mm("0.1") };
    Job { kind: Kind::Quick(known), ..READY }
}

const CYCLE: &str = "
    find probe | put back
    move to tip | done
    approach tip down to 0.03882 at 6 | 0.6
    lift | open
    approach tip down to 0.03882 at 1.5 | 0.6
    lift to 10.375 | open
    fetch | done
    move to shoulder | done
    approach shoulder | 6.7
    lift | open
    approach shoulder | 6.7
    lift to 10.375 | open
    move to plate | done
    approach plate | 7.35
    lift | open
    approach plate | 7.35
    lift to 10.375 | open
    put back | done
    finished";

fn check(job: Job) -> (Quick, bool) {
    // No tip again, whatever the setup says, and no study is needed for one touch.
    let setup = with(|draft| {
        draft.touch.tip_again = true;
        draft.pooled = Default::default();
    });
    let mut cycle: Cycle<'_, ROOM> = super::machine::cycle(&setup, job);
    run(&mut cycle, CYCLE);
    let outcome = cycle.outcome().expect("an outcome");
    assert!(outcome.landing().is_none() && outcome.landing_seen().is_none() && cycle.touches().is_none());
    assert_eq!(outcome.refusals(), []);
    assert_eq!(outcome.ending, Ending::LiftedAndPutBack);
    (outcome.quick.expect("a finding"), outcome.accepted())
}

#[test]
fn what_has_not_changed_passes() {
    let (quick, accepted) = check(known("0.65", "6.1"));
    assert!(!quick.full_cycle_needed && accepted);
    let bits = |a: &str, b: &str| mm(a).minus(mm(b)).expect("a length");
    assert_eq!((quick.span, quick.drop), (bits("7.35", "6.7"), bits("6.7", "0.6")));
}

#[test]
fn what_has_changed_needs_a_full_cycle() {
    for (span, drop, needed) in [
        ("0.601", "6.1", false),
        ("0.699", "6.1", false),
        ("0.599", "6.1", true),
        ("0.701", "6.1", true),
        ("0.65", "6.001", false),
        ("0.65", "6.199", false),
        ("0.65", "5.999", true),
        ("0.65", "6.201", true),
    ] {
        let (quick, accepted) = check(known(span, drop));
        assert_eq!((quick.full_cycle_needed, accepted), (needed, !needed), "{span} {drop}");
    }
    // The change that is allowed is allowed, to the bit.
    let seen = check(known("0.65", "6.1")).0;
    let at_limit = |by: i64| {
        let change = mm("0.05");
        let span = crate::units::Length::from_bits(
            i64::from(seen.span.to_bits()) + by * i64::from(change.to_bits()),
        );
        let known =
            Known { span: span.expect("a span"), span_change: change, drop: seen.drop, drop_change: mm("0") };
        check(Job { kind: Kind::Quick(known), ..READY }).1
    };
    assert!(at_limit(1) && at_limit(-1) && at_limit(0));
    assert!(
        check(Job {
            kind: Kind::Quick(Known {
                span: mm("-32768"),
                span_change: mm("1"),
                drop: mm("6.1"),
                drop_change: mm("1")
            }),
            ..READY
        })
        .0
        .full_cycle_needed
    );
}

#[test]
fn a_quick_check_is_refused_like_a_full_cycle() {
    let setup = setup();
    let mut cycle = super::machine::cycle(&setup, known("0.65", "6.1"));
    run(
        &mut cycle,
        "find probe | put back\n move | done\n approach | floor\n lift | open\n \
         find probe | put back\n finished",
    );
    let outcome = cycle.outcome().expect("an outcome");
    assert_eq!(
        outcome.refusals().iter().map(|r| r.kind).collect::<std::vec::Vec<_>>(),
        [RefusalKind::NoTrip]
    );
    assert!(outcome.quick.is_none() && !outcome.accepted() && !outcome.for_gauge_check());

    let mut cycle = super::machine::cycle(&setup, known("0.65", "6.1"));
    let script = CYCLE.replace("approach shoulder | 6.7", "approach shoulder | 7.5");
    let until_shoulder = script.split("move to plate").next().expect("a beginning");
    run(&mut cycle, until_shoulder);
    run(&mut cycle, "lift | open\n put back | done\n finished");
    let outcome = cycle.outcome().expect("an outcome");
    assert_eq!(
        outcome.refusals().iter().map(|r| r.kind).collect::<std::vec::Vec<_>>(),
        [RefusalKind::DropOutOfPlace]
    );

    // Stopped at the very end it has a finding, does not pass, and leaves its question open.
    let mut cycle = super::machine::cycle(&setup, known("0.65", "6.1"));
    run(&mut cycle, CYCLE.split("put back | done").next().expect("a beginning"));
    run(&mut cycle, "put back | cancel\n lift | open\n find probe | put back\n finished");
    let outcome = cycle.outcome().expect("an outcome");
    assert!(outcome.quick.is_some_and(|quick| quick.full_cycle_needed) && !outcome.accepted());
}
