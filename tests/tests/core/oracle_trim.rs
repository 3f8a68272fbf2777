//! Trims against the oracle.

use std::cell::Cell;

use num_bigint::BigInt;
use num_traits::Signed;
use proptest::prelude::*;
use zdatum::trim::{Check, Depth, Trimmed, Weighing, trim};
use zdatum::{Length, OutOfRange};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{ToExact, bits, u_bits};
use zdatum_tests::generate::{delay, property, speed, within};
use zdatum_tests::oracle::{self, error, of_bits, root, to_f64, trim as exact, whole};

/// An uncertainty below 4 mm of any size.
fn any_u() -> impl Strategy<Value = zdatum::Uncertainty> {
    (within(0, (4 << 24) - 1), 0_u32..26).prop_map(|(bits, scale)| u_bits(bits >> scale))
}

fn cases() -> impl Strategy<Value = (Depth, zdatum::setup::Delay, Check, Weighing)> {
    let known = (within(1, 20 << 16), any_u(), speed());
    let far = || within(i64::from(i32::MIN), i64::from(i32::MAX));
    let near = (-65_536_i64..65_536, -65_536_i64..65_536);
    let check =
        (prop_oneof![1 => (far(), far()), 4 => near], speed(), any_u(), any_u(), any_u(), any::<bool>());
    (known, delay(), check, any::<bool>()).prop_map(|((t, u, v0), delay, check, afresh)| {
        let ((too_high, change), v, gauge_u, feel_u, landing_u, same_speed) = check;
        let t = bits(t);
        let made_with =
            bits((i64::from(t.to_bits()) + change).clamp(Length::SPEC.min, Length::SPEC.max_i64()));
        let speed = if same_speed { v0 } else { v };
        let check = Check { too_high: bits(too_high), made_with, speed, gauge_u, feel_u, landing_u };
        let weighing = if afresh { Weighing::Afresh } else { Weighing::Weighed };
        (Depth { t, u, speed: v0 }, delay, check, weighing)
    })
}

pub(crate) fn for_oracle(known: &Depth, delay: &zdatum::setup::Delay, check: &Check) -> exact::Check {
    let square = |u: zdatum::Uncertainty| u.exact() * u.exact();
    exact::Check {
        t: known.t.exact(),
        u: known.u.exact(),
        faster: check.speed.exact() - known.speed.exact(),
        latency: delay.latency.exact(),
        latency_u: delay.latency_u.exact(),
        made_with: check.made_with.exact(),
        too_high: check.too_high.exact(),
        seen: square(check.gauge_u) + square(check.feel_u) + square(check.landing_u),
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
    let prior = &given.faster * &given.latency_u;
    let both = &given.u * &given.u + &prior * &prior + &given.seen;
    let Ok(seen) = seen else {
        let edge = |x: oracle::Exact| x.abs() > whole(32_767);
        let too_far = right.innovation.abs() >= whole(1 << 14);
        let too_wide = both > whole(15) || prior.abs() > fraction_of_four();
        let lost = right.disagreement > whole(65_000) || both < of_bits(1, 58);
        let out = edge(right.t.clone()) || edge(&given.made_with - &given.t) || edge(&right.t - &given.t);
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
    // What is known to a tenth of a nanometre in all is beyond what the weights are made for.
    if both > of_bits(1, 46) {
        let u = root(&right.variance).max(exact::common());
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
        property(cases(), |(known, delay, check, weighing)| {
            let seen = trim(&known, &delay, &check, weighing);
            held.set(held.get() + u32::from(compare(ledger, &for_oracle(&known, &delay, &check), weighing, seen)?));
            Ok(())
        });
        assert!(held.get() > 30, "most cases cannot be held: {}", held.get());
    }
}
