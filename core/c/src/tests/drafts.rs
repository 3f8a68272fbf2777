//! An invented machine, in C's struct and by the core's own types.

use core::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Draft, Follows, Grows, LengthRange, Place, Places, Plates, Probe, Studied,
    Touch, Travel,
};
use zdatum::{Centre, Coverage, Growth, Latency, Length, Pooled, Speed, Temperature, Uncertainty, Warming};

use crate::codes::*;
use crate::setup::*;
use crate::units::*;

pub(super) fn text(view: zdatum_text) -> &'static str {
    // SAFETY: the library's own texts.
    unsafe { core::str::from_utf8(core::slice::from_raw_parts(view.bytes.cast(), view.length)) }.unwrap()
}

pub(super) fn bits(quantity: u8, text: &str) -> i64 {
    let mut bits = 0;
    // SAFETY: a whole text and a whole number.
    let code = unsafe { zdatum_parse(quantity, text.as_ptr().cast(), text.len(), &mut bits) };
    assert_eq!(code, ZDATUM_OK, "{text}");
    bits
}

pub(super) fn mm(text: &str) -> i32 {
    bits(ZDATUM_LENGTH, text) as i32
}

pub(super) fn u(text: &str) -> u32 {
    bits(ZDATUM_UNCERTAINTY, text) as u32
}

pub(super) fn speed(text: &str) -> u32 {
    bits(ZDATUM_SPEED, text) as u32
}

pub(super) fn late(latency: &str, latency_u: &str) -> zdatum_delay {
    let bits = |text| bits(ZDATUM_LATENCY, text) as u32;
    zdatum_delay { latency: bits(latency), latency_u: bits(latency_u) }
}

pub(super) fn wide(low: &str, high: &str) -> zdatum_length_range {
    zdatum_length_range { low: mm(low), high: mm(high) }
}

/// Every field another number, so that none can stand for another. All invented.
pub(super) fn plain() -> zdatum_draft {
    let degrees = |text| bits(ZDATUM_TEMPERATURE, text) as i32;
    let growth = |text| bits(ZDATUM_GROWTH, text) as i32;
    let place = |x, y| zdatum_place { x: mm(x), y: mm(y) };
    let pooled = |s, dof| zdatum_pooled { s: u(s), dof };
    let mut parts = [zdatum_grows::default(); ZDATUM_MOST_GROWTH];
    for (part, follows) in
        parts.iter_mut().zip([ZDATUM_FOLLOWS_TOOL, ZDATUM_FOLLOWS_BED, ZDATUM_FOLLOWS_CHAMBER])
    {
        let (rate, rate_u) = (growth("0.26") + i32::from(follows), growth("0.02") + i32::from(follows));
        *part = zdatum_grows {
            rate,
            rate_u,
            touch: degrees("150"),
            print: degrees("215"),
            delta_u: 3 << 16,
            trimmed: -(7 << 16),
            follows,
        };
    }
    zdatum_draft {
        travel_x: wide("-1", "201"),
        travel_y: wide("-2", "202"),
        travel_z: wide("-3", "40"),
        travel_steps: 1600,
        travel_steps_mm: 3,
        station_tip: place("190", "191"),
        station_shoulder: place("189", "160"),
        station_plate: place("100", "101"),
        datum_tip_height: wide("0.1", "1.1"),
        datum_overtravel: mm("2.5"),
        datum_delay: late("0.0004", "0.0001"),
        probe_trip_depth: mm("0.55"),
        probe_trip_depth_u: u("0.004"),
        probe_trimmed_at_speed: speed("1.25"),
        probe_drop: wide("5.5", "6.75"),
        probe_free_height: mm("1.25"),
        probe_delay: late("0.0012", "0.0003"),
        plates_rise: wide("-0.5", "0.75"),
        plates_margin: mm("0.45"),
        touch_first_speed: speed("6"),
        touch_fine_speed: speed("1.5"),
        touch_lift: mm("0.8"),
        touch_stop: mm("0.08"),
        touch_band: mm("0.025"),
        touch_target_u: u("0.003"),
        touch_settle: 1,
        touch_least: 4,
        touch_most: 9,
        touch_centre: ZDATUM_MEDIAN,
        touch_tip_again: 1,
        growth_count: 3,
        accept_coverage: 99,
        growth: parts,
        soak_left: mm("-0.002"),
        unseen: u("0.0045"),
        accept_landing: wide("-1.2", "1.75"),
        accept_shift: mm("0.2"),
        accept_expanded_u: u("0.026"),
        pooled_tip: pooled("0.0015", 40),
        pooled_shoulder: pooled("0.0016", 41),
        pooled_plate: pooled("0.0031", 42),
        pooled_tip_between: pooled("0.0017", 8),
        pooled_span_between: pooled("0.0018", 9),
    }
}

/// The same by the core's own types.
pub(super) fn draft() -> Draft {
    let mm = |text| Length::parse(text).unwrap();
    let range = |low, high| LengthRange { low: mm(low), high: mm(high) };
    let place = |x, y| Place { x: mm(x), y: mm(y) };
    let u = |text| Uncertainty::parse(text).unwrap();
    let speed = |text| Speed::parse(text).unwrap();
    let late = |latency, latency_u| Delay {
        latency: Latency::parse(latency).unwrap(),
        latency_u: Latency::parse(latency_u).unwrap(),
    };
    let study = |s, dof| Some(Pooled { s: u(s), dof: NonZeroU32::new(dof).unwrap() });
    let growth =
        |text, more| Growth::from_bits(i64::from(Growth::parse(text).unwrap().to_bits()) + more).unwrap();
    let grows = |follows, more| Grows {
        follows,
        rate: growth("0.26", more),
        rate_u: growth("0.02", more),
        touch: Temperature::parse("150").unwrap(),
        print: Temperature::parse("215").unwrap(),
        delta_u: Warming::parse("3").unwrap(),
        trimmed: Warming::parse("-7").unwrap(),
    };
    Draft {
        travel: Travel {
            x: range("-1", "201"),
            y: range("-2", "202"),
            z: range("-3", "40"),
            steps: (1600, 3),
        },
        stations: Places {
            tip: place("190", "191"),
            shoulder: place("189", "160"),
            plate: place("100", "101"),
        },
        datum_switch: DatumSwitch {
            tip_height: range("0.1", "1.1"),
            overtravel: mm("2.5"),
            delay: late("0.0004", "0.0001"),
        },
        probe: Probe {
            trip_depth: mm("0.55"),
            trip_depth_u: u("0.004"),
            trimmed_at_speed: speed("1.25"),
            drop: range("5.5", "6.75"),
            free_height: mm("1.25"),
            delay: late("0.0012", "0.0003"),
        },
        plates: Plates { rise: range("-0.5", "0.75"), margin: mm("0.45") },
        touch: Touch {
            first_speed: speed("6"),
            fine_speed: speed("1.5"),
            lift: mm("0.8"),
            stop: mm("0.08"),
            settle: 1,
            least: 4,
            most: 9,
            band: mm("0.025"),
            centre: Centre::Median,
            target_u: u("0.003"),
            tip_again: true,
        },
        growth: heapless::Vec::from_slice(&[
            grows(Follows::Tool, 0),
            grows(Follows::Bed, 1),
            grows(Follows::Chamber, 2),
        ])
        .unwrap(),
        soak_left: mm("-0.002"),
        unseen: u("0.0045"),
        accept: Accept {
            landing: range("-1.2", "1.75"),
            shift: mm("0.2"),
            expanded_u: u("0.026"),
            coverage: Coverage::P99,
        },
        pooled: Studied {
            tip: study("0.0015", 40),
            shoulder: study("0.0016", 41),
            plate: study("0.0031", 42),
            tip_between: study("0.0017", 8),
            span_between: study("0.0018", 9),
        },
    }
}
