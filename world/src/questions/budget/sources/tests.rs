use zdatum::setup::Follows;

use super::*;
use crate::tests::machine::{SILENT, bench, checked, latency, part, prompt as draft, u};

fn names(all: &[Switchable]) -> Vec<&str> {
    all.iter().map(|source| source.source.as_str()).collect()
}

const ALWAYS: [&str; 8] = [
    "tip touches",
    "shoulder touches",
    "plate touches",
    "trip depth",
    "plate switch latency",
    "datum switch latency",
    "soak",
    "unseen",
];
const WORLD: [&str; 8] = [
    "latency jitter",
    "motor steps",
    "wild touches",
    "filament on the tip",
    "seating of the probe",
    "shift from series to series",
    "cyclic error of the drive",
    "temperature readings",
];

#[test]
fn a_machine_without_noise_has_nothing_to_switch_off_but_its_steps() {
    let mut draft = draft();
    draft.growth.push(part(Follows::Tool, ["0.3", "0"], ["140", "220"])).expect("room");
    let noise = Noise { outlier_size: 0.05, ..SILENT };
    let all = all(&["hot nozzle".into()], &checked(&draft), &noise);
    assert_eq!(names(&all), [&ALWAYS[..], &["hot nozzle"], &WORLD].concat());
    let there: Vec<_> = all.iter().filter(|source| source.without.is_some()).collect();
    assert_eq!(there.len(), 1);
    let steps = there[0].without.as_ref().map(world::Machine::step);
    assert_eq!((there[0].source.as_str(), steps), ("motor steps", Some(1.0 / 16_384.0)));
}

#[test]
fn each_source_is_switched_off_by_itself() {
    let mut draft = draft();
    draft.travel.steps = (100, 1);
    draft.probe.trip_depth_u = u("0.005");
    draft.probe.trimmed_at_speed = zdatum::Speed::ZERO;
    draft.probe.delay.latency_u = latency("0.002");
    draft.datum_switch.delay.latency_u = latency("0.001");
    draft.growth.push(part(Follows::Tool, ["0.3", "0.05"], ["140", "220"])).expect("room");
    let noise = Noise {
        tip_switch: 0.001,
        shoulder_switch: 0.002,
        plate_switch: 0.003,
        reseat: 0.02,
        latency_jitter_s: 0.001,
        drift: 0.05,
        outlier_rate: 0.01,
        outlier_size: 0.05,
        tip_filament: 0.1,
        station_shift: 0.003,
        cyclic: 0.004,
        temperature_error_c: 2.0,
        ..SILENT
    };
    let bench = bench(&draft, &noise);
    // Drawn with the trip depth, and switched off by itself.
    let seen = Noise { unseen: 0.012, ..noise };
    let both = all(&[], &bench.setup, &seen);
    let off = |source: &str| {
        let found = both.iter().find(|one| one.source == source).and_then(|one| one.without.as_ref());
        found.expect("it is there").effects(2.0).0
    };
    assert!((off("unseen") - 0.005).abs() < 1e-6 && (off("trip depth") - 0.012).abs() < 1e-6);
    assert!((off("soak") - 0.013).abs() < 1e-6);
    let all = all(&[], &bench.setup, &noise);
    assert_eq!(names(&all), [&ALWAYS[..], &["growth 1"], &WORLD].concat());
    let machine = |source: &str| {
        let found = all.iter().find(|one| one.source == source).and_then(|one| one.without.as_ref());
        found.unwrap_or_else(|| panic!("{source} is there"))
    };
    for (source, left) in [
        ("tip touches", Noise { tip_switch: 0.0, ..noise }),
        ("shoulder touches", Noise { shoulder_switch: 0.0, ..noise }),
        ("plate touches", Noise { plate_switch: 0.0, ..noise }),
        ("soak", Noise { drift: 0.0, ..noise }),
        ("latency jitter", Noise { latency_jitter_s: 0.0, ..noise }),
        ("wild touches", Noise { outlier_size: 0.0, ..noise }),
        ("filament on the tip", Noise { tip_filament: 0.0, ..noise }),
        ("seating of the probe", Noise { reseat: 0.0, ..noise }),
        ("shift from series to series", Noise { station_shift: 0.0, ..noise }),
        ("cyclic error of the drive", Noise { cyclic: 0.0, ..noise }),
        ("temperature readings", Noise { temperature_error_c: 0.0, ..noise }),
        ("trip depth", noise),
        ("motor steps", noise),
    ] {
        assert_eq!(machine(source).noise, left, "{source}");
    }
    // By one standard deviation: 5 µm, 2 mm/s off the trim's speed for 2 ms, 0.05 µm/K over 80 K.
    let near = |source, due: (f64, f64, f64)| {
        let (depth, late, grown) = machine(source).effects(2.0);
        let off = (depth - due.0).abs().max((late - due.1).abs()).max((grown - due.2).abs());
        assert!(off < 2e-5, "{source}: {depth} {late} {grown}");
    };
    near("soak", (0.005, -0.004, -0.004));
    near("trip depth", (0.0, -0.004, -0.004));
    near("plate switch latency", (0.005, 0.0, -0.004));
    near("datum switch latency", (0.005, -0.004, -0.004));
    near("growth 1", (0.005, -0.004, 0.0));
    let touches: Vec<_> = all.iter().filter(|one| one.is_touches).map(|one| one.source.as_str()).collect();
    assert_eq!(touches, ALWAYS[..3]);
}

/// Half a step of 1/128 mm is 3.906 µm. Jitter of 1 ms at 2 mm/s is 2 µm.
#[test]
fn touches_average_steps_where_they_scatter_over_half_of_one() {
    let mut draft = draft();
    draft.travel.steps = (128, 1);
    let setup = checked(&draft);
    let spread = |[tip_switch, shoulder_switch, plate_switch]: [f64; 3], latency_jitter_s| {
        let noise = Noise { tip_switch, shoulder_switch, plate_switch, latency_jitter_s, ..SILENT };
        Made { growth_names: &[], setup: &setup, noise: &noise }.spread_over_steps()
    };
    let half = 1.0 / 256.0;
    assert!(spread([half; 3], 0.0) && spread([0.01; 3], 0.0));
    for at in 0..3 {
        let mut quiet = [half; 3];
        quiet[at] = 0.0038;
        assert!(!spread(quiet, 0.0));
    }
    assert!(spread([0.0034; 3], 0.001) && !spread([0.0033; 3], 0.001) && !spread([0.0; 3], 0.001));
}
