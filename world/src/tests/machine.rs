//! A machine of round numbers that knows everything of itself and trips without noise; the tests add what
//! they are about.

use std::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, LengthRange, Place, Places, Plates, Probe, Studied, Touch, Travel,
};
use zdatum::{Centre, Coverage, Draft, Latency, Length, Pooled, Setup, Speed, Uncertainty};

use crate::Noise;
use crate::engine::Bench;

pub(crate) const SILENT: Noise = Noise::SILENT;

pub(crate) fn mm(text: &str) -> Length {
    Length::parse(text).expect("a length")
}

pub(crate) fn speed(text: &str) -> Speed {
    Speed::parse(text).expect("a speed")
}

pub(crate) fn u(text: &str) -> Uncertainty {
    Uncertainty::parse(text).expect("an uncertainty")
}

pub(crate) fn latency(text: &str) -> Latency {
    Latency::parse(text).expect("a latency")
}

fn span(low: &str, high: &str) -> LengthRange {
    LengthRange { low: mm(low), high: mm(high) }
}

fn place(x: &str, y: &str) -> Place {
    Place { x: mm(x), y: mm(y) }
}

/// A study of all three stations with this s.
pub(crate) fn studied(s: &str) -> Studied {
    let study = Some(Pooled { s: u(s), dof: NonZeroU32::new(40).expect("above 0") });
    Studied { tip: study, shoulder: study, plate: study }
}

/// Four to nine touches, motor steps of 0.06 µm, nothing studied, limits so wide that nothing is refused.
pub(crate) fn draft() -> Draft {
    let exact = |text| Delay { latency: latency(text), latency_u: Latency::ZERO };
    Draft {
        travel: Travel {
            x: span("0", "180"),
            y: span("0", "180"),
            z: span("-3", "160"),
            steps: (1 << 14, 1),
        },
        stations: Places {
            tip: place("170", "180"),
            shoulder: place("170", "155"),
            plate: place("90", "95"),
        },
        datum_switch: DatumSwitch {
            tip_height: span("0.1", "1.1"),
            overtravel: mm("2.5"),
            delay: exact("0.0004"),
        },
        probe: Probe {
            trip_depth: mm("0.55"),
            trip_depth_u: Uncertainty::ZERO,
            trimmed_at_speed: speed("0"),
            drop: span("5.5", "6.5"),
            free_height: mm("1.25"),
            delay: exact("0.001"),
        },
        plates: Plates { rise: span("-0.5", "0.5"), margin: mm("0.5") },
        touch: Touch {
            first_speed: speed("6"),
            fine_speed: speed("2"),
            lift: mm("0.5"),
            stop: mm("0.1"),
            settle: 0,
            least: 4,
            most: 9,
            band: mm("1"),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: false,
        },
        growth: Default::default(),
        soak_left: Uncertainty::ZERO,
        accept: Accept {
            landing: span("-30", "30"),
            shift: mm("10"),
            expanded_u: u("1"),
            coverage: Coverage::P95,
        },
        pooled: Studied::default(),
    }
}

pub(crate) fn checked(draft: &Draft) -> Setup {
    Setup::check(draft.clone()).unwrap_or_else(|bad| panic!("the setup must pass: {bad}"))
}

pub(crate) fn bench(draft: &Draft, noise: &Noise) -> Bench {
    Bench::new(checked(draft), noise, 11)
}
