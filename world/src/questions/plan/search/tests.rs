//! Running ways on common draws, and what is told of them.

use std::sync::Mutex;

use zdatum::setup::Touch;

use super::*;
use crate::questions::plan::tests::machine::{self, GO, SILENT, STOP, u};

/// Errors of an uncertain trip depth alone: 4 µm.
fn bench() -> Bench {
    let mut draft = machine::draft();
    draft.probe.trip_depth_u = u("0.004");
    machine::bench(&draft, &SILENT)
}

/// 5,000 runs are two whole blocks and 904.
#[test]
fn a_way_is_run_in_blocks_and_each_is_told() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    let told = Mutex::new(Vec::new());
    let progress = |done| told.lock().expect("nobody panicked").push(done);
    let search = Search::new(&asked, &GO, &progress);
    let way = search.one(&bench.setup, 5_000).expect("not stopped");
    assert_eq!((way.runs, way.accepted, search.done()), (5_000, 5_000, 5_000));
    assert_eq!(*told.lock().expect("nobody panicked"), [2_048, 2_048, 904]);
    // Five standard errors of 4 µm.
    assert!((way.rms / 0.004 - 1.0).abs() < 5.0 / 10_000_f64.sqrt(), "{}", way.rms);
    assert_eq!(search.counted(&bench, 3_000).map(|way| way.runs), Some(3_000));
    assert_eq!(search.done(), 8_000);
    assert!(Search::new(&asked, &STOP, &|_| {}).one(&bench.setup, 5_000).is_none());
}

#[test]
fn confirmations_grow_as_the_risk_shrinks() {
    assert_eq!([0.5, 0.0015, 0.001, 0.0001].map(confirming), [200_000, 200_000, 300_000, 1_000_000]);
}

/// Ways as if their runs had shown so many seconds and a normal error with this deviation.
fn ways(asked: &PlanQuestion<'_>, all: &[(f64, f64)]) -> Vec<Way> {
    let with = |((seconds, sd), settle): (&(f64, f64), u8)| {
        let mut draft = asked.bench.setup.draft().clone();
        draft.touch = Touch { settle, ..draft.touch };
        // Errors of the normal's own quantiles.
        let normal = (0..2_000).map(|i| sd * quantile((f64::from(i) + 0.5) / 2_000.0));
        let mut way = Way::of(&machine::checked(&draft), &machine::tally(normal, 0, asked.within), asked);
        way.seconds = *seconds;
        way
    };
    all.iter().zip(0..).map(with).collect()
}

fn quantile(p: f64) -> f64 {
    let (mut low, mut high) = (-10.0, 10.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        *(if crate::distributions::normal(middle).0 < p { &mut low } else { &mut high }) = middle;
    }
    low
}

fn settle(way: &Way) -> u8 {
    way.setup.draft().touch.settle
}

#[test]
fn the_front_is_what_no_other_beats_clearly_in_both() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    // The third is beaten in both, the fourth reaches but a thousandth less far than the second.
    let all = ways(&asked, &[(20.0, 0.004), (10.0, 0.006), (15.0, 0.007), (11.0, 0.005_994), (30.0, 0.003)]);
    assert_eq!(pareto(&all).iter().map(settle).collect::<Vec<_>>(), [1, 0, 4]);
}

/// Beyond 20 µm are 4.55 % of 10 µm, 4.77 % of 10.1 µm and 5.42 % of 10.39 µm: within a tenth of the best,
/// and not.
#[test]
fn a_better_part_is_tried_with_the_quickest_way_about_as_good() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.001);
    let all = ways(&asked, &[(20.0, 0.01), (15.0, 0.0101), (10.0, 0.010_39)]);
    assert_eq!(base(&all).as_ref().map(settle), Some(1));
    assert_eq!(base(&[]), None);
}

/// The machine's true error is 4 µm whatever the ways seemed to promise: 4.55 % lie beyond 8 µm.
#[test]
fn of_ways_that_fail_the_nearest_is_told_and_the_first_that_holds_ends_it() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.008, 0.05);
    let search = Search::new(&asked, &GO, &|_| {});
    let all = ways(&asked, &[(9.0, 0.0041), (10.0, 0.0035), (11.0, 0.003)]);
    // 5.1 % seem to be beyond with the first: not worth a confirmation.
    let held = search.confirmed(&all, 0.008, 0.05).expect("not stopped");
    assert_eq!((held.met, settle(&held.way), search.done()), (true, 1, 200_000));
    assert!((held.upper - 0.0466).abs() < 0.0015 && held.lower < 0.0455, "{held:?}");
    // Both seem to keep 4 % and do not.
    let failed = search.confirmed(&all, 0.008, 0.04).expect("not stopped");
    assert!(!failed.met && search.done() == 600_000, "{}", search.done());
    // None seems to: the nearest shows how far it is, in few runs.
    let far = search.confirmed(&all, 0.004, 0.01).expect("not stopped");
    assert_eq!((far.met, settle(&far.way), search.done()), (false, 2, 620_000));
}
