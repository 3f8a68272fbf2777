use std::sync::atomic::AtomicU64;

use zdatum::Station;
use zdatum::setup::Follows;

use super::*;
use crate::Noise;
use crate::engine::run;
use crate::tests::machine::{SILENT, assert_near, bench, latency, mm, part, prompt as draft, study, u};

fn gathered(bench: &Bench, runs: Range<u64>) -> Gathered {
    Gathered::of(bench, runs, &AtomicBool::new(false), &|_| {}).expect("not stopped")
}

#[track_caller]
fn assert_moments(values: &[f64], mean: [f64; 2], sd: [f64; 2]) {
    let (seen_mean, seen_sd) = moments(values.iter().copied()).expect("two values");
    for (seen, due) in [
        (seen_mean.value, mean[0]),
        (seen_mean.error, mean[1]),
        (seen_sd.value, sd[0]),
        (seen_sd.error, sd[1]),
    ] {
        assert_near(seen, due, 1e-12);
    }
}

#[test]
fn moments_by_hand() {
    // 1, 2, 3, 6: Σ(x − 3)² = 14, Σ(x − 3)⁴ = 98.
    let sd = libm::sqrt(14.0 / 3.0);
    let of_variance = libm::sqrt((98.0 / 4.0 - 196.0 / 9.0) / 4.0);
    assert_moments(&[1.0, 2.0, 3.0, 6.0], [3.0, sd / 2.0], [sd, of_variance / (2.0 * sd)]);
    // The fourth moment of two is below the square of their variance.
    assert_moments(&[-1.0, 1.0], [0.0, 1.0], [libm::sqrt(2.0), 0.0]);
    assert_moments(&[5.0, 5.0, 5.0], [5.0, 0.0], [0.0, 0.0]);
    assert!(moments(std::iter::empty()).is_none() && moments([1.0].into_iter()).is_none());
}

/// One touch of the plate in five is wild, so that some runs are refused.
fn wild() -> Bench {
    let mut draft = draft();
    draft.touch.band = mm("0.02");
    bench(&draft, &Noise { plate_switch: 0.004, outlier_rate: 0.2, outlier_size: 0.05, ..SILENT })
}

#[test]
fn errors_stand_in_the_order_of_their_runs() {
    let bench = wild();
    let told = AtomicU64::new(0);
    // Over the edges of blocks, from elsewhere than the first.
    let runs = 3_000..3_000 + 2 * BLOCK + 5;
    let seen = Gathered::of(&bench, runs.clone(), &AtomicBool::new(false), &|done| {
        told.fetch_add(done, Ordering::Relaxed);
    });
    let seen = seen.expect("not stopped");
    assert_eq!((seen.errors.len() as u64, told.into_inner()), (2 * BLOCK + 5, 2 * BLOCK + 5));
    let mut accepted = 0;
    for (index, seen) in runs.zip(&seen.errors) {
        if index % 64 != 0 && (index - 3_000) % BLOCK > 2 && !seen.is_nan() {
            accepted += 1;
            continue;
        }
        let ran = run(&bench, index, |_, _, _| {}).expect("room");
        accepted += u64::from(ran.error.is_some());
        assert_eq!(ran.error.unwrap_or(f64::NAN).to_bits(), seen.to_bits(), "{index}");
    }
    assert!(accepted > 100 && accepted < 2 * BLOCK, "{accepted}");
    assert_eq!(seen.stated.accepted, accepted);
    assert!(Gathered::of(&bench, 0..5, &AtomicBool::new(true), &|_| {}).is_none());
}

/// Every source of the core's with a figure of its own, in closed form.
fn busy() -> Bench {
    let mut draft = draft();
    draft.pooled.tip = study("0.002", 40);
    draft.pooled.shoulder = study("0.003", 40);
    draft.probe.trip_depth_u = u("0.005");
    draft.probe.trimmed_at_speed = zdatum::Speed::parse("0").expect("a speed");
    draft.probe.delay.latency_u = latency("0.003");
    draft.soak_left = mm("0.01");
    draft.growth.push(part(Follows::Tool, ["0.3", "0.05"], ["140", "220"])).expect("room");
    draft.growth.push(part(Follows::Bed, ["0.2", "0.1"], ["40", "100"])).expect("room");
    bench(&draft, &SILENT)
}

#[test]
fn what_the_core_states_of_each_source() {
    let stated = gathered(&busy(), 0..3).stated;
    assert_eq!(stated.accepted, 3);
    let mut sum = 0.0;
    for (source, due) in [
        // A study's s over the root of four touches.
        (Source::Touches(Station::Tip), 0.001),
        (Source::Touches(Station::Shoulder), 0.0015),
        (Source::Touches(Station::Plate), 0.002),
        (Source::TripDepth, 0.005),
        // 2 mm/s off the trim's speed.
        (Source::PlateLatency, 0.006),
        (Source::DatumLatency, 0.0),
        // A rectangle from 0 to 0.01: its width over √12.
        (Source::Soak, 0.01 / libm::sqrt(12.0)),
        // 0.05 µm/K over 80 K, 0.1 over 60 K.
        (Source::Growth(0), 0.004),
        (Source::Growth(1), 0.006),
        (Source::Growth(2), 0.0),
    ] {
        let seen = stated.variance_of(source).expect("a place of its own");
        // 0.01 mm of soak is held as 655 bits of 2⁻¹⁶ mm.
        assert_near(seen, due * due, 1e-8);
        sum += seen;
    }
    assert_eq!(stated.variance_of(Source::Other(0)), None);
    assert_near(stated.u().expect("accepted"), libm::sqrt(sum), 1e-9);
}

#[test]
fn sums_are_means_over_what_was_accepted() {
    let (busy, none) = (busy(), StatedSums::default());
    assert_eq!((none.u(), none.expanded(), none.variance_of(Source::TripDepth)), (None, None, None));
    let ran = run(&busy, 0, |_, _, _| {}).expect("room");
    let mut all = gathered(&busy, 0..1).stated;
    assert_near(all.expanded().expect("accepted"), ran.expanded, 1e-12);
    assert!(ran.expanded > 0.02, "{}", ran.expanded);

    // Three of a machine that knows nothing but its trip depth, by 13 µm.
    let mut draft = draft();
    (draft.probe.trip_depth_u, draft.pooled) = (u("0.013"), zdatum::setup::Studied::default());
    let coarse = gathered(&bench(&draft, &SILENT), 0..3).stated;
    let (one, two) = (all, coarse);
    all.merge(&coarse);
    let mean = |one: f64, three: f64| (one + 3.0 * three) / 4.0;
    let square = |sums: &StatedSums| sums.u().map_or(0.0, |u| u * u);
    assert_eq!(all.accepted, 4);
    assert_near(square(&all), mean(square(&one), square(&two)), 1e-12);
    let expanded = |sums: &StatedSums| sums.expanded().unwrap_or(0.0);
    assert_near(expanded(&all), mean(expanded(&one), expanded(&two)), 1e-12);
    let depth = all.variance_of(Source::TripDepth).expect("accepted");
    assert_near(depth, mean(0.005 * 0.005, 0.013 * 0.013), 2e-9);
}
