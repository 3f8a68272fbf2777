//! Each effect of the world alone, against its closed form.

use zdatum::Station;
use zdatum_sim::world::Machine;
use zdatum_tests::machine::{celsius, checked, growth, latency, mm, speed, u};

use crate::machines::{Case, FINE, assert_near, assert_normal, at, error, moments, watched};

const RUNS: u64 = 20_000;

#[test]
fn without_any_effect_the_landing_is_true() {
    for error in Case::quiet().errors(500) {
        assert!(error.abs() <= FINE, "{error}");
    }
}

#[test]
fn switch_noise_falls_with_the_root_of_the_touches() {
    let s = 0.002;
    for (n, most) in [(3, 9), (5, 9), (9, 9), (20, 40)] {
        let case = Case::quiet().touches(n, most).switches(s, s, s);
        assert_normal(&case.errors(RUNS), 0.0, s * (3.0 / f64::from(n)).sqrt());
    }
}

#[test]
fn each_switch_has_its_own_noise() {
    let n = 5_f64;
    for (tip, shoulder, plate) in
        [(0.003, 0.0, 0.0), (0.0, 0.003, 0.0), (0.0, 0.0, 0.003), (0.001, 0.002, 0.004)]
    {
        let case = Case::quiet().switches(tip, shoulder, plate);
        let sd = ((tip * tip + shoulder * shoulder + plate * plate) / n).sqrt();
        assert_normal(&case.errors(RUNS), 0.0, sd);
        // And so has each reading.
        for (station, s) in [(Station::Tip, tip), (Station::Shoulder, shoulder), (Station::Plate, plate)] {
            let late = |seen: &crate::machines::Seen| {
                seen.speed * if station == Station::Plate { 0.0012 } else { 0.0004 }
            };
            let noise: Vec<f64> = (0..400)
                .flat_map(|index| at(&case.watched(index).1, station))
                .map(|seen| seen.reported - seen.met + late(&seen))
                .collect();
            if s > 0.0 {
                assert_normal(&noise, 0.0, s);
            } else {
                assert!(noise.iter().all(|x| x.abs() <= 0.5 / 16_384.0 + 0.5 / 65_536.0));
            }
        }
    }
}

#[test]
fn heights_come_in_whole_steps() {
    let step = 0.01;
    let mut case = Case::quiet();
    case.draft.travel.steps = (100, 1);
    case.noise.reseat = 0.05;
    // Without noise all touches of a station fall on one step: three roundings, each uniform over a step.
    let errors = case.errors(RUNS);
    let sd = step * (3.0_f64 / 12.0).sqrt();
    let (mean, seen) = moments(&errors);
    assert_near(mean, 0.0, 4.0 * sd / (RUNS as f64).sqrt());
    assert_near(seen / sd, 1.0, 4.0 / (2.0 * RUNS as f64).sqrt());
    assert!(errors.iter().all(|error| error.abs() <= 1.5 * step + 4.0 / 65_536.0));
    for seen in case.watched(0).1 {
        let steps = seen.reported / step;
        assert_near(steps, steps.round(), 0.5 / 65_536.0 / step);
        let late = seen.speed * if seen.station == Station::Plate { 0.0012 } else { 0.0004 };
        assert!((seen.reported - (seen.met - late)).abs() <= step / 2.0 + 1.0 / 65_536.0);
    }
}

#[test]
fn noise_of_a_step_or_more_spreads_the_rounding_over_the_touches() {
    let (step, s, n) = (0.0025_f64, 0.003_f64, 5.0);
    let mut case = Case::quiet().switches(s, s, s);
    case.draft.travel.steps = (400, 1);
    case.noise.reseat = 0.05;
    assert_normal(&case.errors(RUNS), 0.0, (3.0 * (s * s + step * step / 12.0) / n).sqrt());
}

#[test]
fn jitter_is_noise_that_grows_with_the_speed() {
    for (fine, v) in [("1.5", 1.5), ("4", 4.0)] {
        let mut case = Case::quiet();
        case.draft.touch.fine_speed = speed(fine);
        case.draft.probe.trimmed_at_speed = speed(fine);
        case.noise.latency_jitter_s = 0.001;
        assert_normal(&case.errors(RUNS), 0.0, v * 0.001 * (3.0_f64 / 5.0).sqrt());
        // Switch noise and jitter are independent.
        let case = case.switches(0.002, 0.002, 0.002);
        let per_touch = f64::hypot(0.002, v * 0.001);
        assert_normal(&case.errors(RUNS), 0.0, per_touch * (3.0_f64 / 5.0).sqrt());
    }
}

/// A world whose latencies differ by so much from what the setup says, touched at 1.5 mm/s.
fn late(trimmed_at: &str, datum: &str, plate: &str) -> zdatum_world::engine::Bench {
    let mut case = Case::quiet();
    case.draft.probe.trimmed_at_speed = speed(trimmed_at);
    let mut bench = case.bench();
    case.draft.datum_switch.delay.latency = latency(datum);
    case.draft.probe.delay.latency = latency(plate);
    bench.machine = Machine::new(&checked(&case.draft), &case.noise);
    bench
}

#[test]
fn a_wrong_latency_does_harm_at_another_speed_than_the_trims() {
    // The setup says 0.0004 s and 0.0012 s. L is off by −(v − v₀)·(τ_true − τ_said).
    for (trimmed_at, v0) in [("0", 0.0), ("1.5", 1.5), ("4", 4.0)] {
        for (plate, more) in [("0.0012", 0.0), ("0.0032", 0.002), ("0.0002", -0.001)] {
            for datum in ["0.0004", "0.0020"] {
                let bench = late(trimmed_at, datum, plate);
                for index in 0..20 {
                    let (ran, touches, truth) = watched(&bench, index);
                    assert_near(error(&ran), -(1.5 - v0) * more, FINE + 1e-6);
                    // Every touch reads low by its speed times the latency.
                    for seen in touches {
                        let latency = match seen.station {
                            Station::Plate => truth.plate_latency,
                            _ => truth.datum_latency,
                        };
                        assert_near(seen.reported, seen.met - seen.speed * latency, 0.5 / 16_384.0 + 1e-5);
                    }
                }
            }
        }
    }
}

#[test]
fn an_uncertain_latency_spreads_the_error() {
    let mut case = Case::quiet();
    case.draft.probe.trimmed_at_speed = speed("0");
    case.draft.probe.delay.latency_u = latency("0.0010");
    case.draft.datum_switch.delay.latency_u = latency("0.0010");
    // Of the plate's switch alone: the datum switch's cancels between tip and shoulder.
    assert_normal(&case.errors(RUNS), 0.0, 1.5 * 0.001);
    case.draft.probe.trimmed_at_speed = speed("1.5");
    assert!(case.errors(500).iter().all(|error| error.abs() <= FINE + 1e-6));
}

#[test]
fn the_trip_depths_error_is_the_landings() {
    let mut case = Case::quiet();
    case.draft.probe.trip_depth_u = u("0.004");
    assert_normal(&case.errors(RUNS), 0.0, 0.004);
    for index in 0..50 {
        let (ran, _, truth) = case.watched(index);
        assert_near(error(&ran), truth.trip_depth_seen - 1.5 * truth.plate_latency - 0.55, FINE + 1e-6);
    }
}

#[test]
fn how_the_probe_seats_does_not_matter() {
    let still = Case::quiet();
    let mut loose = Case::quiet();
    loose.noise.reseat = 0.05;
    let mut seats = Vec::new();
    for index in 0..500 {
        let (ran, _, truth) = loose.watched(index);
        assert!(error(&ran).abs() <= FINE, "{ran:?}");
        seats.push(truth.drop - still.watched(index).2.drop);
    }
    assert_normal(&seats, 0.0, 0.05);
}

#[test]
fn growth_between_touch_and_print() {
    let mut case = Case::quiet();
    case.draft.growth = zdatum_tests::machine::workshop().growth;
    let mut bed = case.draft.growth[0];
    bed.follows = zdatum::setup::Follows::Bed;
    (bed.rate, bed.rate_u) = (growth("-0.4"), growth("0.1"));
    (bed.touch, bed.print) = (celsius("40"), celsius("60"));
    case.draft.growth.push(bed).expect("room");
    // 0.02 µm/K over 80 K and 0.1 µm/K over 20 K; what is known of them is corrected.
    assert_normal(&case.errors(RUNS), 0.0, f64::hypot(0.02 * 80.0, 0.1 * 20.0) / 1000.0);

    // Known wrongly: off by what is missing.
    for part in &mut case.draft.growth {
        part.rate_u = growth("0");
    }
    let mut bench = case.bench();
    case.draft.growth[0].rate = growth("0.5");
    bench.machine = Machine::new(&checked(&case.draft), &case.noise);
    assert_near(error(&watched(&bench, 0).0), (0.3 - 0.5) * 80.0 / 1000.0, FINE + 1e-6);
}

#[test]
fn filament_raises_the_tip_and_is_squashed_by_every_touch() {
    for (filament, squash) in [(0.05, 0.3), (0.05, 0.0), (0.05, 1.0), (0.012, 0.1)] {
        let mut case = Case::quiet();
        (case.noise.tip_filament, case.noise.tip_squash) = (filament, squash);
        let left = |touches: i32| filament * (1.0 - squash).powi(touches);
        for index in 0..20 {
            let (ran, touches, truth) = case.watched(index);
            for (k, seen) in at(&touches, Station::Tip).iter().enumerate() {
                assert_near(seen.met, truth.tip + left(k as i32), 1e-12);
            }
            for seen in at(&touches, Station::Shoulder) {
                assert_near(seen.met, truth.tip + truth.drop, 1e-12);
            }
            // First approach and settle touch come before the five that count; it is gone at print.
            let counted = (2..7).map(left).sum::<f64>() / 5.0;
            assert_near(error(&ran), counted, FINE);
            assert_near(ran.true_landing, truth.landing, 1e-12);
        }
    }
}

#[test]
fn wild_touches_are_as_many_and_as_wild_as_said() {
    let (rate, size, n) = (0.1_f64, 0.05_f64, 5.0);
    let mut case = Case::quiet();
    (case.noise.outlier_rate, case.noise.outlier_size) = (rate, size);
    let mut counts = [0_u32; 3];
    for index in 0..400 {
        for seen in case.watched(index).1 {
            let late = seen.speed * if seen.station == Station::Plate { 0.0012 } else { 0.0004 };
            let off = (seen.reported - seen.met + late) / size;
            assert_near(off, off.round(), 0.001);
            counts[(off.round() as i32 + 1) as usize] += 1;
        }
    }
    let [low, sound, high] = counts.map(f64::from);
    let all = low + sound + high;
    assert_near((low + high) / all, rate, 4.0 * (rate * (1.0 - rate) / all).sqrt());
    assert_near(low / (low + high), 0.5, 4.0 * (0.25 / (low + high)).sqrt());

    // A band that lets them all through: 3·p·size²/n. Excess kurtosis of one: 1/p; of the sum of 3n alike:
    // 1/(3·n·p).
    let sd = size * (3.0 * rate / n).sqrt();
    let (mean, seen) = moments(&case.errors(RUNS));
    assert_near(mean, 0.0, 4.0 * sd / (RUNS as f64).sqrt());
    let kurtosis = 1.0 / (3.0 * n * rate);
    assert_near(seen / sd, 1.0, 4.0 * ((2.0 + kurtosis) / (4.0 * RUNS as f64)).sqrt());

    // A band that does not: the tail holds none of them, or five alike, one cycle in ten thousand or so.
    case.draft.touch.band = mm("0.02");
    let tally = case.touches(5, 64).tally(2_000);
    assert!(tally.accepted > 1_990, "{} of 2000", tally.accepted);
    let sd = tally.sd().expect("many runs").value;
    assert!(sd < 0.002, "{sd}");
}

#[test]
fn a_switch_opens_above_its_differential_and_its_bounce() {
    use zdatum::{RefusalKind, Station::*};
    let still_tripped = |case: &Case| {
        let (ran, touches, _) = case.watched(0);
        let at = touches.last().expect("a touch").station;
        (ran.refused == Some(RefusalKind::StillTripped)).then_some(at)
    };
    // The lift is 0.5 mm above the height reported. That reads low by speed times latency, 5 mm/s at the
    // first approach: 0.4 ms at the datum switch, 1.2 ms at the plate. Upwards the carriage makes 15 mm/s.
    let mut case = Case::quiet();
    (case.draft.touch.lift, case.draft.touch.first_speed) = (mm("0.5"), speed("5"));
    assert_eq!(still_tripped(&case), None);
    // A wait of a step either way.
    for (bounce, late) in [(0.0, 0.0), (0.01, 0.15), (0.02, 0.3)] {
        case.noise.bounce_s = bounce;
        for (off, open) in [(-2e-4, true), (2e-4, false)] {
            let differential = |latency: f64| 0.5 - 5.0 * latency - late + off;
            (case.noise.datum_differential, case.noise.plate_differential) = (differential(0.0004), 0.0);
            let at = still_tripped(&case);
            assert!(if open { at.is_none() } else { matches!(at, Some(Tip | Shoulder)) }, "{at:?}, {bounce}");
            (case.noise.datum_differential, case.noise.plate_differential) = (0.0, differential(0.0012));
            assert_eq!(still_tripped(&case), (!open).then_some(Plate), "{bounce}");
        }
    }
    // Where they are no matter, no bit changes.
    let errors = |case: &Case| case.clone().switches(0.001, 0.001, 0.002).errors(200);
    (case.noise.bounce_s, case.noise.plate_differential) = (0.0, 0.0);
    let plain = errors(&case);
    (case.noise.bounce_s, case.noise.plate_differential, case.noise.datum_differential) = (0.004, 0.2, 0.1);
    assert_eq!(errors(&case), plain);
}
