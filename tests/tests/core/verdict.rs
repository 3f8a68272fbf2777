//! Each refusal that recorded touches can show: not at its limit, but one bit beyond; all reasons at once;
//! codes that stay.

use std::num::NonZeroU32;

use num_traits::Signed;
use proptest::prelude::*;
use zdatum::setup::{Draft, LengthRange};
use zdatum::{
    Amount, Assessment, Centre, LastSpan, Length, Pooled, Readings, Refusal, RefusalKind, Setup, Station,
    TooFew, Variance,
};
use zdatum_tests::case::{ToExact, bits, recorded, u_bits};
use zdatum_tests::generate::{Case, property, within};
use zdatum_tests::machine::{checked, heights, mm, study, u};
use zdatum_tests::oracle::{in_bits, root, to_f64, whole};

use crate::geometry::workshop_case;

fn assess(case: &Case, last: Option<&LastSpan>) -> Assessment {
    try_assess(case, last).expect("enough touches")
}

fn try_assess(case: &Case, last: Option<&LastSpan>) -> Result<Assessment, TooFew> {
    let [tip, shoulder, plate] = [0, 1, 2].map(|i| recorded(&case.touches[i], case.readings[i]));
    Assessment::of(&checked(&case.draft), &tip, &shoulder, &plate, last)
}

fn kinds(seen: &Assessment) -> Vec<(RefusalKind, Option<Station>)> {
    seen.refusals().iter().map(|refusal| (refusal.kind, refusal.station)).collect()
}

/// The one reason, with what was seen and the limit.
fn only(seen: &Assessment) -> Refusal {
    assert_eq!(seen.refusals().len(), 1, "{:?}", seen.refusals());
    assert!(!seen.accepted());
    assert_eq!(seen.landing(), None);
    seen.refusals()[0]
}

/// A case with one change to its machine.
fn with(change: impl Fn(&mut Draft)) -> Case {
    let mut case = workshop_case();
    change(&mut case.draft);
    case
}

fn less(x: Length) -> Length {
    bits(i64::from(x.to_bits()) - 1)
}

fn more(x: Length) -> Length {
    bits(i64::from(x.to_bits()) + 1)
}

#[test]
fn a_sound_cycle_is_accepted() {
    let seen = assess(&workshop_case(), None);
    assert!(seen.accepted() && !seen.for_gauge_check());
    assert_eq!(seen.refusals(), []);
    assert_eq!(seen.landing(), seen.landing_seen());
    assert!(seen.landing().is_some());
    let touches = seen.touches().expect("closed");
    assert_eq!((touches.tip.count(), touches.shoulder.count(), touches.plate.count()), (5, 5, 5));
}

/// Memory that holds an older verdict holds nothing of it after another: sound, refused, refused for other
/// reasons, out of range, in any order.
#[test]
fn memory_may_be_used_again() {
    let sound = workshop_case();
    let unsteady = with(|draft| draft.touch.band = mm("0.0001"));
    let uncertain = with(|draft| draft.accept.expanded_u = u("0.0001"));
    let mut beyond = workshop_case();
    beyond.touches[1] = vec![i64::from(i32::MIN), i64::from(i32::MAX), 0];
    let cases = [sound, unsteady, uncertain, beyond];
    let verdicts: Vec<Assessment> = cases.iter().map(|case| assess(case, None)).collect();
    assert!(verdicts[0].accepted() && verdicts[1..].iter().all(|seen| !seen.accepted()));
    assert!(verdicts[3].touches().is_none() && verdicts[3].landing_seen().is_none());
    for before in &verdicts {
        for (case, fresh) in cases.iter().zip(&verdicts) {
            let mut again = before.clone();
            let [tip, shoulder, plate] = [0, 1, 2].map(|i| recorded(&case.touches[i], case.readings[i]));
            again.judge(&checked(&case.draft), [&tip, &shoulder, &plate], None).expect("enough touches");
            assert_eq!(&again, fresh);
        }
    }
}

/// What was read beside the touches reaches the landing.
#[test]
fn readings_reach_the_landing() {
    let mut case = workshop_case();
    case.readings[0] = Readings { tool: Some(zdatum_tests::machine::celsius("20")), ..Readings::default() };
    let warm = assess(&case, None).landing_seen().expect("held").corrections.growth;
    let setup = assess(&workshop_case(), None).landing_seen().expect("held").corrections.growth;
    assert!(warm.minus(setup).expect("held") > mm("0.03"));
}

#[test]
fn unsteady_is_over_the_band() {
    for (place, station) in Station::ALL.into_iter().enumerate() {
        let spread = assess(&workshop_case(), None)
            .touches()
            .map(|t| [t.tip, t.shoulder, t.plate][place].spread())
            .expect("closed");
        assert!(assess(&with(|draft| draft.touch.band = spread), None).accepted(), "at the band");
        let band = less(spread);
        // Only this station's spread is over it.
        let mut case = with(|draft| draft.touch.band = band);
        for (other, z) in case.touches.iter_mut().enumerate() {
            if other != place {
                let first = z[0];
                z.fill(first);
            }
        }
        let refusal = only(&assess(&case, None));
        assert_eq!(
            refusal,
            Refusal::new(RefusalKind::Unsteady, Some(station), Amount::Length(spread), Amount::Length(band))
        );
    }
}

/// Walking with a study, by slope: what was seen and the limit are stated, and the limit is where the verdict
/// turns.
#[test]
fn walking_by_slope() {
    for (place, station) in Station::ALL.into_iter().enumerate() {
        let mut turned = None;
        for per_touch in 0..400_i64 {
            let mut case = with(|draft| draft.touch.band = mm("0.1"));
            let first = case.touches[place][0];
            case.touches[place] = (0..5).map(|i| first + i * per_touch).collect();
            let seen = assess(&case, None);
            if !seen.accepted() {
                let refusal = only(&seen);
                assert_eq!((refusal.kind, refusal.station), (RefusalKind::Walking, Some(station)));
                assert_eq!(refusal.seen(), Some(Amount::Length(bits(4 * per_touch))));
                let Some(Amount::Length(limit)) = refusal.limit() else { panic!("a length") };
                turned = Some((per_touch, limit));
                break;
            }
        }
        // |b|·√10 > 3.6·f·√(s² + Δ²/12), f(40) = 1.09475, s 1.5 or 3 µm and Δ = 1/960 mm: b > 1.9072 or 3.7580 µm;
        // 124.99 or 246.28 bits.
        let (per_touch, limit) = turned.expect("walks at last");
        assert_eq!(per_touch, if station == Station::Plate { 247 } else { 125 });
        // The limit is rounded up to a bit, so what was seen may equal it.
        assert!(bits(4 * per_touch) >= limit && bits(4 * (per_touch - 1)) < limit, "{limit}");
    }
}

/// Where the noise is small, twice the motor step is the limit.
#[test]
fn walking_is_not_seen_within_two_steps() {
    let walk = |per_touch: i64| {
        let mut case = with(|draft| {
            draft.travel.steps = (100, 1);
            draft.pooled.tip = study("0.0000001", 1_000_000);
        });
        let first = case.touches[0][0];
        case.touches[0] = (0..5).map(|i| first + i * per_touch).collect();
        assess(&case, None)
    };
    // Two steps of 0.01 mm are 1,310.72 bits; four intervals of 327 bits are 1,308 and of 328 are 1,312.
    assert!(walk(327).accepted());
    let refusal = only(&walk(328));
    assert_eq!(refusal.kind, RefusalKind::Walking);
    assert_eq!(
        (refusal.seen(), refusal.limit()),
        (Some(Amount::Length(bits(1_312))), Some(Amount::Length(bits(1_311))))
    );
}

/// Without a study: von Neumann's ratio, from five touches up.
#[test]
fn walking_by_ratio() {
    let tip = |z: &[i64]| {
        let mut case = with(|draft| {
            draft.pooled.tip = None;
            draft.touch.band = mm("1");
            draft.accept.expanded_u = u("1");
        });
        let first = case.touches[0][0];
        case.touches[0] = z.iter().map(|d| first + d).collect();
        assess(&case, None)
    };
    let refusal = only(&tip(&[0, 300, 600, 900, 1_200]));
    assert_eq!((refusal.kind, refusal.station), (RefusalKind::Walking, Some(Station::Tip)));
    // Four jumps of 1 over 10: 0.4 against 0.41608.
    let ratio = |x: f64| Some(Amount::Ratio(zdatum::Ratio::from_f64(x).expect("held")));
    assert_eq!((refusal.seen(), refusal.limit()), (ratio(0.4), ratio(0.41608)));
    assert_eq!(refusal.limit().expect("a ratio").unit(), "");
    assert!(tip(&[0, 300, 600, 900]).accepted(), "not judged below five touches");
    assert!(tip(&[0, 600, 300, 900, 1_200]).accepted(), "no trend");
    assert!(tip(&[0, 0, 0, 0, 0]).accepted(), "not judged where s = 0");
}

#[test]
fn the_drop_is_held_against_its_range() {
    let drop = assess(&workshop_case(), None).landing().expect("accepted").drop;
    let case = |low: Length, high: Length| with(|draft| draft.probe.drop = LengthRange { low, high });
    assert!(assess(&case(drop, drop), None).accepted(), "both ends belong to the range");
    let refusal = only(&assess(&case(more(drop), more(drop)), None));
    let amounts = (Amount::Length(drop), Amount::Length(more(drop)));
    assert_eq!(refusal, Refusal::new(RefusalKind::DropOutOfPlace, None, amounts.0, amounts.1));
    let refusal = only(&assess(&case(less(less(drop)), less(drop)), None));
    assert_eq!(refusal.limit(), Some(Amount::Length(less(drop))), "the nearer limit");
    assert_eq!(refusal.kind, RefusalKind::DropOutOfPlace);
}

#[test]
fn the_rise_is_held_against_its_range() {
    let rise = assess(&workshop_case(), None).landing().expect("accepted").rise;
    let case = |low: Length, high: Length| with(|draft| draft.plates.rise = LengthRange { low, high });
    assert!(assess(&case(rise, rise), None).accepted(), "both ends belong to the range");
    let refusal = only(&assess(&case(more(rise), more(more(rise))), None));
    let amounts = (Amount::Length(rise), Amount::Length(more(rise)));
    assert_eq!(refusal, Refusal::new(RefusalKind::PlateOutOfPlace, None, amounts.0, amounts.1));
    let refusal = only(&assess(&case(less(less(rise)), less(rise)), None));
    assert_eq!(
        (refusal.kind, refusal.limit()),
        (RefusalKind::PlateOutOfPlace, Some(Amount::Length(less(rise))))
    );
}

/// Guarded acceptance: U, rounded up to a bit, is taken off the window at either end.
#[test]
fn the_window_is_guarded_by_the_expanded_uncertainty() {
    let landing = *assess(&workshop_case(), None).landing().expect("accepted");
    let guard = landing.uncertainty.expanded.ceil();
    assert!(guard > Length::ZERO);
    let case = |low: Length, high: Length| with(|draft| draft.accept.landing = LengthRange { low, high });
    let (low, high) = (landing.height.minus(guard).expect("held"), landing.height.plus(guard).expect("held"));
    assert!(assess(&case(low, high), None).accepted(), "inside by U");
    let refusal = only(&assess(&case(more(low), mm("10")), None));
    let (seen, limit) = (Amount::Length(landing.height), Amount::Length(more(landing.height)));
    assert_eq!(refusal, Refusal::new(RefusalKind::LandingOutOfWindow, None, seen, limit));
    let refusal = only(&assess(&case(mm("-10"), less(high)), None));
    assert_eq!(
        (refusal.kind, refusal.limit()),
        (RefusalKind::LandingOutOfWindow, Some(Amount::Length(less(landing.height))))
    );
}

/// Half of 2⁻²⁴ mm, to which an uncertainty is held, in bits of a length.
const HELD: f64 = 0.5 / 256.0;

/// *Moved too far*: |span − last| + k·√(u²(P) + u²(S) + u²(last)) over the limit, either way.
#[test]
fn moved_too_far_is_guarded() {
    property((within(0, 2_000_000), within(4, 20_000), any::<bool>()), |(last_u, spare, up)| {
        let landing = *assess(&workshop_case(), None).landing().expect("accepted");
        let variance = u_bits(last_u).variance().expect("small");
        let k = landing.uncertainty.factor;
        let doubt = landing.span_variance.exact() + variance.exact();
        let guard = in_bits(&(root(&doubt) * whole(k.to_bits()) / whole(65_536)), 16);
        // So much more than the guard alone takes.
        let shift = to_f64(&guard).ceil() as i64 + spare;
        let case = with(|draft| draft.accept.shift = bits(shift));
        // The change at which the sum just passes the limit, from the exact guard.
        let room = to_f64(&(whole(shift) - &guard));
        let span = |by: i64| {
            let by = if up { by } else { -by };
            LastSpan::new(bits(i64::from(landing.span.to_bits()) + by), variance)
        };
        prop_assert!(assess(&case, Some(&span(room.floor() as i64 - 1))).accepted());
        // The guard is held to 2^-24 mm, the nearest, before it is rounded up to a bit: within half of that
        // it may be a bit less.
        let beyond = (room + HELD).floor() as i64 + 1;
        let refusal = only(&assess(&case, Some(&span(beyond))));
        prop_assert_eq!(refusal.kind, RefusalKind::MovedTooFar);
        prop_assert_eq!(refusal.seen(), Some(Amount::Length(bits(beyond))));
        let Some(Amount::Length(limit)) = refusal.limit() else {
            return Err(TestCaseError::fail("a length"));
        };
        let off = whole(limit.to_bits()) - (whole(shift) - guard);
        prop_assert!(
            to_f64(&off) <= HELD && off.abs() < whole(2),
            "the limit is moved in by the guard, rounded up"
        );
        // At that limit itself it is accepted.
        prop_assert!(assess(&case, Some(&span(i64::from(limit.to_bits())))).accepted());
        Ok(())
    });
    // A span known so badly that nothing passes, not even no change.
    let case = workshop_case();
    let landing = *assess(&case, None).landing().expect("accepted");
    let vague = LastSpan::new(landing.span, u("1").variance().expect("small"));
    assert_eq!(only(&assess(&case, Some(&vague))).kind, RefusalKind::MovedTooFar);
}

/// *Too uncertain* is over the limit, not at it; alone it leaves the landing seen fit for a gauge check.
#[test]
fn too_uncertain_alone_may_serve_a_gauge_check() {
    let expanded = assess(&workshop_case(), None).landing().expect("accepted").uncertainty.expanded;
    assert!(assess(&with(|draft| draft.accept.expanded_u = expanded), None).accepted());
    let limit = u_bits(i64::from(expanded.to_bits()) - 1);
    let mut case = with(|draft| draft.accept.expanded_u = limit);
    let seen = assess(&case, None);
    let refusal = only(&seen);
    let amounts = (Amount::Uncertainty(expanded), Amount::Uncertainty(limit));
    assert_eq!(refusal, Refusal::new(RefusalKind::TooUncertain, None, amounts.0, amounts.1));
    assert!(seen.for_gauge_check());
    assert!(seen.landing_seen().is_some());
    // With a second reason it does not.
    case.draft.plates.rise = LengthRange { low: mm("0.25"), high: mm("0.5") };
    let seen = assess(&case, None);
    assert_eq!(kinds(&seen), [(RefusalKind::PlateOutOfPlace, None), (RefusalKind::TooUncertain, None)]);
    assert!(!seen.for_gauge_check());
    // Nor does another single reason.
    case.draft.accept.expanded_u = u("1");
    let seen = assess(&case, None);
    assert_eq!(only(&seen).kind, RefusalKind::PlateOutOfPlace);
    assert!(!seen.for_gauge_check());
}

/// Everything at once: all reasons, in the order of their codes.
#[test]
fn all_reasons_are_reported_in_order() {
    let mut case = with(|draft| {
        draft.touch.band = mm("0.01");
        draft.probe.drop = LengthRange { low: mm("5.5"), high: mm("6") };
        draft.plates.rise = LengthRange { low: mm("-0.5"), high: mm("-0.25") };
        draft.accept.landing = LengthRange { low: mm("1"), high: mm("2") };
        draft.accept.expanded_u = u("0.001");
        draft.accept.shift = mm("0.01");
        draft.datum_switch.tip_height = LengthRange { low: mm("0.1"), high: mm("0.2") };
    });
    for z in &mut case.touches {
        let first = z[0];
        *z = (0..5).map(|i| first + i * 1_000).collect();
    }
    let last = LastSpan::new(mm("1"), Variance::ZERO);
    let seen = assess(&case, Some(&last));
    let at = |kind, station| (kind, Some(station));
    let of = |kind| (kind, None);
    assert_eq!(
        kinds(&seen),
        [
            at(RefusalKind::Unsteady, Station::Tip),
            at(RefusalKind::Unsteady, Station::Shoulder),
            at(RefusalKind::Unsteady, Station::Plate),
            at(RefusalKind::Walking, Station::Tip),
            at(RefusalKind::Walking, Station::Shoulder),
            at(RefusalKind::Walking, Station::Plate),
            of(RefusalKind::DropOutOfPlace),
            of(RefusalKind::PlateOutOfPlace),
            of(RefusalKind::LandingOutOfWindow),
            of(RefusalKind::MovedTooFar),
            at(RefusalKind::NoisierThanStudied, Station::Tip),
            at(RefusalKind::NoisierThanStudied, Station::Shoulder),
            at(RefusalKind::NoisierThanStudied, Station::Plate),
            at(RefusalKind::TipOutOfPlace, Station::Tip),
        ]
    );
    // Touches that disprove U have none, so it is not too large either.
    assert_eq!(seen.uncertainty(), None);
    assert!(seen.landing_seen().is_some() && seen.landing().is_none() && !seen.for_gauge_check());
}

/// Touches 256 mm apart cannot be held; their spread still can, and is told. All stations are judged.
#[test]
fn what_cannot_be_held_is_a_reason() {
    let mut case = workshop_case();
    case.touches[0] = heights(&["0", "256"]);
    case.touches[2] = vec![i64::from(i32::MIN), i64::from(i32::MAX)];
    let seen = assess(&case, None);
    let out = |station| (RefusalKind::OutOfRange, Some(station));
    assert_eq!(
        kinds(&seen),
        [(RefusalKind::Unsteady, Some(Station::Tip)), out(Station::Tip), out(Station::Plate)]
    );
    assert_eq!(seen.refusals()[0].seen(), Some(Amount::Length(mm("256"))));
    assert_eq!((seen.refusals()[1].seen(), seen.refusals()[1].limit()), (None, None));
    assert_eq!((seen.landing_seen(), seen.touches()), (None, None));
    assert!(!seen.accepted() && !seen.for_gauge_check());

    // Just within reach: unsteady, but held.
    case.touches[0] = vec![0, (1 << 24) - 1];
    case.touches[2] = heights(&["7.25", "7.25"]);
    let seen = assess(&case, None);
    assert!(kinds(&seen).iter().all(|(kind, _)| *kind != RefusalKind::OutOfRange), "{:?}", kinds(&seen));

    // Every station by itself is fine, their combination is not.
    let mut case = workshop_case();
    case.touches[1] = heights(&["-32000", "-32000"]);
    case.touches[2] = heights(&["32000", "32000"]);
    let seen = assess(&case, None);
    assert_eq!(kinds(&seen), [(RefusalKind::OutOfRange, None)]);
    assert!(seen.landing_seen().is_none() && seen.touches().is_some());

    // A last span that leaves the range when compared.
    let mut case = workshop_case();
    case.touches[2] = heights(&["32000", "32000"]);
    let last = LastSpan::new(mm("-32000"), Variance::ZERO);
    let seen = assess(&case, Some(&last));
    assert!(kinds(&seen).contains(&(RefusalKind::OutOfRange, None)));
    // What could be computed is still told, and no other reason is lost.
    assert!(seen.landing_seen().is_some() && !seen.accepted());
    assert!(kinds(&seen).contains(&(RefusalKind::PlateOutOfPlace, None)));
    assert!(kinds(&seen).contains(&(RefusalKind::LandingOutOfWindow, None)));
}

/// Too few touches are no verdict: which station, and how many it has. One touch is enough with a study.
#[test]
fn too_few_touches_are_no_verdict() {
    for (place, station) in Station::ALL.into_iter().enumerate() {
        let mut case = workshop_case();
        case.touches[place].clear();
        assert_eq!(try_assess(&case, None).err(), Some(TooFew { station, count: 0 }));
        case.touches[place] = workshop_case().touches[place][..1].to_vec();
        assert!(try_assess(&case, None).expect("a study").accepted());
        match station {
            Station::Tip => case.draft.pooled.tip = None,
            Station::Shoulder => case.draft.pooled.shoulder = None,
            Station::Plate => case.draft.pooled.plate = None,
        }
        assert_eq!(try_assess(&case, None).err(), Some(TooFew { station, count: 1 }));
    }
}

/// The floor Δ²/12 and its infinite degrees of freedom; above it, s²/n with n − 1, or the study's.
#[test]
fn no_station_is_better_than_its_steps() {
    let case = |steps: (u32, u32), pooled: Option<Pooled>, z: &[i64]| {
        let mut case = with(|draft| {
            draft.travel.steps = steps;
            draft.pooled.tip = pooled;
        });
        case.touches[0] = z.to_vec();
        let setup: Setup = checked(&case.draft);
        (assess(&case, None).touches().expect("closed").tip, setup.rounding())
    };
    // All on one step: Δ²/12, and no end of degrees of freedom.
    let (tip, floor) = case((960, 1), None, &[32_768; 5]);
    assert_eq!((tip.variance(), tip.dof().finite()), (floor, None));
    // (1/960)²/12 mm² = 0.0904 µm².
    assert!((floor.to_f64() * 1e6 - 0.090_422).abs() < 1e-6);
    // Scatter above it counts: 100 bits up and down, s² = 100²·4/3 bits², over 4.
    let (tip, floor) = case((960, 1), None, &[32_668, 32_868, 32_668, 32_868]);
    assert!(tip.variance() > floor);
    assert_eq!(tip.dof().finite(), Some(3));
    assert!((tip.variance().to_f64() * 2.0_f64.powi(32) - 10_000.0 / 3.0).abs() < 1e-3);
    assert!(
        (tip.s().expect("held").expect("four").to_f64() * 65_536.0 - (40_000.0_f64 / 3.0).sqrt()).abs()
            < 1e-2
    );
    // The study's s instead, whatever the touches show.
    let (tip, _) = case((960, 1), study("0.0015", 40), &[32_768; 5]);
    assert_eq!(tip.dof().finite(), Some(40));
    assert!((tip.variance().to_f64() - 0.0015 * 0.0015 / 5.0).abs() < 1e-10);
    // A study at the floor: s² = Δ²/12 exactly for one touch of 12 steps a… Δ = 1/64 mm, s = 1/64/√12 is not
    // a fraction, so one bit either side of it turns the verdict.
    let near = root(&(whole(1) / whole(64 * 64 * 12)));
    let below = to_f64(&in_bits(&near, 24)).floor() as i64;
    for (s, dof) in [(below, None), (below + 1, Some(7))] {
        let pooled = Pooled { s: u_bits(s), dof: NonZeroU32::new(7).expect("7") };
        let (tip, floor) = case((64, 1), Some(pooled), &[32_768]);
        assert_eq!(tip.dof().finite(), dof);
        assert_eq!(tip.variance() == floor, dof.is_none());
        assert_eq!((tip.s(), tip.count()), (Ok(None), 1));
    }
}

/// The whole of it with another centre: a wild touch in five moves a mean by a fifth of its size, a median
/// not at all.
#[test]
fn centres_differ_where_they_should() {
    let centre = |which| {
        let mut case = with(|draft| {
            draft.touch.centre = which;
            draft.touch.band = mm("1");
        });
        case.touches[0][2] += 65_536 / 2;
        let seen = assess(&case, None);
        seen.landing_seen().expect("held").height
    };
    let sound = assess(&workshop_case(), None).landing().expect("accepted").height;
    let off = |which| i64::from(centre(which).to_bits()) - i64::from(sound.to_bits());
    assert!((off(Centre::Mean) - 65_536 / 10).abs() <= 1);
    assert_eq!(off(Centre::Median), 0);
    assert!((0..100).contains(&off(Centre::HodgesLehmann)));
}

/// An uncertainty that cannot be held makes the landing out of range, whatever else is fine.
#[test]
fn an_uncertainty_that_cannot_be_held_is_out_of_range() {
    let mut case = with(|draft| draft.accept.expanded_u = u("1"));
    case.draft.growth[0].rate_u = zdatum_tests::machine::growth("62.5");
    case.draft.accept.landing = LengthRange { low: mm("-100"), high: mm("100") };
    let seen = assess(&case, None);
    assert_eq!(kinds(&seen), [(RefusalKind::OutOfRange, None)], "62.5 µm/K over 80 K are 5 mm");
    case.draft.growth[0].print = zdatum_tests::machine::celsius("1000");
    let seen = assess(&case, None);
    assert_eq!(kinds(&seen), [(RefusalKind::OutOfRange, None)], "62.5 µm/K over 860 K are 54 mm");
}
