//! Repeatability and what comes on top from run to run.

use super::{agrees, data, log_of, study};

/// ASTM E691, glucose in serum: printed s_r and s_R (ISO 5725-2 has the same for balanced data). In material
/// C the second value of laboratory 4 is 138.30, as the standard takes it.
#[test]
fn glucose_in_serum() {
    for (text, mean, s_r, s_reproducibility) in [
        (data::GLUCOSE_B, 79.6796, 1.4949, 1.5796),
        (data::GLUCOSE_C, 134.7264, 1.5434, 2.1482),
        (data::GLUCOSE_D, 194.717, 2.6251, 3.3657),
    ] {
        let runs = data::groups(text);
        let study = study(&log_of("shoulder", &runs));
        let anova = study.stations[0].anova.expect("eight laboratories");
        assert!((anova.s_r - s_r).abs() <= 5e-5, "{} is not {s_r}", anova.s_r);
        assert!((anova.s_intermediate - s_reproducibility).abs() <= 5e-5);
        let all: Vec<f64> = study.series.iter().map(|series| series.mean.to_f64()).collect();
        assert!((all.iter().sum::<f64>() / 8.0 - mean).abs() <= 5e-4);
    }
}

/// ISO 5725-2:1994, sulfur content of coal, level 1, laboratories with unequal numbers of results: mean
/// 0.690, s_r 0.015, s_R 0.026. Data and results *from memory*; they agree with each other.
#[test]
fn sulfur_content_of_coal() {
    let study = study(&log_of("plate", &data::groups(data::SULFUR)));
    let one = &study.stations[0];
    let anova = one.anova.expect("eight laboratories");
    assert_eq!((anova.df_between, anova.df_within, one.touches), (7, 19, 27));
    assert!((anova.s_r - 0.015).abs() < 5e-4 && (anova.s_intermediate - 0.026).abs() < 5e-4, "{anova:?}");
    // The pooled s is the repeatability, with what is within runs as degrees of freedom.
    assert_eq!(one.pooled, Some((anova.s_r, 19)));
    agrees("s_R²", anova.s_intermediate.powi(2), anova.s_r.powi(2) + anova.s_run.powi(2), 14.0);
}

/// Runs that scatter less than their touches do have nothing on top, and a negative variance is none.
#[test]
fn nothing_on_top_is_nothing() {
    let study = study(&log_of("tip", &[vec![1.0, 3.0], vec![3.0, 1.0], vec![1.0, 3.0]]));
    let anova = study.stations[0].anova.expect("three runs");
    assert_eq!((anova.s_run, anova.ss_between, anova.p), (0.0, 0.0, Some(1.0)));
    agrees("s", anova.s_intermediate, 2.0_f64.sqrt(), 15.0);
}
