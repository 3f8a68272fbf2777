//! Points and tails of distributions against 50-digit arithmetic (`reference.py`, mpmath).

use zdatum_sim::world::distributions::{
    beta_below, chi_square_point, chi_square_tail, f_point, f_tail, limits_of_s, normal, t_point,
};

use super::agrees;

#[test]
fn points_of_t() {
    for (tail, dof, expected) in [
        (0.025, 1.0, 12.7062047361747),
        (0.025, 4.0, 2.77644510519779),
        (0.005, 9.0, 3.24983554159213),
        (0.05 / 108.0, 52.0, 3.51308638116695),
        (2.5e-5, 998.0, 4.0734220552849),
        (1e-6, 30.0, 5.87111712041888),
        (0.025, 1e5, 1.95998770753461),
    ] {
        agrees("t", t_point(tail, dof).expect("a point"), expected, 10.0);
    }
    assert_eq!((t_point(0.025, 0.0), t_point(0.025, f64::NAN)), (None, None));
}

#[test]
fn points_of_chi_square() {
    for (p, dof, expected) in [
        (0.025, 1.0, 0.000982069117175256),
        (0.975, 1.0, 5.02388618731489),
        (0.025, 5.0, 0.831211613486662),
        (0.975, 5.0, 12.83250199403),
        (0.025, 65.0, 44.6029925203293),
        (0.975, 65.0, 89.1771449967562),
        (0.025, 18000.0, 17630.0208965575),
        (0.975, 18000.0, 18373.7676849357),
    ] {
        agrees("chi²", chi_square_point(p, dof).expect("a point"), expected, 10.0);
    }
    let (low, high) = limits_of_s(0.002, 5).expect("limits");
    agrees("low", low, 0.002 * (5.0_f64 / 12.83250199403).sqrt(), 10.0);
    agrees("high", high, 0.002 * (5.0_f64 / 0.831211613486662).sqrt(), 10.0);
    assert_eq!(limits_of_s(1.0, 0), None);
}

#[test]
fn tails_and_points_of_f() {
    for (f, above, below, expected) in [
        (1.18046237440255, 4.0, 20.0, 0.349447493402193),
        (15.946733567793, 1.0, 46.0, 0.000232684448338925),
        (21.0, 8.0, 180.0, 2.58326433726897e-22),
        (201.0, 8.0, 1800.0, 4.03714188575398e-243),
        (0.5, 3.0, 7.0, 0.694036387568814),
        (4.0, 2.0, 12.0, 0.046656),
    ] {
        agrees("tail of F", f_tail(f, above, below).expect("a tail"), expected, 9.0);
    }
    for (tail, above, below, expected) in [
        (0.05, 1.0, 3.0, 10.1279644860139),
        (0.05, 1.0, 34.0, 4.13001774565202),
        (0.05, 1.0, 147.0, 3.90549809118737),
        (0.01, 5.0, 60.0, 3.33888442244953),
    ] {
        agrees("F", f_point(tail, above, below).expect("a point"), expected, 8.0);
    }
}

#[test]
fn the_normal_distribution() {
    // Table of any handbook, and erfc(6/√2)/2.
    agrees("below", normal(1.959963984540054).0, 0.975, 12.0);
    agrees("above", normal(6.0).1, 9.865876450376946e-10, 9.0);
}

#[test]
fn what_has_no_answer_has_none() {
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(
            (t_point(0.025, bad), chi_square_point(0.5, bad), f_tail(1.0, bad, 3.0)),
            (None, None, None)
        );
        assert_eq!(
            (f_point(0.05, 2.0, bad), chi_square_tail(1.0, bad), beta_below(0.5, bad)),
            (None, None, None)
        );
        assert_eq!(
            (t_point(bad, 3.0), chi_square_point(bad, 3.0), f_point(bad, 2.0, 3.0)),
            (None, None, None)
        );
    }
    for bad in [f64::NAN, f64::INFINITY] {
        assert_eq!(
            (f_tail(bad, 2.0, 3.0), chi_square_tail(bad, 3.0), beta_below(bad, 3.0)),
            (None, None, None)
        );
    }
    assert_eq!((f_tail(0.0, 2.0, 3.0), chi_square_tail(-1.0, 3.0)), (Some(1.0), Some(1.0)));
    // Closed: χ² with two degrees of freedom, and a beta variable that is uniform.
    agrees("tail of χ²", chi_square_tail(3.0, 2.0).expect("a tail"), (-1.5_f64).exp(), 12.0);
    agrees("beta", beta_below(0.3, 1.0).expect("a chance"), 0.3, 12.0);
}
