//! Machines for the tests beside the code of campaigns.

use std::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Follows, Grows, LengthRange, Place, Places, Plates, Probe, Studied, Touch,
    Travel,
};
use zdatum::{Centre, Coverage, Draft, Growth, Latency, Length, Pooled, Temperature, Uncertainty};

use crate::Noise;
use crate::engine::Bench;
use crate::tests::machine::speed;
pub(crate) use crate::tests::machine::{SILENT, checked, latency};

/// What the drafts below are written in.
pub(crate) fn mm(value: f64) -> Length {
    Length::from_f64(value).expect("a length")
}

pub(crate) fn u(value: f64) -> Uncertainty {
    Uncertainty::from_f64(value).expect("an uncertainty")
}

pub(crate) fn span(low: f64, high: f64) -> LengthRange {
    LengthRange { low: mm(low), high: mm(high) }
}

pub(crate) fn study(s: f64) -> Option<Pooled> {
    Some(Pooled { s: u(s), dof: NonZeroU32::new(40).expect("more than none") })
}

/// A part that grows by `rate` µm/K, known to `rate_u`, between two temperatures in °C.
pub(crate) fn part(follows: Follows, [rate, rate_u]: [&str; 2], [touch, print]: [&str; 2]) -> Grows {
    let growth = |text| Growth::parse(text).expect("a growth");
    let celsius = |text| Temperature::parse(text).expect("a temperature");
    Grows {
        follows,
        rate: growth(rate),
        rate_u: growth(rate_u),
        touch: celsius(touch),
        print: celsius(print),
    }
}

/// A machine that knows everything of itself, with the finest steps and limits that refuse nothing: four
/// touches per station, ten at most.
pub(crate) fn draft() -> Draft {
    let place = |x, y| Place { x: mm(x), y: mm(y) };
    Draft {
        travel: Travel {
            x: span(0.0, 200.0),
            y: span(0.0, 200.0),
            z: span(-4.0, 150.0),
            steps: (1 << 14, 1),
        },
        stations: Places {
            tip: place(180.0, 180.0),
            shoulder: place(180.0, 150.0),
            plate: place(100.0, 100.0),
        },
        datum_switch: DatumSwitch {
            tip_height: span(0.0, 1.0),
            overtravel: mm(2.5),
            delay: Delay { latency: Latency::ZERO, latency_u: Latency::ZERO },
        },
        probe: Probe {
            trip_depth: mm(0.5),
            trip_depth_u: Uncertainty::ZERO,
            trimmed_at_speed: speed("2"),
            drop: span(5.0, 6.0),
            free_height: mm(1.25),
            delay: Delay { latency: Latency::ZERO, latency_u: Latency::ZERO },
        },
        plates: Plates { rise: span(-0.5, 0.75), margin: mm(0.5) },
        touch: Touch {
            first_speed: speed("6"),
            fine_speed: speed("2"),
            lift: mm(0.75),
            stop: mm(0.08),
            settle: 1,
            least: 4,
            most: 10,
            band: mm(1.0),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: false,
        },
        growth: Default::default(),
        soak_left: Uncertainty::ZERO,
        accept: Accept {
            landing: span(-30.0, 30.0),
            shift: mm(10.0),
            expanded_u: u(1.0),
            coverage: Coverage::P95,
        },
        pooled: Studied { tip: study(0.004), shoulder: study(0.004), plate: study(0.004) },
    }
}

/// How far a run of the draft's steps without noise can be off, mm: half a step and half a bit of a length at
/// each of three stations, half a bit of the landing.
pub(crate) const FINE: f64 = 3.0 * (0.5 / 16_384.0 + 0.5 / 65_536.0) + 0.5 / 65_536.0 + 1e-9;

pub(crate) fn bench(draft: &Draft, noise: &Noise) -> Bench {
    Bench::new(checked(draft), noise, 7)
}

/// Close to within so much.
#[track_caller]
pub(crate) fn assert_near(seen: f64, due: f64, within: f64) {
    assert!((seen - due).abs() <= within, "{seen}, not {due} to {within}");
}
