use super::*;

#[test]
fn confirmations_are_long_enough_or_not_begun() {
    assert_eq!(confirming(0.0005, 0.001, 20.0), Some(200_000));
    assert_eq!(confirming(0.0009, 0.001, 20.0), Some(1_000_000));
    // With five times the touches only a shorter one can be paid for.
    assert_eq!(confirming(0.0009, 0.001, 100.0), None);
    assert_eq!(confirming(0.001, 0.001, 20.0), None);
    assert_eq!(confirming(0.0, 0.000_01, 20.0), Some(1_000_000));
}
