//! What to improve on machines whose error is a sum of known parts.

use zdatum::Temperature;
use zdatum::setup::{Follows, Grows};

use super::*;
use crate::questions::plan::PlanQuestion;
use crate::questions::plan::tests::machine::{self, GO, SILENT, STOP, latency, studied, u};

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
fn uncertainties_are_scaled_as_they_are_written() {
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
        delta_u: zdatum::Warming::ZERO,
        trimmed: zdatum::Warming::ZERO,
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
        assert_eq!((part.untried.part.as_str(), part.untried.unit), (name, unit));
        assert!((part.untried.now / now - 1.0).abs() < 0.001, "{name}: {}", part.untried.now);
        let (mut draft, mut noise) = (draft.clone(), noise);
        (part.change)(&mut draft, &mut noise, 0.5);
        assert_eq!((draft, noise), changed, "{name}");
    }
}

#[test]
fn what_there_is_none_of_is_no_part() {
    assert!(parts(&[], &machine::draft(), &SILENT).is_empty());
}

/// Three touches per cycle. The error's standard deviation is that of trip depth and growth, 4 and 0.03 · 100
/// = 3 µm, together 5 µm; a plate switch of 0.5 µm adds next to nothing.
fn summed() -> Bench {
    let mut draft = machine::draft();
    draft.probe.trip_depth_u = u("0.004");
    draft.growth.push(grows("0.03")).expect("room");
    draft.pooled = studied("0.001");
    draft.touch = zdatum::setup::Touch { least: 1, most: 1, ..draft.touch };
    machine::bench(&draft, &Noise { plate_switch: 0.0005, ..SILENT })
}

/// Aimed at 3.75 % (0.75 of the risk) beyond 9 µm: 4.3266 µm, as so many lie beyond 2.08 standard deviations.
#[test]
fn what_is_needed_is_what_the_other_parts_leave() {
    let bench = summed();
    let names = ["nozzle".to_string()];
    let asked = PlanQuestion { growth_names: &names, ..machine::asked(&bench, 0.009, 0.05) };
    let search = Search::new(&asked, &GO, &|_| {});
    let way = search.counted(&bench, RUNS).expect("not stopped");
    let found = all(&search, &way).expect("not stopped");
    let may = 0.009 / 2.080_122;
    let left = |others: f64| (may * may - others * others).sqrt();
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
        // The bound of 200,000 runs lies 2.13 · √(0.0375 · 0.9625/200,000) above.
        let upper = improved.upper.expect("it can be met");
        near(improved.chance, 0.0375, 0.07);
        near(upper - improved.chance, 2.13 * (0.0375 * 0.9625 / 200_000.0_f64).sqrt(), 0.05);
    }
    // Without any of its noise 7.2 % are beyond: 1.8 standard deviations of 5 µm.
    assert_eq!((switch.needed, switch.upper), (None, None));
    near(switch.chance, 0.071_86, 0.03);
}

/// Filament that nothing squashes is all in the error: 6 µm beside a scatter of 4 µm. The square of the reach
/// is no straight line in it, so the first aim fails its confirmation; what is told holds all the same.
#[test]
fn where_the_line_is_not_straight_a_lower_aim_serves() {
    let mut draft = summed().setup.draft().clone();
    draft.growth.clear();
    let noise = Noise { tip_filament: 0.006, tip_squash: 0.0, ..SILENT };
    let bench = machine::bench(&draft, &noise);
    let asked = machine::asked(&bench, 0.017, 0.001);
    let search = Search::new(&asked, &GO, &|_| {});
    let way = search.counted(&bench, RUNS).expect("not stopped");
    let all = parts(&[], &draft, &noise);
    let found = improved(&search, &way, all.last().expect("two parts")).expect("not stopped");
    assert_eq!((found.part.as_str(), found.now), ("filament on the tip", 0.006));
    let needed = found.needed.expect("it can be met");
    // 0.1 % lie beyond 17 µm with 4.6 µm of filament.
    assert!(3.6e-3 < needed && needed < 4.6e-3, "{needed}");
    assert!(found.upper.expect("confirmed") <= 0.001);
}

#[test]
fn a_stopped_search_improves_nothing() {
    let bench = summed();
    let asked = machine::asked(&bench, 0.009, 0.05);
    let way = Search::new(&asked, &GO, &|_| {}).counted(&bench, 1_000).expect("not stopped");
    assert_eq!(all(&Search::new(&asked, &STOP, &|_| {}), &way), None);
}
