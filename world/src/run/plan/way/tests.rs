//! Figures of a way from runs that can be added up by hand.

use super::*;
use crate::run::plan::tests::machine::{self, SILENT, mm, ran, speed, u};

/// Accepted runs of 20 s with these errors, and so many refused ones of 30 s.
fn tally(errors: impl IntoIterator<Item = f64>, refused: usize, within: f64) -> Tally {
    let mut tally = Tally::new(within);
    errors.into_iter().for_each(|error| tally.add(&ran(Some(error), 20.0)));
    (0..refused).for_each(|_| tally.add(&ran(None, 30.0)));
    tally
}

/// A way with these runs; a refused one costs 40 s beside its own time.
fn way(tally: &Tally, within: f64, risk: f64, moments: Option<Moments>) -> Way {
    let bench = machine::bench(&machine::draft(), &SILENT);
    let asked = Asked { refused_costs: 40.0, ..machine::asked(&bench, within, risk) };
    Way::of(&bench.setup, tally, &asked, moments)
}

/// A way whose error has these moments.
fn normal_way(mean: f64, sd: f64, error: f64) -> Way {
    way(
        &tally([0.001, -0.001].repeat(4), 0, 0.02),
        0.02,
        0.05,
        Some(Moments { mean, variance: sd * sd, error }),
    )
}

/// As many even errors on either side of zero, none beyond 10 µm.
fn even() -> impl Iterator<Item = f64> {
    (0..40_000).map(|i| (f64::from(i) - 19_999.5) / 20_000.0 * 0.01)
}

/// Their standard deviation: that of a rectangle.
fn even_sd() -> f64 {
    0.01 / 3.0_f64.sqrt()
}

#[track_caller]
fn assert_near(seen: f64, due: f64, relative: f64) {
    assert!((seen - due).abs() <= relative * due.abs(), "{seen}, not {due}");
}

#[test]
fn seconds_hold_what_refusals_cost() {
    // 8 · 20 s + 2 · 30 s + 2 · 40 s = 300 s for 8 landings.
    let seen = way(&tally([0.001; 8], 2, 0.02), 0.02, 0.05, None);
    assert_eq!((seen.runs, seen.accepted, seen.touches), (10, 8, 12.0));
    assert_near(seen.seconds, 37.5, 1e-12);
    // (40 + 37.5)/(1 − 0.2) · √(0.2 · 0.8/10).
    assert_near(seen.seconds_error, 96.875 * 0.016_f64.sqrt(), 1e-12);
    // None refused: a variance of a quarter of a run is left, √(0.25/8/8) = 1/16.
    let seen = way(&tally([0.001; 8], 0, 0.02), 0.02, 0.05, None);
    assert_near(seen.seconds, 20.0, 1e-12);
    assert_near(seen.seconds_error, (40.0 + 20.0) / 16.0, 1e-12);
}

#[test]
fn moments_are_those_counted_unless_they_are_known() {
    // ±3 µm about 1 µm: Σ(x − 1)² = 8 · 9, over 7.
    let seen = way(&tally([0.004, -0.002].repeat(4), 0, 0.02), 0.02, 0.05, None);
    assert_near(seen.mean, 0.001, 1e-8);
    assert_near(seen.sd, 0.003 * (8.0_f64 / 7.0).sqrt(), 1e-8);
    assert_near(seen.rms, (1e-6 + 9e-6 * 8.0 / 7.0_f64).sqrt(), 1e-8);
    // A normal variance is known to √(2/8) of itself, its root to half of that; three of those.
    assert_near(seen.margin, 0.75, 1e-8);

    let seen = normal_way(0.0, 0.01, 4e-6);
    assert_eq!((seen.mean, seen.sd, seen.rms), (0.0, 0.01, 0.01));
    // 3 · 4e-6/(2 · 1e-4).
    assert_near(seen.margin, 0.06, 1e-12);
    assert_eq!(normal_way(0.0, 0.01, 0.0).margin, LEAST_MARGIN);
    // 5 % and 0.5 % lie beyond 1.959964 and 2.807034 deviations, 1 % beyond 2.575829.
    assert_near(seen.reach, 0.019_599_64, 1e-6);
    assert_near(seen.reach_tenth, 0.028_070_34, 1e-6);
    assert_near(seen.reach_at(0.01), 0.025_758_29, 1e-6);
    assert_near(seen.chance(), 0.045_500_26, 1e-6);
    for tenth in [false, true] {
        assert_near(seen.predicted(Wanted { within: 0.02, tenth }), 0.045_500_26, 1e-6);
    }
}

#[test]
fn what_is_refused_more_often_than_not_is_no_way() {
    let of = |accepted: usize, refused| {
        way(&tally([0.001, -0.001].repeat(accepted / 2), refused, 0.02), 0.02, 0.05, None)
    };
    let half = of(4, 4);
    assert!(half.reach.is_finite() && half.reach_tenth.is_finite() && half.chance() < 1e-6);
    let fewer = of(4, 6);
    assert_near(fewer.seconds, (4.0 * 20.0 + 6.0 * 70.0) / 4.0, 1e-12);
    let none = of(0, 0);
    let moments = Moments { mean: 0.0, variance: 1e-6, error: 0.0 };
    let known = way(&Tally::new(0.02), 0.02, 0.05, Some(moments));
    for seen in [&fewer, &none, &of(0, 4), &known] {
        let all = [seen.mean, seen.sd, seen.rms, seen.reach, seen.reach_tenth];
        assert_eq!(all, [f64::INFINITY; 5]);
        assert_eq!(seen.chance(), 1.0);
        assert_eq!(seen.predicted(Wanted { within: 1.0, tenth: false }), 1.0);
        assert!(!seen.surely());
    }
    assert_eq!((none.seconds, none.runs, none.outside), (f64::INFINITY, 0, 0));
    assert_eq!(of(0, 4).seconds, f64::INFINITY);
}

/// Of errors that are even within 10 µm, 1 % and 0.1 % lie beyond 9.9 and 9.99 µm: less far than a normal tail.
#[test]
fn counted_tails_move_the_reach_and_what_is_predicted() {
    let seen = way(&tally(even(), 0, 0.02), 0.02, 0.01, None);
    assert_near(seen.reach, 0.0099, 1e-4);
    assert_near(seen.reach_tenth, 0.00999, 1e-4);
    // The normal tail's 5 % and 1 % lie 1.959964 and 2.575829 deviations out.
    assert_near(seen.reach_at(0.05), 0.0099 * 1.959_964 / 2.575_829, 1e-4);
    assert_near(seen.predicted(Wanted { within: 0.0099, tenth: false }), 0.01, 1e-3);
    assert_near(seen.predicted(Wanted { within: 0.00999, tenth: true }), 0.001, 2e-3);
}

#[test]
fn chances_are_counted_where_the_count_contradicts_the_normal_tail() {
    let of = |within: f64| way(&tally(even(), 0, within), within, 0.01, None);
    // 5 % lie beyond 9.5 µm, 10 % of normal ones would.
    let seen = of(0.0095);
    assert_eq!((seen.outside, seen.chance()), (2_000, 0.05));
    let (low, high) = seen.bounds(0.05);
    // By the normal approximation: 1.645 · √(0.05 · 0.95/40,000).
    assert!((low - 0.048_21).abs() < 5e-5 && (high - 0.051_79).abs() < 5e-5, "{low} to {high}");
    // At 1.5 deviations, 1 − 1.5/√3 = 0.133975 of the even ones and 0.133614 of normal ones: no contradiction.
    assert_near(of(1.5 * even_sd()).chance(), 0.133_614_4, 2e-4);
    // 3.662260 deviations leave 0.025 % of normal ones: ten of 40,000 are missing, less than 3 · (√10 + 1) and more than 3 · √10.
    assert_near(of(3.662_260 * even_sd()).chance(), 0.000_25, 1e-3);
    // 21 missing at 3.4641 deviations are more than 3 · (√21.3 + 1).
    assert_eq!(of(0.02).chance(), 0.0);
    let none = way(&tally([0.001; 10], 0, 0.02), 0.02, 0.05, None);
    let (low, high) = none.bounds(0.05);
    // None of ten: 1 − 0.05^(1/10).
    assert!(low == 0.0 && (high - 0.258_865_6).abs() < 1e-6, "{low} to {high}");
}

#[test]
fn a_promise_is_kept_surely_with_the_margin_on_top() {
    // 19.59964 µm and 6 % of it: 20.7756 µm.
    let with = |within| {
        way(
            &tally([0.001, -0.001].repeat(4), 0, within),
            within,
            0.05,
            Some(Moments { mean: 0.0, variance: 1e-4, error: 4e-6 }),
        )
    };
    assert!(with(0.0208).surely());
    assert!(!with(0.0207).surely());
    let mut just = with(0.02);
    just.within = just.reach * (1.0 + just.margin);
    assert!(just.surely());
}

#[test]
fn a_better_part_is_put_right_by_what_the_draws_are_off() {
    let (known, seen, better) =
        (normal_way(0.003, 0.005, 0.0), normal_way(0.001, 0.003, 0.0), normal_way(0.002, 0.004, 0.0));
    let right = known.put_right(&seen, better.clone());
    // 2 + 3 − 1 and 4² + 5² − 3²; 4² + 32 = 48.
    assert_near(right.mean, 0.004, 1e-12);
    assert_near(right.sd, 32e-6_f64.sqrt(), 1e-12);
    assert_near(right.rms, 48e-6_f64.sqrt(), 1e-12);
    assert_near(right.reach, reach(0.004, 32e-6_f64.sqrt(), 0.05), 1e-12);
    // No variance is left where the draws scattered by more than all of it.
    let none = known.put_right(&normal_way(0.001, 0.010, 0.0), better);
    assert_eq!(none.sd, 0.0);
    assert_near(none.reach, 0.004, 1e-9);
}

#[test]
fn keys_are_in_the_order_of_their_numbers() {
    let own = machine::draft().touch;
    let of = |touch: Touch| key(&touch);
    assert_eq!(of(own).0, [4, 9, 0, 0]);
    assert_eq!(of(own).1.map(f64::from_bits), [2.0, 6.0, 0.5, own.stop.to_f64(), 1.0, 0.0]);
    for more in [
        Touch { least: 5, ..own },
        Touch { most: 10, ..own },
        Touch { settle: 1, ..own },
        Touch { centre: Centre::Median, ..own },
        Touch { fine_speed: speed("3"), ..own },
        Touch { first_speed: speed("10"), ..own },
        Touch { lift: mm("1.5"), ..own },
        Touch { stop: mm("0.2"), ..own },
        Touch { band: mm("3"), ..own },
        Touch { target_u: u("0.001"), ..own },
    ] {
        assert!(of(more) > of(own), "{more:?}");
    }
    assert!(of(Touch { centre: Centre::HodgesLehmann, ..own }) > of(Touch { centre: Centre::Median, ..own }));
}

/// Above 0.7 and 1.3 lie 0.2419637 and 0.0968005 (worked out apart).
#[test]
fn both_tails_count() {
    for mean in [0.3, -0.3] {
        assert_near(beyond(mean, 1.0, 1.0), 0.241_963_7 + 0.096_800_5, 1e-6);
        assert_near(beyond(2.0 * mean, 2.0, 2.0), 0.241_963_7 + 0.096_800_5, 1e-6);
    }
    // Without scatter all are beyond, or none.
    assert_eq!([beyond(0.0, 0.0, 0.0), beyond(0.3, 0.0, 1.0), beyond(-1.5, 0.0, 1.0)], [0.0, 0.0, 1.0]);
}

/// A reach grows with the deviation, however large that is.
#[test]
fn large_deviations_reach_as_far() {
    assert_near(reach(0.0, 20.0, 0.001), 20.0 * 3.290_527, 1e-6);
    assert_near(reach(-5.0, 0.0, 0.001), 5.0, 1e-12);
}

/// So many errors of ½, and so many beyond, on both sides alike.
fn spread(inside: usize, beyond: &[(usize, f64)]) -> Histogram {
    let mut errors = Histogram::default();
    (0..inside).for_each(|_| errors.add(0.5));
    for (count, error) in beyond {
        (0..*count).for_each(|i| errors.add(if i % 2 == 0 { *error } else { -*error }));
    }
    errors
}

/// Of 400 errors 1 % is four; so many may be 13 by luck, 3 · (√4 + 1) more, and 1 % of normal ones lie beyond 2.575829.
#[test]
fn a_tail_is_stretched_from_what_luck_leaves_open() {
    assert_eq!(stretch(&spread(387, &[(13, 3.0)]), 0.0, 1.0, 0.01), 1.0);
    let found = stretch(&spread(386, &[(14, 3.0)]), 0.0, 1.0, 0.01);
    assert_near(found, 3.0 / 2.575_829, 1e-4);
    // As many as are expected beyond: the least that leaves so many out.
    let found = stretch(&spread(386, &[(10, 3.0), (4, 6.0)]), 0.0, 1.0, 0.01);
    assert_near(found, 3.0 / 2.575_829, 1e-4);
    let found = stretch(&spread(386, &[(14, 30.0)]), 0.0, 1.0, 0.01);
    assert_near(found, 30.0 / 2.575_829, 1e-4);
    // Too few beyond: ten of 40,000 are missing, less than 3 · (√10 + 1).
    assert_eq!(stretch(&spread(40_000, &[]), 0.0, 1.0, 0.000_25), 1.0);
    assert!(stretch(&spread(40_000, &[]), 0.0, 1.0, 0.001) < 0.5);
    // The normal tail where both agree: as many beyond 1.5 deviations.
    let mut errors = Histogram::default();
    even().for_each(|error| errors.add(error));
    assert_eq!(stretch(&errors, 0.0, even_sd(), 0.133_614_4), 1.0);
}

#[test]
fn no_tail_is_stretched_that_is_none() {
    // All at zero, and a reach of zero.
    let mut errors = Histogram::default();
    (0..40_000).for_each(|_| errors.add(0.0));
    assert_eq!(stretch(&errors, 0.0, 0.0, 0.01), 1.0);
    assert_eq!(stretch(&errors, 0.0, f64::INFINITY, 0.01), 1.0);
    // However far the errors are beyond, a stretch ends with the doubling that passes a million.
    assert_near(stretch(&spread(400, &[]), 0.0, 1e-9, 0.01), 1_048_576.0, 1e-12);
}

/// 1.959964 and 3.290527 standard deviations hold all but 5 % and 0.1 % (worked out apart; NIST/SEMATECH handbook, table 1.3.6.7.1, to its
/// digits).
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
