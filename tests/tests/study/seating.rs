//! Probe seating told from switch noise, in logs recorded in the simulated world, and the noise itself found
//! again.

use zdatum::{Setup, Speed, Station};
use zdatum_sim::study::Study;
use zdatum_sim::study::whole::StudyOptions;
use zdatum_sim::world::Noise;
use zdatum_world::recorded;

use super::{demo, study};

fn machine() -> (Setup, Noise) {
    let machine = demo();
    let noise = Noise { outlier_rate: 0.0, ..machine.noise };
    (machine.setup, noise)
}

fn speeds(speeds: &[&str]) -> Vec<Speed> {
    speeds.iter().map(|speed| Speed::parse(speed).expect("a speed")).collect()
}

fn recorded(noise: &Noise, seed: u64, runs: u32, rounds: u32, at: &[&str]) -> Study {
    let (setup, _) = machine();
    study(&recorded::study(&setup, noise, seed, runs, rounds, &speeds(at)))
}

/// What the machine was made with comes out: the 95 % limits of seating, of each switch's s and of both
/// latencies hold the truth in 95 % of 200 studies, within what counting allows.
#[test]
fn limits_hold_what_they_promise() {
    let (setup, noise) = machine();
    const STUDIES: u64 = 200;
    let (mut reseat, mut s, mut latency) = (0, [0; 3], 0);
    let step = f64::from(setup.step().mm()) / f64::from(setup.step().steps());
    for seed in 0..STUDIES {
        let study = recorded(&noise, seed, 8, 2, &["2", "4", "1"]);
        let drop = study.drop.expect("eight runs");
        reseat += u32::from(drop.limits.0 <= noise.reseat && noise.reseat <= drop.limits.1);
        // At one speed, s is switch noise, jitter and steps together.
        let one = recorded(&noise, seed, 4, 8, &["2"]);
        let switches = [noise.tip_switch, noise.shoulder_switch, noise.plate_switch];
        for ((station, switch), held) in one.stations.iter().zip(switches).zip(&mut s) {
            let (pooled, dof) = station.pooled.expect("many touches");
            let truth =
                (switch * switch + (2.0 * noise.latency_jitter_s).powi(2) + step * step / 12.0).sqrt();
            let (low, high) = zdatum_sim::world::distributions::limits_of_s(pooled, dof).expect("limits");
            *held += u32::from(low <= truth && truth <= high);
        }
        // 48 touches: u is as good as known.
        let truth = truth_of(&setup, &noise, seed);
        let datum = study.datum.expect("three speeds");
        latency += u32::from((datum.latency - truth).abs() <= 1.985 * datum.u);
    }
    // 95 % of 200 less four standard deviations of counting, and not nearly all of them.
    let sound = 177..=199;
    println!("limits hold the truth in reseat {reseat}, s {s:?}, latency {latency} of {STUDIES} studies");
    for held in [reseat, s[0], s[1], s[2], latency] {
        assert!(sound.contains(&held), "reseat {reseat}, s {s:?}, latency {latency} of {STUDIES}");
    }
}

fn truth_of(setup: &Setup, noise: &Noise, seed: u64) -> f64 {
    use zdatum_sim::world::{Faults, Machine, World};
    World::new(&Machine::new(setup, noise), &Faults::NONE, seed, 0).truth.datum_latency
}

/// A probe that seats the same at each fetch shows no seating, and what moves all stations alike is none.
#[test]
fn growth_and_homing_are_not_seating() {
    let (_, noise) = machine();
    let still = Noise { reseat: 0.0, drift: 0.2, drift_tau_s: 7200.0, ..noise };
    let false_alarms = (0..100).filter(|seed| {
        let study = recorded(&still, *seed, 6, 12, &["2"]);
        // All heights move from run to run …
        let tip = study.station(Station::Tip).and_then(|one| one.anova).expect("six runs");
        assert!(tip.s_run > 0.01, "{tip:?}");
        // … while the drop stays.
        study.drop.expect("six runs").p < 0.01
    });
    // 1 % of 100, and the growth while a run lasts.
    assert!(false_alarms.count() <= 8);
    let seats = recorded(&Noise { reseat: 0.02, ..still }, 1, 6, 12, &["2"]).drop.expect("six runs");
    assert!(seats.p < 1e-6 && (0.005..0.06).contains(&seats.beyond), "{seats:?}");
}

/// Drops of three runs by hand: S − T = 5, 5.2, 5.1; two touches per station, 0.02 apart.
#[test]
fn the_drop_by_hand() {
    let mut log = String::from("run,station,z,plate\n");
    for (run, tip, shoulder, plate) in [("a", 0.5, 5.5, 6.0), ("b", 0.7, 5.9, 6.4), ("c", 0.4, 5.5, 7.0)] {
        for (station, z) in [("tip", tip), ("shoulder", shoulder), ("plate", plate)] {
            for z in [z - 0.01, z + 0.01] {
                log.push_str(&format!(
                    "{run},{station},{z:.4},{}\n",
                    if run == "c" { "thick" } else { "thin" }
                ));
            }
        }
    }
    let study = study(&log);
    let drop = study.drop.expect("three runs");
    assert_eq!((drop.runs, drop.dof), (3, 2));
    // s of one touch 0.0141: the mean of two has 0.0001, the drop twice that.
    let near =
        |found: f64, expected: f64| assert!((found - expected).abs() < 1e-12, "{found} is not {expected}");
    near(drop.mean, 5.1);
    near(drop.sd, 0.1);
    near(drop.switches, 0.0002_f64.sqrt());
    near(drop.beyond, (0.01_f64 - 0.0002).sqrt());
    // Spans belong to their plates: thin 0.5 and 0.5, thick alone.
    let span = study.span.expect("two runs of one plate");
    assert_eq!((span.runs, span.dof, span.beyond), (3, 1, 0.0));
}

/// Runs of a shoulder and a plate: each touched twice, this far apart, the plate so much above the shoulder.
fn spans(apart: f64, spans: &[f64]) -> String {
    let rows = spans.iter().enumerate().map(|(run, span)| {
        let row =
            |station: &str, z: f64| format!("{run},{station},{:.6}\n{run},{station},{:.6}\n", z, z + apart);
        row("shoulder", 7.0) + &row("plate", 7.0 + span)
    });
    format!("run,station,z\n{}", rows.collect::<String>())
}

/// Without noise of the switches whatever moves has moved: 20 µm from run to run. Where nothing moves,
/// nothing has.
#[test]
fn exact_switches_explain_nothing() {
    let span = study(&spans(0.0, &[0.70, 0.72, 0.74])).span.expect("three runs");
    assert_eq!((span.p, span.switches), (0.0, 0.0));
    assert!((span.sd - 0.02).abs() < 1e-12 && (span.beyond - 0.02).abs() < 1e-12, "{span:?}");
    let still = study(&spans(0.0, &[0.72; 3])).span.expect("three runs");
    assert_eq!((still.p, still.sd, still.beyond), (1.0, 0.0, 0.0));
}

/// A span that moves by more than the switches explain is counted on top, if asked for; one that they may
/// explain is not. Touches 4 µm apart: s² = 8 µm² a touch at both stations, so of two touches 4 + 4 µm², of
/// which the span's 400 are 392 more.
#[test]
fn a_moving_span_is_shown_beside() {
    let asked = StudyOptions { within: Some(0.1), touches: 2, floor: 0.0 };
    let of = |log: &str| Study::of(super::groups(log), &asked).capability.expect("asked for");
    let moves = of(&spans(0.004, &[0.70, 0.72, 0.74]));
    assert!((moves.expanded - 2.0 * 8e-6_f64.sqrt()).abs() < 1e-9, "{moves:?}");
    let with = moves.with_span.expect("it moves");
    assert!((with - 2.0 * 400e-6_f64.sqrt()).abs() < 1e-9, "{with}");
    assert_eq!(moves.missing, [Station::Tip]);
    let rests = of(&spans(0.004, &[0.70, 0.702, 0.704]));
    assert_eq!(rests.with_span, None);
}
