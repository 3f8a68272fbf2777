use super::*;

/// Valleys on either side, near and far, steep and flat, lopsided ones too: the lowest value, however far the
/// way.
#[test]
fn the_lowest_value_of_a_valley() {
    let steps = std::cell::Cell::new(0);
    let counted = |x: f64| {
        steps.set(steps.get() + 1);
        x
    };
    for at in [-40.0, -3.0, -0.02, 0.0, 0.03, 0.4, 5.0, 60.0] {
        for steep in [1e-6, 1.0, 1e4] {
            let round = lowest(|x| counted(2.0 + steep * (x - at).powi(2)), 0.0);
            assert!((round - 2.0).abs() <= 1e-9 * steep.max(1.0), "{at}, {steep}: {round}");
            let bent = lowest(|x| steep * (counted(x) - at).abs(), 0.0);
            assert!(bent <= 1e-5 * steep, "{at}, {steep}: {bent}");
        }
        // Four times as steep on one side as on the other.
        let lopsided = |x: f64| if x < at { 4.0 * (at - x) } else { x - at };
        assert!(lowest(lopsided, 0.0) <= 1e-5, "{at}");
    }
    // A few dozen looks each: the steps grow on the way out, and what is left shrinks by a golden section
    // each time.
    assert!(steps.get() < 48 * 120, "{} looks", steps.get());
    // No valley before the edge of what an exponent holds.
    assert!(lowest(|x| -x, 0.0) <= -200.0);
    assert!(lowest(|x| x, 0.0) <= -200.0);
}

fn fit() -> Growth {
    Growth { a: 1.0, b: -0.5, tau: 2.0, a_sd: 0.0, b_sd: 0.03, tau_sd: 0.4, b_tau: 0.006, rest: 0.09, dof: 4 }
}

/// −0.5·e^(−3/2) is to come at t = 3. Its derivatives by b and τ are e^(−3/2) and −0.5·e^(−3/2)·3/4; the
/// variance is their quadratic form.
#[test]
fn what_is_left_and_its_doubt() {
    let (fit, still) = (fit(), (-1.5_f64).exp());
    assert_eq!(fit.left(0.0), -0.5);
    assert!((fit.left(3.0) + 0.5 * still).abs() < 1e-15);
    let by_tau = -0.5 * 0.75;
    let variance = still * still * (0.03_f64.powi(2) + by_tau * by_tau * 0.16 + 2.0 * by_tau * 0.006);
    assert!((fit.left_sd(3.0) - variance.sqrt()).abs() < 1e-15, "{}", fit.left_sd(3.0));
    assert!((fit.s() - 0.15).abs() < 1e-15);
}

/// Heights on a curve: at its own τ nothing is left, whatever the constant; at twice of it something is. And
/// where just so much is still to come at a time, that wait fits and half of it does not.
#[test]
fn profiles_are_lowest_at_the_truth() {
    let t: Vec<f64> = (0..25).map(f64::from).collect();
    let y: Vec<f64> = t.iter().map(|t| 3.0 - 2.0 * (-t / 5.0).exp()).collect();
    assert!(rest_at(&t, &y, 5.0) < 1e-25 && rest_at(&t, &y, 10.0) > 0.01);
    assert_eq!(rest_at(&[1.0; 5], &[1.0; 5], 5.0), f64::INFINITY);
    let start = growth(&t, &y, Form::Free).expect("a curve");
    let left = 2.0 * (-12.0_f64 / 5.0).exp();
    assert!(rest_at_wait(&t, &y, 12.0, left, &start) < 1e-12);
    assert!(rest_at_wait(&t, &y, 6.0, left, &start) > 0.01);
    // The same curve of half the height leaves as much earlier.
    let half: Vec<f64> = y.iter().map(|y| y / 2.0).collect();
    assert!(rest_at_wait(&t, &half, 12.0, left / 2.0, &start) < 1e-12);
}

/// A curve from nothing has no constant: y = 4·(1 − e^(−t/3)), exactly.
#[test]
fn a_curve_from_nothing() {
    let t: Vec<f64> = (1..20).map(f64::from).collect();
    let y: Vec<f64> = t.iter().map(|t| 4.0 * (1.0 - (-t / 3.0).exp())).collect();
    let fit = growth(&t, &y, Form::FromZero).expect("a curve");
    assert!((fit.b - 4.0).abs() < 1e-9 && (fit.tau - 3.0).abs() < 1e-9, "{fit:?}");
    assert_eq!((fit.a, fit.a_sd, fit.dof), (0.0, 0.0, 17));
    // Two points are too few, three are not.
    assert!(growth(&t[..2], &y[..2], Form::FromZero).is_none());
    assert!(growth(&t[..3], &y[..3], Form::FromZero).is_some());
    assert!(growth(&t[..3], &y[..3], Form::Free).is_none());
    assert!(growth(&t[..4], &y[..4], Form::Free).is_some());
}

#[test]
fn scales_are_the_largest() {
    assert_eq!(scales(&[-3.0, 1.0, 2.0], &[0.5, -4.0, 0.0]), Some((3.0, 4.0)));
    for (t, y) in [([1.0, 1.0], [1.0, 2.0]), ([1.0, 2.0], [0.0, 0.0])] {
        assert_eq!(scales(&t, &y), None);
    }
    assert_eq!(scales(&[0.0, f64::INFINITY], &[1.0, 2.0]), None);
    assert_eq!(scales(&[0.0, 1.0], &[1.0, f64::INFINITY]), None);
}
