use super::*;
use crate::Harm;
use crate::engine::cycle::is_large;
use crate::tests::machine::{checked, draft};

fn kind(word: &str) -> &'static FaultKind {
    KINDS.iter().find(|kind| kind.word == word).expect("a kind")
}

fn crash(faults: &[&'static FaultKind], harm: Harm) -> Crash {
    Crash { faults: faults.to_vec(), harm, cycles: 1, of: 64, prevented_by: Vec::new() }
}

/// A dead plunger presses the shoulder by itself: with debris that is no news. The nozzle into the plate is,
/// and so is the shoulder where neither of the two was seen to do it.
#[test]
fn two_faults_harm_what_neither_does_alone() {
    let (dead, debris, knocked) = (kind("plunger-dead"), kind("debris-under-plate"), kind("knocked-up"));
    let single = Crashes { crashes: vec![crash(&[dead], Harm::ShoulderIntoPlate)], ..Crashes::default() };
    let pairs = [
        crash(&[dead, debris], Harm::ShoulderIntoPlate),
        crash(&[debris, dead], Harm::ShoulderIntoPlate),
        crash(&[dead, debris], Harm::TipIntoPlate),
        crash(&[debris, knocked], Harm::ShoulderIntoPlate),
    ];
    let double = Crashes { crashes: pairs.to_vec(), ..Crashes::default() };
    let found = Found { powers: Vec::new(), single, double, complete: true };
    let told: Vec<&Crash> = found.harm_of_two().collect();
    assert_eq!(told, [&pairs[2], &pairs[3]]);
}

/// 38 kinds are 703 pairs; each size of each kind, without and with the plate's span, and the halvings, are
/// power's own.
#[test]
fn cycles_are_foreseen() {
    let bench = Bench::new(checked(&draft()), &crate::tests::machine::SILENT, 1);
    let of = |each, cycles, pairs| cycles_of(&FaultQuestion { bench: &bench, each, cycles, pairs });
    let kinds = KINDS.len() as u64;
    assert_eq!(of(0, 1_000, 0), 1_000);
    assert_eq!(of(0, 0, 3), 3 * kinds * (kinds - 1) / 2);
    assert_eq!(of(7, 100, 0), 100 + 7 * of(1, 0, 0));
}

/// Up to sixteen touches fit into the small room.
#[test]
fn long_series_are_large() {
    let with = |most| {
        let mut draft = draft();
        draft.touch.most = most;
        is_large(&checked(&draft))
    };
    assert_eq!([9, 16, 17, 40].map(with), [false, false, true, true]);
}
