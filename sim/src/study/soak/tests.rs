use super::*;

#[track_caller]
fn near(seen: f64, due: f64) {
    assert!((seen / due - 1.0).abs() < 1e-9, "{seen}, not {due}");
}

/// In factors, either way, and no further than the limit.
#[test]
fn edges_are_found_in_factors() {
    near(edge(|x| x <= 50.0, 1.0, 1e4), 50.0);
    near(edge(|x| x <= 1.01, 1.0, 1e4), 1.01);
    near(edge(|x| x >= 0.02, 1.0, 1e-4), 0.02);
    near(edge(|x| x >= 0.99, 1.0, 1e-4), 0.99);
    assert_eq!(edge(|_| true, 1.0, 1e4), 1e4);
    assert_eq!(edge(|_| true, 1.0, 1e-4), 1e-4);
    // Beyond the limit nobody looks.
    assert_eq!(edge(|x| x <= 50.0, 1.0, 20.0), 20.0);
    // It stays inside: what is told was tried.
    let inside = |x: f64| x <= 7.3;
    assert!(inside(edge(inside, 1.0, 1e4)));
}

/// In steps of 1, 1.5, 2.25 … either way; none where it is inside as far as the limit.
#[test]
fn ways_outwards_end_where_they_should() {
    let found = |end: f64, step: f64, limit: f64| outwards(|x| x <= end, 1.0, step, limit);
    near(found(7.3, 1.0, 100.0).expect("an end"), 7.3);
    near(found(1.25, 1.0, 100.0).expect("an end"), 1.25);
    near(outwards(|x| x >= -20.0, 1.0, -0.5, 100.0).expect("an end"), -20.0);
    assert_eq!(outwards(|_| true, 1.0, 1.0, 100.0), None);
    assert_eq!(outwards(|_| true, 1.0, -1.0, 100.0), None);
    // Steps to 2, 3.5 and 5.75 away from 1: the last is tried where the limit is just so far, and no more
    // where it is less.
    assert!(found(5.0, 1.0, 4.75).is_some());
    assert_eq!(found(5.0, 1.0, 4.74), None);
    let steps = std::cell::Cell::new(0);
    let _ = outwards(
        |x| {
            steps.set(steps.get() + 1);
            x <= 1e4
        },
        0.0,
        1.0,
        1e6,
    );
    // 2·(1.5²² − 1) is the first beyond; then forty halvings.
    assert!(steps.get() <= 22 + 40, "{}", steps.get());
}

/// Rest of 2 with five degrees of freedom; F(0.05; 1, 5) = 6.6079 (worked out apart; NIST/SEMATECH
/// handbook, table 1.3.6.7.3, has 6.608).
#[test]
fn what_is_allowed_beside_the_best() {
    let seen = allowed(2.0, 5, 0.05);
    assert!((seen - 2.0 * (1.0 + 6.6079 / 5.0)).abs() < 1e-4, "{seen}");
    assert_eq!(allowed(2.0, 0, 0.05), f64::INFINITY);
    // Nothing left at all still allows itself.
    assert!(allowed(0.0, 5, 0.05) > 0.0);
}
