//! The soak's curve, and how long to wait.

use zdatum_sim::files::FileText;
use zdatum_sim::files::log::Log;
use zdatum_sim::study::growth::{Form, growth};
use zdatum_sim::study::soak::{SoakResult, StationSoak, soak};
use zdatum_sim::world::Noise;
use zdatum_world::recorded;

use super::{agrees, demo};

fn soaked(log: &str, left: f64) -> StationSoak {
    let log = Log::read(FileText::of("soak.csv", log)).unwrap_or_else(|problem| panic!("{problem:?}"));
    soak(&log, left).unwrap_or_else(|problem| panic!("{problem:?}")).remove(0)
}

/// scipy's `curve_fit` (`reference.py`).
#[test]
fn the_curve_with_a_constant() {
    let t: Vec<f64> = (0..40).map(|i| f64::from(i) * 90.0).collect();
    let y: Vec<f64> = (0..40)
        .map(|i| {
            let t = f64::from(i) * 90.0;
            0.5 + 0.08 * (1.0 - (-t / 1200.0).exp()) + 0.001 * (2.7 * f64::from(i)).sin()
        })
        .collect();
    let fit = growth(&t, &y, Form::Free).expect("a curve");
    // scipy's own steps end at about eight digits.
    agrees("a", fit.a, 0.500009129405104, 8.0);
    agrees("b", fit.b, 0.0799127058630204, 6.5);
    agrees("τ", fit.tau, 1197.75465013663, 6.5);
    agrees("u(a)", fit.a_sd, 0.000427811240941411, 6.0);
    agrees("u(b)", fit.b_sd, 0.000447449575258541, 6.0);
    agrees("u(τ)", fit.tau_sd, 20.3365676440027, 6.0);
    agrees("cov", fit.b_tau, 0.00209729802893845, 5.5);
    assert_eq!(fit.dof, 37);
}

#[test]
fn no_curve_where_there_is_none() {
    assert!(growth(&[0.0, 1.0, 2.0], &[0.0, 1.0, 1.5], Form::Free).is_none());
    assert!(growth(&[1.0; 9], &[0.0, 1.0, 1.5, 0.0, 1.0, 1.5, 0.0, 1.0, 1.5], Form::Free).is_none());
    assert!(growth(&[0.0, 1.0, 2.0, 3.0, 4.0], &[0.0; 5], Form::Free).is_none());
}

/// A shrinking machine is fitted alike.
#[test]
fn growth_may_be_negative() {
    let log = |sign: f64| {
        let rows = (0..60).map(|i| {
            let t = f64::from(i) * 60.0;
            let wobble = 0.0004 * (2.1 * f64::from(i)).sin();
            format!("tip,{:.6},{t}\n", 1.0 + sign * 0.05 * (1.0 - (-t / 800.0).exp()) + wobble)
        });
        format!("station,z,time_s\n{}", rows.collect::<String>())
    };
    for sign in [1.0, -1.0] {
        let SoakResult::Grows(growing) = soaked(&log(sign), 0.005).told else { panic!("it grows") };
        assert!((growing.fit.b - sign * 0.05).abs() < 0.001, "{:?}", growing.fit);
        assert!((growing.wait - 800.0 * 10.0_f64.ln()).abs() < 90.0, "{}", growing.wait);
        assert!(growing.waits.0 < growing.wait && growing.wait < growing.waits.1);
        assert!((growing.left.0 - growing.fit.left(3540.0)).abs() < 1e-12);
    }
}

fn recorded(noise: &Noise, seed: u64, touches: u32) -> String {
    let machine = demo();
    recorded::soak(&machine.setup, noise, seed, touches, 60.0)
}

fn cold() -> Noise {
    Noise {
        tip_switch: 0.0011,
        latency_jitter_s: 0.0002,
        drift: 0.085,
        drift_tau_s: 1700.0,
        ..Noise::default()
    }
}

/// The true wait, τ·ln(growth/left), lies within the limits in 95 % of the logs that tell one; a log that is
/// long enough tells always, and a short one never pretends to.
#[test]
fn waits_hold_what_they_promise() {
    let truth = 1700.0 * (0.085_f64 / 0.010).ln();
    const LOGS: u64 = 200;
    for (touches, all_tell) in [(120, true), (40, true), (20, false)] {
        let (mut told, mut held) = (0_u32, 0_u32);
        for seed in 0..LOGS {
            if let SoakResult::Grows(growing) = soaked(&recorded(&cold(), seed, touches), 0.010).told {
                told += 1;
                held += u32::from((growing.waits.0..=growing.waits.1).contains(&truth));
            }
        }
        println!("{touches} touches: {told} of {LOGS} logs tell, {held} hold the true wait");
        assert!(!all_tell || u64::from(told) == LOGS, "{told} of {LOGS}");
        // 95 % less four standard deviations of counting.
        let n = f64::from(told);
        assert!(
            f64::from(held) >= 0.95 * n - 4.0 * (0.0475 * n).sqrt(),
            "{touches} touches: {held} of {told}"
        );
    }
}

#[test]
fn a_log_that_is_too_short_says_so() {
    // One in a hundred straight lines bends by chance, half of them the right way.
    let told = (0..200).filter(|seed| {
        let soak = soaked(&recorded(&cold(), *seed, 8), 0.010);
        assert_eq!(soak.tells(), soak.wait().is_some());
        soak.tells()
    });
    let told = told.count();
    println!("8 touches: {told} of 200 logs tell");
    assert!(told <= 5);
    let SoakResult::TooShort { tau_low, per_hour, .. } = soaked(&recorded(&cold(), 3, 12), 0.010).told else {
        panic!("too short")
    };
    // 0.085/1700 s at first.
    assert!(
        tau_low.is_some_and(|low| low < 1700.0) && (0.08..0.25).contains(&per_hour),
        "{tau_low:?} {per_hour}"
    );
}

#[test]
fn a_machine_at_rest_need_not_wait() {
    let still = Noise { drift: 0.0, ..cold() };
    let tells = (0..50).filter(|seed| soaked(&recorded(&still, *seed, 60), 0.010).tells()).count();
    // A curve is seen in noise now and then (5 %), and then has no end.
    assert!(tells >= 42, "{tells} of 50");
    let noisy = Noise { drift: 0.0, tip_switch: 0.05, ..cold() };
    let told = (0..50).filter(|seed| {
        matches!(soaked(&recorded(&noisy, *seed, 60), 0.010).told, SoakResult::TooNoisy { .. })
    });
    assert!(told.count() >= 42);
}
