//! Ways that a machine of round numbers allows, counted by hand from the lists above.

use std::collections::BTreeSet;

use super::*;
use crate::questions::plan::tests::machine::{SILENT, checked, draft, mm as length, speed as rate, studied};

/// Two switches of 1 µm, the probe's own of 2 µm, now and then a wild touch.
const NOISE: Noise =
    Noise { tip_switch: 0.001, shoulder_switch: 0.001, plate_switch: 0.002, outlier_rate: 0.001, ..SILENT };

fn touches(own: &Setup, noise: &Noise) -> Vec<Touch> {
    let all = candidates(own, noise);
    assert_eq!(all.first(), Some(own), "the file's own way comes first");
    all.iter().map(|setup| setup.draft().touch).collect()
}

fn own_with(change: impl FnOnce(&mut Touch)) -> Setup {
    let mut draft = draft();
    change(&mut draft.touch);
    checked(&draft)
}

/// What all touchings have of something, each once.
fn each<T: Ord>(all: &[Touch], of: impl Fn(&Touch) -> T) -> Vec<T> {
    all.iter().map(of).collect::<BTreeSet<T>>().into_iter().collect()
}

/// Touches 4, 5, 8, 12, 20, 32; three centres; two bands; four fine speeds and two first ones, of which 6
/// mm/s is slower than no fine one: 6 · 3 · 2 · 4 · 2, and the file's own with its higher lift.
#[test]
fn every_combination_is_there_once() {
    let all = touches(&own_with(|_| {}), &NOISE);
    assert_eq!(all.len(), 289);
    assert_eq!(each(&all, |touch| touch.least), [4, 5, 8, 12, 20, 32]);
    // As many to spare as the file's nine after four, in proportion.
    assert_eq!(each(&all, |touch| touch.most), [9, 12, 18, 27, 45, 64]);
    assert_eq!(each(&all, |touch| touch.fine_speed), ["1", "2", "4", "6"].map(rate));
    let first = each(&all, |touch| (touch.first_speed, touch.stop));
    assert_eq!(first, [(rate("6"), length("0.1")), (rate("12"), length("0.4"))]);
    assert_eq!(each(&all, |touch| touch.lift), [SMALL_LIFT, length("0.5")]);
    assert_eq!(all.iter().filter(|touch| touch.lift == length("0.5")).count(), 1);
    // Eight times 2 µm, and the file's own.
    assert_eq!(each(&all, |touch| touch.band), ["0.016", "1"].map(length));
    assert_eq!(each(&all, |touch| touch.settle), [0]);
}

#[test]
fn centres_are_for_wild_touches_and_settling_for_what_settles() {
    let own = own_with(|_| {});
    let tame = Noise { outlier_rate: 0.0, ..NOISE };
    assert_eq!(touches(&own, &tame).len(), 97);
    for settles in
        [Noise { tip_filament: 0.01, ..tame }, Noise { drift: 0.01, ..tame }, Noise { drift: -0.01, ..tame }]
    {
        let all = touches(&own, &settles);
        assert_eq!((all.len(), each(&all, |touch| touch.settle)), (3 * 96 + 1, vec![0, 1, 2]));
    }
}

#[test]
fn fewest_touches_follow_the_study_and_the_file() {
    let mut known = draft();
    known.pooled = studied("0.002");
    assert_eq!(each(&touches(&checked(&known), &NOISE), |touch| touch.least), [3, 4, 5, 8, 12, 20, 32]);
    // A study of two stations is none.
    known.pooled.plate = None;
    assert_eq!(each(&touches(&checked(&known), &NOISE), |touch| touch.least), [4, 5, 8, 12, 20, 32]);
    let six = touches(&own_with(|touch| touch.least = 6), &NOISE);
    assert_eq!(each(&six, |touch| touch.least), [5, 6, 8, 12, 20, 32]);
}

#[test]
fn lifts_open_the_switches_twice_over() {
    let lifts =
        |noise: Noise| each(&touches(&own_with(|touch| touch.lift = length("2")), &noise), |t| t.lift);
    // Twice 0.4 mm of whichever switch needs more, or 0.3 mm; the file's own beside.
    let due = ["0.8", "2"].map(length);
    assert_eq!(lifts(Noise { plate_differential: 0.4, datum_differential: 0.1, ..NOISE }), due);
    assert_eq!(lifts(Noise { plate_differential: 0.1, datum_differential: 0.4, ..NOISE }), due);
    assert_eq!(lifts(NOISE), [SMALL_LIFT, length("2")]);
}

/// Six times the noisiest station's s is the least.
#[test]
fn a_narrow_band_is_left_to_the_files_own_way() {
    let bands = |s: &str, own: &str| {
        let mut draft = draft();
        (draft.pooled, draft.touch.band) = (studied(s), length(own));
        let all = touches(&checked(&draft), &NOISE);
        all.iter().filter(|touch| touch.band == length(own)).count()
    };
    assert_eq!(bands("0.003", "0.0179"), 1);
    assert!(bands("0.003", "0.0181") > 100);
    // The world's noise where it is larger.
    assert_eq!(bands("0.001", "0.0119"), 1);
}
