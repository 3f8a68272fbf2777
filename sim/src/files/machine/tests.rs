//! Every key of the file against the draft it becomes.

use zdatum_machines::{delay, mm, part, place, range, speed, study, u};

use super::*;

/// Every value another, so that no two keys can be taken for each other.
const ALL: &str = r#"
travel = { x = [1, 301], y = [2, 302], z = [-3, 303], steps = [1600, 3] }
stations = { tip = [11, 12], shoulder = [13, 14], plate = [15, 16] }
datum_switch = { tip_height = [0.21, 0.22], overtravel = 2.3, latency_s = 0.0004, latency_u_s = 0.0001 }
plate_switch = { latency_s = 0.0006, latency_u_s = 0.0002 }
probe = { trip_depth = 0.6_4, trip_depth_u = 0.005, trimmed_at_speed = 1.5, drop = [6.1, 6.2], free_height = 1.1 }
plates = { rise = [-0.31, 0.32], margin = 0.51 }
accept = { landing = [-1.1, 1.2], shift = 0.24, expanded_u = 0.031, coverage = 0.99 }
soak.left = -0.007
unseen.u = 0.006
pooled = { tip = { s = 0.0011, dof = 41 }, shoulder = { s = 0.0012, dof = 42 }, plate = { s = 0.0013, dof = 43 }, tip_between = { s = 0.0016, dof = 8 }, span_between = { s = 0.0017, dof = 9 } }

[touch]
first_speed = 8
fine_speed = 2
lift = 1.01
stop = 0.11
settle = 3
least = 4
most = 17
band = 0.021
centre = "hodges-lehmann"
target_u = 0.0009
tip_again = true

[[growth]]
name = "a"
follows = "tool"
um_per_c = 0.25
um_per_c_u = 0.02
touch_c = 150
print_c = 240

[[growth]]
name = "b"
follows = "bed"
um_per_c = -0.35
um_per_c_u = 0.03
delta_u_c = 1.5
trimmed_k = -41.5
touch_c = 20
print_c = 60

[[growth]]
name = "c"
follows = "chamber"
um_per_c = 0
um_per_c_u = 0
touch_c = 21
print_c = 22

[noise]
shape = "heavy-tailed"
tip_switch = 0.1
shoulder_switch = 0.2
plate_switch = 0.3
reseat = 0.4
latency_jitter_s = 0.05
datum_differential = 0.13
plate_differential = 0.14
bounce_s = 0.15
drift = -0.6
drift_tau_s = 700
print_delay_s = 80
outlier_rate = 0.9
outlier_size = 1.0
tip_filament = 1.1
tip_squash = 0.12
station_shift = 0.0013
unseen = 0.0014
cyclic = 0.0015
cyclic_period = 0.05
temperature_error_c = 1.6
"#;

#[test]
fn every_key_goes_where_it_belongs() {
    let machine = MachineFile::of(FileText::of("all.toml", ALL)).expect("a sound setup");
    let expected = Draft {
        travel: Travel {
            x: range("1", "301"),
            y: range("2", "302"),
            z: range("-3", "303"),
            steps: (1600, 3),
        },
        stations: Places { tip: place("11", "12"), shoulder: place("13", "14"), plate: place("15", "16") },
        datum_switch: DatumSwitch {
            tip_height: range("0.21", "0.22"),
            overtravel: mm("2.3"),
            delay: delay("0.0004", "0.0001"),
        },
        probe: Probe {
            trip_depth: mm("0.64"),
            trip_depth_u: u("0.005"),
            trimmed_at_speed: speed("1.5"),
            drop: range("6.1", "6.2"),
            free_height: mm("1.1"),
            delay: delay("0.0006", "0.0002"),
        },
        plates: Plates { rise: range("-0.31", "0.32"), margin: mm("0.51") },
        touch: Touch {
            first_speed: speed("8"),
            fine_speed: speed("2"),
            lift: mm("1.01"),
            stop: mm("0.11"),
            settle: 3,
            least: 4,
            most: 17,
            band: mm("0.021"),
            centre: Centre::HodgesLehmann,
            target_u: u("0.0009"),
            tip_again: true,
        },
        growth: [
            part(Follows::Tool, ["0.25", "0.02"], ["150", "240"]),
            zdatum::setup::Grows {
                delta_u: zdatum::Warming::parse("1.5").expect("a difference"),
                trimmed: zdatum::Warming::parse("-41.5").expect("a difference"),
                ..part(Follows::Bed, ["-0.35", "0.03"], ["20", "60"])
            },
            part(Follows::Chamber, ["0", "0"], ["21", "22"]),
        ]
        .into_iter()
        .collect(),
        soak_left: mm("-0.007"),
        unseen: u("0.006"),
        accept: Accept {
            landing: range("-1.1", "1.2"),
            shift: mm("0.24"),
            expanded_u: u("0.031"),
            coverage: Coverage::P99,
        },
        pooled: Studied {
            tip: study("0.0011", 41),
            shoulder: study("0.0012", 42),
            plate: study("0.0013", 43),
            tip_between: study("0.0016", 8),
            span_between: study("0.0017", 9),
        },
    };
    assert_eq!(*machine.setup.draft(), expected);
    assert_eq!(machine.growth_names, ["a", "b", "c"]);
    let noise = Noise {
        shape: Shape::HeavyTailed,
        tip_switch: 0.1,
        shoulder_switch: 0.2,
        plate_switch: 0.3,
        reseat: 0.4,
        latency_jitter_s: 0.05,
        datum_differential: 0.13,
        plate_differential: 0.14,
        bounce_s: 0.15,
        drift: -0.6,
        drift_tau_s: 700.0,
        print_delay_s: 80.0,
        outlier_rate: 0.9,
        outlier_size: 1.0,
        tip_filament: 1.1,
        tip_squash: 0.12,
        station_shift: 0.0013,
        unseen: 0.0014,
        cyclic: 0.0015,
        cyclic_period: 0.05,
        temperature_error_c: 1.6,
    };
    assert_eq!(machine.noise, noise);
}

#[test]
fn each_word_is_its_own() {
    let with = |old: &str, new: &str| {
        let machine =
            MachineFile::of(FileText::of("all.toml", &ALL.replace(old, new))).expect("a sound setup");
        (machine.setup.draft().touch.centre, machine.setup.draft().accept.coverage)
    };
    assert_eq!(with("hodges-lehmann", "median").0, Centre::Median);
    assert_eq!(with("hodges-lehmann", "mean").0, Centre::Mean);
    assert_eq!(with("centre = \"hodges-lehmann\"", "").0, Centre::Mean);
    assert_eq!(with("0.99", "0.9").1, Coverage::P90);
    assert_eq!(with("0.99", "0.950").1, Coverage::P95);
}
