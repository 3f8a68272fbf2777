//! What touches do not show of themselves, each by its size.

use zdatum::Station;
use zdatum::cycle::{Do, Event, Seconds};
use zdatum::setup::Follows;

use super::machine::{FINE, SILENT, assert_near, bench, part, prompt as draft};
use crate::{Noise, SOUND, World};

/// Heights of two touches per station, what was read beside them, and the true landing.
type Run = ([[f64; 2]; 3], [Option<f64>; 3], f64);

/// Two touches of each station in `runs` worlds, with what was read beside them and the true landing.
fn touched(noise: &Noise, runs: u64) -> Vec<Run> {
    let mut draft = draft();
    draft.growth.push(part(Follows::Tool, ["0.3", "0"], ["140", "220"])).expect("room");
    draft.growth.push(part(Follows::Bed, ["0.3", "0"], ["55", "60"])).expect("room");
    let bench = bench(&draft, noise);
    let places = bench.setup.draft().stations;
    let lowest = bench.setup.floors().clear_with_probe;
    let one = |run| {
        let mut world = World::new(&bench.machine, &SOUND, 5, run);
        let mut read = [None; 3];
        let stations = [
            (Station::Tip, places.tip),
            (Station::Shoulder, places.shoulder),
            (Station::Plate, places.plate),
        ];
        let heights = stations.map(|(station, to)| {
            world.answer(Do::Move { to, lowest, within: Seconds(60) });
            [0, 1].map(|_| {
                let event = world.approach(
                    station,
                    zdatum::Length::from_mm(-3),
                    bench.setup.draft().touch.fine_speed,
                );
                let Event::Tripped { z, at } = event else { panic!("{event:?}") };
                let _ = world.lift(z.plus(zdatum::Length::from_mm(1)).expect("held"));
                for (kept, seen) in read.iter_mut().zip([at.tool, at.bed, at.chamber]) {
                    *kept = kept.or(seen.map(zdatum::Temperature::to_f64));
                }
                z.to_f64()
            })
        });
        (heights, read, world.true_landing())
    };
    (0..runs).map(one).collect()
}

fn sd(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    libm::sqrt(values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (values.len() as f64 - 1.0))
}

#[test]
fn unseen_moves_the_plate_and_nothing_else() {
    let (with, without) = (touched(&Noise { unseen: 0.02, ..SILENT }, 2_000), touched(&SILENT, 2_000));
    let mut moved = Vec::new();
    for (with, without) in with.iter().zip(&without) {
        let [tip, shoulder, plate] = with.0;
        assert_eq!(([tip, shoulder], with.2), ([without.0[0], without.0[1]], without.2));
        assert_near(plate[0], plate[1], FINE);
        moved.push(plate[0] - without.0[2][0]);
    }
    // To five standard errors of s.
    assert_near(sd(&moved), 0.02, 5.0 * 0.02 / libm::sqrt(4_000.0));
}

#[test]
fn a_series_is_shifted_as_one() {
    let runs = touched(&Noise { station_shift: 0.02, ..SILENT }, 2_000);
    let without = touched(&SILENT, 2_000);
    for station in 0..3 {
        let shifts: Vec<f64> =
            runs.iter().zip(&without).map(|(a, b)| a.0[station][0] - b.0[station][0]).collect();
        assert_near(sd(&shifts), 0.02, 5.0 * 0.02 / libm::sqrt(4_000.0));
        for run in &runs {
            assert_near(run.0[station][0], run.0[station][1], FINE);
        }
    }
    let apart: Vec<f64> =
        runs.iter().zip(&without).map(|(a, b)| a.0[2][0] - a.0[1][0] - b.0[2][0] + b.0[1][0]).collect();
    assert_near(sd(&apart), 0.02 * libm::sqrt(2.0), 5.0 * 0.02 * libm::sqrt(2.0) / libm::sqrt(4_000.0));
}

#[test]
fn the_drives_error_is_a_sine_of_the_height() {
    let (a, period) = (0.03, 23.0);
    let runs = touched(&Noise { cyclic: a, cyclic_period: period, ..SILENT }, 400);
    let without = touched(&SILENT, 400);
    let mut widest = 0.0_f64;
    for (with, without) in runs.iter().zip(&without) {
        let off = |station: usize| (with.0[station][0] - without.0[station][0], without.0[station][0]);
        let [(tip, at_tip), (shoulder, at_shoulder), (plate, at_plate)] = [0, 1, 2].map(off);
        // a·sin(x + φ) at three known places: the third follows from the other two.
        let phase = |z: f64| core::f64::consts::TAU * z / period;
        let (p, q, r) = (phase(at_tip), phase(at_shoulder), phase(at_plate));
        let due = (tip * libm::sin(q - r) + shoulder * libm::sin(r - p)) / libm::sin(q - p);
        assert_near(plate, due, 60.0 * FINE);
        let landing = with.2 - without.2;
        assert!(landing.abs() <= a + 1e-9 && landing != 0.0);
        widest = widest.max(tip.abs());
    }
    assert_near(widest, a, 0.001);
}

#[test]
fn readings_are_off_by_one_error_per_sensor_and_run() {
    assert!(touched(&SILENT, 3).iter().all(|run| run.1 == [None; 3]));
    let runs = touched(&Noise { temperature_error_c: 3.0, ..SILENT }, 2_000);
    let off = |sensor: usize, touch: f64| -> Vec<f64> {
        runs.iter().map(|run| run.1[sensor].expect("read") - touch).collect()
    };
    let (tool, bed) = (off(0, 140.0), off(1, 55.0));
    assert_near(sd(&tool), 3.0, 5.0 * 3.0 / libm::sqrt(4_000.0));
    assert_near(sd(&bed), 3.0, 5.0 * 3.0 / libm::sqrt(4_000.0));
    let product = tool.iter().zip(&bed).map(|(a, b)| a * b).sum::<f64>() / 2_000.0;
    assert_near(product, 0.0, 5.0 * 9.0 / libm::sqrt(2_000.0));
    assert!(runs.iter().all(|run| run.1[2].is_none()), "no part follows the chamber");
}
