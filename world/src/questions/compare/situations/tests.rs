use zdatum::Draft;

use super::*;
use crate::tests::machine::{SILENT, assert_near, checked, part, prompt as draft, range};

#[test]
fn each_situation_has_a_name_and_a_word() {
    let names = ["nothing changed", "plate swap", "nozzle change", "probe re-seated", "warm-up"];
    let words = ["nothing", "plate-swap", "nozzle-change", "re-seated", "warm-up"];
    assert_eq!((Situation::ALL.map(Situation::name), Situation::ALL.map(Situation::word)), (names, words));
}

#[test]
fn changes_stay_within_what_the_file_declares() {
    let mut draft = draft();
    let noise = Noise { reseat: 0.03, drift_tau_s: 1_200.0, ..SILENT };
    let sizes = |draft: &Draft| Sizes::of(&checked(draft), &noise);
    // Wide ranges: as much as is usual.
    let wide = sizes(&draft);
    assert_eq!((wide.plate, wide.nozzle, wide.seat, wide.bed_grown), (0.2, 0.15, 0.03, 0.0));
    // After one time constant 1/e of 0.15 mm is still to come.
    assert_near(wide.frame_to_come, 0.15 / std::f64::consts::E, 1e-12);
    assert_near(wide.frame_grown + wide.frame_to_come, 0.15, 1e-12);

    // Plates that differ by 0.5 mm, nozzles by the lesser of 0.25 mm and 1 mm: 0.35 of each.
    draft.plates.rise = range("-0.25", "0.25");
    draft.datum_switch.tip_height = range("0.25", "0.5");
    let narrow = sizes(&draft);
    assert_near(narrow.plate, 0.35 * 0.5, 1e-12);
    assert_near(narrow.nozzle, 0.35 * 0.25, 1e-12);
    draft.datum_switch.tip_height = range("0.0", "1.0");
    draft.probe.drop = range("5.5", "5.75");
    assert_near(sizes(&draft).nozzle, 0.35 * 0.25, 1e-12);
}

/// The parts of bed and chamber from 20 °C on, 0.5 µm/K over 40 K and 0.25 over 20 K; not the nozzle's.
#[test]
fn a_bed_has_grown_since_it_was_cold() {
    let mut draft = draft();
    for part in [
        part(Follows::Tool, ["0.25", "0"], ["140", "220"]),
        part(Follows::Bed, ["0.5", "0"], ["60", "60"]),
        part(Follows::Chamber, ["0.25", "0"], ["40", "80"]),
    ] {
        draft.growth.push(part).expect("room");
    }
    let grown = Sizes::of(&checked(&draft), &SILENT).bed_grown;
    assert_near(grown, 0.020 + 0.005, 1e-6);
}
