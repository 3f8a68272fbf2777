//! Every rule of a machine file: kept at its limit, broken one bit beyond; every fault and every key can be
//! reached.

use zdatum::setup::{BadSetup, Draft, Fault, Key, LengthRange};
use zdatum::{Growth, Length, Setup, Speed, Uncertainty};
use zdatum_tests::case::{bits, u_bits};
use zdatum_tests::machine::{boundless, checked, mm, range, speed, study, u, workshop};

/// A change to the workshop's machine with the fault that it makes, or none.
struct Rule {
    what: &'static str,
    change: fn(&mut Draft),
    fault: Option<(Key, Fault)>,
}

const fn bad(what: &'static str, change: fn(&mut Draft), key: Key, fault: Fault) -> Rule {
    Rule { what, change, fault: Some((key, fault)) }
}

const fn good(what: &'static str, change: fn(&mut Draft)) -> Rule {
    Rule { what, change, fault: None }
}

fn kelvin(text: &str) -> zdatum::Warming {
    zdatum::Warming::parse(text).expect("a temperature difference")
}

/// One bit.
fn bit() -> Length {
    bits(1)
}

fn same(x: &str) -> LengthRange {
    range(x, x)
}

fn rules() -> Vec<Rule> {
    vec![
        good("as it is", |_| {}),
        bad("x reversed", |d| d.travel.x = range("180", "0"), Key::TravelX, Fault::LowAboveHigh),
        bad("x without width", |d| d.travel.x = same("5"), Key::TravelX, Fault::LowAboveHigh),
        bad("y reversed", |d| d.travel.y = range("180", "0"), Key::TravelY, Fault::LowAboveHigh),
        bad("z without width", |d| d.travel.z = same("5"), Key::TravelZ, Fault::LowAboveHigh),
        bad("no steps", |d| d.travel.steps = (0, 1), Key::TravelSteps, Fault::BadSteps),
        bad("steps over 1 mm", |d| d.travel.steps = (1, 2), Key::TravelSteps, Fault::BadSteps),
        good("tip at the corner", |d| {
            (d.stations.tip.x, d.stations.tip.y) = (mm("180"), mm("185"));
        }),
        bad(
            "tip right of travel",
            |d| d.stations.tip.x = mm("180.001"),
            Key::StationTip,
            Fault::OutsideTravel,
        ),
        bad("tip left of travel", |d| d.stations.tip.x = mm("-0.001"), Key::StationTip, Fault::OutsideTravel),
        good("shoulder at the front", |d| d.stations.shoulder.y = mm("-5")),
        bad(
            "shoulder in front",
            |d| d.stations.shoulder.y = mm("-5.001"),
            Key::StationShoulder,
            Fault::OutsideTravel,
        ),
        bad("plate behind", |d| d.stations.plate.y = mm("185.001"), Key::StationPlate, Fault::OutsideTravel),
        good("one tip height", |d| d.datum_switch.tip_height = same("0.5")),
        bad(
            "tip heights reversed",
            |d| d.datum_switch.tip_height = range("1", "0.5"),
            Key::TipHeight,
            Fault::LowAboveHigh,
        ),
        bad(
            "no overtravel",
            |d| d.datum_switch.overtravel = Length::ZERO,
            Key::Overtravel,
            Fault::NotPositive,
        ),
        bad("no trip depth", |d| d.probe.trip_depth = Length::ZERO, Key::TripDepth, Fault::NotPositive),
        good("trip depth at free height", |d| d.probe.free_height = d.probe.trip_depth),
        bad(
            "trip depth above free height",
            |d| d.probe.free_height = mm("0.5"),
            Key::TripDepth,
            Fault::AboveFreeHeight,
        ),
        bad(
            "u(t) above 1 mm",
            |d| d.probe.trip_depth_u = u("1.0000001"),
            Key::TripDepthU,
            Fault::Implausible,
        ),
        bad(
            "a trip depth known exactly",
            |d| d.probe.trip_depth_u = Uncertainty::ZERO,
            Key::TripDepthU,
            Fault::KnownExactly,
        ),
        good("a trip depth known to one bit", |d| d.probe.trip_depth_u = Uncertainty::LEAST),
        bad("drops reversed", |d| d.probe.drop = range("6.5", "6"), Key::Drop, Fault::LowAboveHigh),
        bad("no drop", |d| d.probe.drop = range("0", "6"), Key::Drop, Fault::NotPositive),
        bad("no free height", |d| d.probe.free_height = Length::ZERO, Key::FreeHeight, Fault::NotPositive),
        bad("rises reversed", |d| d.plates.rise = range("1", "0"), Key::Rise, Fault::LowAboveHigh),
        good("no margin", |d| d.plates.margin = Length::ZERO),
        bad("margin below zero", |d| d.plates.margin = bits(-1), Key::Margin, Fault::Negative),
        bad("no first speed", |d| d.touch.first_speed = Speed::ZERO, Key::FirstSpeed, Fault::NotPositive),
        bad("no fine speed", |d| d.touch.fine_speed = Speed::ZERO, Key::FineSpeed, Fault::NotPositive),
        good("fine as fast as first", |d| d.touch.fine_speed = d.touch.first_speed),
        bad(
            "fine above first",
            |d| d.touch.fine_speed = speed("6.001"),
            Key::FineSpeed,
            Fault::FineAboveFirst,
        ),
        bad("no lift", |d| d.touch.lift = Length::ZERO, Key::Lift, Fault::NotPositive),
        good("no stop", |d| d.touch.stop = Length::ZERO),
        bad("stop below zero", |d| d.touch.stop = bits(-1), Key::Stop, Fault::Negative),
        good("sixteen settling touches", |d| d.touch.settle = 16),
        bad("seventeen settling touches", |d| d.touch.settle = 17, Key::Settle, Fault::TooMany),
        good("64 touches", |d| d.touch.most = 64),
        bad("65 touches", |d| d.touch.most = 65, Key::Most, Fault::TooMany),
        bad("least of none", |d| d.touch.least = 0, Key::Least, Fault::NotPositive),
        good("least as many as most", |d| d.touch.least = 9),
        bad("least above most", |d| d.touch.least = 10, Key::Least, Fault::LeastAboveMost),
        good("one touch with studies", |d| d.touch.least = 1),
        bad(
            "one touch without a study at the tip",
            |d| (d.touch.least, d.pooled.tip) = (1, None),
            Key::Least,
            Fault::OneNeedsStudy,
        ),
        bad(
            "one touch without a study at the plate",
            |d| (d.touch.least, d.pooled.plate) = (1, None),
            Key::Least,
            Fault::OneNeedsStudy,
        ),
        good("two touches without a study", |d| (d.touch.least, d.pooled.plate) = (2, None)),
        bad("no band", |d| d.touch.band = Length::ZERO, Key::Band, Fault::NotPositive),
        good("a band of 1 mm", |d| d.touch.band = mm("1")),
        bad("a band in micrometres", |d| d.touch.band = mm("25"), Key::Band, Fault::Implausible),
        bad("a stop in micrometres", |d| d.touch.stop = mm("80"), Key::Stop, Fault::Implausible),
        good("a target of 1 mm", |d| d.touch.target_u = u("1")),
        bad("target above 1 mm", |d| d.touch.target_u = u("1.0000001"), Key::TargetU, Fault::Implausible),
        good("a target with studies", |d| d.touch.target_u = u("0.001")),
        bad(
            "a target without a study",
            |d| (d.touch.target_u, d.pooled.shoulder) = (u("0.001"), None),
            Key::TargetU,
            Fault::TargetNeedsStudy,
        ),
        bad(
            "tip's study in micrometres",
            |d| d.pooled.tip = study("1.5", 5),
            Key::PooledTip,
            Fault::Implausible,
        ),
        bad(
            "shoulder's study in micrometres",
            |d| d.pooled.shoulder = study("1.5", 5),
            Key::PooledShoulder,
            Fault::Implausible,
        ),
        bad(
            "plate's study in micrometres",
            |d| d.pooled.plate = study("1.5", 5),
            Key::PooledPlate,
            Fault::Implausible,
        ),
        bad(
            "tips between series in micrometres",
            |d| d.pooled.tip_between = study("2", 8),
            Key::PooledTipBetween,
            Fault::Implausible,
        ),
        bad(
            "spans between series in micrometres",
            |d| d.pooled.span_between = study("2", 8),
            Key::PooledSpanBetween,
            Fault::Implausible,
        ),
        good("growth below zero", |d| d.growth[0].rate = Growth::from_bits(-5).expect("held")),
        good("growth known exactly", |d| d.growth[0].rate_u = Growth::ZERO),
        bad(
            "u(g) below zero",
            |d| d.growth[0].rate_u = Growth::from_bits(-1).expect("held"),
            Key::GrowthU,
            Fault::Negative,
        ),
        bad(
            "u(temperature difference) below zero",
            |d| d.growth[0].delta_u = zdatum::Warming::from_bits(-1).expect("held"),
            Key::GrowthDeltaU,
            Fault::Negative,
        ),
        good("temperatures known to 100 K", |d| d.growth[0].delta_u = kelvin("100")),
        bad(
            "temperatures known to 101 K",
            |d| d.growth[0].delta_u = kelvin("101"),
            Key::GrowthDeltaU,
            Fault::ImplausibleWarming,
        ),
        bad(
            "readings that leave millimetres open",
            |d| {
                d.growth[0].rate = zdatum_tests::machine::growth("62.5");
                d.growth[0].delta_u = kelvin("70");
            },
            Key::GrowthDeltaU,
            Fault::TooUncertain,
        ),
        good("a landing that sinks", |d| d.soak_left = mm("-1")),
        bad(
            "more than 1 mm of growth left",
            |d| d.soak_left = mm("1.0001"),
            Key::SoakLeft,
            Fault::Implausible,
        ),
        bad("more than 1 mm to sink", |d| d.soak_left = mm("-1.0001"), Key::SoakLeft, Fault::Implausible),
        bad("unseen in micrometres", |d| d.unseen = u("5"), Key::Unseen, Fault::Implausible),
        bad("U in micrometres", |d| d.accept.expanded_u = u("30"), Key::AcceptU, Fault::Implausible),
        bad(
            "window reversed",
            |d| d.accept.landing = range("1", "-1"),
            Key::AcceptLanding,
            Fault::LowAboveHigh,
        ),
        bad(
            "window without width",
            |d| d.accept.landing = same("1"),
            Key::AcceptLanding,
            Fault::LowAboveHigh,
        ),
        bad("no shift", |d| d.accept.shift = Length::ZERO, Key::AcceptShift, Fault::NotPositive),
        bad(
            "no uncertainty accepted",
            |d| d.accept.expanded_u = Uncertainty::ZERO,
            Key::AcceptU,
            Fault::NotPositive,
        ),
        // Sums that leave the range of lengths.
        bad(
            "tip heights a world apart",
            |d| d.datum_switch.tip_height = range("-32768", "32767"),
            Key::TipHeight,
            Fault::CannotHold,
        ),
        bad(
            "drops a world apart",
            |d| d.probe.drop = range("0.001", "32767.99"),
            Key::Drop,
            Fault::CannotHold,
        ),
        bad(
            "rises a world apart",
            |d| {
                d.probe.drop = same("20000");
                d.plates.rise = range("-32768", "10000");
            },
            Key::Rise,
            Fault::CannotHold,
        ),
        bad("a lift of kilometres", |d| d.touch.lift = mm("32767"), Key::Lift, Fault::CannotHold),
        bad("clear of everything", |d| d.plates.margin = mm("32767.9"), Key::Rise, Fault::CannotHold),
    ]
}

#[test]
fn every_rule_on_both_sides() {
    for rule in rules() {
        let mut draft = workshop();
        (rule.change)(&mut draft);
        let seen = Setup::check(draft).err().map(|bad| (bad.key, bad.fault));
        assert_eq!(seen, rule.fault, "{}", rule.what);
    }
}

/// The workshop's machine with one length changed so that the rule of a floor is just kept; one bit more
/// breaks it.
fn at_its_limit(
    draft: &Draft,
    change: impl Fn(&mut Draft, Length),
    from: Length,
    fault: Fault,
    key: Key,
) -> BadSetup {
    let with = |x: i64| {
        let mut draft = draft.clone();
        change(&mut draft, bits(x));
        Setup::check(draft)
    };
    // Bisect between a kept and a broken rule, then look at both sides.
    let (mut kept, mut broken) = (i64::from(from.to_bits()), i64::from(from.to_bits()) + (50 << 16));
    assert!(with(kept).is_ok(), "{fault:?}: {:?}", with(kept));
    assert!(with(broken).is_err());
    while broken - kept > 1 {
        let middle = (kept + broken) / 2;
        if with(middle).is_ok() { kept = middle } else { broken = middle }
    }
    let bad = with(broken).expect_err("broken");
    assert_eq!((bad.key, bad.fault), (key, fault));
    let (seen, limit) = (bad.seen.expect("a length"), bad.limit.expect("a length"));
    let off = i64::from(seen.to_bits()) - i64::from(limit.to_bits());
    // Above the limit by one bit, or where it must be above, at it; below the reach by one bit.
    let expected = match fault {
        Fault::ShoulderLow | Fault::PlateLow => 0,
        Fault::BeyondReach if key != Key::TravelZ => -1,
        _ => 1,
    };
    assert_eq!(off, expected, "{bad}");
    bad
}

#[test]
fn floors_turn_at_one_bit() {
    let base = workshop();
    let tip = |d: &mut Draft, x: Length| d.datum_switch.tip_height.high = x;
    at_its_limit(&base, tip, mm("1"), Fault::TipOverpress, Key::Overtravel);
    let drop = |d: &mut Draft, x: Length| d.probe.drop.high = x;
    at_its_limit(&base, drop, mm("6.5"), Fault::ShoulderOverpress, Key::Overtravel);
    let margin = |d: &mut Draft, x: Length| d.plates.margin = x;
    at_its_limit(&base, margin, mm("0.5"), Fault::ShoulderLow, Key::Drop);
    let low = |d: &mut Draft, x: Length| d.plates.rise.low = Length::ZERO.minus(x).expect("held");
    let mut deep = base.clone();
    deep.travel.z = range("-100", "160");
    at_its_limit(&deep, low, mm("0.5"), Fault::PlateLow, Key::Rise);

    // The tip's floor at the lowest reach, then the plate's, then the highest move.
    let tip_floor = checked(&base).floors().tip;
    let lowest = |d: &mut Draft, x: Length| {
        d.travel.z.low = Length::ZERO.minus(mm("50")).and_then(|z| z.plus(x)).expect("held")
    };
    let bad = at_its_limit(&base, lowest, mm("40"), Fault::BeyondReach, Key::TipHeight);
    assert_eq!(bad.seen, Some(tip_floor));
    let mut low_plates = base.clone();
    low_plates.plates.rise = range("-6", "-5.5");
    low_plates.travel.z = range("-50", "160");
    let plate_floor = checked(&low_plates).floors().plate(mm("0.1"), mm("5.5")).expect("held");
    low_plates.plates.rise = range("-6.5", "-6.25");
    assert!(plate_floor < mm("0.5"));
    low_plates.probe.trip_depth_u = u("0.5");
    let bad = at_its_limit(&low_plates, lowest, mm("40"), Fault::BeyondReach, Key::Rise);
    assert_eq!(bad.seen, Some(checked(&low_plates).floors().plate(mm("0.1"), mm("5.5")).expect("held")));
    let lift = |d: &mut Draft, x: Length| d.touch.lift = x;
    let mut high = base.clone();
    high.travel.z = range("-3", "30");
    at_its_limit(&high, lift, mm("1"), Fault::BeyondReach, Key::TravelZ);
}

/// No fault and no key without a test that reaches it.
#[test]
fn every_fault_and_every_key_is_reached() {
    let mut reached: Vec<(Key, Fault)> = rules().iter().filter_map(|rule| rule.fault).collect();
    // Reached by `floors_turn_at_one_bit`.
    reached.extend([
        (Key::Overtravel, Fault::TipOverpress),
        (Key::Overtravel, Fault::ShoulderOverpress),
        (Key::Drop, Fault::ShoulderLow),
        (Key::Rise, Fault::PlateLow),
        (Key::TravelZ, Fault::BeyondReach),
    ]);
    for fault in Fault::ALL {
        assert!(reached.iter().any(|(_, seen)| seen == fault), "{fault:?} is never reached");
    }
    for key in Key::ALL {
        assert!(reached.iter().any(|(seen, _)| seen == key), "{key:?} is never reached");
    }
    let texts: std::collections::HashSet<_> = Key::ALL.iter().map(|key| key.text()).collect();
    assert_eq!(texts.len(), Key::ALL.len(), "every key has a path of its own");
    for fault in Fault::ALL {
        assert!(fault.text().len() > 10, "{fault:?}");
    }
}

/// A message names the key, the fault, what was seen and the limit, where they are lengths.
#[test]
fn messages_name_key_fault_and_lengths() {
    let mut draft = workshop();
    draft.probe.free_height = mm("0.5");
    let bad = Setup::check(draft).expect_err("t above f");
    assert_eq!(
        bad.to_string(),
        "probe.trip_depth: must not exceed free_height: the plunger trips when it is pressed in (seen 0.55 mm, limit 0.5 mm)"
    );
    let mut draft = workshop();
    draft.touch.least = 10;
    assert_eq!(Setup::check(draft).expect_err("too many").to_string(), "touch.least: is above touch.most");
}

/// A checked setup gives back what it was made of.
#[test]
fn a_checked_setup_is_its_draft() {
    let draft = workshop();
    let setup = checked(&draft);
    assert_eq!(setup.draft(), &draft);
    assert_eq!((setup.step().steps(), setup.step().mm()), (960, 1));
    assert_eq!(setup.rounding(), setup.step().rounding_variance());
    for (station, pooled) in
        zdatum::Station::ALL.into_iter().zip([draft.pooled.tip, draft.pooled.shoulder, draft.pooled.plate])
    {
        let method = setup.method(station);
        assert_eq!(
            (method.pooled, method.floor, method.centre),
            (pooled, setup.rounding(), draft.touch.centre)
        );
        assert_eq!(draft.pooled.of(station), pooled);
    }
    assert_eq!(checked(&boundless()).draft().touch.most, 64);
}

/// Floors worked by hand: e = 6·(0.0004 + 0.0003) + 0.08 + 1/960 = 0.0852417; for the plate 6·(0.0012 +
/// 0.0009) + 0.08 + 1/960 + 0.012 = 0.1056417.
#[test]
fn floors_worked_by_hand() {
    let setup = checked(&workshop());
    let floors = setup.floors();
    let near = |seen: Length, right: f64| {
        assert!((seen.to_f64() - right).abs() < 6.0 / 65_536.0, "{seen} against {right}");
    };
    near(floors.datum_overrun, 0.085_241_7);
    near(floors.plate_overrun, 0.105_641_7);
    near(floors.tip, 0.1 - 0.085_241_7);
    // A fine touch reads low by up to 1.5·(0.0004 + 0.0003) + half a step.
    near(floors.tip_at_most(mm("0.5")).expect("held"), 0.5 + 0.001_05 + 0.000_520_8);
    assert!(floors.tip_at_most(mm("32767.9999")).is_err());
    near(floors.shoulder(mm("0.5")).expect("held"), 0.5 + 5.5 - 0.085_241_7);
    near(floors.plate(mm("0.5"), mm("6")).expect("held"), 0.5 - 0.5 + 6.0 + 0.55 - 0.105_641_7);
    near(
        floors.plate_at_rise(mm("0.5"), mm("6"), mm("0.25")).expect("held"),
        0.5 + 0.25 + 6.0 + 0.55 - 0.105_641_7,
    );
    near(floors.clear, 1.1 + 0.75 + 0.5);
    near(floors.clear_with_probe, 1.1 + 0.75 + 0.5 + 6.75 + 1.25);
    let press = floors.dead_plunger(mm("0.75")).expect("held");
    near(press.past_trip, 1.25 + 0.105_641_7);
    near(press.shoulder_into_plate, 1.25 + 0.105_641_7 - 0.55);
    // Plates that all lie low do not lower the moves.
    let mut low = workshop();
    low.plates.rise = range("-0.5", "-0.25");
    near(checked(&low).floors().clear, 1.1 + 0.5);
    // What cannot be held is an error.
    assert!(floors.shoulder(mm("32767")).is_err());
    assert!(floors.plate(mm("32767"), mm("100")).is_err());
    assert!(floors.plate_at_rise(mm("-32768"), mm("-100"), mm("0")).is_err());
    assert!(floors.dead_plunger(mm("32767.9")).is_err());
    assert_eq!(u_bits(0), Uncertainty::ZERO);
    assert!(bit() > Length::ZERO);
}
