use super::*;
use crate::Noise;
use crate::tests::machine::{SILENT, assert_near, bench, prompt as draft};

fn swept(bench: &Bench, swept: Swept, stop: bool) -> Sweep {
    sweep(bench, swept, 20, 0.02, &AtomicBool::new(stop), &|_| {})
}

#[test]
fn what_is_swept_has_its_words() {
    let said = [Swept::Touches, Swept::Noise].map(|swept| (swept.word(), swept.name(), swept.head()));
    let due = [
        ("touches", "Counted touches per station", "touches"),
        ("noise", "Noise of all three switches", "noise"),
    ];
    assert_eq!(said, due);
}

/// A study of 4 µm at each of three stations: u² = 3·16 µm²/n, and next to nothing for the finest steps.
#[test]
fn touches_from_one_to_sixteen_or_the_machines_own() {
    let mut draft = draft();
    let seen = swept(&bench(&draft, &SILENT), Swept::Touches, false);
    let ats: Vec<_> = seen.points.iter().map(|point| point.at).collect();
    assert_eq!(ats, (1..=16).map(f64::from).collect::<Vec<_>>());
    assert_eq!((seen.swept, seen.runs), (Swept::Touches, 20));
    for point in &seen.points {
        assert_eq!((point.is_own, point.figures.runs, point.figures.accepted), (point.at == 4.0, 20, 20));
        assert_near(point.core_u.expect("accepted"), 0.004 * libm::sqrt(3.0 / point.at), 3e-5);
        assert_near(point.figures.touches.value, 3.0 * (2.0 + point.at), 1e-12);
    }
    // More than sixteen of its own; without a study not a single one.
    (draft.touch.least, draft.touch.most, draft.pooled) = (18, 20, Default::default());
    let seen = swept(&bench(&draft, &SILENT), Swept::Touches, false);
    let ats: Vec<_> = seen.points.iter().map(|point| (point.at, point.is_own)).collect();
    assert_eq!(ats, (2..=18).map(|n| (f64::from(n), n == 18)).collect::<Vec<_>>());
    assert!(swept(&bench(&draft, &SILENT), Swept::Touches, true).points.is_empty());
}

#[test]
fn noise_of_all_switches_in_multiples() {
    let noise =
        Noise { tip_switch: 0.001, shoulder_switch: 0.002, plate_switch: 0.004, reseat: 0.02, ..SILENT };
    let bench = bench(&draft(), &noise);
    let seen = swept(&bench, Swept::Noise, false);
    let ats: Vec<_> = seen.points.iter().map(|point| (point.at, point.is_own)).collect();
    let due = [0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0];
    assert_eq!(ats, due.map(|at| (at, at == 1.0)));
    let twice = at_setting(&bench, Swept::Noise, 2.0).expect("allowed").machine.noise;
    assert_eq!(twice, Noise { tip_switch: 0.002, shoulder_switch: 0.004, plate_switch: 0.008, ..noise });
    let own = at_setting(&bench, Swept::Touches, 9.0).expect("allowed");
    assert_eq!((own.machine.noise, own.setup.draft().touch.least), (noise, 9));
}
