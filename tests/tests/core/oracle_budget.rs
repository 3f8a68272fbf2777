//! Sums of independent terms against the oracle: u, ν, k, U, shares.

use proptest::collection::vec;
use proptest::prelude::*;
use std::num::NonZeroU32;
use zdatum::{Combined, Coverage, Dof, Source, Term, Variance};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::ToExact;
use zdatum_tests::generate::{coverage, property, within};
use zdatum_tests::oracle::{Exact, coverage as student, dof, error, fraction, of_bits, root, to_f64, whole};

/// A term with its variance in bits; ν `None` where infinite.
pub(crate) fn term(variance: u64, nu: Option<u32>) -> Term {
    let dof = nu.and_then(NonZeroU32::new).map_or(Dof::INFINITE, Dof::new);
    Term { source: Source::Other(0), variance: Variance::from_bits(variance), dof }
}

fn terms() -> impl Strategy<Value = Vec<(u64, Option<u32>)>> {
    let variance = (0_u32..=58, any::<u64>()).prop_map(|(scale, x)| x >> 4 >> scale);
    let nu = prop_oneof![
        4 => within(1, 100).prop_map(|nu| Some(nu as u32)),
        1 => within(1, i64::from(u32::MAX) - 1).prop_map(|nu| Some(nu as u32)),
        2 => Just(None)
    ];
    vec((variance, nu), 1..=15)
}

pub(crate) fn exact_terms(terms: &[(u64, Option<u32>)]) -> Vec<(Exact, Option<u32>)> {
    terms.iter().map(|(v, nu)| (of_bits(*v, 60), *nu)).collect()
}

/// One sum against exact arithmetic.
pub(crate) fn check_sum(
    ledger: &Ledger,
    given: &[Term],
    exact: &[(Exact, Option<u32>)],
    asked: Coverage,
) -> Result<(), TestCaseError> {
    let total = exact.iter().fold(whole(0), |sum, (v, _)| sum + v);
    let nu = dof::welch_satterthwaite(exact);
    let Ok(seen) = Combined::of(given, asked) else {
        prop_assert!(total > whole(15));
        return Ok(());
    };
    prop_assert_eq!(seen.variance.exact(), total.clone());
    let u = root(&total);
    ledger.see(Operation::Uncertainty, error(seen.u.to_bits(), &u, 24))?;
    ledger.see(
        Operation::ExpandedAtFactor,
        error(seen.expanded.to_bits(), &(u * of_bits(seen.factor.to_bits(), 16)), 24),
    )?;
    prop_assert_eq!(seen.factor, asked.factor(seen.dof));
    match nu {
        None => prop_assert_eq!(seen.dof, Dof::INFINITE),
        Some(nu) if nu <= whole(1 << 20) => {
            // Each term's square loses up to 3 of 2^62.
            let lost = 3.0 * given.len() as f64 * to_f64(&nu).powi(2) * 2.0_f64.powi(-62);
            if dof::distance_to_change(&nu) > lost {
                let off = whole(seen.dof.finite().unwrap_or(u32::MAX)) - dof::truncate(&nu);
                ledger.see(Operation::Dof, to_f64(&off).abs())?;
            }
        }
        Some(nu) => {
            let nu = to_f64(&dof::truncate(&nu));
            match seen.dof.finite() {
                Some(seen) => ledger.see(Operation::LargeDof, (f64::from(seen) - nu).abs() / nu)?,
                None => prop_assert!(nu > 4.29e9 * (1.0 - 1e-6), "{}", nu),
            }
        }
    }
    Ok(())
}

/// Each term's share of the sum.
pub(crate) fn check_shares(ledger: &Ledger, given: &[Term]) -> Result<(), TestCaseError> {
    let Ok(seen) = Combined::of(given, Coverage::P95) else { return Ok(()) };
    for part in given {
        let share = seen.share(part);
        if seen.variance == Variance::ZERO {
            prop_assert_eq!(share, zdatum::Ratio::ZERO);
        } else {
            let exact = part.variance.exact() / seen.variance.exact();
            // Below (0.001 µm)² the share is not worth a bit.
            if seen.variance.to_bits() > 1 << 20 {
                ledger.see(Operation::Share, error(share.to_bits(), &exact, 16))?;
            }
        }
    }
    Ok(())
}

oracle_tests! {
    fn sums_of_terms_agree(ledger: [Uncertainty, Dof, LargeDof, ExpandedAtFactor]) {
        property((terms(), coverage()), |(terms, asked)| {
            let given: Vec<Term> = terms.iter().map(|(v, nu)| term(*v, *nu)).collect();
            let exact = exact_terms(&terms);
            check_sum(ledger, &given, &exact, asked)
        });
    }

    fn shares_agree(ledger: [Share]) {
        property(terms(), |terms| {
            let given: Vec<Term> = terms.iter().map(|(v, nu)| term(*v, *nu)).collect();
            check_shares(ledger, &given)
        });
    }

    /// Exhaustive for ν = 1 to 1,000, then in steps, against the closed sums of the distribution function.
    fn student_factors_agree(ledger: [Factor]) {
        let mut nus: Vec<u64> = (1..=1_000).collect();
        nus.extend([1_024, 1_448, 2_048, 4_095, 10_000, 65_535, 100_000, 1_000_000]);
        for asked in Coverage::ALL {
            let p = f64::from(asked.percent()) / 100.0;
            let mut before = f64::INFINITY;
            for nu in &nus {
                let dof = Dof::new(NonZeroU32::new(*nu as u32).expect("from 1 up"));
                let k = f64::from(asked.factor(dof).to_bits()) / 65_536.0;
                let off = (k / student::factor(p, Some(*nu)) - 1.0).abs() * 100.0;
                ledger.see(Operation::Factor, off).unwrap_or_else(|e| panic!("ν = {nu}, {asked:?}: {e}"));
                assert!(k <= before, "k must not rise with ν: {nu}");
                before = k;
            }
            // From there on k can only fall, to the normal's.
            let normal = f64::from(asked.factor(Dof::INFINITE).to_bits()) / 65_536.0;
            let off = (normal / student::factor(p, None) - 1.0).abs() * 100.0;
            ledger.see(Operation::Factor, off).expect("the normal's factor");
            for nu in [1 << 21, 1 << 25, 1 << 31, u32::MAX - 1] {
                let k = f64::from(asked.factor(Dof::new(NonZeroU32::new(nu).expect("large"))).to_bits()) / 65_536.0;
                assert!(k <= before && k >= normal, "{nu}");
                before = k;
            }
        }
    }
}

/// ν within 2^-16 below a whole number counts as that number; one part in 2^32 further down it does not.
#[test]
fn nearly_whole_degrees_of_freedom_count_as_whole() {
    // One term a with ν = 1 and one b known exactly: ν = ((a + b)/a)². For ν = 9 − e: b/a = 3·√(1 − e/9) − 1.
    for (below_nine, expected) in [(0.0, 9), (0.9, 9), (0.999, 9), (1.001, 8), (1.1, 8), (1e4, 8)] {
        let e = below_nine * 2.0_f64.powi(-16);
        let a = 1_u64 << 52;
        let b = ((3.0 * (1.0 - e / 9.0_f64).sqrt() - 1.0) * a as f64).round() as u64;
        let exact = dof::welch_satterthwaite(&[(of_bits(a, 60), Some(1)), (of_bits(b, 60), None)]);
        let off = whole(9) - exact.expect("finite");
        assert!((to_f64(&off) - e).abs() < 1e-9, "the case is what it says");
        let seen = Combined::of(&[term(a, Some(1)), term(b, None)], Coverage::P95).expect("held");
        assert_eq!(seen.dof.finite(), Some(expected), "{below_nine}");
    }
}

/// Nothing but exactly known terms, or nothing at all: ν is infinite and k the normal's.
#[test]
fn only_exactly_known_terms_leave_infinite_degrees_of_freedom() {
    for terms in
        [vec![], vec![term(1 << 40, None)], vec![term(0, Some(3)), term(5, None)], vec![term(0, Some(3))]]
    {
        let seen = Combined::of(&terms, Coverage::P99).expect("held");
        assert_eq!(seen.dof, Dof::INFINITE);
        assert_eq!(seen.dof.finite(), None);
        assert_eq!(seen.factor, Coverage::P99.factor(Dof::INFINITE));
    }
    assert_eq!(Dof::new(NonZeroU32::MAX), Dof::INFINITE);
}

/// u² of 16 mm² or U of 256 mm cannot be held; just below both can.
#[test]
fn the_ends_of_the_range_are_errors() {
    let most = u64::MAX;
    assert!(Combined::of(&[term(most, None)], Coverage::P99).is_ok());
    assert!(Combined::of(&[term(most, None), term(1, None)], Coverage::P99).is_err());
    let wide = zdatum::budget::expand(
        Variance::from_bits(most),
        zdatum::Ratio::from_bits((64 << 16) + 1).expect("above 64"),
    );
    assert_eq!(wide, Err(zdatum::OutOfRange { quantity: zdatum::units::Quantity::Uncertainty }));
    let held =
        zdatum::budget::expand(Variance::from_bits(most), zdatum::Ratio::from_bits(64 << 16).expect("64"));
    assert!(held.is_ok());
}

/// A term's share of its own sum is one, of a sum twice its size one half.
#[test]
fn shares_of_simple_sums() {
    let (a, b) = (term(1 << 40, Some(4)), term(3 << 40, None));
    let seen = Combined::of(&[a, b], Coverage::P95).expect("held");
    assert_eq!(seen.share(&a).to_bits(), 1 << 14);
    assert_eq!(seen.share(&b).to_bits(), 3 << 14);
    assert_eq!(seen.share(&term(4 << 40, None)), zdatum::Ratio::ONE);
    let exact = fraction(1, 4) + fraction(3, 4);
    assert_eq!(exact, whole(1));
}
