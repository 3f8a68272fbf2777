//! The plate book against the oracle.

use std::cell::Cell;

use num_traits::Signed;
use proptest::collection::vec;
use proptest::prelude::*;
use zdatum::plates::{Named, PlateBook, Recognised};
use zdatum::{Coverage, Dof, Uncertainty, Variance};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{ToExact, bits, u_bits};
use zdatum_tests::generate::{property, within};
use zdatum_tests::oracle::{Exact, error, fraction, of_bits, plates as exact, root, to_f64, whole};

/// Plates with spans, a reading with its u, the seating.
#[derive(Clone, Debug)]
struct Case {
    seating: Uncertainty,
    plates: Vec<Vec<i64>>,
    span: i64,
    variance: Variance,
}

fn cases() -> impl Strategy<Value = Case> {
    // Plates from micrometres to a millimetre apart, each scattering by 0.1 µm to 0.5 mm.
    let plate = (0_i64..200_000, 3_u32..15).prop_flat_map(|(at, size)| {
        let reach = 1_i64 << size;
        vec(at - reach..=at + reach, 1..12)
    });
    let small =
        || (1_u32..1 << 22, 0_u32..20).prop_map(|(bits, scale)| u_bits(i64::from((bits >> scale).max(1))));
    (
        small(),
        vec(plate, 1..=5),
        -1_000_i64..201_000,
        small(),
        any::<proptest::sample::Index>(),
        any::<bool>(),
    )
        .prop_map(|(seating, plates, anywhere, u, near, at)| {
            let plate = near.get(&plates);
            let span = if at { plate[0] + anywhere % 8_192 } else { anywhere };
            Case { seating, plates, span, variance: u.variance().expect("below 4 mm") }
        })
}

fn books(case: &Case) -> (PlateBook<usize, 5>, exact::Book) {
    let mut book = PlateBook::new(case.seating);
    for (name, spans) in case.plates.iter().enumerate() {
        for span in spans {
            book.record(name, bits(*span), case.variance, 0).expect("room");
        }
    }
    let plates = case.plates.iter().map(|spans| spans.iter().map(|span| of_bits(*span, 16)).collect());
    (book, exact::Book { seating: case.seating.exact(), plates: plates.collect() })
}

fn sums(ledger: &Ledger, case: &Case) -> Result<(), TestCaseError> {
    let (book, right) = books(case);
    let (s, dof) = book.scatter().expect("held");
    let (pooled, nu) = right.pooled();
    prop_assert_eq!(dof.finite(), Some(nu));
    ledger.see(Operation::PlateSpread, error(s.to_bits(), &root(&pooled), 24))?;
    for (plate, spans) in book.plates().iter().zip(&right.plates) {
        ledger.see(
            Operation::PlateSpan,
            error(plate.span().expect("held").to_bits(), &exact::mean(spans), 16),
        )?;
        prop_assert_eq!(plate.count() as usize, spans.len());
        prop_assert_eq!(plate.last().span.exact(), spans[spans.len() - 1].clone());
        let own = (spans.len() > 1).then(|| exact::scatter(spans) / whole(spans.len() - 1));
        let spread = plate.spread().expect("held");
        prop_assert_eq!(spread.is_some(), own.is_some());
        if let (Some(spread), Some(own)) = (spread, &own) {
            ledger.see(Operation::PlateSpread, error(spread.to_bits(), &root(own), 24))?;
        }
        let u2 = own.into_iter().fold(case.variance.exact(), Exact::max) * fraction(1, spans.len());
        ledger.see(Operation::PlateSpread, error(plate.u().expect("held").to_bits(), &root(&u2), 24))?;
    }
    Ok(())
}

/// What the windows decide; `None` where a reading stands on the edge of one.
fn decided(case: &Case, book: &PlateBook<usize, 5>, right: &exact::Book) -> Option<(Vec<usize>, Vec<Exact>)> {
    let (_, dof) = book.scatter().expect("held");
    let k = of_bits(Coverage::P99.factor(dof).to_bits(), 16);
    let span = of_bits(case.span, 16);
    let reach = right.reach(&span, &case.variance.exact(), &k);
    // Half a bit of rounding at the edge, wherever the window is narrow.
    let edge = |(plate, reach): (usize, &Exact)| {
        let window = right.window(plate, &case.variance.exact(), &k);
        ((reach - whole(1)) * &window).abs() < of_bits(3, 16) + window * fraction(1, 100_000)
    };
    if reach.iter().enumerate().any(edge) {
        return None;
    }
    Some(((0..reach.len()).filter(|plate| reach[*plate] < whole(1)).collect(), reach))
}

fn decisions(ledger: &Ledger, case: &Case, seen: &Cell<[u32; 3]>) -> Result<(), TestCaseError> {
    let (book, right) = books(case);
    let Some((fitting, _)) = decided(case, &book, &right) else { return Ok(()) };
    let span = of_bits(case.span, 16);
    let far = |plate: &usize| (&span - exact::mean(&right.plates[*plate])).abs();
    let mut by_distance = fitting.clone();
    by_distance.sort_by_key(far);
    let mut count = seen.get();
    let k = exact_k(&book);
    match book.recognise(bits(case.span), case.variance).expect("held") {
        Recognised::Plate(plate) => {
            prop_assert_eq!(fitting.as_slice(), &[*plate.name()]);
            count[0] += 1;
        }
        Recognised::TooNear { nearest, other, apart, needed } => {
            prop_assert!(by_distance.len() >= 2);
            let (a, b) = (*nearest.name(), *other.name());
            let tie = |one: usize, other: usize| to_f64(&(far(&one) - far(&other)).abs()) < 1e-8;
            prop_assert!(tie(a, by_distance[0]) && tie(b, by_distance[1]) && a != b);
            let exact_apart = (exact::mean(&right.plates[a]) - exact::mean(&right.plates[b])).abs();
            ledger.see(Operation::PlateSpan, error(apart.to_bits(), &exact_apart, 16))?;
            let right_needed =
                right.window(a, &case.variance.exact(), &k) + right.window(b, &case.variance.exact(), &k);
            prop_assert!(needed.exact() > &right_needed - of_bits(1, 22));
            ledger.see(Operation::PlatesApart, error(needed.to_bits(), &right_needed, 16))?;
            count[1] += 1;
        }
        Recognised::Unknown { nearest } => {
            prop_assert!(fitting.is_empty());
            let (nearest, above) = nearest.expect("a plate");
            let least = (0..right.plates.len()).map(|plate| far(&plate)).min().expect("a plate");
            prop_assert!(to_f64(&(far(nearest.name()) - least)) < 1e-8);
            let right_above = &span - exact::mean(&right.plates[*nearest.name()]);
            ledger.see(Operation::PlateSpan, error(above.to_bits(), &right_above, 16))?;
            count[2] += 1;
        }
    }
    seen.set(count);
    named(case, &book, &right, &fitting)
}

fn exact_k(book: &PlateBook<usize, 5>) -> Exact {
    let (_, dof): (_, Dof) = book.scatter().expect("held");
    of_bits(Coverage::P99.factor(dof).to_bits(), 16)
}

/// Every plate named in turn.
fn named(
    case: &Case,
    book: &PlateBook<usize, 5>,
    right: &exact::Book,
    fitting: &[usize],
) -> Result<(), TestCaseError> {
    for name in 0..right.plates.len() {
        let named = book.named(&name, bits(case.span), case.variance).expect("held").expect("known");
        let right_change = of_bits(case.span - case.plates[name][case.plates[name].len() - 1], 16);
        match named {
            Named::Fits { plate, change } => {
                prop_assert_eq!((*plate.name(), change.exact()), (name, right_change));
                prop_assert!(fitting.contains(&name));
            }
            Named::DoesNotFit { plate, change, likelier } => {
                prop_assert_eq!((*plate.name(), change.exact()), (name, right_change));
                prop_assert!(!fitting.contains(&name));
                match likelier {
                    Recognised::Plate(plate) => prop_assert_eq!(fitting, &[*plate.name()]),
                    Recognised::TooNear { .. } => prop_assert!(fitting.len() >= 2),
                    Recognised::Unknown { .. } => prop_assert!(fitting.is_empty()),
                }
            }
        }
    }
    Ok(())
}

oracle_tests! {
    fn books_agree(ledger: [PlateSpan, PlateSpread, PlatesApart]) {
        let seen = Cell::new([0_u32; 3]);
        property(cases(), |case| {
            sums(ledger, &case)?;
            decisions(ledger, &case, &seen)
        });
        assert!(seen.get().iter().all(|count| *count > 20), "every answer occurs: {:?}", seen.get());
    }
}

/// A book holds on however the spans lie, and a span too far is refused, changing nothing.
#[test]
fn any_span_is_held_or_refused() {
    let spans = vec((within(-(1 << 31), (1 << 31) - 1), -300_000_i64..300_000, any::<bool>()), 1..40);
    property((spans, 0_u8..4), |(spans, _)| {
        let mut book = PlateBook::<u8, 2>::new(u_bits(100));
        for (far, near, is_near) in spans {
            let first = book.get(&1).map_or(0, |plate| i64::from(plate.last().span.to_bits()));
            let span = bits(if is_near { (first + near).clamp(-(1 << 31), (1 << 31) - 1) } else { far });
            let before = book.clone();
            let first = before.get(&1).map(|plate| i64::from(plate.saved().first));
            let held = first.is_none_or(|first| (i64::from(span.to_bits()) - first).abs() < 4 << 16);
            let done = book.record(1, span, u_bits(1_000).variance().expect("held"), 0);
            prop_assert_eq!(done.is_ok(), held);
            if !held {
                prop_assert!(book == before);
            }
            let _ = book.recognise(span, Variance::from_bits(u64::MAX));
        }
        Ok(())
    });
}

/// What the book expects of a plate's next span, from four on: its mean, and t₀.₉₉₉₅(ν)·√(s²·(1 + 1/m) + Δ²/12), pooled
/// or the plate's own, the larger; t from statrs.
#[test]
fn expected_spans_agree() {
    let step = zdatum::Step::new(1600, 3).expect("a step");
    let rounding = 0.001_875_f64.powi(2) / 12.0;
    let held = Cell::new(0);
    property(cases(), |case| {
        let (book, right) = books(&case);
        let scatter = |spans: &Vec<Exact>| to_f64(&exact::scatter(spans));
        let all: f64 = right.plates.iter().map(scatter).sum();
        let all_dof: usize = right.plates.iter().map(|spans| spans.len() - 1).sum();
        for (name, spans) in right.plates.iter().enumerate() {
            let seen = book.last_span(&name, step).expect("held").expect("a plate of the book");
            prop_assert_eq!(seen.span.exact(), spans.last().expect("a span").clone());
            let m = spans.len() as f64;
            if spans.len() < 4 {
                prop_assert!(seen.expected.is_none());
                continue;
            }
            held.set(held.get() + 1);
            let expected = seen.expected.expect("four spans");
            let off = error(expected.span.to_bits(), &exact::mean(spans), 16);
            prop_assert!(off <= 0.51, "mean off by {}", off);
            let limit = |squares: f64, dof: f64| {
                let t = zdatum_world::distributions::t_point(0.0005, dof).expect("a point");
                t * (squares / dof * (1.0 + 1.0 / m) + rounding).sqrt()
            };
            let due = limit(all, all_dof as f64).max(limit(scatter(spans), m - 1.0));
            let off = expected.limit.to_f64() - due;
            // Rounded up to 2⁻¹⁶ mm; t within 0.01 %.
            prop_assert!(off > -1e-4 * due && off < 1e-4 * due + 2.0 / 65_536.0, "{} against {}", off, due);
        }
        Ok(())
    });
    assert!(held.get() > 50, "{}", held.get());
}
