//! The two charts: EWMA and tabular CUSUM, of readings in units of their own scatter.
//!
//! ```text
//!     z ← z + λ·(U − z)                 alarm where |z| > L·√(λ/(2 − λ))
//!     C⁺ ← max(0, C⁺ + U − k)           alarm where C⁺ > h
//!     C⁻ ← max(0, C⁻ − U − k)           alarm where C⁻ > h
//! ```
//!
//! NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 (EWMA, Roberts 1959; the limit is the one for
//! many readings) and 6.3.2.3 (CUSUM, Page 1954).

use crate::arith::{self, Bounded};
use crate::units::{OutOfRange, Quantity, Ratio};

/// A number without unit, of either sign: how far a reading stands from what was expected, in standard
/// deviations. One bit is 2⁻¹⁶; within ±4,096.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Score(i32);

impl Score {
    /// Zero.
    pub const ZERO: Self = Self(0);
    /// Highest value, in bits.
    pub const MAX_BITS: i32 = 4_096 << 16;

    /// The score of so many bits.
    ///
    /// # Errors
    /// *Out of range* beyond ±4,096.
    pub const fn from_bits(bits: i32) -> Result<Self, OutOfRange> {
        if bits < -Self::MAX_BITS || bits > Self::MAX_BITS {
            return Err(OutOfRange { quantity: Quantity::Ratio });
        }
        Ok(Self(bits))
    }

    /// The score in 2⁻¹⁶.
    pub const fn to_bits(self) -> i32 {
        self.0
    }
}

/// Which way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Higher than before.
    Up,
    /// Lower than before.
    Down,
}

/// λ, L, k and h.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Design {
    weight: u32,
    reference: u32,
    decision: u32,
    /// L·√(λ/(2 − λ)) in 2⁻³².
    limit: u64,
}

impl Design {
    /// λ = 1/4, L = 3.55, k = 1/4, h = 11: one false alarm in 370 cycles or more over the charts of tip, drop
    /// and span together, made for shifts from half a standard deviation up. Simulated; the figures are in
    /// `docs/tables/run-lengths.md`.
    pub const STANDARD: Self =
        match (Ratio::from_bits(1 << 14), Ratio::from_bits(232_653), Ratio::from_bits(11 << 16)) {
            (Ok(quarter), Ok(limit), Ok(decision)) => match Self::new(quarter, limit, quarter, decision) {
                Ok(design) => design,
                Err(_) => Self::NONE,
            },
            _ => Self::NONE,
        };

    /// What the standard would be if it could not be held; a test says that it can.
    const NONE: Self = Self { weight: 1 << 16, reference: 0, decision: 0, limit: 0 };

    /// A design of the reader's own: λ above 0 and at most 1; L, k and h below 256.
    ///
    /// # Errors
    /// *Out of range* for anything else.
    pub const fn new(
        weight: Ratio,
        limit: Ratio,
        reference: Ratio,
        decision: Ratio,
    ) -> Result<Self, OutOfRange> {
        const MOST: u32 = 256 << 16;
        let (weight, width) = (weight.to_bits(), limit.to_bits());
        let (reference, decision) = (reference.to_bits(), decision.to_bits());
        let ok = weight >= 1 && weight <= 1 << 16 && width < MOST && reference < MOST && decision < MOST;
        if !ok {
            return Err(OutOfRange { quantity: Quantity::Ratio });
        }
        // λ/(2 − λ) is at most 1: in 2^-62, its root in 2^-31, times L in 2^-16: below 2^55.
        let share = arith::ratio_bits(weight as u64, (2_u64 << 16).wrapping_sub(weight as u64), 62);
        let product = (arith::root_round(share) as u64).wrapping_mul(width as u64);
        Ok(Self { weight, reference, decision, limit: product.wrapping_add(1 << 14) >> 15 })
    }

    /// L·√(λ/(2 − λ)): how far an EWMA may stand from 0.
    pub const fn ewma_limit(&self) -> Ratio {
        match Ratio::from_bits((self.limit.wrapping_add(1 << 15) >> 16) as i64) {
            Ok(limit) => limit,
            Err(_) => Ratio::ZERO,
        }
    }

    /// h: how far a CUSUM may stand from 0.
    pub const fn cusum_limit(&self) -> Ratio {
        match Ratio::from_bits(self.decision as i64) {
            Ok(limit) => limit,
            Err(_) => Ratio::ZERO,
        }
    }
}

/// An exponentially weighted moving average, from 0 on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Ewma {
    /// z in 2⁻³².
    level: i64,
}

impl Ewma {
    /// At 0.
    pub const fn new() -> Self {
        Self { level: 0 }
    }

    pub(super) const fn of_bits(level: i64) -> Self {
        Self { level }
    }

    pub(super) const fn to_bits(self) -> i64 {
        self.level
    }

    /// Takes a score in. Within 2⁻³³/λ of exact arithmetic, however many there were.
    pub fn push(&mut self, design: &Design, score: Score) {
        // |U − z| is at most 2^13 whole, so 2^45 bits, and the product below 2^62.
        let difference = (i64::from(score.0) << 16).minus(self.level);
        let step = arith::shift_round(difference.times(i64::from(design.weight)), 16);
        self.level = self.level.plus(step);
    }

    /// z, to the nearest 2⁻¹⁶.
    pub fn level(&self) -> Score {
        Score(arith::shift_round(self.level, 16) as i32)
    }

    /// Beyond which limit it stands.
    pub fn beyond(&self, design: &Design) -> Option<Side> {
        if self.level.unsigned_abs() <= design.limit {
            return None;
        }
        Some(if self.level > 0 { Side::Up } else { Side::Down })
    }
}

/// A tabular cumulative sum of either side, from 0 on. Exact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Cusum {
    /// C⁺ in 2⁻¹⁶.
    up: u32,
    /// C⁻ in 2⁻¹⁶.
    down: u32,
}

impl Cusum {
    /// At 0.
    pub const fn new() -> Self {
        Self { up: 0, down: 0 }
    }

    pub(super) const fn of_bits(up: u32, down: u32) -> Self {
        Self { up, down }
    }

    /// Takes a score in. A sum stops at 65,536, far beyond every limit.
    pub fn push(&mut self, design: &Design, score: Score) {
        let step = |sum: u32, score: i64| {
            let sum = i64::from(sum).plus(score).minus(i64::from(design.reference));
            u32::try_from(sum.max(0)).unwrap_or(u32::MAX)
        };
        self.up = step(self.up, i64::from(score.0));
        self.down = step(self.down, 0_i64.minus(i64::from(score.0)));
    }

    /// C⁺ and C⁻.
    pub fn sums(&self) -> (Ratio, Ratio) {
        let ratio = |bits: u32| Ratio::from_bits(i64::from(bits)).unwrap_or(Ratio::ZERO);
        (ratio(self.up), ratio(self.down))
    }

    /// Beyond which limit it stands; the higher sum where both do.
    pub fn beyond(&self, design: &Design) -> Option<Side> {
        if self.up.max(self.down) <= design.decision {
            return None;
        }
        Some(if self.up >= self.down { Side::Up } else { Side::Down })
    }
}
