//! Whole cycles against the oracle: landing, corrections, uncertainty.

use std::cell::Cell;

use num_traits::{Signed, Zero};
use proptest::prelude::*;
use zdatum::landing::budget;
use zdatum::setup::Follows;
use zdatum::{Coverage, Landing, Setup, Source, Station};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{for_oracle, land};
use zdatum_tests::generate::{Case, cycle, property};
use zdatum_tests::oracle::landing::{Worked, work_out};
use zdatum_tests::oracle::{Exact, coverage, dof, error, of_bits, root, to_f64, whole};

/// Whether a value can be held.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum Holds {
    Yes,
    /// So near the end of the range that the allowed error decides.
    Edge,
    No,
}

fn length_holds(x: &Exact) -> Holds {
    let edge = of_bits(2, 16);
    let (low, high) = (whole(-32_768), whole(32_768));
    if x > &(&low + &edge) && x < &(&high - &edge) {
        Holds::Yes
    } else if x < &(low - &edge) || x > &(high + &edge) {
        Holds::No
    } else {
        Holds::Edge
    }
}

fn below(x: &Exact, limit: i64) -> Holds {
    let (limit, edge) = (whole(limit), of_bits(1, 10));
    if x < &(&limit * (whole(1) - &edge)) {
        Holds::Yes
    } else if x > &(limit * (whole(1) + edge)) {
        Holds::No
    } else {
        Holds::Edge
    }
}

/// Whether everything of a landing can be held.
fn landing_holds(worked: &Worked, coverage_asked: Coverage) -> Holds {
    let lengths = [&worked.landing, &worked.drop, &worked.rise, &worked.span, &worked.speed, &worked.growth];
    let worst = lengths.into_iter().map(length_holds).max().expect("six lengths");
    let variance = below(&worked.variance(), 16);
    let k = factor(coverage_asked, dof::welch_satterthwaite(&worked.terms));
    let expanded = below(&(root(&worked.variance()) * Exact::from_float(k).expect("finite")), 256);
    worst.max(variance).max(expanded)
}

fn p(asked: Coverage) -> f64 {
    f64::from(asked.percent()) / 100.0
}

/// k for an exact ν; beyond 10^5 the normal's, which is then within 0.01 %.
fn factor(asked: Coverage, nu: Option<Exact>) -> f64 {
    let nu = nu.map(|nu| to_f64(&dof::truncate(&nu)) as u64).filter(|nu| *nu < 100_000);
    coverage::factor(p(asked), nu)
}

pub(crate) fn check_case(ledger: &Ledger, blurred: &Cell<u32>, case: &Case) -> Result<(), TestCaseError> {
    let setup = Setup::check(case.draft.clone())
        .map_err(|bad| TestCaseError::fail(format!("the generator made a bad setup: {bad}")))?;
    let asked = case.draft.accept.coverage;
    let worked = work_out(&for_oracle(case)).expect("two touches at each station");
    let Some((touches, landing)) = land(&setup, case) else {
        prop_assert!(
            worked.closed.iter().any(|closed| below(&closed.variance, 16) != Holds::Yes)
                || case.touches.iter().any(|z| z.iter().any(|x| (x - z[0]).abs() >= 1 << 24)),
            "a series that can be held did not close"
        );
        return Ok(());
    };
    let landing = match (landing, landing_holds(&worked, asked)) {
        (Ok(landing), Holds::Yes | Holds::Edge) => landing,
        (Err(_), Holds::No | Holds::Edge) => return Ok(()),
        (landing, holds) => {
            return Err(TestCaseError::fail(format!("holds: {holds:?}, yet the core says {landing:?}")));
        }
    };
    check_lengths(ledger, &landing, &worked)?;
    check_uncertainty(ledger, blurred, &landing, &worked, asked)?;

    // The budget: each source's term once; those that add nothing are left out.
    let terms = budget(&setup, &touches).expect("what the landing holds, its budget holds");
    let mut left: Vec<Source> = terms.iter().map(|term| term.source).collect();
    for (place, (variance, nu)) in worked.terms.iter().enumerate() {
        let source = source(place, worked.terms.len());
        let u = root(variance);
        match terms.iter().find(|term| term.source == source) {
            Some(term) => {
                ledger.see(Operation::Term, error(term.variance.root().to_bits(), &u, 24))?;
                let at_floor = place < 3 && nu.is_some() != term.dof.finite().is_some();
                prop_assert!(at_floor || term.dof.finite() == *nu);
                left.retain(|other| *other != source);
            }
            // A product below half of 2^-30 mm squares to nothing.
            None => prop_assert!(u <= of_bits(1, 31), "{:?} is missing", source),
        }
    }
    prop_assert!(left.is_empty(), "sources that do not exist: {:?}", left);
    Ok(())
}

/// The source at a place of the oracle's terms.
fn source(place: usize, count: usize) -> Source {
    match place {
        0 => Source::Touches(Station::Tip),
        1 => Source::Touches(Station::Shoulder),
        2 => Source::Touches(Station::Plate),
        3 => Source::TipBetween,
        4 => Source::SpanBetween,
        5 => Source::TripDepth,
        6 => Source::PlateLatency,
        7 => Source::DatumLatency,
        _ => match count - place {
            1 => Source::Unseen,
            2 => Source::Soak,
            3 => Source::Readings(Follows::Chamber),
            4 => Source::Readings(Follows::Bed),
            5 => Source::Readings(Follows::Tool),
            _ => Source::Growth((place - 8) as u8),
        },
    }
}

fn check_lengths(ledger: &Ledger, landing: &Landing, worked: &Worked) -> Result<(), TestCaseError> {
    ledger.see(Operation::Landing, error(landing.height.to_bits(), &worked.landing, 16))?;
    ledger.see(Operation::Drop, error(landing.drop.to_bits(), &worked.drop, 16))?;
    ledger.see(Operation::Rise, error(landing.rise.to_bits(), &worked.rise, 16))?;
    ledger.see(Operation::Span, error(landing.span.to_bits(), &worked.span, 16))?;
    ledger.see(Operation::SpeedCorrection, error(landing.corrections.speed.to_bits(), &worked.speed, 16))?;
    ledger
        .see(Operation::GrowthCorrection, error(landing.corrections.growth.to_bits(), &worked.growth, 16))?;
    ledger.see(Operation::SoakCorrection, error(landing.corrections.soak.to_bits(), &worked.soak, 16))?;
    let span_u = root(&worked.span_variance);
    ledger.see(Operation::SpanUncertainty, error(landing.span_u().to_bits(), &span_u, 24))
}

fn check_uncertainty(
    ledger: &Ledger,
    blurred: &Cell<u32>,
    landing: &Landing,
    worked: &Worked,
    asked: Coverage,
) -> Result<(), TestCaseError> {
    let seen = &landing.uncertainty;
    let u = root(&worked.variance());
    ledger.see(Operation::Uncertainty, error(seen.u.to_bits(), &u, 24))?;

    // Where a station's u² is within a rounding of Δ²/12 or ν within one of a whole number, either answer is
    // right.
    let at_floor = worked.closed.iter().any(|c| {
        (&c.unfloored - &c.variance).abs() < of_bits(2, 60) && (!c.unfloored.is_zero()) && c.dof.is_none()
    });
    let exact = dof::welch_satterthwaite(&worked.terms);
    let size = exact.as_ref().map_or(0.0, to_f64);
    // A station's u² is held to 1.5 of 2^-60 mm², and the products behind latencies and growing parts are
    // rounded to 2^-30 mm before they are squared; ν, made of squares of u², sees twice that against its
    // size.
    let finite = worked.closed.iter().filter(|closed| closed.dof.is_some());
    let stations: f64 = finite.map(|closed| 1.5 / to_f64(&closed.variance) * 2.0_f64.powi(-60)).sum();
    let products = worked.terms.iter().skip(6).map(|(variance, _)| to_f64(&root(variance))).sum::<f64>();
    let coarse = 2.0 * (stations + products * 2.0_f64.powi(-30) / to_f64(&worked.variance()).max(1e-30));
    let reach = size * (2.0_f64.powi(-26) + coarse) + 2.0_f64.powi(-20);
    let near = exact.as_ref().is_some_and(|nu| dof::distance_to_change(nu) < reach);
    if at_floor || near {
        blurred.set(blurred.get() + 1);
    }
    if at_floor {
        return Ok(());
    }
    match (seen.dof.finite(), &exact) {
        (None, None) => {}
        // Either side of the change is right; what follows from it is held all the same.
        (Some(nu), Some(_)) if near => {
            prop_assert!((f64::from(nu) - size).abs() <= 1.0 + reach, "ν {} against {}", nu, size);
        }
        (Some(nu), Some(exact)) if size <= 2.0_f64.powi(20) => {
            let off = whole(nu) - dof::truncate(exact);
            ledger.see(Operation::Dof, to_f64(&off).abs())?;
        }
        (nu, _) if size > 2.0_f64.powi(20) => {
            let nu = nu.map_or(f64::INFINITY, f64::from);
            prop_assert!(nu > 2.0_f64.powi(20) * 0.999, "ν {nu} against {size}");
        }
        (nu, _) => return Err(TestCaseError::fail(format!("ν {nu:?} against {size}"))),
    }

    let exact = if near { seen.dof.finite().map(whole) } else { exact };
    let k = factor(asked, exact);
    let k_seen = f64::from(seen.factor.to_bits()) / 65_536.0;
    ledger.see(Operation::Factor, (k_seen / k - 1.0).abs() * 100.0)?;
    let expanded = to_f64(&u) * k * 2.0_f64.powi(24);
    let off = (f64::from(seen.expanded.to_bits()) - expanded).abs() - 0.0005 * expanded;
    ledger.see(Operation::Expanded, off.max(0.0))?;
    let at_factor = u * of_bits(seen.factor.to_bits(), 16);
    ledger.see(Operation::ExpandedAtFactor, error(seen.expanded.to_bits(), &at_factor, 24))
}

oracle_tests! {
    /// Random and extreme cycles over all of the ranges.
    fn whole_cycles_agree_with_exact_arithmetic(ledger: [
        Landing, Drop, Rise, Span, SpeedCorrection, GrowthCorrection, SoakCorrection, Uncertainty, SpanUncertainty, Dof, Factor, Expanded,
        ExpandedAtFactor, Term
    ]) {
        let blurred = Cell::new(0);
        let cases = Cell::new(0_u32);
        property(cycle(), |case| {
            cases.set(cases.get() + 1);
            check_case(ledger, &blurred, &case)
        });
        println!("{} of {} cycles near a change of ν or of the floor", blurred.get(), cases.get());
        assert!(blurred.get() * 20 <= cases.get(), "the generator avoids what is to be tested");
    }
}
