//! Gauge checks, sound and doubtful.

use zdatum::setup::Delay;
use zdatum::trim::{Check, Depth, Warmed, Weighing, trim};
use zdatum::{Latency, Length};

use crate::digest::Sink;
use crate::machine::{growth, kelvin, length, speed, u_nm, um};
use crate::numbers::Numbers;

/// What goes in.
#[derive(Clone, Copy, Debug)]
pub struct Gauge {
    /// What was known.
    pub known: Depth,
    /// Growing parts.
    pub parts: [Warmed; 2],
    /// The switch's delay.
    pub delay: Delay,
    /// What the gauge said.
    pub check: Check,
    /// How it counts.
    pub weighing: Weighing,
}

impl Gauge {
    /// Of a case.
    #[inline(never)]
    pub fn of(case: u32) -> Self {
        let mut numbers = Numbers::of(case, 0);
        let latency = |bits: u32| Latency::from_bits(i64::from(bits)).unwrap_or(Latency::ZERO);
        let t = um(numbers.from_to(300, 1_300));
        let made_with = if numbers.one_in(3) { um(numbers.from_to(300, 1_300)) } else { t };
        let most = if numbers.one_in(16) { 30 } else { 15 };
        let reach = 1 << numbers.below(most);
        Self {
            known: Depth {
                t,
                u: u_nm(numbers.sized(18) as u32),
                speed: speed(i64::from(numbers.below(300_000))),
            },
            parts: [part(&mut numbers), part(&mut numbers)],
            delay: Delay {
                latency: latency(numbers.below(8_589_934)),
                latency_u: latency(numbers.below(2_147_483)),
            },
            check: Check {
                too_high: length(i64::from(numbers.from_to(-reach, reach))),
                wish: if numbers.one_in(4) { um(numbers.from_to(-60, 60)) } else { Length::ZERO },
                made_with,
                speed: speed(i64::from(numbers.below(300_000))),
                gauge_u: u_nm(numbers.below(5_000)),
                feel_u: u_nm(numbers.below(20_000)),
                landing_u: u_nm(numbers.sized(15) as u32),
            },
            weighing: if numbers.one_in(5) { Weighing::Afresh } else { Weighing::Weighed },
        }
    }
}

fn part(numbers: &mut Numbers) -> Warmed {
    let used = numbers.one_in(2);
    Warmed {
        rate_u: growth(if used { numbers.from_to(0, 858_993) } else { 0 }),
        trimmed: kelvin(numbers.from_to(-30 * 16, 220 * 16)),
        under_test: kelvin(numbers.from_to(-30 * 16, 220 * 16)),
    }
}

#[inline(never)]
pub(crate) fn run(case: u32, sink: &mut impl Sink) {
    let gauge = Gauge::of(case);
    match trim(&gauge.known, &gauge.parts, &gauge.delay, &gauge.check, gauge.weighing) {
        Err(_) => sink.put("out of range", 1),
        Ok(seen) => {
            sink.put("t", seen.depth.t.to_bits() as u32);
            sink.put("u(t)", seen.depth.u.to_bits());
            sink.put("v0", seen.depth.speed.to_bits());
            for warming in &seen.warmings {
                sink.put("w", warming.to_bits() as u32);
            }
            sink.put("change", seen.change.to_bits() as u32);
            sink.put("K", seen.weight.to_bits());
            sink.put("disagreement", seen.disagreement.to_bits());
            sink.put("accepted", u32::from(seen.accepted));
        }
    }
}
