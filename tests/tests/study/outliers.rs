//! Outliers and shape.

use zdatum_sim::study::normality::normality;
use zdatum_sim::study::outliers::{outliers, steps};

use super::{agrees, data, log_of, study};

fn rosner() -> Vec<f64> {
    data::groups(data::ROSNER).remove(0).iter().map(|text| text.parse().expect("a number")).collect()
}

/// Rosner's worked example: R and λ as printed, cut off after three decimals. Only the third step has R > λ,
/// and so there are three.
#[test]
fn rosners_worked_example() {
    let steps = steps(&rosner(), 10);
    let printed = [
        (6.01, 3.118, 3.158),
        (5.42, 2.942, 3.151),
        (5.34, 3.179, 3.143),
        (4.64, 2.810, 3.136),
        (-0.25, 2.815, 3.128),
        (4.3, 2.848, 3.120),
        (3.68, 2.279, 3.111),
        (3.59, 2.310, 3.103),
        (0.68, 2.101, 3.094),
        (3.3, 2.067, 3.085),
    ];
    assert_eq!(steps.len(), printed.len());
    for (step, (value, r, critical)) in steps.iter().zip(printed) {
        assert_eq!(rosner()[step.index], value);
        for (found, printed) in [(step.r, r), (step.critical, critical)] {
            assert!((printed..printed + 0.001).contains(&found), "{found} is not {printed}…");
        }
    }
    let above: Vec<bool> = steps.iter().map(|step| step.r > step.critical).collect();
    assert_eq!(above.iter().filter(|above| **above).count(), 1);
    assert!(above[2]);
}

#[test]
fn a_series_looks_for_a_tenth_of_its_touches() {
    // 54 touches: at most five outliers, of which three are found, as places in the series.
    let study = study(&log_of("plate", &[rosner()]));
    let found: Vec<usize> = study.series[0].outliers.iter().map(|step| step.index).collect();
    assert_eq!(found, [53, 52, 51]);
}

/// Five touches: one outlier at most, λ = 1.7150 (the two-sided Grubbs point for n = 5 at 5 %, any table).
#[test]
fn short_series() {
    let found = outliers(&[0.0, 1.0, -1.0, 0.5, 30.0]);
    assert_eq!((found.len(), found[0].index), (1, 4));
    agrees("λ", found[0].critical, 1.71504, 5.0);
}

/// statsmodels' `normal_ad` (`reference.py`).
#[test]
fn anderson_and_darling() {
    let near = [0.12, -0.31, 0.05, 0.44, -0.18, 0.27, -0.52, 0.09, 0.33, -0.07, 0.61, -0.24];
    let skew = [0.01, 0.02, 0.03, 0.05, 0.08, 0.13, 0.21, 0.34, 0.55, 0.89, 1.44, 2.33];
    let two = [-1.02, -1.01, -1.0, -0.99, -0.98, -0.97, 0.97, 0.98, 0.99, 1.0, 1.01, 1.02];
    for (x, a2, p) in [
        (near, 0.10612663103954, 0.99171021543471),
        (skew, 1.28824947251649, 0.00136089087237988),
        (two, 1.89732601634121, 3.34137383712739e-5),
    ] {
        let test = normality(&x).expect("twelve touches");
        agrees("A²", test.a2, a2, 10.0);
        agrees("p", test.p, p, 9.0);
        assert!(!test.stepped);
    }
    assert_eq!(normality(&near[..7]), None);
    assert_eq!(normality(&[1.0; 12]), None);
    assert!(normality(&[0.0, 1.0, 0.0, 1.0, 2.0, 1.0, 0.0, 1.0]).expect("eight").stepped);
}
