//! What changes when something changes: the table of the geometry, row by row, exact to the bit; and what
//! must not matter.

use proptest::prelude::*;
use zdatum::landing::budget;
use zdatum::setup::Follows;
use zdatum::trim::{Check, Depth, Weighing, trim};
use zdatum::{Landing, Readings, Setup, Source, Station, Temperature};
use zdatum_tests::case::{ToExact, bits, land, series_of};
use zdatum_tests::generate::{Case, cycle, length, property, speed, within};
use zdatum_tests::machine::{celsius, checked, growth, heights, latency, mm, u, workshop};
use zdatum_tests::oracle::{in_bits, to_f64, whole};

/// How many δ each height and each result moves by.
struct Row {
    what: &'static str,
    /// T, S, P.
    touches: [i64; 3],
    /// L, d, r, P − S.
    results: [i64; 4],
}

/// The table, with the drop beside it (d = S − T).
const ROWS: [Row; 6] = [
    Row { what: "plate thicker", touches: [0, 0, 1], results: [1, 0, 1, 1] },
    Row { what: "nozzle longer", touches: [1, 0, 0], results: [1, -1, 0, 0] },
    Row { what: "probe seats lower", touches: [0, 1, 1], results: [0, 1, 0, 0] },
    Row { what: "datum switch higher", touches: [1, 1, 0], results: [0, 0, -1, -1] },
    Row { what: "homed anew", touches: [1, 1, 1], results: [1, 0, 0, 0] },
    Row { what: "true trip depth larger, not entered", touches: [0, 0, 1], results: [1, 0, 1, 1] },
];

/// The landing of a case, where it can be held.
fn landing(case: &Case) -> Option<Landing> {
    land(&checked(&case.draft), case).and_then(|(_, landing)| landing.ok())
}

fn results(landing: &Landing) -> [i64; 4] {
    [landing.height, landing.drop, landing.rise, landing.span].map(|x| i64::from(x.to_bits()))
}

/// A case with every height of a station moved; `None` where one leaves the range.
fn moved(case: &Case, by: [i64; 3]) -> Option<Case> {
    let mut case = case.clone();
    for (z, by) in case.touches.iter_mut().zip(by) {
        for z in z.iter_mut() {
            *z += by;
            zdatum::Length::from_bits(*z).ok()?;
        }
    }
    Some(case)
}

#[test]
fn the_table_holds_to_the_bit() {
    let delta = prop_oneof![within(-(1 << 20), 1 << 20), within(-100, 100), Just(1), Just(-1)];
    let (held, cases) = (std::cell::Cell::new(0), std::cell::Cell::new(0));
    property((cycle(), delta), |(case, delta)| {
        cases.set(cases.get() + 1);
        let Some(before) = landing(&case) else { return Ok(()) };
        for row in &ROWS {
            let Some(after) = moved(&case, row.touches.map(|n| n * delta)).as_ref().and_then(landing) else {
                continue;
            };
            let expected: Vec<i64> =
                results(&before).iter().zip(row.results).map(|(x, n)| x + n * delta).collect();
            prop_assert_eq!(results(&after).to_vec(), expected, "{}", row.what);
            prop_assert_eq!(after.uncertainty, before.uncertainty, "{}", row.what);
            prop_assert_eq!(after.corrections, before.corrections, "{}", row.what);
            held.set(held.get() + 1);
        }
        Ok(())
    });
    assert!(
        held.get() > cases.get(),
        "too few of six rows could be held: {} of {} cases",
        held.get(),
        cases.get()
    );
}

/// A trip depth entered larger by δ brings landing and rise down by δ; drop and span, which know no t, stay.
#[test]
fn a_larger_trip_depth_brings_the_nozzle_closer_to_the_bit() {
    property((cycle(), 0_i64..100_000), |(case, delta)| {
        let mut deeper = case.clone();
        deeper.draft.probe.trip_depth =
            bits((i64::from(case.draft.probe.trip_depth.to_bits()) + delta).min(10_000 << 16));
        let delta = i64::from(deeper.draft.probe.trip_depth.to_bits())
            - i64::from(case.draft.probe.trip_depth.to_bits());
        let (Some(before), Some(after)) = (landing(&case), landing(&deeper)) else { return Ok(()) };
        let [l, d, r, span] = results(&before);
        prop_assert_eq!(results(&after), [l - delta, d, r - delta, span]);
        Ok(())
    });
}

/// Touches in another order: the same centre, spread, s and u, whichever centre is asked for, and so the same
/// landing.
#[test]
fn the_order_of_touches_does_not_matter() {
    let shuffled = cycle().prop_flat_map(|case| {
        let orders = [0, 1, 2].map(|i| Just(case.touches[i].clone()).prop_shuffle());
        (Just(case), orders)
    });
    property(shuffled, |(case, orders)| {
        let setup = checked(&case.draft);
        let other = Case { touches: orders, ..case.clone() };
        for which in [zdatum::Centre::Mean, zdatum::Centre::Median, zdatum::Centre::HodgesLehmann] {
            for (a, b) in case.touches.iter().zip(&other.touches) {
                let (a, b) = (series_of(a).centre(which), series_of(b).centre(which));
                // Another first touch may see the others nearer or further than 256 mm.
                if let (Ok(a), Ok(b)) = (a, b) {
                    prop_assert_eq!(a, b, "{:?}", which);
                }
            }
        }
        if let (Some((a, landing_a)), Some((b, landing_b))) = (land(&setup, &case), land(&setup, &other)) {
            prop_assert_eq!(landing_a, landing_b);
            for (a, b) in [(a.tip, b.tip), (a.shoulder, b.shoulder), (a.plate, b.plate)] {
                prop_assert_eq!(
                    (a.count(), a.spread(), a.variance(), a.dof(), a.s()),
                    (b.count(), b.spread(), b.variance(), b.dof(), b.s())
                );
            }
        }
        Ok(())
    });
}

/// Five touches about one height, as a workshop's switches give them, at tip, shoulder and plate.
pub(crate) fn workshop_case() -> Case {
    Case {
        draft: workshop(),
        touches: [
            heights(&["0.5", "0.5025", "0.5", "0.4975", "0.5"]),
            heights(&["6.75", "6.7475", "6.75", "6.7525", "6.75"]),
            heights(&["7.25", "7.2525", "7.25", "7.2475", "7.25"]),
        ],
        readings: [Readings::default(); 3],
    }
}

/// Worked by hand: d = 6.25, P − S = 0.5, r = 0.5 − 0.55 = −0.05, growth 0.3 µm/K · 80 K = 0.024: L = 0.5 −
/// 0.05 + 0.024.
#[test]
fn a_landing_worked_by_hand() {
    let case = workshop_case();
    let landing = landing(&case).expect("held");
    let near = |seen: zdatum::Length, text: &str| {
        let off = seen.to_bits().abs_diff(mm(text).to_bits());
        assert!(off <= 1, "{seen} is not {text}");
    };
    near(landing.height, "0.474");
    near(landing.drop, "6.25");
    near(landing.span, "0.5");
    near(landing.rise, "-0.05");
    near(landing.corrections.growth, "0.024");
    near(landing.corrections.speed, "0");
    // u² = (1.5² + 1.5² + 3²)/5 + 4² + (80 · 0.02)² = 2.7 + 16 + 2.56 = 21.26 µm².
    assert!((landing.uncertainty.u.to_f64() - 4.610_857e-3).abs() < 5e-8);
    assert!((landing.span_u().to_f64() - 1.5e-3).abs() < 1e-7);
}

/// The budget names each source once, in order, with what it adds; what adds nothing is left out.
#[test]
fn the_budget_lists_every_source() {
    let mut case = workshop_case();
    let sources = |case: &Case| {
        let setup = checked(&case.draft);
        let (touches, landing) = land(&setup, case).expect("closed");
        let terms = budget(&setup, &touches).expect("held");
        let sum = terms.iter().try_fold(zdatum::Variance::ZERO, |sum, term| sum.plus(term.variance));
        assert_eq!(sum, landing.map(|landing| landing.uncertainty.variance), "the terms add up to u²");
        terms.iter().map(|term| (term.source, term.variance.root(), term.dof.finite())).collect::<Vec<_>>()
    };
    let names = |case: &Case| sources(case).iter().map(|(source, ..)| *source).collect::<Vec<_>>();
    let stations = Station::ALL.map(Source::Touches);
    let with = |rest: &[Source]| [&stations, rest].concat();
    assert_eq!(names(&case), with(&[Source::TripDepth, Source::Growth(0)]));

    // Plate approached 2 mm/s faster than trimmed, u(τ) 0.3 ms: 0.6 µm. Shoulder 1 mm/s slower than the tip,
    // 0.1 ms: 0.1 µm.
    case.readings[2].speed = Some(zdatum_tests::machine::speed("3.5"));
    assert_eq!(names(&case), with(&[Source::TripDepth, Source::PlateLatency, Source::Growth(0)]));
    case.readings[1].speed = Some(zdatum_tests::machine::speed("0.5"));
    case.draft.soak_left = mm("0.003");
    let seen = sources(&case);
    let rest =
        [Source::TripDepth, Source::PlateLatency, Source::DatumLatency, Source::Growth(0), Source::Soak];
    assert_eq!(names(&case), with(&rest));
    let expected = [
        0.0015 / 5_f64.sqrt(),
        0.0015 / 5_f64.sqrt(),
        0.003 / 5_f64.sqrt(),
        0.004,
        0.000_6,
        0.000_1,
        0.0016,
        // 0.003 mm is held as 197 bits of 2⁻¹⁶ mm.
        197.0 / 65_536.0 / 12_f64.sqrt(),
    ];
    for ((source, u, dof), right) in seen.into_iter().zip(expected) {
        assert!((u.to_f64() - right).abs() < 2e-7, "{source:?}: {u} against {right}");
        assert_eq!(dof, matches!(source, Source::Touches(_)).then_some(40), "{source:?}");
    }
    case.draft.growth[0].rate_u = zdatum::Growth::ZERO;
    assert_eq!(
        names(&case),
        with(&[Source::TripDepth, Source::PlateLatency, Source::DatumLatency, Source::Soak])
    );
}

/// Approach speed: + (v_P − v₀)·τ_plate − (v_S − v_T)·τ_datum. A thousandth of a second at 1 mm/s is 1 µm.
#[test]
fn speed_corrects_with_the_right_sign() {
    let mut case = workshop_case();
    case.draft.probe.delay.latency = latency("0.0625");
    case.draft.datum_switch.delay.latency = latency("0.03125");
    case.draft.datum_switch.overtravel = mm("2.6");
    case.draft.touch.first_speed = zdatum_tests::machine::speed("1.5");
    let speeds = |tip: &str, shoulder: &str, plate: &str| {
        let mut case = case.clone();
        for (readings, text) in case.readings.iter_mut().zip([tip, shoulder, plate]) {
            readings.speed = (!text.is_empty()).then(|| zdatum_tests::machine::speed(text));
        }
        let seen = landing(&case).expect("held");
        let rise_moves = seen.rise.minus(landing(&workshop_case()).expect("held").rise).expect("held");
        assert_eq!(rise_moves, seen.corrections.speed, "the rise takes the correction");
        seen.corrections.speed.to_bits()
    };
    // v₀ and the fine speed are 1.5 mm/s; 1/16 mm is 4,096 bits.
    assert_eq!(speeds("", "", ""), 0);
    assert_eq!(speeds("", "", "2.5"), 4_096);
    assert_eq!(speeds("", "", "0.5"), -4_096);
    assert_eq!(speeds("", "2.5", ""), -2_048);
    assert_eq!(speeds("2.5", "", ""), 2_048);
    assert_eq!(speeds("2.5", "2.5", ""), 0);
    assert_eq!(speeds("1", "1.5", "3.5"), 2 * 4_096 - 1_024);
}

/// Brass, 20.5·10⁻⁶/K (Callister, table B.6), 12.5 mm of it hot: 0.256 µm/K. Touched at 150 °C and printed at
/// 250 °C: 26 µm.
#[test]
fn growth_of_a_hot_nozzle() {
    let mut case = workshop_case();
    case.draft.growth[0].rate = growth("0.25625");
    case.draft.growth[0].touch = celsius("150");
    case.draft.growth[0].print = celsius("250");
    let seen = landing(&case).expect("held");
    assert!((seen.corrections.growth.to_f64() - 0.025_625).abs() < 2.0_f64.powi(-17) + 1e-9);
    let before = landing(&workshop_case()).expect("held");
    assert_eq!(
        (seen.rise, seen.span, seen.drop),
        (before.rise, before.span, before.drop),
        "growth is the landing's alone"
    );
    case.draft.growth[0].rate = growth("-0.25625");
    let shrinks = landing(&case).expect("held").corrections.growth.to_bits();
    assert_eq!(shrinks, -seen.corrections.growth.to_bits());
}

/// What follows the tool is read at the tip's touches, bed and chamber at the plate's; no other reading
/// counts.
#[test]
fn temperatures_are_read_where_they_count() {
    let base = workshop_case();
    let reading = |station: usize, follows: Follows| {
        let mut case = base.clone();
        case.draft.growth[0].follows = follows;
        let place = &mut case.readings[station];
        let degrees: Option<Temperature> = Some(celsius("20"));
        match follows {
            Follows::Tool => place.tool = degrees,
            Follows::Bed => place.bed = degrees,
            Follows::Chamber => place.chamber = degrees,
        }
        let seen = landing(&case).expect("held").corrections.growth.to_f64();
        // 0.3 µm/K from 140 °C as the setup has it, or from the 20 °C that were read, to 220 °C.
        if (seen - 0.024).abs() < 1e-4 {
            false
        } else {
            assert!((seen - 0.060).abs() < 1e-4, "{seen}");
            true
        }
    };
    for (follows, counts) in [(Follows::Tool, 0), (Follows::Bed, 2), (Follows::Chamber, 2)] {
        for station in 0..3 {
            assert_eq!(reading(station, follows), station == counts, "{follows:?} read at station {station}");
        }
    }
}

/// *Common practice*: t = 0.50, a gauge of 0.10, drag first felt at 0.08: a full trim gives 0.52, and the
/// nozzle comes 0.02 closer. And worked with K = 1: t = 0.640, g = 0.150, c = 0.115 gives 0.675 and a landing
/// 0.035 lower.
#[test]
fn gauge_checks_of_common_practice() {
    for (t, gauge, felt, trimmed, closer) in
        [("0.50", "0.10", "0.08", "0.52", "0.02"), ("0.640", "0.150", "0.115", "0.675", "0.035")]
    {
        let mut case = workshop_case();
        case.draft.probe.trip_depth = mm(t);
        let before = landing(&case).expect("held");
        let known = Depth { t: mm(t), u: u("0.1"), speed: case.draft.probe.trimmed_at_speed };
        let check = Check {
            too_high: mm(gauge).minus(mm(felt)).expect("held"),
            wish: zdatum::Length::ZERO,
            made_with: mm(t),
            speed: known.speed,
            gauge_u: u("0.002"),
            feel_u: u("0.010"),
            landing_u: u("0.003"),
        };
        let seen = trim(&known, &[], &case.draft.probe.delay, &check, Weighing::Afresh).expect("held");
        assert!(seen.accepted);
        assert!(
            seen.depth.t.to_bits().abs_diff(mm(trimmed).to_bits()) <= 1,
            "{} against {trimmed}",
            seen.depth.t
        );
        assert_eq!((seen.weight, seen.depth.speed), (zdatum::Ratio::ONE, known.speed));
        // √(2² + 10² + 3²) = 10.63 µm.
        assert!((seen.depth.u.to_f64() - 0.010_630).abs() < 1e-6);
        case.draft.probe.trip_depth = seen.depth.t;
        let after = landing(&case).expect("held");
        let fell = before.height.minus(after.height).expect("held");
        assert_eq!(fell, seen.change, "the next landing is lower by the change of t");
        assert!(fell.to_bits().abs_diff(mm(closer).to_bits()) <= 1);
    }
}

/// A thinner plate moves the landing by exactly the difference and leaves the gauge check where it was: what
/// is felt, in coordinates of the landing, does not know the plate.
#[test]
fn a_thinner_plate_leaves_the_gauge_check_where_it_was() {
    property((within(1, 50_000), within(-3_000, 3_000), within(1, 20_000)), |(thinner, wrong, gauge)| {
        let trimmed_on = |thinner: i64| {
            let case = moved(&workshop_case(), [0, 0, -thinner]).expect("in range");
            let seen = landing(&case).expect("held");
            // The tip really meets the plate where a trip depth right by `wrong` would have said.
            let plate_top =
                i64::from(landing(&workshop_case()).expect("held").height.to_bits()) - thinner - wrong;
            let felt = plate_top + gauge - i64::from(seen.height.to_bits());
            let check = Check {
                too_high: bits(gauge - felt),
                wish: zdatum::Length::ZERO,
                made_with: case.draft.probe.trip_depth,
                speed: case.draft.probe.trimmed_at_speed,
                gauge_u: u("0.002"),
                feel_u: u("0.010"),
                landing_u: u("0.003"),
            };
            let known = Depth { t: check.made_with, u: u("0.2"), speed: check.speed };
            (
                seen.height,
                trim(&known, &[], &case.draft.probe.delay, &check, Weighing::Weighed).expect("held"),
            )
        };
        let ((high, check), (low, again)) = (trimmed_on(0), trimmed_on(thinner));
        prop_assert_eq!(i64::from(high.to_bits()) - i64::from(low.to_bits()), thinner);
        prop_assert_eq!(check, again);
        Ok(())
    });
}

/// A trim, then the same touches: the landing moves by −K·i, whatever the speed of the check's landing was.
#[test]
fn a_trim_followed_by_the_same_touches_moves_the_landing_by_what_it_should() {
    let check = (speed(), within(-10_000, 10_000), within(-10_000, 10_000), length(), any::<bool>());
    property((cycle(), check), |(mut case, (speed, too_high, other, _, afresh))| {
        case.readings[2].speed = Some(speed);
        let Some(before) = landing(&case) else { return Ok(()) };
        let probe = case.draft.probe;
        let known = Depth { t: probe.trip_depth, u: probe.trip_depth_u, speed: probe.trimmed_at_speed };
        let check = Check {
            too_high: bits(too_high),
            wish: zdatum::Length::ZERO,
            made_with: bits(i64::from(probe.trip_depth.to_bits()) + other),
            speed,
            gauge_u: u("0.002"),
            feel_u: u("0.010"),
            landing_u: u("0.003"),
        };
        let weighing = if afresh { Weighing::Afresh } else { Weighing::Weighed };
        let Ok(trimmed) = trim(&known, &[], &probe.delay, &check, weighing) else { return Ok(()) };
        case.draft.probe.trip_depth = trimmed.depth.t;
        case.draft.probe.trip_depth_u = trimmed.depth.u;
        case.draft.probe.trimmed_at_speed = trimmed.depth.speed;
        let Some(after) = Setup::check(case.draft.clone())
            .ok()
            .and_then(|setup| land(&setup, &case))
            .and_then(|(_, l)| l.ok())
        else {
            return Ok(());
        };
        let moved = before.height.exact() - after.height.exact();
        let share = num_rational::BigRational::new(trimmed.weight.to_bits().into(), 65_536.into());
        let expected = share * (bits(too_high).exact() + bits(other).exact());
        let off = to_f64(&in_bits(&(moved - expected), 16)).abs();
        // Three roundings to a bit; K is stated to 2^-16, i is below 20,000 bits.
        prop_assert!(off <= 2.0, "off by {off} bits");
        if afresh {
            prop_assert_eq!(after.corrections.speed.to_bits(), {
                let datum = before.corrections.speed.exact()
                    - (speed.exact() - known.speed.exact()) * probe.delay.latency.exact();
                let datum = to_f64(&in_bits(&datum, 16));
                prop_assert!((f64::from(after.corrections.speed.to_bits()) - datum).abs() <= 1.0);
                after.corrections.speed.to_bits()
            });
        }
        Ok(())
    });
}

/// u is at least the largest term's, U grows with the coverage asked for, and the shares add up to one.
#[test]
fn uncertainties_are_sane() {
    property(cycle(), |mut case| {
        let mut before = None;
        for coverage in zdatum::Coverage::ALL {
            case.draft.accept.coverage = coverage;
            let setup = checked(&case.draft);
            let Some((touches, Ok(landing))) = land(&setup, &case) else { return Ok(()) };
            let seen = landing.uncertainty;
            let terms = budget(&setup, &touches).expect("held");
            let mut sum = 0;
            for term in &terms {
                prop_assert!(term.variance <= seen.variance && term.variance.root() <= seen.u);
                sum += i64::from(seen.share(term).to_bits());
            }
            prop_assert!((sum - 65_536).abs() <= terms.len() as i64, "{sum}");
            let k = in_bits(&(seen.expanded.exact() / seen.u.exact()), 0);
            prop_assert!(k > whole(1), "U is above u");
            prop_assert!(Some(seen.expanded) > before);
            before = Some(seen.expanded);
        }
        Ok(())
    });
}
