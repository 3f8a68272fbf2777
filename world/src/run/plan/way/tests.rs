use super::*;

/// 1.959964 and 3.290527 standard deviations hold all but 5 % and 0.1 % (NIST/SEMATECH handbook, table 1.3.6.7.1).
#[test]
fn reaches_are_those_of_the_normal_distribution() {
    assert!((reach(0.0, 2.0, 0.05) - 2.0 * 1.959_964).abs() < 1e-5);
    assert!((reach(0.0, 1.0, 0.001) - 3.290_527).abs() < 1e-5);
    // Far to one side a single tail is left: 1.644854 for 5 %.
    assert!((reach(-10.0, 1.0, 0.05) - 11.644_854).abs() < 1e-5);
    assert_eq!(reach(0.0, f64::INFINITY, 0.05), f64::INFINITY);
    assert!((beyond(0.3, 1.0, reach(0.3, 1.0, 1e-9)) / 1e-9 - 1.0).abs() < 1e-6);
}

/// Rectangular errors reach less far than a normal tail with their deviation, and a few wild ones further.
#[test]
fn what_was_counted_overrules_the_normal_tail() {
    let mut even = Histogram::default();
    (0..40_000).for_each(|i| even.add((f64::from(i) - 19_999.5) / 20_000.0 * 0.01));
    let sd = 0.01 / 3.0_f64.sqrt();
    let found = stretch(&even, 0.0, sd, 0.001) * reach(0.0, sd, 0.001);
    assert!((found - 0.009_99).abs() < 2e-5, "{found}");
    (0..400).for_each(|_| even.add(0.05));
    let found = stretch(&even, 0.0, sd, 0.001) * reach(0.0, sd, 0.001);
    assert!((found - 0.05).abs() < 1e-4, "{found}");
}
