//! What a run's truth is made of.

use zdatum::setup::Follows;

use super::machine::{SILENT, bench, draft, latency, part, speed, u};
use crate::truth::Numbers;
use crate::{Fault, Faults, Machine, Noise, SOUND, Truth};

fn machine() -> Machine {
    let mut draft = draft();
    draft.probe.trip_depth_u = u("0.005");
    draft.probe.trimmed_at_speed = speed("4");
    draft.probe.delay.latency_u = latency("0.0005");
    draft.datum_switch.delay.latency_u = latency("0.0002");
    for rates in [["0.5", "0.03"], ["-0.25", "0.04"]] {
        draft.growth.push(part(Follows::Tool, rates, ["140", "240"])).expect("room");
    }
    bench(&draft, &SILENT).machine
}

#[track_caller]
fn near(seen: f64, due: f64) {
    assert!((seen - due).abs() < 1e-5, "{seen}, not {due}");
}

/// Growth over 100 K: 50 − 25 µm, its u √(3² + 4²) = 5 µm. The tip half a motor step of 2⁻¹⁴ mm from the
/// middle of its range at the most, the rise within a tenth of its range.
#[test]
fn a_truth_is_its_numbers() {
    let machine = machine();
    near(machine.growth(), 0.025);
    let truth = |normal, centred| Truth::of(&machine, &SOUND, &Numbers { normal, centred, trimmed: 0.0 });
    let plain = truth([0.0; 4], [0.0; 2]);
    near(plain.tip, 0.6);
    near(plain.drop, 6.0);
    near(plain.rise, 0.0);
    near(plain.datum_latency, 0.0004);
    near(plain.plate_latency, 0.001);
    near(plain.trip_depth_seen, 0.55 + 4.0 * 0.001);
    near(plain.landing, 0.6 + 0.025);
    let off = truth([2.0, -1.0, 3.0, -2.0], [0.5, -0.25]);
    assert!((off.tip - plain.tip - 0.5 / 16_384.0).abs() < 1e-12);
    near(off.rise, -0.25 * 0.2);
    near(off.datum_latency, 0.0002);
    near(off.plate_latency, 0.0025);
    near(off.trip_depth_seen, 0.56 + 4.0 * 0.0025);
    near(off.landing, off.tip + off.rise + 0.025 - 0.010);
    // Moved by as much as it was drawn off, it is the same.
    let mut moved = truth([0.0; 4], [0.5, -0.25]);
    moved.move_by(&machine, [2.0, -1.0, 3.0, -2.0]);
    for (seen, due) in [
        (moved.landing, off.landing),
        (moved.trip_depth_seen, off.trip_depth_seen),
        (moved.datum_latency, off.datum_latency),
        (moved.plate_latency, off.plate_latency),
    ] {
        assert!((seen - due).abs() < 1e-12, "{seen}, not {due}");
    }
    // What one standard deviation adds at 2 mm/s.
    let (trip_depth, latency, growth) = machine.effects(2.0);
    near(trip_depth, 0.005);
    near(latency, 0.001);
    near(growth, -0.005);
    near(machine.step(), 1.0 / 16_384.0);
}

/// The chip under the plunger raises what is touched, not where the nozzle lands; debris raises both; homed
/// off, the tip and all on it.
#[test]
fn faults_are_in_the_truth() {
    let machine = machine();
    let numbers = Numbers { normal: [0.0; 4], centred: [0.0; 2], trimmed: 0.0 };
    let plain = Truth::of(&machine, &SOUND, &numbers);
    for (fault, tip, rise, landing) in [
        (Fault::ChipUnderPlunger(0.25), 0.0, 0.25, 0.0),
        (Fault::PlateRaised(0.25), 0.0, 0.25, 0.25),
        (Fault::HomedOff(0.25), 0.25, 0.0, 0.25),
    ] {
        let truth = Truth::of(&machine, &Faults::new(vec![fault]), &numbers);
        near(truth.tip - plain.tip, tip);
        near(truth.rise - plain.rise, rise);
        near(truth.landing - plain.landing, landing);
    }
}

/// A seat of its own at each fetch, 20 µm about the middle of the range, lower where it does not seat fully.
#[test]
fn the_probe_seats_about_the_middle() {
    let machine = bench(&draft(), &Noise { reseat: 0.02, ..SILENT }).machine;
    let low = Faults::new(vec![Fault::SeatedLow(0.5)]);
    for (faults, middle) in [(&SOUND, 6.0), (&low, 6.5)] {
        let mut random = crate::random::Random::of_run(3, 4);
        let mut truth = Truth::draw(&machine, &SOUND, &mut random.clone());
        let drops: Vec<f64> = (0..4_000)
            .map(|_| {
                truth.seat(&machine, faults, &mut random);
                truth.drop
            })
            .collect();
        let n = drops.len() as f64;
        let mean = drops.iter().sum::<f64>() / n;
        let sd = (drops.iter().map(|drop| (drop - mean).powi(2)).sum::<f64>() / n).sqrt();
        // Five standard errors.
        assert!((mean - middle).abs() < 5.0 * 0.02 / n.sqrt(), "{mean}");
        assert!((sd / 0.02 - 1.0).abs() < 5.0 / (2.0 * n).sqrt(), "{sd}");
    }
}
