//! The motor step.

use super::{Length, OutOfRange, Quantity, Variance};
use crate::arith::{self, Bounded};

/// The motor step Δ: a whole number of steps in a whole number of millimetres, such as 1600 steps in 3 mm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    steps: u32,
    mm: u32,
}

impl Step {
    /// Most steps and most millimetres that a ratio may name.
    pub const MAX: u32 = 1 << 20;

    /// `steps` motor steps move the carriage by `mm` millimetres; each in 1 to 2²⁰, a step from 2⁻¹⁴ mm to 1
    /// mm.
    ///
    /// # Errors
    /// *Out of range* for anything else.
    pub const fn new(steps: u32, mm: u32) -> Result<Self, OutOfRange> {
        let ok =
            steps >= 1 && mm >= 1 && steps <= Self::MAX && mm <= steps && (mm as u64) << 14 >= steps as u64;
        if ok { Ok(Self { steps, mm }) } else { Err(OutOfRange { quantity: Quantity::Length }) }
    }

    /// Steps of the ratio.
    pub const fn steps(self) -> u32 {
        self.steps
    }

    /// Millimetres of the ratio.
    pub const fn mm(self) -> u32 {
        self.mm
    }

    /// The carriage height of a whole number of steps, rounded once to the nearest 2⁻¹⁶ mm, ties up.
    ///
    /// # Errors
    /// *Out of range* beyond ±32,768 mm.
    pub fn length(self, count: i32) -> Result<Length, OutOfRange> {
        // |count · mm| < 2^51: it is the 2^16 that needs care, so divide first and scale the remainder.
        let Some(steps) = core::num::NonZeroU32::new(self.steps) else {
            return Err(OutOfRange { quantity: Quantity::Length });
        };
        let product = i64::from(count).times(i64::from(self.mm));
        let (whole, rest) = arith::div_floor(product, steps);
        let Some(whole) = whole.checked_mul(1 << 16) else {
            return Err(OutOfRange { quantity: Quantity::Length });
        };
        Length::from_bits(whole.plus(arith::div_round(i64::from(rest) << 16, steps)))
    }

    /// One step, to the nearest 2⁻¹⁶ mm and never zero.
    pub fn one(self) -> Length {
        self.length(1).unwrap_or(Length::ZERO)
    }

    /// Δ²/12, the variance of rounding to whole steps (JCGM 100:2008, F.2.2.1), to the nearest bit.
    pub fn rounding_variance(self) -> Variance {
        let (mm, steps) = (u64::from(self.mm), u64::from(self.steps));
        // mm² ≤ steps², so the quotient is below 2^60 / 12.
        Variance(arith::ratio_bits(mm.times(mm), steps.times(steps).times(12), 60))
    }
}
