//! What a firmware promises the cycle, held by this world however wild its switches are.

use zdatum::cycle::{Do, Event};
use zdatum_sim::world::random::Random;
use zdatum_world::engine::run;

use crate::machines::Case;

/// Runs a machine and holds every answer against the contract; how many approaches reached the floor, were
/// tripped from the start, and tripped.
fn hold(case: &Case, runs: u64) -> [u32; 3] {
    let bench = case.bench();
    let mut seen = [0; 3];
    for index in 0..runs {
        let (mut seconds, mut z, mut trips) = (0.0, None, 0);
        let ran = run(&bench, index, |world, request, event| {
            assert!(
                world.seconds >= seconds && world.seconds.is_finite(),
                "run {index}: time goes back at {request:?}"
            );
            if let Do::Approach { floor, station, .. } = request {
                let floor = floor.to_f64();
                assert!(
                    world.z >= floor,
                    "run {index}: {} is below the floor {floor} at {station:?}",
                    world.z
                );
                if let Some(before) = z {
                    assert!(world.z <= before, "run {index}: an approach lifts from {before} to {}", world.z);
                }
                match event {
                    Event::FloorReached => {
                        assert_eq!(world.z, floor, "the carriage stands at the floor");
                        seen[0] += 1;
                    }
                    Event::AlreadyTripped => {
                        assert_eq!((Some(world.z), world.seconds), (z, seconds), "nothing has moved");
                        seen[1] += 1;
                    }
                    Event::Tripped { z, .. } => {
                        assert!(z.to_f64() >= floor);
                        trips += 1;
                        seen[2] += 1;
                    }
                    other => panic!("{other:?}"),
                }
                assert_eq!(world.touches, trips, "a touch is a trip");
            }
            (seconds, z) = (world.seconds, Some(world.z));
        });
        let ran = ran.expect("room");
        assert_eq!(ran.touches, trips);
        assert!(ran.seconds >= 0.0 && ran.error.is_none_or(f64::is_finite));
    }
    seen
}

#[test]
fn no_noise_drives_the_carriage_below_the_floor_or_time_back() {
    let mut random = Random::of_run(31, 0);
    let mut all = [0; 3];
    for _ in 0..200 {
        // From nanometres to a hundred millimetres.
        let mut size = || 10_f64.powf(-6.0 + 8.0 * random.uniform());
        let mut case = Case::quiet().switches(size(), size(), size());
        (case.noise.outlier_size, case.noise.tip_filament, case.noise.drift) =
            (size(), size(), size() - size());
        case.noise.latency_jitter_s = (size() / 10.0).min(0.1);
        case.noise.outlier_rate = random.uniform();
        case.noise.tip_squash = random.uniform();
        case.noise.drift_tau_s = 1.0 + 1000.0 * random.uniform();
        let seen = hold(&case, 20);
        all = [0, 1, 2].map(|i| all[i] + seen[i]);
    }
    assert!(all.iter().all(|count| *count > 100), "each occurs: {all:?}");
}

#[test]
fn a_reading_below_the_floor_is_no_touch() {
    let mut case = Case::quiet();
    (case.noise.outlier_rate, case.noise.outlier_size) = (0.3, 1.0);
    let [floors, ..] = hold(&case, 200);
    assert!(floors > 20, "{floors}");
}

#[test]
fn a_reading_above_the_carriage_is_a_switch_closed_from_the_start() {
    let case = Case::quiet().switches(100.0, 0.001, 0.001);
    let [_, tripped, _] = hold(&case, 200);
    assert!(tripped > 50, "{tripped}");
}
