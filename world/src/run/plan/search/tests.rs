//! Running ways on common draws, and what is told of them.

use std::sync::Mutex;

use zdatum::setup::Touch;

use super::*;
use crate::run::plan::shared::tests::known;
use crate::run::plan::tests::machine::{self, SILENT, u};

pub(in crate::run::plan) static GO: AtomicBool = AtomicBool::new(false);
static STOP: AtomicBool = AtomicBool::new(true);

/// A search that knows nothing of what is shared.
pub(in crate::run::plan) fn bare<'a>(
    asked: &'a Asked<'a>,
    stop: &'a AtomicBool,
    progress: &'a Progress<'a>,
) -> Search<'a> {
    Search { asked, stop, progress, done: AtomicU64::new(0), shared: known(Vec::new(), 0.0, 0.0) }
}

/// Errors of a doubtful trip depth alone.
fn bench() -> Bench {
    let mut draft = machine::draft();
    draft.probe.trip_depth_u = u("0.004");
    machine::bench(&draft, &SILENT)
}

#[test]
fn promises_are_what_is_asked_for_then_what_is_stricter() {
    let bench = bench();
    let asked = machine::asked(&bench, 5.0, 0.05);
    let promises = bare(&asked, &GO, &|_| {}).promises().map(|wanted| (wanted.within, wanted.tenth));
    assert_eq!(promises, [(5.0, false), (5.0, true), (2.5, false), (2.5, true)]);
}

/// 5,000 runs are two whole blocks and 904.
#[test]
fn a_way_is_run_in_blocks_and_each_is_told() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    let told = Mutex::new(Vec::new());
    let progress = |done| told.lock().expect("nobody panicked").push(done);
    let search = bare(&asked, &GO, &progress);
    let way = search.one(&bench.setup, 5_000).expect("not stopped");
    assert_eq!((way.runs, way.accepted, search.done()), (5_000, 5_000, 5_000));
    assert_eq!(*told.lock().expect("nobody panicked"), [2_048, 2_048, 904]);
    // Five standard errors of 4 µm.
    assert!((way.sd / 0.004 - 1.0).abs() < 5.0 / 10_000_f64.sqrt(), "{}", way.sd);
    assert_eq!(search.counted(&bench, 3_000).map(|way| way.runs), Some(3_000));
    assert_eq!(search.done(), 8_000);
}

#[test]
fn ways_come_in_the_order_of_their_setups() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    let search = bare(&asked, &GO, &|_| {});
    let setups: Vec<Setup> = (3..6)
        .map(|least| {
            let mut draft = bench.setup.draft().clone();
            draft.touch = Touch { least, ..draft.touch };
            machine::checked(&draft)
        })
        .collect();
    let ways = search.all(&setups, 100).expect("not stopped");
    assert!(ways.iter().map(|way| &way.setup).eq(&setups));
    // Three stations, each met once at the first speed.
    assert!(ways.iter().zip(3..).all(|(way, least)| way.touches == f64::from(3 * (least + 1))), "{ways:?}");
    assert_eq!(search.done(), 300);
}

/// The shared part is the whole error here; whatever is known of it is then known of the way.
#[test]
fn a_way_has_the_moments_of_what_is_shared() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    let mut each = Vec::new();
    run_block(&bench, 0..5_000, |ran| each.push(ran.error.expect("accepted"))).expect("room");
    let search = Search { shared: known(each, 0.5, 0.04), ..bare(&asked, &GO, &|_| {}) };
    let way = search.one(&bench.setup, 5_000).expect("not stopped");
    assert!((way.mean - 0.5).abs() < 1e-12 && (way.sd - 0.2).abs() < 1e-12, "{} ± {}", way.mean, way.sd);
}

#[test]
fn a_stopped_search_has_nothing() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    let search = bare(&asked, &STOP, &|_| {});
    assert!(search.all(std::slice::from_ref(&bench.setup), 10).is_none());
    assert!(search.counted(&bench, 10).is_none());
    assert!(search.fresh(&bench, 10, 0.02, 1).is_none());
    assert_eq!(search.done(), 0);
    assert!(Search::begun(&asked, &STOP, &|_| {}).is_none());
}

/// The machine's seed is 11, of which 3 takes both low bits: 8.
#[test]
fn fresh_draws_are_others() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    let search = bare(&asked, &GO, &|_| {});
    let fresh = search.fresh(&bench, 100, 0.02, 3).expect("not stopped");
    let counted = |seed| search.counted(&Bench { seed, ..bench.clone() }, 100).expect("not stopped");
    assert_eq!(bench.seed, 11);
    assert_eq!(fresh, counted(8));
    assert_ne!(fresh, counted(11));
    // Within what is asked of it, not of the search.
    let strict = search.fresh(&bench, 1_000, 1e-9, 3).expect("not stopped");
    assert_eq!(strict.outside, 1_000);
}

#[test]
fn the_world_stays_that_of_the_file() {
    let bench = Bench { seed: 7, ..bench() };
    let asked = machine::asked(&bench, 0.02, 0.05);
    let mut draft = bench.setup.draft().clone();
    draft.touch.stop = machine::mm("0.5");
    let setup = machine::checked(&draft);
    let other = bare(&asked, &GO, &|_| {}).bench(&setup);
    assert_eq!((other.seed, other.machine.noise), (7, SILENT));
    assert_eq!((other.machine.stop, other.setup), (0.5, setup));
}

#[test]
fn the_quickest_come_first_and_none_is_in_front_that_is_no_nearer() {
    let bench = bench();
    let asked = machine::asked(&bench, 0.02, 0.05);
    let search = bare(&asked, &GO, &|_| {});
    let own = bench.setup.draft().touch;
    let way = |least, seconds, sd| machine::way(&asked, Touch { least, ..own }, seconds, sd);
    let ways = [way(6, 30.0, 0.004), way(4, 10.0, 0.009), way(5, 20.0, 0.0095), way(7, 40.0, 0.003)];
    let least = |ways: &[&Way]| ways.iter().map(|way| way.setup.draft().touch.least).collect::<Vec<_>>();
    assert_eq!(least(&search.in_order(&ways)), [4, 5, 6, 7]);
    let front = search.front(&ways);
    assert_eq!(least(&front.iter().collect::<Vec<_>>()), [4, 6, 7]);
    // 1.96 · 9 µm are within 20 µm; 2.81 · 4 µm as well, and 1.96 · 4 µm within 10 µm; 2.81 · 3 µm within 10 µm.
    assert_eq!(least(&search.kept(&ways, 4)), [4, 6, 7]);
    assert!(search.kept(&ways, 0).is_empty());
}
