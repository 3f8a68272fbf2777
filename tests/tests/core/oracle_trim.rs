//! Trims against the oracle.

use std::cell::Cell;

use num_bigint::BigInt;
use num_traits::Signed;
use proptest::prelude::*;
use zdatum::trim::{Check, Depth, Trimmed, Warmed, Weighing, trim};
use zdatum::{Growth, Length, OutOfRange};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{ToExact, bits, u_bits};
use zdatum_tests::generate::{delay, property, speed, warming, within};
use zdatum_tests::oracle::{self, error, of_bits, root, to_f64, trim as exact, whole};

/// An uncertainty below 4 mm of any size.
fn any_u() -> impl Strategy<Value = zdatum::Uncertainty> {
    (within(0, (4 << 24) - 1), 0_u32..26).prop_map(|(bits, scale)| u_bits(bits >> scale))
}

fn parts() -> impl Strategy<Value = Vec<Warmed>> {
    let rate_u = (within(0, Growth::SPEC.max_i64()), 0_u32..26)
        .prop_map(|(bits, scale)| Growth::from_bits(bits >> scale).expect("in range"));
    let part = (rate_u, warming(), warming()).prop_map(|(rate_u, trimmed, under_test)| Warmed {
        rate_u,
        trimmed,
        under_test,
    });
    prop_oneof![Just(Vec::new()), proptest::collection::vec(part, 0..=8)]
}

fn cases() -> impl Strategy<Value = (Depth, Vec<Warmed>, zdatum::setup::Delay, Check, Weighing)> {
    let known = (within(1, 20 << 16), any_u(), speed());
    let far = || within(i64::from(i32::MIN), i64::from(i32::MAX));
    let near = (-65_536_i64..65_536, -65_536_i64..65_536);
    let check =
        (prop_oneof![1 => (far(), far()), 4 => near], speed(), any_u(), any_u(), any_u(), any::<bool>());
    let wish = prop_oneof![Just(0_i64), -65_536_i64..65_536];
    (known, parts(), delay(), (check, wish), any::<bool>()).prop_map(
        |((t, u, v0), parts, delay, (check, wish), afresh)| {
            let ((too_high, change), v, gauge_u, feel_u, landing_u, same_speed) = check;
            let t = bits(t);
            let made_with =
                bits((i64::from(t.to_bits()) + change).clamp(Length::SPEC.min, Length::SPEC.max_i64()));
            let speed = if same_speed { v0 } else { v };
            let check = Check {
                too_high: bits(too_high),
                wish: bits(wish),
                made_with,
                speed,
                gauge_u,
                feel_u,
                landing_u,
            };
            let weighing = if afresh { Weighing::Afresh } else { Weighing::Weighed };
            (Depth { t, u, speed: v0 }, parts, delay, check, weighing)
        },
    )
}

pub(crate) fn for_oracle(
    known: &Depth,
    parts: &[Warmed],
    delay: &zdatum::setup::Delay,
    check: &Check,
) -> exact::Check {
    let square = |u: zdatum::Uncertainty| u.exact() * u.exact();
    exact::Check {
        t: known.t.exact(),
        u: known.u.exact(),
        trimmed_at: known.speed.exact(),
        speed: check.speed.exact(),
        latency: delay.latency.exact(),
        latency_u: delay.latency_u.exact(),
        parts: parts
            .iter()
            .map(|part| exact::Part {
                rate_u: part.rate_u.exact(),
                trimmed: part.trimmed.exact(),
                under_test: part.under_test.exact(),
            })
            .collect(),
        made_with: check.made_with.exact(),
        too_high: check.too_high.exact(),
        wish: check.wish.exact(),
        felt: square(check.gauge_u) + square(check.feel_u),
        landing: square(check.landing_u),
    }
}

pub(crate) fn compare(
    ledger: &Ledger,
    given: &exact::Check,
    weighing: Weighing,
    seen: Result<Trimmed, OutOfRange>,
) -> Result<bool, TestCaseError> {
    let afresh = weighing == Weighing::Afresh;
    let Some(right) = exact::weigh(given, afresh) else {
        prop_assert!(seen.is_err(), "nothing is known of either");
        return Ok(false);
    };
    let by_speed = (&given.speed - &given.trimmed_at) * &given.latency_u;
    let by_part = |part: &exact::Part| (&part.under_test - &part.trimmed) * &part.rate_u;
    let widest = given.parts.iter().map(|part| by_part(part).abs()).fold(by_speed.abs(), oracle::Exact::max);
    let both = right.both.clone();
    let Ok(seen) = seen else {
        let edge = |x: oracle::Exact| x.abs() > whole(32_767);
        let too_far = right.innovation.abs() >= whole(1 << 14);
        let too_wide = both > whole(15) || widest > fraction_of_four();
        let lost = right.disagreement > whole(65_000) || both < of_bits(1, 58);
        let ahead = &given.made_with - &given.t + &given.too_high;
        let out = edge(right.t.clone())
            || edge(ahead)
            || edge(&given.made_with - &given.t)
            || edge(&right.t - &given.t);
        prop_assert!(too_far || too_wide || lost || out, "refused: {right:?}");
        return Ok(false);
    };
    let off = error(seen.depth.t.to_bits(), &right.t, 16);
    if both > of_bits(1, 27) || afresh {
        ledger.see(Operation::TrimDepth, off)?;
    } else {
        // Where nanometres are weighed against each other, their rounding shows in the weight, so in as much
        // of the check.
        let size = to_f64(&oracle::in_bits(&right.innovation, 16)).abs();
        prop_assert!(off <= 1.0 + size * 2.0_f64.powi(-10) || both < of_bits(1, 50), "off by {}", off);
    }
    prop_assert_eq!(seen.change.exact(), seen.depth.t.exact() - &given.t);
    prop_assert_eq!(seen.innovation.exact(), right.innovation.clone());
    // v₀ and w move by the same weight, to a bit beyond what the weight's own rounding makes of the way.
    let moved = |seen: oracle::Exact, right: &oracle::Exact, way: oracle::Exact| {
        let bits = to_f64(&oracle::in_bits(&(seen - right), 16)).abs();
        let allowed = 0.51
            + to_f64(&oracle::in_bits(&way, 16)).abs() * (2.0_f64.powi(-28) / to_f64(&root(&both))).min(1.0);
        prop_assert!(bits <= allowed, "off by {} of {}", bits, allowed);
        Ok(())
    };
    moved(seen.depth.speed.exact(), &right.speed, &given.speed - &given.trimmed_at)?;
    prop_assert_eq!(seen.warmings.len(), given.parts.len());
    for ((seen, right), part) in seen.warmings.iter().zip(&right.warmings).zip(&given.parts) {
        moved(seen.exact(), right, &part.under_test - &part.trimmed)?;
    }
    // What is known to a tenth of a nanometre in all is beyond what the weights are made for.
    if both > of_bits(1, 46) {
        let u = root(&right.variance);
        ledger.see(Operation::TrimUncertainty, error(seen.depth.u.to_bits(), &u, 24))?;
        if both > of_bits(1, 27) {
            ledger.see(Operation::TrimWeight, error(seen.weight.to_bits(), &right.weight, 16))?;
            let far = to_f64(&right.disagreement);
            let off = (f64::from(seen.disagreement.to_bits()) / 65_536.0 - far).abs() - 2.0_f64.powi(-16);
            ledger.see(Operation::TrimDisagreement, (off / far.max(1e-9)).max(0.0))?;
        }
        let close_call = (to_f64(&right.disagreement_squared) - 16.0).abs() < 1e-6;
        prop_assert!(close_call || seen.accepted == (afresh || right.disagreement_squared <= whole(16)));
    }
    Ok(true)
}

fn fraction_of_four() -> oracle::Exact {
    whole(BigInt::from(4)) - of_bits(1, 20)
}

oracle_tests! {
    fn trims_agree(ledger: [TrimDepth, TrimUncertainty, TrimWeight, TrimDisagreement]) {
        let held = Cell::new(0_u32);
        property(cases(), |(known, parts, delay, check, weighing)| {
            let seen = trim(&known, &parts, &delay, &check, weighing);
            let given = for_oracle(&known, &parts, &delay, &check);
            held.set(held.get() + u32::from(compare(ledger, &given, weighing, seen)?));
            Ok(())
        });
        assert!(held.get() > 30, "most cases cannot be held: {}", held.get());
    }
}
