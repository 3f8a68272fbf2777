//! A series as a container, and what of it is no question of arithmetic.

use std::num::NonZeroU32;

use zdatum::series::{CannotClose, Method};
use zdatum::units::Quantity;
use zdatum::{Centre, Length, OutOfRange, Pooled, Series, Variance};
use zdatum_tests::case::{ToExact, bits, series_of};
use zdatum_tests::generate::{centre, property, small};
use zdatum_tests::machine::{heights, mm, study, u};
use zdatum_tests::oracle::{error, whole};

fn method(which: Centre) -> Method {
    Method { centre: which, pooled: None, floor: Variance::ZERO }
}

#[test]
fn touches_are_kept_in_their_order_up_to_the_capacity() {
    let mut series = Series::<3>::new();
    assert!(series.is_empty());
    assert_eq!((series.len(), series.extremes(), series.spread()), (0, None, Ok(Length::ZERO)));
    assert_eq!(series.centre(Centre::Mean), Ok(None));
    for z in [3, 1, 2] {
        assert_eq!(series.push(bits(z)), Ok(()));
    }
    assert_eq!(series.push(bits(9)), Err(bits(9)), "given back where it is full");
    assert!(!series.is_empty());
    assert_eq!((series.len(), series.touches()), (3, &[bits(3), bits(1), bits(2)][..]));
    assert_eq!((series.extremes(), series.spread()), (Some((bits(1), bits(3))), Ok(bits(2))));
    series.drop_oldest(1);
    assert_eq!(series.touches(), [bits(1), bits(2)]);
    series.drop_oldest(0);
    assert_eq!(series.len(), 2);
    series.drop_oldest(5);
    assert!(series.is_empty());
    let _ = series.push(bits(7));
    series.clear();
    assert_eq!(series, Series::new());
}

#[test]
fn a_series_that_cannot_be_closed_says_why() {
    let none = series_of(&[]);
    assert_eq!(none.close(&method(Centre::Mean)), Err(CannotClose::TooFew));
    assert_eq!(none.close_single(Variance::ZERO), Err(CannotClose::TooFew));
    assert_eq!(series_of(&[5]).close(&method(Centre::Median)), Err(CannotClose::TooFew));
    let out = |quantity| Err(CannotClose::OutOfRange(OutOfRange { quantity }));
    let far = series_of(&heights(&["0", "256"]));
    for which in [Centre::Mean, Centre::Median, Centre::HodgesLehmann] {
        assert_eq!(far.close(&method(which)), out(Quantity::Length));
        assert!(far.centre(which).is_err());
    }
    assert_eq!(far.close_single(Variance::ZERO), out(Quantity::Length));
    // Two touches 16 mm apart: s²/n = 64 mm², beyond 16; 7.99 mm apart 15.96.
    assert_eq!(series_of(&heights(&["0", "16"])).close(&method(Centre::Mean)), out(Quantity::Variance));
    assert_eq!(series_of(&heights(&["0", "250"])).close(&method(Centre::Mean)), out(Quantity::Variance));
    assert!(series_of(&heights(&["0", "7.99"])).close(&method(Centre::Mean)).is_ok());
    // The factor of a centre can carry a variance over the end: 15.95 · 1.346.
    let three = heights(&["0", "0", "11.98"]);
    assert!(series_of(&three).close(&method(Centre::Mean)).is_ok());
    assert_eq!(series_of(&three).close(&method(Centre::Median)), out(Quantity::Variance));
    let pooled = Method { pooled: study("4", 3), ..method(Centre::Mean) };
    assert_eq!(series_of(&[1, 2]).close(&pooled), out(Quantity::Variance));
}

/// A height alone: the mean, with the variance of the steps and no end of degrees of freedom.
#[test]
fn a_single_touch_closes_for_its_height_alone() {
    let floor = Variance::from_bits(12_345);
    let seen = series_of(&[700]).close_single(floor).expect("one touch");
    assert_eq!((seen.count(), seen.centre(), seen.variance()), (1, bits(700).widen(), floor));
    assert_eq!((seen.dof().finite(), seen.spread(), seen.s()), (None, Length::ZERO, Ok(None)));
    assert_eq!((seen.walked(), seen.slope(), seen.von_neumann()), (Length::ZERO, Length::ZERO, None));
    let seen = series_of(&[700, 701, 705]).close_single(floor).expect("three touches");
    assert_eq!((seen.count(), seen.centre(), seen.spread()), (3, bits(702).widen(), bits(5)));
    assert_eq!(seen.variance(), floor);
}

/// u² that so many touches would have is u² of that many touches.
#[test]
fn the_variance_to_come_is_that_of_as_many_touches() {
    property((small(), 1_usize..=64, centre(), 0_u64..1 << 40), |(s, n, which, floor)| {
        let pooled = Some(Pooled { s, dof: NonZeroU32::new(9).expect("9") });
        let method = Method { centre: which, pooled, floor: Variance::from_bits(floor) };
        let closed = series_of(&vec![5; n]).close(&method);
        let ahead = method.variance_for(n);
        match closed {
            Ok(summary) => proptest::prop_assert_eq!(ahead, Some(summary.variance())),
            Err(_) => proptest::prop_assert_eq!(ahead, None),
        }
        Ok(())
    });
    let pooled = Method { pooled: study("0.002", 9), ..method(Centre::Mean) };
    assert_eq!(pooled.variance_for(0), None);
    assert!(
        error(
            pooled.variance_for(4).expect("a study").to_bits(),
            &(u("0.002").exact() * u("0.002").exact() / whole(4)),
            60
        ) <= 0.5
    );
    assert_eq!(method(Centre::Mean).variance_for(4), None, "no study");
    assert_eq!(Method { pooled: study("4", 9), ..method(Centre::Mean) }.variance_for(4), None);
}

/// A limit of two steps or of the noise, whichever is larger; none for what has no slope or cannot be held.
#[test]
fn walk_limits_by_hand() {
    let step = zdatum::Step::new(100, 1).expect("0.01 mm");
    let of = |z: &[i64], s: &str| {
        series_of(z).close_single(Variance::ZERO).expect("closed").walk_limit(
            &zdatum::Pooled { s: u(s), dof: std::num::NonZeroU32::new(1 << 21).expect("above 0") },
            step,
            step.rounding_variance(),
        )
    };
    assert_eq!(of(&[0, 0, 0], "0"), Some(mm("0.02")));
    // n = 5: 3.6·√(0.01² + 0.01²/12)·4/√10 = 0.047396.
    assert!(of(&[0; 5], "0.01").expect("held").to_bits().abs_diff(mm("0.047396").to_bits()) <= 1);
    assert_eq!(of(&[0], "0"), Some(mm("0.02")));
    assert_eq!(of(&[0; 3], "3.9"), None);
    assert_eq!(of(&[0; 3], "4"), None);
}
