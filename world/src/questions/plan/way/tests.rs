//! Figures of a way from runs that can be added up by hand.

use super::*;
use crate::questions::plan::tests::machine::{self, SILENT, tally};

fn way(tally: &Tally, within: f64, risk: f64) -> Way {
    let bench = machine::bench(&machine::draft(), &SILENT);
    Way::of(&bench.setup, tally, &machine::asked(&bench, within, risk))
}

#[track_caller]
fn assert_near(seen: f64, due: f64, relative: f64) {
    assert!((seen - due).abs() <= relative * due.abs(), "{seen}, not {due}");
}

#[test]
fn seconds_hold_what_refusals_cost() {
    // 8 · 20 s + 2 · 30 s + 2 · 40 s = 300 s for 8 landings.
    let seen = way(&tally([0.001; 8], 2, 0.02), 0.02, 0.05);
    assert_eq!((seen.runs, seen.accepted), (10, 8));
    assert_near(seen.seconds, 37.5, 1e-12);
    assert_near(way(&tally([0.001; 8], 0, 0.02), 0.02, 0.05).seconds, 20.0, 1e-12);
}

#[test]
fn moments_are_those_counted() {
    // ±3 µm about 1 µm: Σ(x − 1)² = 8 · 9, over 7.
    let seen = way(&tally([0.004, -0.002].repeat(4), 0, 0.02), 0.02, 0.05);
    assert_near(seen.mean, 0.001, 1e-8);
    assert_near(seen.sd, 0.003 * (8.0_f64 / 7.0).sqrt(), 1e-8);
    assert_near(seen.rms, (1e-6 + 9e-6 * 8.0 / 7.0_f64).sqrt(), 1e-8);
}

#[test]
fn what_is_refused_more_often_than_not_is_no_way() {
    let of = |accepted: usize, refused| {
        way(&tally([0.001, -0.001].repeat(accepted / 2), refused, 0.02), 0.02, 0.05)
    };
    let half = of(4, 4);
    assert!(half.reach.is_finite() && half.chance() < 1e-6);
    for seen in [of(4, 6), of(0, 0), of(0, 4)] {
        assert_eq!([seen.mean, seen.sd, seen.rms, seen.reach], [f64::INFINITY; 4]);
        assert_eq!((seen.chance(), seen.chance_beyond(1.0), seen.surely()), (1.0, 1.0, false));
    }
    assert_eq!(of(0, 4).seconds, f64::INFINITY);
}

/// 1.959964 and 3.290527 standard deviations hold all but 5 % and 0.1 % (worked out apart; NIST/SEMATECH
/// handbook, table 1.3.6.7.1, to its digits).
#[test]
fn reaches_are_those_of_the_normal_distribution() {
    assert!((reach(0.0, 2.0, 0.05) - 2.0 * 1.959_964).abs() < 1e-5);
    assert!((reach(0.0, 1.0, 0.001) - 3.290_527).abs() < 1e-5);
    // Far to one side a single tail is left: 1.644854 for 5 %.
    assert!((reach(-10.0, 1.0, 0.05) - 11.644_854).abs() < 1e-5);
    assert_eq!(reach(0.0, f64::INFINITY, 0.05), f64::INFINITY);
    assert!((beyond(0.3, 1.0, reach(0.3, 1.0, 1e-9)) / 1e-9 - 1.0).abs() < 1e-6);
}

/// Above 0.7 and 1.3 lie 0.2419637 and 0.0968005 (worked out apart).
#[test]
fn both_tails_count() {
    for mean in [0.3, -0.3] {
        assert_near(beyond(mean, 1.0, 1.0), 0.241_963_7 + 0.096_800_5, 1e-6);
    }
    // Without scatter all are beyond, or none.
    assert_eq!([beyond(0.0, 0.0, 0.0), beyond(0.3, 0.0, 1.0), beyond(-1.5, 0.0, 1.0)], [0.0, 0.0, 1.0]);
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

/// Of 400 errors 1 % is four; so many may be 13 by luck, 3 · (√4 + 1) more, and 1 % of normal ones lie beyond
/// 2.575829.
#[test]
fn a_tail_is_stretched_from_what_luck_leaves_open() {
    assert_eq!(stretch(&spread(387, &[(13, 3.0)]), 0.0, 1.0, 0.01), 1.0);
    assert_near(stretch(&spread(386, &[(14, 3.0)]), 0.0, 1.0, 0.01), 3.0 / 2.575_829, 1e-4);
    // As many as are expected beyond: the least that leaves so many out.
    assert_near(stretch(&spread(386, &[(10, 3.0), (4, 6.0)]), 0.0, 1.0, 0.01), 3.0 / 2.575_829, 1e-4);
    // Too few beyond: ten of 40,000 are missing, less than 3 · (√10 + 1).
    assert_eq!(stretch(&spread(40_000, &[]), 0.0, 1.0, 0.000_25), 1.0);
    assert!(stretch(&spread(40_000, &[]), 0.0, 1.0, 0.001) < 0.5);
    assert_eq!(stretch(&spread(400, &[]), 0.0, f64::INFINITY, 0.01), 1.0);
}

/// Rectangular errors reach less far than a normal tail with their deviation, and a few wild ones further.
#[test]
fn what_was_counted_overrules_the_normal_tail() {
    let even: Vec<f64> = (0..40_000).map(|i| (f64::from(i) - 19_999.5) / 20_000.0 * 0.01).collect();
    let seen = way(&tally(even.iter().copied(), 0, 0.02), 0.02, 0.001);
    assert!((seen.reach - 0.009_99).abs() < 2e-5, "{}", seen.reach);
    assert!(seen.surely() && !way(&tally(even.iter().copied(), 0, 0.01), 0.01, 0.001).surely());
    let wild = way(&tally(even.into_iter().chain([0.05; 400]), 0, 0.02), 0.02, 0.001);
    assert!((wild.reach - 0.05).abs() < 1e-4, "{}", wild.reach);
}
