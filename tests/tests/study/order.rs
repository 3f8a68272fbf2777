//! Touches in their order: von Neumann's ratio and the lag-one autocorrelation.

use super::{agrees, log_of, study};

/// By hand: mean 3, deviations −2 −1 0 1 2, Σ² = 10; products 2 + 0 + 0 + 2; differences 1.
#[test]
fn by_hand() {
    let study = study(&log_of("tip", &[vec![1, 2, 3, 4, 5]]));
    let series = &study.series[0];
    assert_eq!((series.lag1, series.von_neumann), (Some(0.4), Some(0.4)));
    assert_eq!((series.median.text().as_str(), series.spread), ("3", 4.0));
    agrees("s", series.s.expect("s"), 2.5_f64.sqrt(), 15.0);
}

/// Exact points of the ratio for touches in no order (inversion of the characteristic function, Imhof,
/// *Biometrika* 48, 1961), n with the points at 1 % and 5 %: the beta approximation must give back 1 % and 5
/// % to within a twentieth of them.
#[test]
fn chances_of_the_ratio() {
    for (n, one, five) in [(8, 0.66470, 0.98166), (10, 0.75173, 1.06215), (12, 0.82802, 1.12757)] {
        for (point, chance) in [(one, 0.01), (five, 0.05)] {
            let p = chance_at(n, point);
            assert!((p / chance - 1.0).abs() < 0.05, "n = {n}: {p} at the {chance} point");
        }
    }
}

/// The chance reported for a series of n touches with that ratio, by bisection over a family of series: a
/// slope under a zigzag.
fn chance_at(n: usize, ratio: f64) -> f64 {
    let (mut low, mut high) = (0.0, 10.0);
    for _ in 0..60 {
        let slope = (low + high) / 2.0;
        let heights: Vec<f64> =
            (0..n).map(|i| slope * i as f64 + if i % 2 == 0 { 1.0 } else { -1.0 }).collect();
        let study = study(&log_of("tip", &[heights]));
        let series = &study.series[0];
        let found = series.von_neumann.expect("scatter");
        if (found - ratio).abs() < 1e-9 {
            return series.von_neumann_p.expect("a chance");
        }
        // A steeper slope under the same zigzag has a lower ratio.
        if found > ratio { low = slope } else { high = slope }
    }
    panic!("no series with ratio {ratio}");
}

#[test]
fn what_is_not_defined_is_left_out() {
    let study = study(&log_of("tip", &[vec![1.0], vec![2.0, 2.0]]));
    let [one, flat] = &study.series[..] else { panic!("two series") };
    assert_eq!((one.s, one.lag1, one.von_neumann, one.s_limits), (None, None, None, None));
    assert_eq!((flat.s, flat.lag1, flat.von_neumann), (Some(0.0), None, None));
    assert!(one.outliers.is_empty() && flat.outliers.is_empty());
    // One degree of freedom within, one between: no F where nothing scatters.
    let anova = study.stations[0].anova.expect("two runs");
    assert_eq!((anova.df_between, anova.df_within, anova.f, anova.p), (1, 1, None, None));
}
