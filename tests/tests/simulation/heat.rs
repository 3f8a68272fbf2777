//! Growth of the frame while the cycle runs, and time: each alone against its closed form.

use zdatum::Station;
use zdatum::cycle::{Do, Event};
use zdatum_tests::machine::mm;
use zdatum_world::engine::run;

use crate::machines::{Case, FINE, Seen, assert_near, at, error};

/// Frame growth of 0.2 mm with a time constant of 300 s: 0.67 µm/s at first.
fn drifting() -> Case {
    let mut case = Case::quiet();
    (case.noise.drift, case.noise.drift_tau_s, case.noise.print_delay_s) = (0.2, 300.0, 60.0);
    case
}

fn grown(case: &Case, seconds: f64) -> f64 {
    case.noise.drift * (1.0 - (-seconds / case.noise.drift_tau_s).exp())
}

/// Mean growth at the counted touches of a station: the newest five.
fn at_counted(case: &Case, touches: &[Seen], station: Station) -> f64 {
    let touches = at(touches, station);
    assert_eq!(touches.len(), 7, "first, settle and five fine");
    touches[2..].iter().map(|seen| grown(case, seen.seconds)).sum::<f64>() / 5.0
}

#[test]
fn the_frame_grows_through_every_touch_and_until_print() {
    for drift in [0.2, -0.05] {
        let mut case = drifting();
        case.noise.drift = drift;
        let still = Case::quiet();
        for index in 0..20 {
            let (ran, touches, _) = case.watched(index);
            let (_, sound, truth) = still.watched(index);
            assert_eq!(touches.len(), sound.len());
            // Each touch meets its switch higher by what has grown at that moment.
            for (seen, sound) in touches.iter().zip(&sound) {
                // It is seen later by the latency.
                let latency = if seen.station == Station::Plate { 0.0012 } else { 0.0004 };
                assert_near(seen.met - sound.met, grown(&case, seen.seconds - latency), 2e-7);
            }
            let print = grown(&case, ran.seconds + 60.0);
            assert_near(ran.true_landing, truth.landing + print, 1e-12);
            let of = |station| at_counted(&case, &touches, station);
            let expected = of(Station::Tip) - of(Station::Shoulder) + of(Station::Plate) - print;
            assert_near(error(&ran), expected, FINE);
            assert!(expected.abs() > 0.05 * drift.abs(), "something to see");
        }
    }
}

#[test]
fn a_slow_drift_is_a_slope() {
    // e^(−s/τ) ≈ 1 − s/τ: the error is the rate times the time from the touches to the print.
    let mut case = drifting();
    (case.noise.drift, case.noise.drift_tau_s, case.noise.print_delay_s) = (100.0, 1e6, 600.0);
    let (ran, touches, _) = case.watched(3);
    let mean = |station| at(&touches, station)[2..].iter().map(|seen| seen.seconds).sum::<f64>() / 5.0;
    let mean_time = mean(Station::Tip) - mean(Station::Shoulder) + mean(Station::Plate);
    assert_near(error(&ran), -1e-4 * (ran.seconds + 600.0 - mean_time), FINE + 2e-5);
    assert!(error(&ran) < -0.06);
}

#[test]
fn every_way_takes_its_time() {
    let mut case = Case::quiet();
    case.draft.touch.stop = mm("0.05");
    let bench = case.bench();
    let (mut seconds, mut z, mut place) = (0.0, None::<f64>, None);
    let mut kinds = 0;
    let ran = run(&bench, 0, |world, request, event| {
        let took = world.seconds - seconds;
        let from = z.unwrap_or(world.z);
        match (request, event) {
            // Down to the edge at the approach's speed; then it stops 0.05 mm lower.
            (Do::Approach { speed, .. }, Event::Tripped { z: edge, .. }) => {
                assert_near(took, (from - edge.to_f64()) / speed.to_f64(), 1e-4);
                assert_near(world.z, edge.to_f64() - 0.05, 1e-4);
                kinds |= 1;
            }
            (Do::Lift { to, .. }, _) => {
                assert_near(world.z, from.max(to.to_f64()), 1e-9);
                assert_near(took, (world.z - from) / 15.0, 1e-9);
                kinds |= 2;
            }
            (Do::Move { to, lowest, .. }, _) => {
                assert!(world.z >= lowest.to_f64());
                let way = place.map_or(100.0, |from: zdatum::setup::Place| {
                    (to.x.to_f64() - from.x.to_f64()).hypot(to.y.to_f64() - from.y.to_f64())
                });
                if z.is_some() {
                    assert_near(took, (world.z - from) / 15.0 + way / 150.0, 1e-9);
                }
                place = Some(*to);
                kinds |= 4;
            }
            (Do::Fetch { .. } | Do::PutBack { .. }, _) => {
                assert_near(took, (world.z - from) / 15.0 + 5.0, 1e-9);
                place = None;
                kinds |= 8;
            }
            _ => assert_near(took, 0.0, 1e-12),
        }
        (seconds, z) = (world.seconds, Some(world.z));
    })
    .expect("room");
    assert_eq!(kinds, 15, "all kinds of way were gone");
    assert_near(ran.seconds, seconds, 1e-12);
}
