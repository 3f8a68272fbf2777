//! Machines as drafts, invented anew for every case.

use core::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Follows, Grows, LengthRange, Place, Places, Plates, Probe, Studied, Touch,
    Travel,
};
use zdatum::{
    Centre, Coverage, Draft, Growth, Latency, Length, Pooled, Speed, Step, Temperature, Uncertainty, Warming,
};

use crate::numbers::Numbers;

/// Fine touches that a station has room for.
pub const ROOM: usize = 9;

/// So many micrometres, to the nearest bit below.
pub fn um(um: i32) -> Length {
    length(floor(i64::from(um) << 16, 1_000))
}

/// The whole number at or below a quotient, its divisor above 0.
fn floor(dividend: i64, divisor: i64) -> i64 {
    dividend / divisor - i64::from(dividend % divisor < 0)
}

/// So many bits, 0 where they cannot be held.
pub fn length(bits: i64) -> Length {
    Length::from_bits(bits).unwrap_or(Length::ZERO)
}

/// So many bits of 2⁻²⁴ mm.
pub fn u(bits: u32) -> Uncertainty {
    Uncertainty::from_bits(i64::from(bits)).unwrap_or(Uncertainty::ZERO)
}

/// So many nanometres as an uncertainty, near enough.
pub fn u_nm(nm: u32) -> Uncertainty {
    u(((u64::from(nm) * 1_099_512) >> 16) as u32)
}

/// So many bits of 2⁻¹⁶ mm/s.
pub fn speed(bits: i64) -> Speed {
    Speed::from_bits(bits).unwrap_or(Speed::ZERO)
}

/// So many sixteenths of a degree.
pub fn celsius(sixteenths: i32) -> Temperature {
    Temperature::from_bits(i64::from(sixteenths) << 12).unwrap_or(Temperature::ZERO)
}

/// So many sixteenths of a kelvin.
pub fn kelvin(sixteenths: i32) -> Warming {
    Warming::from_bits(i64::from(sixteenths) << 12).unwrap_or(Warming::ZERO)
}

fn latency(bits: u32) -> Latency {
    Latency::from_bits(i64::from(bits)).unwrap_or(Latency::ZERO)
}

/// So many bits of 2⁻³² mm/K.
pub fn growth(bits: i32) -> Growth {
    Growth::from_bits(i64::from(bits)).unwrap_or(Growth::ZERO)
}

fn range(low_um: i32, high_um: i32) -> LengthRange {
    LengthRange { low: um(low_um), high: um(high_um) }
}

fn place(x_um: i32, y_um: i32) -> Place {
    Place { x: um(x_um), y: um(y_um) }
}

/// 2⁻³² s: up to 2 ms, its u up to 0.5 ms.
fn delay(numbers: &mut Numbers) -> Delay {
    Delay { latency: latency(numbers.below(8_589_934)), latency_u: latency(numbers.below(2_147_483)) }
}

fn study(numbers: &mut Numbers) -> Option<Pooled> {
    let s = u_nm(numbers.below(6_000));
    let dof = if numbers.one_in(16) { numbers.sized(30) as u32 } else { 1 + numbers.below(80) };
    NonZeroU32::new(dof).map(|dof| Pooled { s, dof })
}

fn part(numbers: &mut Numbers) -> Grows {
    Grows {
        follows: match numbers.below(3) {
            0 => Follows::Tool,
            1 => Follows::Bed,
            _ => Follows::Chamber,
        },
        // Up to 1.5 µm/K either way, u up to 0.2 µm/K, in 2⁻³² mm/K.
        rate: growth(numbers.from_to(-6_442_450, 6_442_450)),
        rate_u: growth(numbers.from_to(0, 858_993)),
        touch: celsius(numbers.from_to(20 * 16, 170 * 16)),
        print: celsius(numbers.from_to(20 * 16, 290 * 16)),
        delta_u: if numbers.one_in(2) { kelvin(numbers.from_to(0, 5 * 16)) } else { Warming::ZERO },
        trimmed: if numbers.one_in(2) { kelvin(numbers.from_to(-30 * 16, 220 * 16)) } else { Warming::ZERO },
    }
}

/// Steps and millimetres, some usual and some odd.
const STEPS: [(u32, u32); 8] =
    [(960, 1), (1600, 3), (400, 1), (800, 1), (16_384, 1), (64, 1), (3_203, 7), (200, 3)];

/// An invented machine: geometry as a workshop might have, everything else anew in each case. Passes its
/// check.
#[inline(never)]
pub fn draft(numbers: &mut Numbers) -> Draft {
    let steps = *STEPS.get(numbers.below(8) as usize).unwrap_or(&(400, 1));
    let datum_delay = delay(numbers);
    let probe_delay = delay(numbers);
    let trip_depth = um(numbers.from_to(400, 1_200));
    let trip_depth_u = u_nm(1 + numbers.sized(17) as u32);
    let fine = numbers.from_to(50_000, 200_000);
    let trimmed = if numbers.one_in(3) { 0 } else { numbers.from_to(0, 200_000) };
    let least = numbers.from_to(2, 5) as u8;
    let studied = numbers.below(3) != 0;
    let mut pooled = Studied::default();
    if studied {
        pooled = Studied { tip: study(numbers), shoulder: study(numbers), plate: study(numbers), ..pooled };
    }
    if numbers.one_in(2) {
        pooled.tip_between = study(numbers);
    }
    if numbers.one_in(2) {
        pooled.span_between = study(numbers);
    }
    let all = pooled.tip.is_some() && pooled.shoulder.is_some() && pooled.plate.is_some();
    let target_u = if all && numbers.one_in(4) { u_nm(numbers.below(3_000)) } else { Uncertainty::ZERO };
    let mut parts = heapless::Vec::new();
    for _ in 0..numbers.below(5) {
        let _ = parts.push(part(numbers));
    }
    if numbers.one_in(24) {
        while parts.push(part(numbers)).is_ok() {}
    }
    Draft {
        travel: Travel { x: range(0, 180_000), y: range(-5_000, 185_000), z: range(-3_000, 160_000), steps },
        stations: Places {
            tip: place(170_000, 180_000),
            shoulder: place(170_000, 155_000),
            plate: place(90_000, 95_000),
        },
        datum_switch: DatumSwitch {
            tip_height: range(100, 1_100),
            overtravel: um(2_500),
            delay: datum_delay,
        },
        probe: Probe {
            trip_depth,
            trip_depth_u,
            trimmed_at_speed: speed(i64::from(trimmed)),
            drop: range(5_500, 6_750),
            free_height: um(1_250),
            delay: probe_delay,
        },
        plates: Plates { rise: range(-500, 750), margin: um(500) },
        touch: Touch {
            first_speed: speed(i64::from(numbers.from_to(fine, 524_288))),
            fine_speed: speed(i64::from(fine)),
            lift: um(numbers.from_to(300, 1_500)),
            stop: um(numbers.from_to(0, 90)),
            settle: numbers.below(3) as u8,
            least,
            most: numbers.from_to(i32::from(least), ROOM as i32) as u8,
            band: um(numbers.from_to(4, 60)),
            centre: match numbers.below(4) {
                0 => Centre::Median,
                1 => Centre::HodgesLehmann,
                _ => Centre::Mean,
            },
            target_u,
            tip_again: numbers.one_in(3),
        },
        growth: parts,
        soak_left: length(i64::from(numbers.from_to(-1_300, 1_300))),
        unseen: if numbers.one_in(2) { u_nm(numbers.below(8_000)) } else { Uncertainty::ZERO },
        accept: Accept {
            landing: range(numbers.from_to(-1_250, -200), numbers.from_to(900, 1_750)),
            shift: um(numbers.from_to(20, 300)),
            expanded_u: u_nm(numbers.from_to(8_000, 120_000) as u32),
            coverage: coverage(numbers),
        },
        pooled,
    }
}

/// A coverage.
pub fn coverage(numbers: &mut Numbers) -> Coverage {
    match numbers.below(3) {
        0 => Coverage::P90,
        1 => Coverage::P95,
        _ => Coverage::P99,
    }
}

/// True heights of one run, in bits: T, S, P, within the ranges or, now and then, out of them.
#[derive(Clone, Copy, Debug)]
pub struct Heights {
    /// Tip, shoulder, plate.
    pub of: [i64; 3],
}

impl Heights {
    /// Of a machine.
    pub fn new(draft: &Draft, numbers: &mut Numbers) -> Self {
        let bits = |um: i32| i64::from(um) * 65_536 / 1_000;
        let tip = bits(numbers.from_to(150, 1_050));
        let drop =
            if numbers.one_in(16) { numbers.from_to(5_400, 6_850) } else { numbers.from_to(5_600, 6_650) };
        let rise = if numbers.one_in(16) { numbers.from_to(-520, 900) } else { numbers.from_to(-450, 700) };
        let shoulder = tip + bits(drop);
        let plate = shoulder + bits(rise) + i64::from(draft.probe.trip_depth.to_bits());
        Self { of: [tip, shoulder, plate] }
    }
}

/// What a series looks like: noise and walk in bits of 2⁻¹⁶ mm.
#[derive(Clone, Copy, Debug)]
pub struct Noise {
    spread: u32,
    walk: i32,
    wild: u32,
}

impl Noise {
    /// Mostly sound, now and then rough, walking or with a wild touch.
    pub fn new(numbers: &mut Numbers) -> Self {
        let spread = match numbers.below(8) {
            0 => 0,
            1 => 4_000,
            _ => 20 + numbers.below(900),
        };
        let walk = if numbers.one_in(6) { numbers.from_to(-700, 700) } else { 0 };
        let wild = if numbers.one_in(4) { 6 } else { 0 };
        Self { spread, walk, wild }
    }

    /// Height of the touch `index`, on a whole motor step.
    pub fn touch(&self, base: i64, index: u32, step: Step, numbers: &mut Numbers) -> Length {
        let noise = numbers.below(self.spread + 1) as i32 - (self.spread / 2) as i32;
        let wild = if self.wild > 0 && numbers.one_in(self.wild) { 5_000 } else { 0 };
        let height = base + i64::from(noise + wild) + i64::from(self.walk) * i64::from(index);
        on_step(height, step)
    }
}

/// The whole step at or below a height of up to some hundred millimetres.
fn on_step(height: i64, step: Step) -> Length {
    // bits · steps / (mm · 2^16)
    let steps = (height * i64::from(step.steps())) >> 16;
    let whole = floor(steps, i64::from(step.mm().max(1)));
    step.length(whole as i32).unwrap_or(Length::ZERO)
}
