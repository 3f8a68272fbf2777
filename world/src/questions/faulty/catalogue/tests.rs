use super::*;
use crate::tests::machine::SILENT;

fn kind(word: &str) -> &'static FaultKind {
    KINDS.iter().find(|kind| kind.word == word).expect("a kind")
}

#[test]
fn kinds_are_told_apart_by_their_words() {
    for (at, one) in KINDS.iter().enumerate() {
        assert_eq!(KINDS.iter().filter(|other| *other == one).count(), 1, "{one:?}");
        assert_eq!(
            (KINDS.iter().position(|other| other == one), format!("{one:?}")),
            (Some(at), one.word.into())
        );
    }
}

#[test]
fn a_kind_is_added_as_a_fault_or_to_the_noise() {
    let added = |word, size, noise: Noise| {
        let (mut faults, mut noise) = (Vec::new(), noise);
        kind(word).add(size, &mut faults, &mut noise);
        (faults, noise)
    };
    assert_eq!(added("seats-low", 0.25, SILENT), (vec![Fault::SeatedLow(0.25)], SILENT));
    assert_eq!(added("knocked-up", -0.25, SILENT), (vec![Fault::ProbeShifted(-0.25)], SILENT));
    assert_eq!(added("plunger-later", 0.5, SILENT), (vec![Fault::SeenLater(Plate, 0.5)], SILENT));
    assert_eq!(added("no-plate", 1.0, SILENT), (vec![Fault::NoPlate], SILENT));
    let file = Noise { tip_filament: 0.5, drift: 0.5, bounce_s: 0.5, plate_switch: 3.0, ..SILENT };
    for (word, size, due) in [
        ("filament", 0.25, Noise { tip_filament: 0.75, ..file }),
        ("not-soaked", 0.25, Noise { drift: 0.75, ..file }),
        ("bounces", 0.25, Noise { bounce_s: 0.75, ..file }),
        // By the root of the sum of squares.
        ("plunger-noisy", 4.0, Noise { plate_switch: 5.0, ..file }),
    ] {
        assert_eq!(added(word, size, file), (Vec::new(), due), "{word}");
    }
}
