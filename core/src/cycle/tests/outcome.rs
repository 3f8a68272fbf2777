//! What is handed over is what the recorded touches give.

extern crate std;

use std::vec::Vec;

use crate::cycle::Kind;
use crate::refusal::RefusalKind;
use crate::series::{Centre, Readings, Series};
use crate::setup::{Draft, Follows};
use crate::units::{Temperature, Variance};
use crate::verdict::{Assessment, LastSpan, Recorded};

use super::machine::{READY, ROOM, at_put_back, celsius, cycle, mm, part, u, with};
use super::script::run;

/// Touches per station, wild ones among them, and which of them count.
const TIP: (&[&str], usize) = (&["0.700", "0.601", "0.603"], 2);
const SHOULDER: (&[&str], usize) = (&["6.700", "6.704"], 2);
const PLATE: (&[&str], usize) = (&["7.2", "7.3", "7.350", "7.358"], 2);

fn recorded(touches: (&[&str], usize), readings: Readings) -> Recorded<ROOM> {
    let mut series = Series::new();
    let (heights, counted) = touches;
    for height in heights.iter().skip(heights.len() - counted) {
        series.push(mm(height)).expect("room");
    }
    Recorded { series, readings }
}

fn compare(change: impl FnOnce(&mut Draft), last: Option<LastSpan>) -> Vec<RefusalKind> {
    let setup = with(change);
    let mut cycle = cycle(&setup, crate::cycle::Job { kind: Kind::Full { last }, ..READY });
    run(&mut cycle, "find probe | put back");
    if !setup.draft().growth.is_empty() {
        run(&mut cycle, "warm | done");
    }
    run(&mut cycle, "move | done");
    for (station, touches, reading, next) in [
        ("tip", TIP, "tool 148 bed 1 chamber 2", "fetch | done\n move to shoulder | done"),
        ("shoulder", SHOULDER, "tool 3 bed 4 chamber 5", "move to plate | done"),
        ("plate", PLATE, "tool 6 bed 61 chamber 41", "put back | done\n finished"),
    ] {
        let first = touches.0[0];
        for height in [first, first].iter().chain(touches.0) {
            run(&mut cycle, &std::format!("approach {station} | {height} {reading}\n lift | open"));
        }
        run(&mut cycle, next);
    }
    let outcome = cycle.outcome().expect("an outcome");
    let at = |t: &str| -> Option<Temperature> { Some(celsius(t)) };
    let assessment = Assessment::of(
        &setup,
        &recorded(TIP, Readings { tool: at("148"), ..Readings::default() }),
        &recorded(SHOULDER, Readings::default()),
        &recorded(PLATE, Readings { bed: at("61"), chamber: at("41"), ..Readings::default() }),
        last.as_ref(),
    )
    .expect("enough touches");
    assert_eq!(cycle.touches(), assessment.touches());
    assert_eq!(outcome.landing_seen(), assessment.landing_seen());
    assert_eq!(outcome.landing(), assessment.landing());
    assert_eq!(outcome.refusals(), assessment.refusals());
    assert_eq!(outcome.accepted(), assessment.accepted());
    assert_eq!(outcome.for_gauge_check(), assessment.for_gauge_check());
    assert!(outcome.landing_seen().is_some() && outcome.quick.is_none());
    assert_eq!(outcome.accepted(), outcome.refusals().is_empty());
    outcome.refusals().iter().map(|refusal| refusal.kind).collect()
}

#[test]
fn the_outcome_is_the_assessment_of_the_counted_touches() {
    assert_eq!(compare(|_| {}, None), []);
    for centre in [Centre::Median, Centre::HodgesLehmann] {
        assert_eq!(compare(|draft| draft.touch.centre = centre, None), []);
    }
    let grows = |draft: &mut Draft| {
        for follows in [Follows::Tool, Follows::Bed, Follows::Chamber] {
            draft.growth.push(part(follows)).expect("room");
        }
    };
    assert_eq!(compare(grows, None), []);
}

#[test]
fn a_refused_outcome_is_the_assessment_too() {
    use RefusalKind as R;
    assert_eq!(compare(|draft| draft.accept.expanded_u = u("0.001"), None), [R::TooUncertain]);
    assert_eq!(compare(|draft| draft.accept.landing.high = mm("0.6"), None), [R::LandingOutOfWindow]);
    let last = LastSpan::new(mm("0.4"), Variance::ZERO);
    assert_eq!(compare(|_| {}, Some(last)), [R::MovedTooFar]);
    let near = LastSpan { span: mm("0.65"), ..last };
    assert_eq!(compare(|_| {}, Some(near)), []);
    assert_eq!(compare(|draft| draft.pooled = Default::default(), None), []);
    let all = |draft: &mut Draft| {
        draft.accept.landing.high = mm("0.6");
        draft.accept.expanded_u = u("0.001");
    };
    assert_eq!(compare(all, Some(last)), [R::LandingOutOfWindow, R::MovedTooFar, R::TooUncertain]);
}

/// *Too uncertain* alone serves a gauge check.
#[test]
fn a_landing_too_uncertain_serves_a_gauge_check() {
    let setup = with(|draft| draft.accept.expanded_u = u("0.001"));
    let mut cycle = at_put_back(&setup);
    run(&mut cycle, "put back | done");
    let outcome = cycle.outcome().expect("an outcome");
    assert!(outcome.for_gauge_check() && !outcome.accepted() && outcome.landing().is_none());
    let mut cycle = at_put_back(&setup);
    run(&mut cycle, "put back | cancel\n lift | open\n find probe | put back");
    let outcome = cycle.outcome().expect("an outcome");
    assert!(!outcome.for_gauge_check(), "cancelled is another reason");
}

/// A reading belongs to its touch: where counted touches have none, those of touches that do not count do not
/// step in.
#[test]
fn readings_of_uncounted_touches_are_left_out() {
    let setup = with(|_| {});
    let mut cycle = super::machine::at_tip(&setup);
    run(
        &mut cycle,
        "approach | 0.6\n lift | open\n approach | 0.6\n lift | open
         approach | 0.7 tool 100\n lift | open
         approach | 0.6\n lift | open
         approach | 0.6 tool 150\n lift | open\n fetch",
    );
    assert_eq!(cycle.touches.conditions.tool, Some(celsius("150")));
}
