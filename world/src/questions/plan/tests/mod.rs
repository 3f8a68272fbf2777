//! Whole plans of small machines; what the files do alone is tested beside each.

pub(super) mod machine;

use zdatum::setup::Touch;

use super::*;
use crate::engine::Bench;
use crate::{Fault, Faults};
use machine::{GO, SILENT, STOP, studied, u};

/// Three touches per cycle, and errors of an uncertain trip depth alone: 4 µm.
fn quick() -> Bench {
    let mut draft = machine::draft();
    draft.probe.trip_depth_u = u("0.004");
    draft.pooled = studied("0.001");
    draft.touch = Touch { least: 3, most: 3, ..draft.touch };
    machine::bench(&draft, &SILENT)
}

/// 0.1 % lie beyond 3.290527 · 4 = 13.2 µm.
#[test]
fn a_promise_is_kept_by_the_quickest_way() {
    let bench = quick();
    let asked = machine::asked(&bench, 0.015, 0.001);
    let plan = plan(&asked, &GO, &|_| {}).expect("not stopped");
    assert!(plan.asked.met && plan.asked.upper <= 0.001, "{:?}", plan.asked);
    assert!(plan.base.is_none() && plan.improvements.is_empty());
    // Touches add nothing to 4 µm: the quickest of all.
    let quickest = plan.front.ways.first().expect("a way");
    assert_eq!(plan.asked.way.setup, quickest.setup);
    assert!(plan.asked.way.seconds < plan.front.own.seconds);
    assert_eq!(plan.front.own.setup, bench.setup);
    let stricter: Vec<_> = plan.stricter.iter().map(|one| (one.within, one.risk, one.met)).collect();
    assert_eq!(stricter, [(0.015, 0.0001, false), (0.0075, 0.001, false), (0.0075, 0.0001, false)]);
    // 1.959964 · 4 µm.
    let front = front(&machine::asked(&bench, 0.015, 0.05), &GO, &|_| {}).expect("not stopped");
    let reach = front.ways.last().expect("a way").reach;
    assert!((reach / 0.007_84 - 1.0).abs() < 0.04, "{reach}");
}

/// 0.1 % lie beyond 13.2 µm; within 11 the trip depth must be known to 11/3.290527 = 3.343 µm, and a little
/// less to be sure.
#[test]
fn a_promise_that_cannot_be_kept_says_what_to_improve() {
    let bench = quick();
    let asked = machine::asked(&bench, 0.011, 0.001);
    let plan = plan(&asked, &GO, &|_| {}).expect("not stopped");
    assert!(!plan.asked.met && plan.base.is_some());
    let [trip] = &plan.improvements[..] else { panic!("{:?}", plan.improvements) };
    let needed = trip.needed.expect("it can be met");
    assert!(3.1e-3 < needed && needed < 3.343e-3, "{needed}");
    assert!(trip.upper.expect("confirmed") <= 0.001);
}

#[test]
fn a_machine_that_refuses_all_is_told_so() {
    let bench = Bench { faults: Faults::new(vec![Fault::MoveFails]), ..quick() };
    let plan = plan(&machine::asked(&bench, 0.02, 0.05), &GO, &|_| {}).expect("not stopped");
    assert!(plan.front.ways.is_empty() && plan.base.is_none() && plan.improvements.is_empty());
    assert_eq!((plan.front.own.setup.clone(), plan.front.own.accepted), (bench.setup.clone(), 0));
    assert!(!plan.asked.met && plan.asked.upper == 1.0);
    assert!(plan.front.tried > 10 && plan.runs > 0);
}

#[test]
fn a_stopped_search_is_no_plan() {
    let bench = quick();
    let asked = machine::asked(&bench, 0.02, 0.05);
    assert!(plan(&asked, &STOP, &|_| {}).is_none() && front(&asked, &STOP, &|_| {}).is_none());
}
