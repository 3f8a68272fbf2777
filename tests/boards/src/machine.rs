//! One invented machine as constants, for what is counted and for what is weighed: two growing parts, five
//! touches per station.

use core::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Follows, Grows, LengthRange, Place, Places, Plates, Probe, Studied, Touch,
    Travel,
};
use zdatum::{
    Centre, Coverage, Draft, Growth, Latency, Length, Pooled, Readings, Recorded, Series, Setup, Speed, Step,
    Temperature, Uncertainty, Warming,
};

use crate::given;

/// Fine touches that a station has room for.
pub const ROOM: usize = 9;

macro_rules! constant {
    ($($name:ident $type:ident $unit:literal $scale:literal $divisor:literal;)*) => {$(
        #[doc = concat!("So many ", $unit, ".")]
        pub const fn $name(value: i64) -> $type {
            match $type::from_bits((value << $scale) / $divisor) {
                Ok(value) => value,
                Err(_) => $type::ZERO,
            }
        }
    )*};
}

constant! {
    um Length "micrometres" 16 1_000;
    u_um Uncertainty "micrometres of uncertainty" 24 1_000;
    um_per_s Speed "micrometres a second" 16 1_000;
    us Latency "microseconds" 32 1_000_000;
    celsius Temperature "degrees" 16 1;
    nm_per_k Growth "nanometres a kelvin" 32 1_000_000;
}

const fn range(low: i64, high: i64) -> LengthRange {
    LengthRange { low: um(low), high: um(high) }
}

const fn place(x: i64, y: i64) -> Place {
    Place { x: um(x), y: um(y) }
}

const fn delay(latency: i64, latency_u: i64) -> Delay {
    Delay { latency: us(latency), latency_u: us(latency_u) }
}

/// A study of 24 degrees of freedom.
const fn study(s: i64) -> Option<Pooled> {
    match NonZeroU32::new(24) {
        Some(dof) => Some(Pooled { s: u_um(s), dof }),
        None => None,
    }
}

/// As its owner wrote it; `studied` says whether its switches have been studied.
#[inline(never)]
pub fn draft(studied: bool) -> Draft {
    let mut growth = heapless::Vec::new();
    let part = |follows, rate, rate_u, touch, print| Grows {
        follows,
        rate: nm_per_k(rate),
        rate_u: nm_per_k(rate_u),
        touch: celsius(touch),
        print: celsius(print),
        delta_u: Warming::ZERO,
        trimmed: Warming::ZERO,
    };
    let _ = growth.push(part(Follows::Tool, 240, 30, 150, 230));
    let _ = growth.push(part(Follows::Bed, 900, 100, 55, 60));
    const STUDIED: Studied =
        Studied { tip: study(2), shoulder: study(2), plate: study(3), tip_between: None, span_between: None };
    Draft {
        travel: Travel {
            x: range(0, 240_000),
            y: range(0, 220_000),
            z: range(-4_000, 210_000),
            steps: (1600, 3),
        },
        stations: Places {
            tip: place(232_000, 210_000),
            shoulder: place(232_000, 184_000),
            plate: place(120_000, 110_000),
        },
        datum_switch: DatumSwitch {
            tip_height: range(0, 1_200),
            overtravel: um(3_000),
            delay: delay(500, 200),
        },
        probe: Probe {
            trip_depth: um(620),
            trip_depth_u: u_um(6),
            trimmed_at_speed: um_per_s(2_000),
            drop: range(6_000, 7_200),
            free_height: um(1_400),
            delay: delay(1_000, 400),
        },
        plates: Plates { rise: range(-600, 900), margin: um(500) },
        touch: Touch {
            first_speed: um_per_s(8_000),
            fine_speed: um_per_s(1_800),
            lift: um(800),
            stop: um(60),
            settle: 1,
            least: 5,
            most: ROOM as u8,
            band: um(20),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: false,
        },
        growth,
        soak_left: um(4),
        unseen: Uncertainty::ZERO,
        accept: Accept {
            landing: range(-1_500, 2_000),
            shift: um(150),
            expanded_u: u_um(25),
            coverage: Coverage::P95,
        },
        pooled: if studied { STUDIED } else { Studied::default() },
    }
}

/// Checked; where the processor could not, the image must not go on.
#[allow(clippy::missing_panics_doc)]
pub fn checked(studied: bool) -> Setup {
    match Setup::check(given(draft(studied))) {
        Ok(setup) => setup,
        Err(_) => panic!("the invented machine passes its checks"),
    }
}

/// Touches in whole motor steps: tip, shoulder, plate.
pub const STEPS: [[i32; 5]; 3] =
    [[250, 251, 249, 252, 250], [3_768, 3_770, 3_769, 3_771, 3_769], [4_198, 4_200, 4_197, 4_201, 4_199]];

/// What a station's touches and readings are.
pub fn recorded(station: usize) -> Recorded<ROOM> {
    let mut series = Series::new();
    if let Ok(step) = Step::new(1600, 3) {
        for steps in STEPS.get(station).into_iter().flatten() {
            let _ = series.push(step.length(*steps).unwrap_or(Length::ZERO));
        }
    }
    let readings = Readings {
        speed: Some(um_per_s(1_900)),
        tool: Some(celsius(151)),
        bed: Some(celsius(56)),
        chamber: None,
    };
    Recorded { series, readings }
}
