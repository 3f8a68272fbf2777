//! Floors of random machines against the formulas of `docs/geometry.md`: never on the unsafe side, and never
//! far from them.

use std::cell::RefCell;

use num_traits::{Signed, Zero};
use proptest::prelude::*;
use zdatum::setup::{Fault, LengthRange};
use zdatum::{Draft, Length, Setup, Speed};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{ToExact, bits, floors_of};
use zdatum_tests::generate::{delay, property, steps, within};
use zdatum_tests::machine;
use zdatum_tests::oracle::{Exact, in_bits, of_bits, to_f64, whole};

/// A span of some width in bits from a lowest value.
fn range(low: i64, width: i64) -> LengthRange {
    LengthRange { low: bits(low), high: bits(low + width) }
}

/// Machines about the workshop's size, many of them unsafe; millimetres are 65,536 bits.
fn machines() -> impl Strategy<Value = Draft> {
    const MM: i64 = 1 << 16;
    let tip = (-5 * MM..5 * MM, 0..2 * MM, 1..4 * MM);
    let probe = (1..3 * MM, 0..3 * MM, within(1, 1 << 20), 1..12 * MM, 0..2 * MM);
    // A wide range of low plates needs more drop than the shoulder does.
    let plates =
        (prop_oneof![-2 * MM..2 * MM, -8 * MM..-4 * MM], prop_oneof![0..2 * MM, 4 * MM..8 * MM], 0..MM);
    let motion = (1..20 * MM, 0..MM / 4, steps(), delay(), delay(), 0_u32..12);
    let reach = (prop_oneof![Just(-3 * MM), -10 * MM..0], prop_oneof![Just(160 * MM), 0..40 * MM]);
    (tip, probe, plates, motion, reach).prop_map(|(tip, probe, plates, motion, reach)| {
        let mut draft = machine::workshop();
        draft.datum_switch.tip_height = range(tip.0, tip.1);
        draft.datum_switch.overtravel = bits(tip.2);
        draft.probe.trip_depth = bits(probe.0);
        draft.probe.free_height = bits(probe.0 + probe.1);
        draft.probe.trip_depth_u = zdatum_tests::case::u_bits(probe.2);
        draft.probe.drop = range(probe.3, probe.4);
        draft.plates.rise = range(plates.0, plates.1);
        draft.plates.margin = bits(plates.2);
        draft.touch.first_speed = Speed::from_bits(motion.0).expect("a speed");
        draft.touch.fine_speed = Speed::from_bits((motion.0 + 1) / 2).expect("a speed");
        draft.touch.stop = bits(motion.1);
        draft.travel.steps = motion.2;
        // Most latencies short, or nothing would be safe.
        let short = |d: zdatum::setup::Delay| {
            let cut = |l: zdatum::Latency| {
                zdatum::Latency::from_bits(i64::from(l.to_bits() >> motion.5)).expect("shorter")
            };
            zdatum::setup::Delay { latency: cut(d.latency), latency_u: cut(d.latency_u) }
        };
        draft.datum_switch.delay = short(motion.3);
        draft.probe.delay = short(motion.4);
        draft.travel.z = LengthRange { low: bits(reach.0), high: bits(reach.1.max(reach.0 + 1)) };
        draft
    })
}

/// What is on the safe side, by so many bits at most.
fn safe(
    ledger: &Ledger,
    operation: Operation,
    seen: Length,
    exact: &Exact,
    up: bool,
) -> Result<(), TestCaseError> {
    let off = in_bits(&(seen.exact() - exact), 16) * whole(if up { 1 } else { -1 });
    prop_assert!(!off.is_negative(), "on the unsafe side by {} bits", to_f64(&off));
    ledger.see(operation, to_f64(&off))
}

fn check(ledger: &Ledger, draft: &Draft) -> Result<Option<Fault>, TestCaseError> {
    let exact = floors_of(draft);
    let overtravel = draft.datum_switch.overtravel.exact();
    // Room left by each rule; each must be 0 or more, the two of the tip over the plate above 0.
    let tip = &overtravel - exact.tip_press();
    let shoulder = &overtravel - exact.shoulder_press();
    let rooms = [exact.shoulder_room(), exact.plate_room()];
    let (low, high) = (draft.travel.z.low.exact(), draft.travel.z.high.exact());
    let reach = [
        exact.tip() - &low,
        exact.plate(&draft.datum_switch.tip_height.low.exact(), &draft.probe.drop.low.exact()) - &low,
        high - exact.clear().1 - draft.touch.lift.exact(),
    ];
    let bit = of_bits(8, 16);
    let clearly_safe = [&tip, &shoulder].into_iter().chain(&rooms).chain(&reach).all(|room| *room > bit);
    match Setup::check(draft.clone()) {
        Ok(setup) => {
            prop_assert!(!tip.is_negative() && !shoulder.is_negative(), "the switch could be crushed");
            prop_assert!(rooms.iter().all(|room| room.is_positive()), "the tip could reach the plate");
            prop_assert!(reach.iter().all(|room| !room.is_negative()), "out of reach");
            let floors = setup.floors();
            safe(ledger, Operation::Floor, floors.datum_overrun, &exact.datum_overrun(), true)?;
            safe(ledger, Operation::Floor, floors.plate_overrun, &exact.plate_overrun(), true)?;
            safe(ledger, Operation::Floor, floors.tip, &exact.tip(), false)?;
            let (t, d) = (draft.datum_switch.tip_height.high, draft.probe.drop.high);
            let highest = floors.tip_at_most(t).expect("held");
            safe(ledger, Operation::Floor, highest, &(t.exact() + exact.reads_low()), true)?;
            let seen = floors.shoulder(t).expect("held");
            safe(ledger, Operation::Floor, seen, &exact.shoulder(&t.exact()), false)?;
            let seen = floors.plate(t, d).expect("held");
            safe(ledger, Operation::Floor, seen, &exact.plate(&t.exact(), &d.exact()), false)?;
            let higher = floors.plate_at_rise(t, d, draft.plates.rise.high).expect("held");
            let width = draft.plates.rise.high.minus(draft.plates.rise.low).expect("held");
            prop_assert_eq!(higher.minus(seen), Ok(width));
            let press = floors.dead_plunger(draft.plates.rise.high).expect("held");
            safe(ledger, Operation::Floor, press.past_trip, &exact.dead_plunger(), true)?;
            prop_assert_eq!(press.past_trip.minus(draft.probe.trip_depth), Ok(press.shoulder_into_plate));
            let (clear, fetched) = exact.clear();
            safe(ledger, Operation::Clear, floors.clear, &clear, true)?;
            safe(ledger, Operation::Clear, floors.clear_with_probe, &fetched, true)?;
            Ok(None)
        }
        Err(bad) => {
            prop_assert!(!clearly_safe, "refused though safe: {}", bad);
            // The first rule that fails is the one named.
            let expected = if !(&tip - &bit).is_negative() {
                if !(&shoulder - &bit).is_negative() {
                    if rooms[0] > bit {
                        if rooms[1] > bit { Fault::BeyondReach } else { Fault::PlateLow }
                    } else {
                        Fault::ShoulderLow
                    }
                } else {
                    Fault::ShoulderOverpress
                }
            } else {
                Fault::TipOverpress
            };
            let near = [&tip, &shoulder, &rooms[0], &rooms[1]].into_iter().any(|room| room.abs() <= bit);
            prop_assert!(near || bad.fault == expected, "{} against {:?}", bad, expected);
            // What was seen and the limit are as far apart as the rule is broken.
            let (seen, limit) = (bad.seen.expect("a length").exact(), bad.limit.expect("a length").exact());
            let broken = match bad.fault {
                Fault::TipOverpress => tip,
                Fault::ShoulderOverpress => shoulder,
                Fault::ShoulderLow => rooms[0].clone(),
                Fault::PlateLow => rooms[1].clone(),
                _ => Exact::zero(),
            };
            if !broken.is_zero() {
                let off = in_bits(&((seen - limit).abs() - broken.abs()), 16).abs();
                prop_assert!(off < whole(7), "{} off by {} bits", bad, to_f64(&off));
            }
            Ok(Some(bad.fault))
        }
    }
}

oracle_tests! {
    fn floors_follow_the_formulas_on_the_safe_side(ledger: [Floor, Clear]) {
        let seen = RefCell::new(std::collections::HashMap::<String, u32>::new());
        property(machines(), |draft| {
            let fault = check(ledger, &draft)?;
            *seen.borrow_mut().entry(format!("{fault:?}")).or_default() += 1;
            Ok(())
        });
        let seen = seen.into_inner();
        println!("{seen:?}");
        for fault in ["None", "Some(TipOverpress)", "Some(ShoulderOverpress)", "Some(ShoulderLow)", "Some(PlateLow)", "Some(BeyondReach)"] {
            assert!(seen.contains_key(fault), "no random machine shows {fault}: {seen:?}");
        }
    }
}
