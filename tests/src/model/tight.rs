//! A machine whose floors are as tight as a setup may be, and the corners of what it declares.

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Follows, Grows, LengthRange, Place, Places, Plates, Probe, Studied, Touch,
    Travel,
};
use zdatum::{Centre, Coverage, Draft, Growth, Latency, Length, Speed, Temperature, Uncertainty, Warming};

use super::world::Geometry;

/// Lengths in bits of 2⁻¹⁶ mm. Speeds, delays and steps are such that every product is a whole number of
/// bits.
const HALF_MM: i64 = 1 << 15;
const STOP: i64 = 3_277;
const MARGIN: i64 = 13_107;
/// Δ = 1/512 mm.
const STEP: i64 = 128;
/// The step as the floors take it: one bit more.
const STEP_UP: i64 = STEP + 1;
/// 4 mm/s and 1 mm/s.
const FIRST_SPEED: i64 = 4 << 16;
const FINE_SPEED: i64 = 1 << 16;
/// τ = 4/4096 s, u(τ) = 1/4096 s, in bits of 2⁻³² s.
const LATENCY: i64 = 4 << 20;
const LATENCY_U: i64 = 1 << 20;
/// 3u(t).
const TRIP_DEPTH_3U: i64 = 3 << 8;

/// A length of so many bits.
pub fn length(bits: i64) -> Length {
    Length::from_bits(bits).expect("a length")
}

fn range(low: i64, high: i64) -> LengthRange {
    LengthRange { low: length(low), high: length(high) }
}

/// v · τ in bits of length.
pub fn late(speed: i64, latency: i64) -> i64 {
    (speed * latency) >> 32
}

/// The tight machine: overtravel, drop and trip depth are the least that the floors allow. One settling
/// touch, two to three fine ones, the tip again at the end: few enough touches for every script to be run.
pub fn draft() -> Draft {
    let datum_overrun = late(FIRST_SPEED, LATENCY + 3 * LATENCY_U) + STOP + STEP_UP;
    let plate_overrun = datum_overrun + TRIP_DEPTH_3U;
    let (rise_low, rise_high) = (-HALF_MM, HALF_MM);
    let drop_low = rise_high + MARGIN + datum_overrun + 1;
    let trip_depth = (rise_high - rise_low) + MARGIN + plate_overrun + 1 - drop_low;
    let nozzle = Grows {
        follows: Follows::Tool,
        rate: Growth::ZERO,
        rate_u: Growth::ZERO,
        touch: Temperature::from_bits(150 << 16).expect("a temperature"),
        print: Temperature::from_bits(220 << 16).expect("a temperature"),
        delta_u: Warming::ZERO,
        trimmed: Warming::ZERO,
    };
    let latency = |bits| Latency::from_bits(bits).expect("a latency");
    let delay = Delay { latency: latency(LATENCY), latency_u: latency(LATENCY_U) };
    let place = |x: i16, y: i16| Place { x: Length::from_mm(x), y: Length::from_mm(y) };
    let sure = |bits: i64| Uncertainty::from_bits(bits).expect("an uncertainty");
    Draft {
        travel: Travel {
            x: range(0, 200 << 16),
            y: range(0, 200 << 16),
            z: range(-5 << 16, 40 << 16),
            steps: (512, 1),
        },
        stations: Places { tip: place(190, 190), shoulder: place(190, 160), plate: place(100, 100) },
        datum_switch: DatumSwitch {
            tip_height: range(0, HALF_MM),
            overtravel: length(HALF_MM + datum_overrun),
            delay,
        },
        probe: Probe {
            trip_depth: length(trip_depth),
            trip_depth_u: sure((TRIP_DEPTH_3U / 3) << 8),
            trimmed_at_speed: Speed::from_bits(FINE_SPEED).expect("a speed"),
            drop: range(drop_low, drop_low + HALF_MM),
            free_height: length(trip_depth + HALF_MM),
            delay,
        },
        plates: Plates { rise: range(rise_low, rise_high), margin: length(MARGIN) },
        touch: Touch {
            first_speed: Speed::from_bits(FIRST_SPEED).expect("a speed"),
            fine_speed: Speed::from_bits(FINE_SPEED).expect("a speed"),
            lift: length(HALF_MM),
            stop: length(STOP),
            settle: 1,
            least: 2,
            most: 3,
            band: length(1_280),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: true,
        },
        growth: [nozzle].into_iter().collect(),
        soak_left: Length::ZERO,
        unseen: Uncertainty::ZERO,
        // So wide that no doubt and no window hides what the floors and the bands let through.
        accept: Accept {
            landing: range(-1_000 << 16, 1_000 << 16),
            shift: length(1_000 << 16),
            expanded_u: sure(1 << 24),
            coverage: Coverage::P95,
        },
        pooled: Studied::default(),
    }
}

/// Which end of each declared range a world stands at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Corner {
    /// T.
    pub tip_high: bool,
    /// d.
    pub drop_high: bool,
    /// r.
    pub rise_high: bool,
    /// The carriage runs on after a trip as far as declared, or stops at once.
    pub stops_late: bool,
    /// t is off by + or − 3u(t).
    pub deep: bool,
    /// Trips are seen late by τ + 3u(τ), or by τ − 3u(τ).
    pub seen_late: bool,
    /// Heights are rounded up or down by half a step.
    pub rounded_up: bool,
    /// The probe's switch stands at the other end of its lateness than the datum switch.
    pub opposed: bool,
}

impl Corner {
    /// How many there are, both switches late alike.
    pub const COUNT: u8 = 128;

    /// The corner of a number below [`Corner::COUNT`].
    pub fn of(number: u8) -> Self {
        let bit = |n: u8| number >> n & 1 == 1;
        Self {
            tip_high: bit(0),
            drop_high: bit(1),
            rise_high: bit(2),
            stops_late: bit(3),
            deep: bit(4),
            seen_late: bit(5),
            rounded_up: bit(6),
            opposed: false,
        }
    }

    /// The geometry of a world at this corner of what `draft` declares.
    pub fn geometry(self, draft: &Draft, crowded: bool) -> Geometry {
        let bits = |length: Length| i64::from(length.to_bits());
        let pick = |high: bool, range: LengthRange| bits(if high { range.high } else { range.low });
        let latency = |delay: &Delay, seen_late: bool| {
            let (at, u) = (i64::from(delay.latency.to_bits()), 3 * i64::from(delay.latency_u.to_bits()));
            if seen_late { at + u } else { (at - u).max(0) }
        };
        let probe = &draft.probe;
        let plate_latency = latency(&probe.delay, self.seen_late != self.opposed);
        let doubt = 3 * bits(probe.trip_depth_u.ceil());
        let (steps, mm) = draft.travel.steps;
        let half_step = (i64::from(mm) << 15) / i64::from(steps);
        Geometry {
            tip: pick(self.tip_high, draft.datum_switch.tip_height),
            drop: pick(self.drop_high, probe.drop),
            rise: pick(self.rise_high, draft.plates.rise),
            // t holds at the speed at which it was trimmed: there the late edge is part of it.
            trip_depth: bits(probe.trip_depth)
                + late(i64::from(probe.trimmed_at_speed.to_bits()), plate_latency)
                + if self.deep { doubt } else { -doubt },
            free_height: bits(probe.free_height),
            overtravel: bits(draft.datum_switch.overtravel),
            margin: bits(draft.plates.margin),
            stop: if self.stops_late { bits(draft.touch.stop) } else { 0 },
            datum_latency: latency(&draft.datum_switch.delay, self.seen_late),
            plate_latency,
            rounding: if self.rounded_up { half_step } else { -half_step },
            crowded,
        }
    }
}
