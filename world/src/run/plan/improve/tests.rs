//! What to improve on machines whose error is a sum of known parts.

use zdatum::Temperature;
use zdatum::setup::{Follows, Grows};

use super::*;
use crate::run::plan::search::tests::{GO, bare};
use crate::run::plan::tests::machine::{self, SILENT, latency, studied, u};

#[test]
fn three_digits_are_kept_and_none_is_rounded_up() {
    for (x, due) in
        [(0.012_349, 0.0123), (99.99, 99.9), (1_239.9, 1_230.0), (1.005, 1.0), (0.0, 0.0), (-1.0, 0.0)]
    {
        let seen = three_digits(x);
        assert!((seen - due).abs() <= 1e-12 * due, "{x}: {seen}");
    }
}

#[test]
fn doubts_are_scaled_as_they_are_written() {
    assert_eq!(length_u(u("0.008"), 0.25), u("0.002"));
    assert_eq!(latency_u(latency("0.0008"), 0.25), latency("0.0002"));
    assert_eq!(
        (length_u(u("0.008"), 0.0), latency_u(latency("0.0008"), 0.0)),
        (Uncertainty::ZERO, Latency::ZERO)
    );
}

fn grows(rate_u: &str) -> Grows {
    let celsius = |text| Temperature::parse(text).expect("a temperature");
    let growth = |text| Growth::parse(text).expect("a growth");
    Grows {
        follows: Follows::Tool,
        rate: growth("0.3"),
        rate_u: growth(rate_u),
        touch: celsius("120"),
        print: celsius("220"),
    }
}

/// A machine with something of everything.
fn imperfect() -> (Draft, Noise) {
    let mut draft = machine::draft();
    draft.probe.trip_depth_u = u("0.0625");
    draft.probe.delay.latency_u = latency("0.0004");
    draft.datum_switch.delay.latency_u = latency("0.0002");
    draft.growth.push(grows("0.25")).expect("room");
    draft.growth.push(grows("0.5")).expect("room");
    let noise = Noise {
        tip_switch: 0.001,
        shoulder_switch: 0.003,
        plate_switch: 0.002,
        drift: 0.004,
        tip_filament: 0.005,
        ..SILENT
    };
    (draft, noise)
}

#[test]
fn each_part_is_made_smaller_alone() {
    let (draft, noise) = imperfect();
    let halved = |change: &dyn Fn(&mut Draft, &mut Noise)| {
        let (mut draft, mut noise) = (draft.clone(), noise);
        change(&mut draft, &mut noise);
        (draft, noise)
    };
    let due = [
        ("trip depth’s u", 0.0625, "mm", halved(&|draft, _| draft.probe.trip_depth_u = u("0.03125"))),
        (
            "plate switch latency’s u",
            0.0004,
            "s",
            halved(&|draft, _| draft.probe.delay.latency_u = latency("0.0002")),
        ),
        (
            "datum switch latency’s u",
            0.0002,
            "s",
            halved(&|draft, _| draft.datum_switch.delay.latency_u = latency("0.0001")),
        ),
        ("growth of nozzle, its u", 0.25, "µm/°C", halved(&|draft, _| draft.growth[0] = grows("0.125"))),
        // One more than there are names.
        ("growth of growth, its u", 0.5, "µm/°C", halved(&|draft, _| draft.growth[1] = grows("0.25"))),
        ("plate switch’s noise", 0.002, "mm", halved(&|_, noise| noise.plate_switch = 0.001)),
        // The larger of the two at the datum switch; both are its.
        (
            "datum switch’s noise",
            0.003,
            "mm",
            halved(&|_, noise| (noise.tip_switch, noise.shoulder_switch) = (0.0005, 0.0015)),
        ),
        ("growth still to come", 0.004, "mm", halved(&|_, noise| noise.drift = 0.002)),
        ("filament on the tip", 0.005, "mm", halved(&|_, noise| noise.tip_filament = 0.0025)),
    ];
    let all = parts(&["nozzle".into()], &draft, &noise);
    assert_eq!(all.len(), due.len());
    for (part, (name, now, unit, changed)) in all.iter().zip(due) {
        assert_eq!((part.name.as_str(), part.unit), (name, unit));
        assert!((part.now / now - 1.0).abs() < 0.001, "{name}: {}", part.now);
        let (mut draft, mut noise) = (draft.clone(), noise);
        (part.change)(&mut draft, &mut noise, 0.5);
        assert_eq!((draft, noise), changed, "{name}");
    }
}

#[test]
fn what_there_is_none_of_is_no_part() {
    assert!(parts(&[], &machine::draft(), &SILENT).is_empty());
}

/// Three touches a cycle. The error's standard deviation is that of trip depth and growth, 4 and 0.03 · 100 = 3 µm, together 5 µm; a plate
/// switch of 0.5 µm adds next to nothing.
fn summed() -> Bench {
    let mut draft = machine::draft();
    draft.probe.trip_depth_u = u("0.004");
    draft.growth.push(grows("0.03")).expect("room");
    draft.pooled = studied("0.001");
    draft.touch = zdatum::setup::Touch { least: 1, most: 1, ..draft.touch };
    machine::bench(&draft, &Noise { plate_switch: 0.0005, ..SILENT })
}

/// What is needed so that 4 % (0.8 of the risk) lie beyond 9 µm: 4.3822 µm, as 4 % lie beyond 2.053749 standard deviations. Of the
/// square that may stay 2 % are kept in hand.
#[test]
fn what_is_needed_is_what_the_other_parts_leave() {
    let bench = summed();
    let names = ["nozzle".to_string()];
    let asked = crate::run::plan::Asked { growth_names: &names, ..machine::asked(&bench, 0.009, 0.05) };
    let search = bare(&asked, &GO, &|_| {});
    let own = bench.setup.draft().touch;
    let sd = (16e-6 + 9e-6 + 0.25e-6_f64).sqrt();
    let found = all(&search, &machine::way(&asked, own, 9.0, sd)).expect("not stopped");
    let may = 0.009 / 2.053_749;
    let left = |others: f64| 0.98_f64.sqrt() * (may * may - others * others).sqrt();
    let others = [0.003_f64.hypot(0.0005), 0.004_f64.hypot(0.0005)];
    let [trip, growth, switch] = &found[..] else { panic!("{found:?}") };
    assert_eq!(
        [&trip.part, &growth.part, &switch.part],
        ["trip depth’s u", "growth of nozzle, its u", "plate switch’s noise"]
    );
    let near =
        |seen: f64, due: f64, within: f64| assert!((seen / due - 1.0).abs() < within, "{seen}, not {due}");
    near(trip.needed.expect("it can be met"), left(others[0]), 0.03);
    // µm/°C, over 100 °C.
    near(growth.needed.expect("it can be met"), left(others[1]) * 10.0, 0.06);
    near(trip.now, 0.004, 0.001);
    for improved in [trip, growth] {
        // A little less than 4 %, and the bound of 200,000 runs above it: 2.13 · √(0.04 · 0.96/200,000).
        let upper = improved.upper.expect("it can be met");
        near(improved.chance, 0.039, 0.05);
        near(upper - improved.chance, 2.13 * (0.04 * 0.96 / 200_000.0_f64).sqrt(), 0.05);
    }
    // Without any of its noise 7.2 % are beyond: 1.8 standard deviations of 5 µm.
    assert_eq!((switch.needed, switch.upper), (None, None));
    near(switch.chance, 0.071_86, 0.03);
    // The machine as it is and without each part; a single step for the two that suffice, as the line is straight; their confirmations.
    assert_eq!(search.done(), 6 * RUNS + 2 * CONFIRMING);
}

/// Filament that nothing squashes is all in the error: 6 µm beside a scatter of 4 µm. The square of the reach is no straight line in it.
/// By halving, 0.08 % lie beyond 18.62 µm, and beyond 13.41 µm without any; steps along the chord, each 2 % short in the square, come to
/// 4.80, 4.46 and 4.35 µm with 17.42, 17.08 and 16.97 µm; the last is within 17 µm.
#[test]
fn steps_go_on_where_the_line_is_not_straight() {
    let mut draft = summed().setup.draft().clone();
    draft.growth.clear();
    let noise = Noise { tip_filament: 0.006, tip_squash: 0.0, ..SILENT };
    let bench = machine::bench(&draft, &noise);
    let asked = machine::asked(&bench, 0.017, 0.001);
    let search = bare(&asked, &GO, &|_| {});
    let way = machine::way_about(&asked, draft.touch, 9.0, 0.006, 0.004);
    let seen = search.counted(&bench, RUNS).expect("not stopped");
    let all = parts(&[], &draft, &noise);
    let part = all.last().expect("two parts");
    let found = improved(&search, &way, &seen, part).expect("not stopped");
    assert_eq!((found.part.as_str(), found.now), ("filament on the tip", 0.006));
    let needed = found.needed.expect("it can be met");
    assert!((needed - 0.004_35).abs() < 1.1e-5, "{needed}");
    // 12.65 µm are 3.1625 standard deviations.
    assert!((found.chance / 0.000_782 - 1.0).abs() < 5.0 / 313_f64.sqrt(), "{}", found.chance);
    // As it is, without any, three steps; 400,000 runs confirm 0.0008 where 0.001 is asked for.
    assert_eq!(search.done(), 5 * RUNS + 400_000);
}

#[test]
fn a_stopped_search_improves_nothing() {
    static STOP: std::sync::atomic::AtomicBool = std::sync::atomic::AtomicBool::new(true);
    let bench = summed();
    let asked = machine::asked(&bench, 0.009, 0.05);
    let way = machine::way(&asked, bench.setup.draft().touch, 9.0, 0.005);
    assert_eq!(all(&bare(&asked, &STOP, &|_| {}), &way), None);
}
