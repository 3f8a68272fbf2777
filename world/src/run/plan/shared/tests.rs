use super::*;

/// Shared ±3 and rest ±1 in all four combinations: variances 9 and 1; what follows the shared part counts with its covariance.
#[test]
fn the_rest_is_told_apart_from_what_is_shared() {
    let shared = Shared { each: Vec::new(), mean: 0.5, variance: 9.0 };
    let (mut even, mut following) = (Apart::default(), Apart::default());
    for i in 0..400 {
        let (a, b) = (if i % 2 == 0 { 3.5 } else { -2.5 }, if i % 4 < 2 { 1.0 } else { -1.0 });
        even.add(a, a + b + 0.25);
        following.add(a, 1.5 * a);
    }
    let seen = even.moments(&shared).expect("enough");
    assert!((seen.mean - 0.75).abs() < 1e-12 && (seen.variance - 10.0).abs() < 1e-12, "{seen:?}");
    assert!(seen.error < 1e-6, "±1 has no scatter of its square: {seen:?}");
    let seen = following.moments(&shared).expect("enough");
    assert!((seen.variance - 20.25).abs() < 1e-9, "{seen:?}");
    assert_eq!(Apart::default().moments(&shared), None);
}
