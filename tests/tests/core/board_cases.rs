//! The golden vectors of `tests/boards`: the very cases that boards make for themselves, each against the
//! oracle, and the digests against the committed table.
//!
//! A board's digest that is equal to the host's then says that the board is right, not just like the host.

use std::cell::Cell;

use proptest::prelude::*;
use zdatum::series::Pooled;
use zdatum::{Assessment, Draft, LastSpan, RefusalKind, Setup, Station};
use zdatum_boards_cases::{BLOCK, CASES, Kind, block, budget, landing, trim};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{ToExact, land};
use zdatum_tests::generate::Case;
use zdatum_tests::oracle::{self, Exact, fraction, of_bits, root, series, whole};

use crate::{oracle_budget, oracle_landing, oracle_trim};

/// All operations that a landing's check covers.
pub(crate) const LANDING: &[Operation] = &[
    Operation::Landing,
    Operation::Drop,
    Operation::Rise,
    Operation::Span,
    Operation::SpeedCorrection,
    Operation::GrowthCorrection,
    Operation::SoakCorrection,
    Operation::Uncertainty,
    Operation::SpanUncertainty,
    Operation::Dof,
    Operation::Factor,
    Operation::Expanded,
    Operation::ExpandedAtFactor,
    Operation::Term,
];

/// The cases of one kind.
pub(crate) fn cases(kind: Kind) -> impl Iterator<Item = u32> {
    (0..CASES).filter(move |case| Kind::of(*case) == kind)
}

/// Says which case failed.
pub(crate) fn hold(case: u32, result: Result<(), TestCaseError>) {
    result.unwrap_or_else(|error| panic!("case {case}: {error}"));
}

/// Whether `seen` is over `limit`; `None` where it is so near that the allowed error decides.
pub(crate) fn over(seen: &Exact, limit: &Exact, near: &Exact) -> Option<bool> {
    if seen > &(limit + near) {
        Some(true)
    } else if seen < &(limit - near) {
        Some(false)
    } else {
        None
    }
}

/// The verdict's reasons that a landing can have, compared with exact arithmetic; what is blurred may be or
/// not.
pub(crate) fn check_limits(
    draft: &Draft,
    seen: &zdatum::Landing,
    last: Option<&LastSpan>,
    has: &dyn Fn(RefusalKind) -> bool,
) -> Result<(), TestCaseError> {
    let bit = of_bits(1, 16);
    let outside = |x: &Exact, low: &Exact, high: &Exact, near: &Exact| match (
        over(low, x, near),
        over(x, high, near),
    ) {
        (Some(below), Some(above)) => Some(below || above),
        _ => None,
    };
    let check = |kind, right: Option<bool>| {
        prop_assert!(right.is_none_or(|right| right == has(kind)), "{:?} should be {:?}", kind, right);
        Ok(())
    };
    // Drop and rise are judged as they are stated, so nothing is blurred.
    let within = |kind, x: zdatum::Length, span: zdatum::setup::LengthRange| {
        check(kind, Some(x < span.low || x > span.high))
    };
    within(RefusalKind::DropOutOfPlace, seen.drop, draft.probe.drop)?;
    within(RefusalKind::PlateOutOfPlace, seen.rise, draft.plates.rise)?;
    let expanded = seen.uncertainty.expanded.exact();
    let window = draft.accept.landing;
    let (low, high) = (window.low.exact() + &expanded, window.high.exact() - &expanded);
    check(RefusalKind::LandingOutOfWindow, outside(&seen.height.exact(), &low, &high, &bit))?;
    let disproved = [RefusalKind::Unsteady, RefusalKind::Walking, RefusalKind::NoisierThanStudied];
    let stands = !disproved.into_iter().any(has);
    check(RefusalKind::TooUncertain, Some(stands && seen.uncertainty.expanded > draft.accept.expanded_u))?;
    if let Some(last) = last {
        let doubt = root(&(seen.span_variance.exact() + last.variance.exact()));
        let guard = doubt * of_bits(seen.uncertainty.factor.to_bits(), 16);
        let change = num_traits::Signed::abs(&(seen.span.exact() - last.span.exact()));
        let near = bit * whole(2);
        let beyond_last = over(&(change + guard), &draft.accept.shift.exact(), &near);
        let beyond_book = last.expected.map_or(Some(false), |expected| {
            let change = num_traits::Signed::abs(&(seen.span.exact() - expected.span.exact()));
            over(&change, &expected.limit.exact(), &near)
        });
        let moved = match (beyond_last, beyond_book) {
            (Some(true), _) | (_, Some(true)) => Some(true),
            (Some(false), Some(false)) => Some(false),
            _ => None,
        };
        check(RefusalKind::MovedTooFar, moved)?;
    }
    Ok(())
}

/// Whether touches walk, by study or by von Neumann's ratio; `None` where the table's own rounding decides.
pub(crate) fn walks(draft: &Draft, study: Option<Pooled>, z: &[i64]) -> Option<bool> {
    let step = fraction(draft.travel.steps.1, draft.travel.steps.0);
    if let Some(study) = study {
        // The core holds f(ν) to 2⁻¹³ and a little.
        let f = series::tail_factor(study.dof.get());
        let by = |part: i64| series::walks(z, &study.s.exact(), &step, &(&f * fraction(part, 10_000)));
        return (by(9_990) == by(10_010)).then(|| by(10_000));
    }
    // Exact 0.1 % points by Imhof's inversion for n = 5 to 9, as in the tests of that table.
    let points = [0.4160768, 0.3630469, 0.3692040, 0.4009793, 0.4413495];
    let Some(point) = z.len().checked_sub(5).and_then(|place| points.get(place)) else { return Some(false) };
    let Some(ratio) = series::von_neumann(z) else { return Some(false) };
    let off = oracle::to_f64(&ratio) - point;
    (off.abs() > 2e-5).then_some(off < 0.0)
}

/// Whether a tip's height is outside its range by more than a sound machine reads there.
pub(crate) fn tip_outside(setup: &Setup, tip: &num_bigint::BigInt) -> bool {
    let range = setup.draft().datum_switch.tip_height;
    let reads_low = setup.floors().tip_at_most(zdatum::Length::ZERO).expect("held").to_bits();
    let half_step = setup.step().one().to_bits() / 2;
    tip + reads_low < range.low.to_bits().into() || tip - half_step > range.high.to_bits().into()
}

/// Whether touches scatter more than their study allows, by the tail of Fisher's F; `None` within 0.5 % of the point.
pub(crate) fn noisy(draft: &Draft, study: Option<Pooled>, z: &[i64]) -> Option<bool> {
    let Some(study) = study.filter(|study| z.len() >= 3 && study.dof.get() >= 12) else { return Some(false) };
    let step = fraction(draft.travel.steps.1, draft.travel.steps.0);
    let s2 = series::sample_variance(z).expect("three touches") * of_bits(1, 32);
    if s2 <= &step * &step {
        return Some(false);
    }
    let s = study.s.exact();
    let ratio = oracle::to_f64(&(s2 / (&s * &s + &step * &step / whole(12))));
    let beyond = |part: f64| {
        let (count, dof) = (z.len() as f64 - 1.0, f64::from(study.dof.get()).min(1e8));
        zdatum_world::distributions::f_tail(ratio * part, count, dof).expect("a tail") < 0.000_2
    };
    (beyond(0.995) == beyond(1.005)).then(|| beyond(1.0))
}

fn bits(touches: &[zdatum::Length]) -> Vec<i64> {
    touches.iter().map(|z| i64::from(z.to_bits())).collect()
}

#[test]
fn landings_of_the_boards_are_right() {
    let ledger = Ledger::new(LANDING);
    let blurred = Cell::new(0);
    let (mut seen, mut too_few, mut accepted, mut out_of_range) =
        (std::collections::BTreeSet::new(), 0, 0, 0);
    for number in cases(Kind::Landing) {
        let record = landing::Record::of(number);
        let setup = Setup::check(record.draft.clone()).expect("every case's machine passes its check");
        let [tip, shoulder, plate] = [0, 1, 2].map(|station| record.recorded(station));
        let result = Assessment::of(&setup, &tip, &shoulder, &plate, record.last.as_ref());
        let studies = Station::ALL.map(|station| record.draft.pooled.of(station));
        let few = |z: &[zdatum::Length], study: Option<Pooled>| z.len() < if study.is_some() { 1 } else { 2 };
        let short = record.touches.iter().zip(studies).any(|(z, study)| few(z, study));
        let Ok(assessment) = result else {
            assert!(short, "case {number}: {result:?}");
            too_few += 1;
            continue;
        };
        assert!(!short, "case {number}: a station has too few touches");
        let touches = record.touches.clone().map(|z| bits(&z));
        let case = Case { draft: record.draft.clone(), touches, readings: record.readings };
        hold(number, oracle_landing::check_case(&ledger, &blurred, &case));

        // The way by `Assessment` gives the same landing, and its reasons are those of exact arithmetic.
        let landed = land(&setup, &case).and_then(|(_, landing)| landing.ok());
        assert_eq!(assessment.landing_seen(), landed.as_ref(), "case {number}");
        let has = |kind| assessment.refusals().iter().any(|refusal| refusal.kind == kind);
        let at = |kind, station| {
            assessment.refusals().iter().any(|refusal| refusal.kind == kind && refusal.station == station)
        };
        if landed.is_some() {
            let tip = oracle::nearest_up(&oracle::in_bits(
                &(series::centre(&case.touches[0], zdatum_tests::case::centre(record.draft.touch.centre))
                    * of_bits(1, 16)),
                16,
            ));
            let outside = tip_outside(&setup, &tip);
            assert_eq!(at(RefusalKind::TipOutOfPlace, Some(Station::Tip)), outside, "case {number}");
        }
        if let Some(landing) = &landed {
            hold(number, check_limits(&record.draft, landing, record.last.as_ref(), &has));
        }
        for ((station, study), z) in Station::ALL.into_iter().zip(studies).zip(&case.touches) {
            let spread = z.iter().max().expect("a touch") - z.iter().min().expect("a touch");
            let unsteady = spread > i64::from(record.draft.touch.band.to_bits());
            assert_eq!(at(RefusalKind::Unsteady, Some(station)), unsteady, "case {number}, {station:?}");
            if assessment.touches().is_some()
                && let Some(noisy) = noisy(&record.draft, study, z)
            {
                assert_eq!(
                    at(RefusalKind::NoisierThanStudied, Some(station)),
                    noisy,
                    "case {number}, {station:?}: {z:?}"
                );
            }
            if assessment.touches().is_some()
                && let Some(walks) = walks(&record.draft, study, z)
            {
                assert_eq!(
                    at(RefusalKind::Walking, Some(station)),
                    walks,
                    "case {number}, {station:?}: {z:?}"
                );
            }
        }
        out_of_range += u32::from(has(RefusalKind::OutOfRange));
        accepted += u32::from(assessment.accepted());
        assert_eq!(assessment.accepted(), assessment.refusals().is_empty(), "case {number}");
        seen.extend(assessment.refusals().iter().map(|refusal| refusal.kind.word()));
    }
    ledger.close();
    println!(
        "{accepted} accepted, {too_few} too few, {out_of_range} out of range, {} blurred",
        blurred.get()
    );
    let expected = [
        "unsteady",
        "walking",
        "drop-out-of-place",
        "plate-out-of-place",
        "landing-out-of-window",
        "moved-too-far",
        "too-uncertain",
        "out-of-range",
        "noisier-than-studied",
        "tip-out-of-place",
    ];
    assert!(expected.iter().all(|word| seen.contains(word)), "the cases must bring every reason: {seen:?}");
    assert!(accepted > 500 && too_few > 20, "{accepted} accepted, {too_few} too few");
}

#[test]
fn sums_of_the_boards_are_right() {
    let ledger = Ledger::new(&[
        Operation::Uncertainty,
        Operation::Dof,
        Operation::LargeDof,
        Operation::ExpandedAtFactor,
        Operation::Share,
    ]);
    for number in cases(Kind::Budget) {
        let sum = budget::Sum::of(number);
        let pairs: Vec<(u64, Option<u32>)> =
            sum.terms.iter().map(|term| (term.variance.to_bits(), term.dof.finite())).collect();
        let exact = oracle_budget::exact_terms(&pairs);
        hold(number, oracle_budget::check_sum(&ledger, &sum.terms, &exact, sum.coverage));
        hold(number, oracle_budget::check_shares(&ledger, &sum.terms));
    }
    ledger.close();
}

#[test]
fn trims_of_the_boards_are_right() {
    let ledger = Ledger::new(&[
        Operation::TrimDepth,
        Operation::TrimUncertainty,
        Operation::TrimWeight,
        Operation::TrimDisagreement,
    ]);
    let mut held = 0;
    for number in cases(Kind::Trim) {
        let trim::Gauge { known, parts, delay, check, weighing } = trim::Gauge::of(number);
        let seen = zdatum::trim::trim(&known, &parts, &delay, &check, weighing);
        let right = oracle_trim::for_oracle(&known, &parts, &delay, &check);
        match oracle_trim::compare(&ledger, &right, weighing, seen) {
            Ok(one) => held += u32::from(one),
            Err(error) => panic!("case {number}: {error}"),
        }
    }
    ledger.close();
    assert!(held * 10 > CASES / 4 * 9, "most cases can be held: {held}");
}

/// The table that boards are compared with is what these cases give here.
#[test]
fn the_golden_table_is_that_of_these_cases() {
    let text = include_str!("../../boards/golden.txt");
    let lines: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(lines.len() as u32, CASES / BLOCK);
    for (number, line) in (0..).zip(lines) {
        assert_eq!(
            line,
            format!("{number} {:08x}", block(number)),
            "tests/boards/run --write makes the table anew"
        );
    }
}
