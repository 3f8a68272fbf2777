//! How a height becomes a reading: shapes of the noise, jitter, wild touches, motor steps.

use zdatum::{Length, Station};

use super::machine::{SILENT, bench, draft, speed};
use crate::random::Random;
use crate::switches::nearest_whole;
use crate::{Noise, SOUND, Shape, Truth};

const DRAWS: usize = 40_000;

/// Shares of so many draws, each within five standard errors.
#[track_caller]
fn shares(draws: &[f64], due: &[(f64, f64)]) {
    let n = draws.len() as f64;
    for (beyond, share) in due {
        let seen = draws.iter().filter(|x| x.abs() > *beyond).count() as f64 / n;
        assert!(
            (seen - share).abs() <= 5.0 * (share * (1.0 - share) / n).sqrt(),
            "{beyond}: {seen}, not {share}"
        );
    }
    let above = draws.iter().filter(|x| **x > 0.0).count() as f64 / n;
    assert!((above - 0.5).abs() < 2.5 / n.sqrt(), "{above} above nothing");
}

fn drawn(shape: Shape) -> Vec<f64> {
    let mut random = Random::of_run(5, 6);
    (0..DRAWS).map(|_| shape.draw(&mut random)).collect()
}

/// Points of the normal distribution, of a rectangle of ±√3 and of Student's t with four degrees of freedom
/// over √2 (2.132, 2.776, 4.604 for 10, 5 and 1 %; NIST/SEMATECH handbook, table 1.3.6.7.2).
#[test]
fn shapes_have_their_tails() {
    let root = 2.0_f64.sqrt();
    shares(&drawn(Shape::Normal), &[(1.0, 0.317_311), (1.959_964, 0.05), (2.575_829, 0.01)]);
    shares(&drawn(Shape::HeavyTailed), &[(2.132 / root, 0.10), (2.776 / root, 0.05), (4.604 / root, 0.01)]);
    let even = drawn(Shape::Rectangular);
    shares(&even, &[(3.0_f64.sqrt() / 2.0, 0.5), (3.0_f64.sqrt() * 0.9, 0.1), (3.0_f64.sqrt(), 0.0)]);
}

/// One reading at a station and a speed, again and again: mean and standard deviation in µm.
fn read(noise: &Noise, station: Station, at: &str) -> (Vec<f64>, f64, f64) {
    let machine = bench(&draft(), noise).machine;
    let mut random = Random::of_run(7, 8);
    let truth = Truth::draw(&machine, &SOUND, &mut random);
    let mut own = None;
    let at = machine.switches.at(speed(at), &mut own);
    let readings: Vec<f64> = (0..DRAWS)
        .map(|_| 1e3 * (machine.switches.read(station, 1.0, at, &truth, &mut random) - 1.0))
        .collect();
    let n = DRAWS as f64;
    let mean = readings.iter().sum::<f64>() / n;
    let sd = (readings.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
    (readings, mean, sd)
}

/// Switch noise of 3 µm and jitter of 1 ms: 4 µm more at 4 mm/s, 2 at the fine 2, 6 at the first 6. The datum
/// switch is seen 0.4 ms late, the plate's 1 ms.
#[test]
fn readings_scatter_by_switch_and_jitter() {
    let noise = Noise { tip_switch: 0.003, latency_jitter_s: 0.001, ..SILENT };
    for (station, at, mean, sd) in [
        (Station::Tip, "4", -1.6, 5.0),
        (Station::Tip, "2", -0.8, 13.0_f64.sqrt()),
        (Station::Tip, "6", -2.4, 45.0_f64.sqrt()),
        (Station::Shoulder, "4", -1.6, 4.0),
        (Station::Plate, "4", -4.0, 4.0),
    ] {
        let (_, seen, scatter) = read(&noise, station, at);
        let n = (DRAWS as f64).sqrt();
        assert!((seen - mean).abs() < 5.0 * sd / n + 0.02, "{station:?} {at}: {seen}, not {mean}");
        assert!((scatter / sd - 1.0).abs() < 5.0 / n, "{station:?} {at}: {scatter}, not {sd}");
    }
    let (fine, v) = bench(&draft(), &noise).machine.fine_sd();
    assert!((fine(Station::Tip) - 1e-3 * 13.0_f64.sqrt()).abs() < 1e-6 && v == 2.0);
    assert!((fine(Station::Plate) - 0.002).abs() < 1e-6);
}

/// One touch in five is wild, by 50 µm, either way alike.
#[test]
fn wild_touches_go_either_way() {
    let noise = Noise { outlier_rate: 0.2, outlier_size: 0.05, ..SILENT };
    let (readings, ..) = read(&noise, Station::Tip, "2");
    let share = |is: &dyn Fn(f64) -> bool| readings.iter().filter(|x| is(**x)).count() as f64 / DRAWS as f64;
    for seen in [share(&|x| (x - 49.2).abs() < 0.02), share(&|x| (x + 50.8).abs() < 0.02)] {
        assert!((seen - 0.1).abs() < 5.0 * (0.09 / DRAWS as f64).sqrt(), "{seen}");
    }
    let common = share(&|x| (x + 0.8).abs() < 0.02);
    assert!((common - 0.8).abs() < 5.0 * (0.16 / DRAWS as f64).sqrt(), "{common}");
}

#[test]
fn heights_are_whole_steps() {
    for (x, whole) in
        [(0.4, 0), (0.6, 1), (-0.6, -1), (2.5, 2), (3.5, 4), (-2.5, -2), (1e9 + 0.3, 1_000_000_000)]
    {
        assert_eq!(nearest_whole(x), whole, "{x}");
    }
    // 400 steps a millimetre: 2.5 µm.
    let mut coarse = draft();
    coarse.travel.steps = (400, 1);
    let steps = bench(&coarse, &SILENT).machine.steps;
    assert!((steps.size - 0.0025).abs() < 1e-15);
    for (z, due) in [(0.501, "0.5"), (0.5013, "0.5025"), (-0.0013, "-0.0025"), (7.0, "7")] {
        assert_eq!(steps.nearest(z), Length::parse(due).expect("a length"), "{z}");
    }
    assert_eq!(steps.nearest(1e9), Length::from_mm(i16::MIN));
}

/// Streams of neighbouring seeds and runs have nothing in common; a number is in [0, 1), a centred one in
/// [−½, ½).
#[test]
fn streams_are_apart() {
    let first = |seed, run| Random::of_run(seed, run).uniform();
    let mut all: Vec<u64> =
        (0..40).flat_map(|seed| (0..40).map(move |run| first(seed, run).to_bits())).collect();
    all.sort_unstable();
    all.dedup();
    assert_eq!(all.len(), 1_600);
    let mut random = Random::of_run(1, 1);
    let even: Vec<f64> = (0..DRAWS).map(|_| random.uniform()).collect();
    assert!(even.iter().all(|x| (0.0..1.0).contains(x)));
    let mean = even.iter().sum::<f64>() / DRAWS as f64;
    assert!((mean - 0.5).abs() < 5.0 / (12.0 * DRAWS as f64).sqrt(), "{mean}");
    assert!(even.iter().any(|x| *x < 0.001) && even.iter().any(|x| *x > 0.999));
    let mut again = Random::of_run(1, 1);
    assert!(even.iter().take(100).all(|x| again.centred() == x - 0.5));
}
