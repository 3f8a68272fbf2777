//! Invented machines for tests and timings: one as a workshop might have, one that knows everything of
//! itself, one whose limits are as wide as they go. A test changes what it is about.

use std::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Follows, Grows, LengthRange, Place, Places, Plates, Probe, Studied, Touch,
    Travel,
};
use zdatum::{
    Centre, Coverage, Draft, Growth, Latency, Length, Pooled, Setup, Speed, Temperature, Uncertainty, Warming,
};

/// Millimetres from text.
pub fn mm(text: &str) -> Length {
    Length::parse(text).expect("a length")
}

/// An uncertainty from text.
pub fn u(text: &str) -> Uncertainty {
    Uncertainty::parse(text).expect("an uncertainty")
}

/// A speed from text.
pub fn speed(text: &str) -> Speed {
    Speed::parse(text).expect("a speed")
}

/// A latency from text, in seconds.
pub fn latency(text: &str) -> Latency {
    Latency::parse(text).expect("a latency")
}

/// A temperature from text.
pub fn celsius(text: &str) -> Temperature {
    Temperature::parse(text).expect("a temperature")
}

/// A growth from text, in µm/K.
pub fn growth(text: &str) -> Growth {
    Growth::parse(text).expect("a growth")
}

/// Lowest and highest.
pub fn range(low: &str, high: &str) -> LengthRange {
    LengthRange { low: mm(low), high: mm(high) }
}

/// A study.
pub fn study(s: &str, dof: u32) -> Option<Pooled> {
    Some(Pooled { s: u(s), dof: NonZeroU32::new(dof).expect("from 1 up") })
}

/// Touches from text, in mm.
pub fn heights(texts: &[&str]) -> Vec<i64> {
    texts.iter().map(|text| i64::from(mm(text).to_bits())).collect()
}

/// How late a switch is seen, and the uncertainty of that, in seconds.
pub fn delay(seconds: &str, seconds_u: &str) -> Delay {
    Delay { latency: latency(seconds), latency_u: latency(seconds_u) }
}

/// A part that grows by `rate` µm/K, known to `rate_u`, between two temperatures in °C.
pub fn part(follows: Follows, [rate, rate_u]: [&str; 2], [touch, print]: [&str; 2]) -> Grows {
    Grows {
        follows,
        rate: growth(rate),
        rate_u: growth(rate_u),
        touch: celsius(touch),
        print: celsius(print),
        delta_u: Warming::ZERO,
        trimmed: Warming::ZERO,
    }
}

/// A checked setup.
pub fn checked(draft: &Draft) -> Setup {
    Setup::check(draft.clone()).unwrap_or_else(|bad| panic!("the setup must pass: {bad}"))
}

/// A place on the bed.
pub fn place(x: &str, y: &str) -> Place {
    Place { x: mm(x), y: mm(y) }
}

/// A machine as a workshop might have; every number is invented. Trimmed, studied, one growing part.
pub fn workshop() -> Draft {
    Draft {
        travel: Travel {
            x: range("0", "180"),
            y: range("-5", "185"),
            z: range("-3", "160"),
            steps: (960, 1),
        },
        stations: Places {
            tip: place("170", "180"),
            shoulder: place("170", "155"),
            plate: place("90", "95"),
        },
        datum_switch: DatumSwitch {
            tip_height: range("0.1", "1.1"),
            overtravel: mm("2.5"),
            delay: delay("0.0004", "0.0001"),
        },
        probe: Probe {
            trip_depth: mm("0.55"),
            trip_depth_u: u("0.004"),
            trimmed_at_speed: speed("1.5"),
            drop: range("5.5", "6.75"),
            free_height: mm("1.25"),
            delay: delay("0.0012", "0.0003"),
        },
        plates: Plates { rise: range("-0.5", "0.75"), margin: mm("0.5") },
        touch: Touch {
            first_speed: speed("6"),
            fine_speed: speed("1.5"),
            lift: mm("0.75"),
            stop: mm("0.08"),
            settle: 1,
            least: 4,
            most: 9,
            band: mm("0.025"),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: false,
        },
        growth: [part(Follows::Tool, ["0.3", "0.02"], ["140", "220"])].into_iter().collect(),
        soak_left: Length::ZERO,
        unseen: Uncertainty::ZERO,
        accept: Accept {
            landing: range("-1.25", "1.75"),
            shift: mm("0.2"),
            expanded_u: u("0.025"),
            coverage: Coverage::P95,
        },
        pooled: Studied {
            tip: study("0.0015", 40),
            shoulder: study("0.0015", 40),
            plate: study("0.003", 40),
            ..Studied::default()
        },
    }
}

/// A machine that knows everything of itself: motor steps of 0.06 µm, nothing uncertain, nothing studied, and
/// limits so wide that nothing is refused.
pub fn exact() -> Draft {
    let mut draft = workshop();
    draft.travel.y = range("0", "180");
    draft.travel.steps = (1 << 14, 1);
    draft.datum_switch.delay.latency_u = Latency::ZERO;
    draft.probe.trip_depth_u = Uncertainty::LEAST;
    draft.probe.trimmed_at_speed = speed("0");
    draft.probe.drop = range("5.5", "6.5");
    draft.probe.delay = delay("0.001", "0");
    draft.plates.rise = range("-0.5", "0.5");
    draft.touch.fine_speed = speed("2");
    draft.touch.lift = mm("0.5");
    draft.touch.stop = mm("0.1");
    draft.touch.settle = 0;
    draft.touch.band = mm("1");
    draft.growth.clear();
    draft.accept.landing = range("-30", "30");
    draft.accept.shift = mm("10");
    draft.accept.expanded_u = u("1");
    draft.pooled = Studied::default();
    draft
}

/// A machine whose limits let every value of the ranges through: 10 m of drop, no plates but one, 20 m of
/// overtravel.
pub fn boundless() -> Draft {
    let mut draft = workshop();
    draft.travel.z = LengthRange { low: Length::from_mm(-32_768), high: Length::from_mm(32_767) };
    draft.datum_switch.tip_height = range("0", "0");
    draft.datum_switch.overtravel = mm("20000");
    draft.probe.trip_depth = mm("1");
    draft.probe.free_height = mm("10000");
    draft.probe.drop = range("10000", "10000");
    draft.plates = Plates { rise: range("0", "0"), margin: Length::ZERO };
    draft.touch.first_speed = speed("1000");
    draft.touch.most = 64;
    draft.touch.least = 2;
    draft.touch.band = Length::from_mm(1);
    draft.accept = Accept {
        landing: LengthRange { low: Length::from_mm(-32_768), high: Length::from_mm(32_767) },
        shift: Length::from_mm(32_767),
        expanded_u: u("1"),
        coverage: Coverage::P95,
    };
    draft.pooled = Studied::default();
    draft.growth.clear();
    draft
}
