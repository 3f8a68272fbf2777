use super::*;
use crate::Noise;
use crate::tests::machine::{SILENT, bench, draft, latency, speed, u};

/// Switches of 3, 4 and 12 µm; trip depth of 5 µm; the plate switch's latency of 1 ms at 4 mm/s beyond the
/// trim's speed: 4 µm.
fn machine(shape: Shape) -> Machine {
    let mut draft = draft();
    draft.probe.trip_depth_u = u("0.005");
    draft.probe.trimmed_at_speed = speed("6");
    draft.probe.delay.latency_u = latency("0.001");
    let noise = Noise { shape, tip_switch: 0.003, shoulder_switch: 0.004, plate_switch: 0.012, ..SILENT };
    bench(&draft, &noise).machine
}

/// Four touches per station: 5² + 4² + (3² + 4² + 12²)/4 = 83.25 µm², and each draw's share of the way is its
/// share of that.
#[test]
fn the_way_is_shared_by_what_moves_the_error() {
    let (tilt, sd) = Tilt::toward(&machine(Shape::Normal), 4, 2, -0.040).expect("a way");
    let close = |seen: f64, due: f64| assert!((seen - due).abs() < 1e-4 * due.abs(), "{seen}, not {due}");
    close(sd, 0.009_124_143_795);
    let scale = -0.040 / 83.25e-6;
    close(tilt.trip_depth, 0.005 * scale);
    close(tilt.plate_latency, 0.004 * scale);
    for (seen, due) in tilt.touches.into_iter().zip([0.003 / 4.0, -0.004 / 4.0, 0.012 / 4.0]) {
        close(seen, due * scale);
    }
    assert_eq!((tilt.datum_latency, tilt.growth, tilt.uncounted), (0.0, 0.0, 3));
    // All of them together move the error all the way.
    let moved = 0.005 * tilt.trip_depth + 0.004 * tilt.plate_latency + 0.003 * tilt.touches[0]
        - 0.004 * tilt.touches[1]
        + 0.012 * tilt.touches[2];
    close(moved, -0.040);
    // No touch is one.
    let (one, sd) = Tilt::toward(&machine(Shape::Normal), 0, 0, -0.040).expect("a way");
    close(sd, 1e-3 * 210.0_f64.sqrt());
    assert_eq!(one.uncounted, 1);
}

/// Draws that are not normal are left as they are.
#[test]
fn only_normal_draws_are_moved() {
    let (tilt, sd) = Tilt::toward(&machine(Shape::Rectangular), 4, 2, -0.040).expect("a way");
    assert_eq!(tilt.touches, [0.0; 3]);
    assert!((sd - 1e-3 * 41.0_f64.sqrt()).abs() < 1e-6, "{sd}");
    assert_eq!(Tilt::toward(&bench(&draft(), &SILENT).machine, 4, 2, -0.040), None);
    assert_eq!(Tilt::toward(&machine(Shape::Normal), 4, 2, f64::NEG_INFINITY), None);
}

/// ln of φ(z − μ)/φ(z) = μ·z − μ²/2, with z = x + μ where it is moved and z = x where it is not.
#[test]
fn the_ratio_is_that_of_two_normals() {
    for (moved, by, ratio) in [(true, 1.5, 1.5 * 2.25 - 1.125), (false, 0.0, 1.5 * 0.75 - 1.125)] {
        let mut tilted = Tilted { by: Tilt::default(), moved, log_ratio: 0.25 };
        assert_eq!(tilted.take(1.5, 0.75), by);
        assert!((tilted.log_ratio - 0.25 - ratio).abs() < 1e-15, "{}", tilted.log_ratio);
    }
}

/// Touches that do not count are left as they are; each that does has its station's move, and the stream is
/// not used up.
#[test]
fn counted_touches_alone_are_moved() {
    let by = Tilt { touches: [0.5, -1.0, 2.0], uncounted: 2, ..Tilt::default() };
    let random = Random::of_run(1, 2);
    let x = random.clone().normal();
    for (station, move_by) in Station::ALL.into_iter().zip(by.touches) {
        let mut tilted = Tilted { by, moved: true, log_ratio: 0.0 };
        assert_eq!([0, 1].map(|number| tilted.touch(station, number, &random)), [0.0; 2]);
        assert_eq!(tilted.log_ratio, 0.0);
        assert_eq!(tilted.touch(station, 2, &random), move_by);
        let ratio = move_by * (x + move_by) - move_by * move_by / 2.0;
        assert!((tilted.log_ratio - ratio).abs() < 1e-15);
    }
}

/// What is drawn once is moved once: trip depth, plate latency and growth by their own standard deviations.
#[test]
fn a_start_moves_the_truth() {
    let machine = machine(Shape::Normal);
    let by =
        Tilt { trip_depth: 1.0, datum_latency: 0.5, plate_latency: -2.0, growth: 0.0, ..Tilt::default() };
    let drawn = Random::of_run(7, 3);
    let plain = Truth::draw(&machine, &crate::SOUND, &mut drawn.clone());
    for moved in [true, false] {
        let mut truth = plain;
        let tilted = Tilted::start(by, moved, &machine, &mut truth, &mut drawn.clone());
        let mut again = drawn.clone();
        let x = [(); 4].map(|()| again.normal());
        let ratio: f64 = [1.0, 0.5, -2.0, 0.0]
            .into_iter()
            .zip(x)
            .map(|(by, x)| by * (x + if moved { by } else { 0.0 }) - by * by / 2.0)
            .sum();
        assert!((tilted.log_ratio - ratio).abs() < 1e-12);
        let times = f64::from(u8::from(moved));
        let latency = truth.plate_latency - plain.plate_latency;
        assert!((latency + 0.002 * times).abs() < 1e-7, "{latency}");
        // t seen at the trim's 6 mm/s: 5 µm deeper, 12 µm less for the latency.
        let depth = truth.trip_depth_seen - plain.trip_depth_seen;
        assert!((depth - (0.005 - 0.012) * times).abs() < 1e-6, "{depth}");
        assert_eq!((truth.tip, truth.landing), (plain.tip, plain.landing));
    }
}
