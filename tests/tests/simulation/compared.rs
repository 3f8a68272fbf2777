//! Methods side by side, against their closed forms: what each measures cancels, what it does not measure
//! stays.

use std::sync::atomic::AtomicBool;

use zdatum::Centre;
use zdatum::setup::Studied;
use zdatum_tests::machine::{range, workshop};
use zdatum_world::engine::{Estimate, Figures, Ran, Tally};
use zdatum_world::questions::compare::{
    Comparison, FEEL, Grade, HOLDS, Method, REFUSES, RISKY, Situation, Sizes, Trial, compare,
};

use crate::machines::{Case, FINE, assert_near, assert_normal, error, moments, on_threads};
use crate::sums::accepted;

const RUNS: u64 = 20_000;

const fn three(touches: u8, centre: Centre) -> Method {
    Method::ThreeTouches { touches, centre }
}

fn runs(case: &Case, method: Method, situation: Situation, count: u64) -> Vec<Ran> {
    let bench = case.bench();
    let sizes = Sizes::of(&bench.setup, &case.noise);
    let trial = Trial::new(&bench, method, situation, sizes).expect("allowed");
    let mut runs = Vec::new();
    trial.run_block(0..count, |ran| runs.push(ran.clone()));
    runs
}

fn errors(case: &Case, method: Method, situation: Situation) -> Vec<f64> {
    runs(case, method, situation, RUNS).iter().map(error).collect()
}

/// Error with a change less error without, run by run.
fn change(case: &Case, method: Method, situation: Situation) -> Vec<f64> {
    let with = errors(case, method, situation);
    with.iter().zip(errors(case, method, Situation::Nothing)).map(|(a, b)| a - b).collect()
}

fn sizes(case: &Case) -> Sizes {
    Sizes::of(&case.bench().setup, &case.noise)
}

/// Uniform over ±reach: the mean, the standard deviation, no value beyond, and values near both ends.
#[track_caller]
fn assert_uniform(values: &[f64], reach: f64) {
    let (n, sd) = (values.len() as f64, reach / 3_f64.sqrt());
    let (mean, seen) = moments(values);
    assert_near(mean, 0.0, 4.0 * sd / n.sqrt());
    // A uniform distribution's fourth moment is 9/5 of its squared variance.
    assert_near(seen / sd, 1.0, 4.0 * (0.8 / (4.0 * n)).sqrt());
    let widest = values.iter().fold(0.0_f64, |widest, x| widest.max(x.abs()));
    assert!(widest <= reach + 2.0 * FINE && widest > 0.99 * reach, "{widest} of {reach}");
}

#[track_caller]
fn assert_all_near(values: &[f64], expected: f64, within: f64) {
    values.iter().for_each(|value| assert_near(*value, expected, within));
}

#[test]
fn what_is_set_by_hand_is_off_by_the_feel() {
    let case = Case::quiet();
    for method in [Method::ByHand, Method::FixedSwitch, Method::StoredHeight] {
        let seen = errors(&case, method, Situation::Nothing);
        assert_normal(&seen, 0.0, FEEL);
        // One feel a run, whatever is set with it.
        for (a, b) in seen.iter().zip(errors(&case, Method::ByHand, Situation::Nothing)) {
            assert_near(*a, b, FINE);
        }
    }
}

#[test]
fn a_switch_that_set_the_height_adds_its_noise_twice() {
    // Once on the day it was set, once today; five touches each time.
    let case = Case::quiet().switches(0.004, 0.0, 0.006);
    let of = |s: f64| (FEEL * FEEL + 2.0 * s * s / 5.0).sqrt();
    assert_normal(&errors(&case, Method::FixedSwitch, Situation::Nothing), 0.0, of(0.004));
    assert_normal(&errors(&case, Method::StoredHeight, Situation::Nothing), 0.0, of(0.006));
}

#[test]
fn homing_moves_what_is_never_measured() {
    let mut case = Case::quiet();
    case.draft.travel.steps = (20, 1);
    // Uniform over one step on either day.
    let sd = (FEEL * FEEL + 0.05 * 0.05 / 6.0_f64).sqrt();
    let (mean, seen) = moments(&errors(&case, Method::ByHand, Situation::Nothing));
    assert_near(mean, 0.0, 4.0 * sd / (RUNS as f64).sqrt());
    assert_near(seen, sd, 0.02 * sd);
}

#[test]
fn a_swapped_plate_is_missed_by_what_does_not_touch_it() {
    let case = Case::quiet();
    let reach = sizes(&case).plate;
    assert_near(reach, 0.200, 1e-12);
    let by_hand = change(&case, Method::ByHand, Situation::PlateSwap);
    assert_uniform(&by_hand, reach);
    // The very same plates for all methods.
    for (a, b) in by_hand.iter().zip(change(&case, Method::FixedSwitch, Situation::PlateSwap)) {
        assert_near(*a, b, 2.0 * FINE);
    }
    assert_all_near(&change(&case, Method::StoredHeight, Situation::PlateSwap), 0.0, 2.0 * FINE);
    assert_all_near(&errors(&case, three(5, Centre::Mean), Situation::PlateSwap), 0.0, FINE);
}

#[test]
fn a_changed_nozzle_is_missed_by_what_does_not_touch_the_tip() {
    let case = Case::quiet();
    let reach = sizes(&case).nozzle;
    assert_near(reach, 0.150, 1e-12);
    let by_hand = change(&case, Method::ByHand, Situation::NozzleChange);
    assert_uniform(&by_hand, reach);
    for (a, b) in by_hand.iter().zip(change(&case, Method::StoredHeight, Situation::NozzleChange)) {
        assert_near(*a, b, 2.0 * FINE);
    }
    assert_all_near(&change(&case, Method::FixedSwitch, Situation::NozzleChange), 0.0, 2.0 * FINE);
    assert_all_near(&errors(&case, three(5, Centre::Mean), Situation::NozzleChange), 0.0, FINE);
}

#[test]
fn a_longer_nozzle_leaves_less_drop() {
    let mut case = Case::quiet();
    case.draft.probe.drop = range("6", "6.25");
    let bench = case.bench();
    let sizes = Sizes { nozzle: 0.4, ..sizes(&case) };
    let method = three(5, Centre::Mean);
    let trial = Trial::new(&bench, method, Situation::NozzleChange, sizes).expect("allowed");
    let mut refused = 0;
    trial.run_block(0..RUNS, |ran| refused += u32::from(ran.error.is_none()));
    // The drop may lie 0.125 off the middle of its range, and changes by up to 0.4.
    assert_near(f64::from(refused) / RUNS as f64, 1.0 - 0.125 / 0.4, 0.015);
}

#[test]
fn a_target_does_not_change_how_many_touches_are_compared() {
    let mut case = Case::quiet().switches(0.002, 0.002, 0.002).studied(Some([0.002; 3]));
    // Nine touches would meet it.
    case.draft.touch.target_u = zdatum_tests::machine::u("0.0007");
    for n in [3, 5] {
        for ran in runs(&case, three(n, Centre::Mean), Situation::Nothing, 20) {
            assert_eq!(ran.touches, 3 * (2 + u32::from(n)));
        }
    }
}

#[test]
fn a_probe_that_seats_anew_is_missed_by_a_stored_height_alone() {
    let mut case = Case::quiet();
    case.noise.reseat = 0.03;
    let off = change(&case, Method::StoredHeight, Situation::Reseated);
    assert_normal(&off, 0.0, 0.03 * 2_f64.sqrt());
    for method in [Method::ByHand, Method::FixedSwitch] {
        assert_all_near(&change(&case, method, Situation::Reseated), 0.0, 0.0);
    }
    assert_all_near(&errors(&case, three(5, Centre::Mean), Situation::Reseated), 0.0, FINE);
}

#[test]
fn a_warm_up_is_missed_as_far_as_nothing_follows_it() {
    let mut case = Case::quiet();
    let mut bed = workshop().growth[0];
    (bed.follows, bed.rate_u) = (zdatum::setup::Follows::Bed, Default::default());
    case.draft.growth.push(bed).expect("room");
    let size = sizes(&case);
    // 0.3 µm/K from 20 to 140 °C.
    assert_near(size.bed_grown, 0.036, 1e-6);
    assert_near(size.frame_grown + size.frame_to_come, 0.150, 1e-12);
    assert_near(size.frame_to_come, 0.150 * (-1200.0_f64 / 1500.0).exp(), 1e-12);
    let grown = |seconds: f64| size.frame_to_come * (1.0 - (-seconds / 1500.0).exp());

    // Nothing is measured: the first layer comes print_delay after the start.
    let all = size.frame_grown + grown(90.0) + size.bed_grown;
    assert_all_near(&change(&case, Method::ByHand, Situation::WarmUp), -all, 1e-6);
    // A switch follows the frame up to its touches; then the frame grows on. Only the plunger follows the
    // bed.
    let later = |seconds: f64| grown(seconds + 90.0) - grown(seconds);
    for (method, bed) in [(Method::FixedSwitch, size.bed_grown), (Method::StoredHeight, 0.0)] {
        let off = change(&case, method, Situation::WarmUp);
        let (least, most) = (later(5.0) + bed, later(0.0) + bed);
        assert!(off.iter().all(|off| (-most - FINE..=-least + FINE).contains(off)), "{} {least}", off[0]);
    }
    // The three touches follow both, each station at its own time within a cycle of some half minute.
    let off = errors(&case, three(5, Centre::Mean), Situation::WarmUp);
    assert!(off.iter().all(|off| (-grown(120.0)..0.0).contains(off)), "{}", off[0]);
}

#[test]
fn touches_and_centres_by_their_variance() {
    let s = 0.002;
    let case = Case::quiet().switches(s, s, s);
    // Factors of the median and of Hodges and Lehmann's estimate for five normal values: docs/uncertainty.md.
    for (method, per_station) in [
        (three(1, Centre::Mean), 1.0),
        (three(3, Centre::Mean), 1.0 / 3.0),
        (three(5, Centre::Mean), 1.0 / 5.0),
        (three(9, Centre::Mean), 1.0 / 9.0),
        (three(5, Centre::Median), 1.4343 / 5.0),
        (three(5, Centre::HodgesLehmann), 1.0755 / 5.0),
        (Method::FetchedTwice, 1.0 / 10.0),
    ] {
        let sd = s * (3.0_f64 * per_station).sqrt();
        assert_normal(&errors(&case, method, Situation::Nothing), 0.0, sd);
    }
}

#[test]
fn all_methods_meet_the_same_machines() {
    let mut case = Case::quiet().switches(0.001, 0.001, 0.002);
    case.draft.growth = workshop().growth;
    for situation in Situation::ALL {
        if situation == Situation::WarmUp {
            continue;
        }
        let landings: Vec<Vec<f64>> = Method::ALL
            .iter()
            .map(|method| runs(&case, *method, situation, 50).iter().map(|ran| ran.true_landing).collect())
            .collect();
        for other in &landings[1..] {
            for (a, b) in landings[0].iter().zip(other) {
                assert_near(*a, *b, 1e-12);
            }
        }
    }
}

#[test]
fn both_fetches_must_be_accepted() {
    let mut case = Case::quiet().switches(0.001, 0.001, 0.002).touches(5, 5);
    case.draft.touch.band = zdatum_tests::machine::mm("0.02");
    (case.noise.outlier_rate, case.noise.outlier_size) = (0.01, 0.2);
    let share = |method| {
        let runs = runs(&case, method, Situation::Nothing, RUNS);
        runs.iter().filter(|ran| ran.error.is_some()).count() as f64 / RUNS as f64
    };
    let once = share(three(5, Centre::Mean));
    assert!((0.8..0.9).contains(&once), "{once}");
    assert_near(share(Method::FetchedTwice), once * once, 4.0 * (0.25 / RUNS as f64).sqrt());
}

#[test]
fn filament_stays_on_the_tip_from_fetch_to_fetch() {
    let mut case = Case::quiet();
    (case.noise.tip_filament, case.noise.tip_squash) = (0.05, 0.1);
    let left = |touch: i32| 0.05 * 0.9_f64.powi(touch);
    let mean = |from: i32| (from..from + 5).map(left).sum::<f64>() / 5.0;
    // First approach and settle touch do not count; seven touches to a cycle.
    let off = errors(&case, Method::FetchedTwice, Situation::Nothing);
    assert_all_near(&off, (mean(2) + mean(9)) / 2.0, FINE);
}

fn compared(case: &Case, runs: u64) -> Comparison {
    compare(&case.bench(), runs, 0.020, &AtomicBool::new(false), &|_| {})
}

#[test]
fn the_same_bits_with_any_number_of_threads() {
    let mut case = Case::quiet().switches(0.0011, 0.0012, 0.0025);
    case.draft = workshop();
    case.noise.reseat = 0.02;
    (case.noise.outlier_rate, case.noise.outlier_size) = (0.01, 0.05);
    let on = |threads| on_threads(threads, || compared(&case, 5_000));
    let one = on(1);
    assert!(one.complete());
    for threads in [2, 3, 7] {
        assert_eq!(on(threads), one);
    }
    let mut other = case.clone();
    other.seed += 1;
    assert_ne!(compared(&other, 5_000), one);
}

#[test]
fn a_single_touch_needs_a_study() {
    let mut case = Case::quiet();
    case.draft.pooled = Studied::default();
    let comparison = compared(&case, 100);
    assert_eq!(comparison.rows.len(), Method::ALL.len() - 1);
    let [left] = comparison.left_out.as_slice() else { panic!("{:?}", comparison.left_out) };
    assert_eq!(left.method, three(1, Centre::Mean));
    assert!(left.why.contains("[pooled]"), "{}", left.why);
    assert!(comparison.complete(), "what cannot be done is not missing");
}

#[test]
fn changes_stay_within_what_the_file_declares() {
    let mut case = Case::quiet();
    case.draft.plates.rise = range("-0.1", "0.1");
    case.draft.datum_switch.tip_height = range("0.4", "0.5");
    let small = sizes(&case);
    assert_near(small.plate, 0.07, 1e-4);
    assert_near(small.nozzle, 0.035, 1e-4);
    for row in &compared(&case, 2_000).rows {
        for cell in &row.cells {
            assert_eq!(cell.figures.refused.value, 0.0, "{:?} {:?}", row.method, cell.situation);
        }
    }
}

#[test]
fn stopped_at_once_there_is_nothing() {
    let comparison = compare(&Case::quiet().bench(), 100, 0.020, &AtomicBool::new(true), &|_| {});
    assert!(comparison.rows.is_empty() && !comparison.complete());
}

#[test]
fn grades_keep_to_their_thresholds() {
    let figures = |outside: u64, refused: u64| {
        let mut tally = Tally::new(0.02);
        for run in 0..1_000 {
            let ran = accepted(if run < outside { 0.03 } else { 0.0 }, 0.0);
            let kind = (run >= 1_000 - refused).then_some(zdatum::RefusalKind::Unsteady);
            tally.add(&Ran { error: ran.error.filter(|_| kind.is_none()), refused: kind, ..ran });
        }
        Figures::of(&tally, true).expect("runs")
    };
    assert_eq!((HOLDS, RISKY, REFUSES), (0.01, 0.10, 0.10));
    for (outside, refused, grade) in [
        (0, 0, Grade::Holds),
        (10, 0, Grade::Holds),
        (11, 0, Grade::Risky),
        (100, 0, Grade::Risky),
        (101, 0, Grade::Fails),
        (0, 100, Grade::Holds),
        (0, 101, Grade::Refuses),
        (0, 1_000, Grade::Refuses),
    ] {
        assert_eq!(Grade::of(&figures(outside, refused)), grade, "{outside} {refused}");
    }
    // Touches and seconds come with the standard error of their mean.
    let Estimate { value, error } = figures(0, 0).touches;
    assert_eq!((value, error), (21.0, 0.0));
}
