//! Whole-number sums over a series' differences from its first touch.

use crate::arith::{self, Bounded};
use crate::units::{Length, OutOfRange, Quantity, Variance, Wide};

/// How far a touch may stand from the first of its series, in bits: 256 mm. Beyond, the series is *out of range*.
const REACH: u64 = 1 << 24;

/// Whole-number sums of a series over the differences dᵢ from its first touch, in bits of [`Length`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Moments {
    /// n, in 0..=64.
    pub(super) count: u32,
    /// Σ dᵢ, below 2^30.
    pub(super) sum: i64,
    /// n·Σ dᵢ² − (Σ dᵢ)² = n·Σ(zᵢ − z̄)², below 2^60.
    pub(super) square: u64,
    /// Σ (2i − n + 1)·dᵢ, twice the least-squares numerator; below 2^36.
    pub(super) walk: i64,
    /// Σ (zᵢ₊₁ − zᵢ)², below 2^56.
    pub(super) jumps: u64,
}

impl Moments {
    /// Sums over touches in their order; at most 64.
    pub(super) fn of(touches: &[Length]) -> Result<Self, OutOfRange> {
        let Some(first) = touches.first().copied() else { return Ok(Self::default()) };
        let count = touches.len() as u32;
        let (mut sum, mut squares, mut walk, mut jumps) = (0_i64, 0_i64, 0_i64, 0_u64);
        let (mut weight, mut before) = (1_i64.minus(i64::from(count)), 0_i64);
        for z in touches {
            let d = i64::from(offset(*z, first)?);
            let jump = d.minus(before);
            sum = sum.plus(d);
            squares = squares.plus(d.times(d));
            walk = walk.plus(weight.times(d));
            jumps = jumps.plus(jump.times(jump) as u64);
            weight = weight.plus(2);
            before = d;
        }
        let square = i64::from(count).times(squares).minus(sum.times(sum)) as u64;
        Ok(Self { count, sum, square, walk, jumps })
    }

    /// The mean height, `first` + Σd/n to the nearest 2⁻³² mm, whichever touch came first.
    pub(super) fn mean(&self, first: Length) -> Wide {
        // |Σd| < 2^30 and the reciprocal ≤ 2^31: the product, in 2^-48 mm, fits; the quotient is off by less than 2^14.
        let reciprocal = i64::from(arith::reciprocal(self.count));
        let about = arith::shift_round(self.sum.times(reciprocal), 16);
        // What is left of Σd, below 2^20, divides the same way, now off by less than 2^-12: no quotient k·2^16/n with n ≤ 64
        // lies that near to a half, so the sum is the nearest.
        let left = self.sum.times(1 << 16).minus(about.times(i64::from(self.count)));
        let rest = arith::shift_round(left.times(reciprocal), 32);
        first.widen().plus(Wide::from_bits(about.plus(rest)))
    }

    /// s²/n = square / (n²·(n − 1)), n ≥ 2, to the nearest 2⁻⁶⁰ mm².
    pub(super) fn mean_variance(&self) -> Result<Variance, OutOfRange> {
        self.square_over(self.count.times(self.count).times(self.count.saturating_sub(1)))
    }

    /// s² = square / (n·(n − 1)), n ≥ 2.
    pub(super) fn sample_variance(&self) -> Result<Variance, OutOfRange> {
        self.square_over(self.count.times(self.count.saturating_sub(1)))
    }

    /// square / divisor from 2⁻³² mm² to 2⁻⁶⁰ mm².
    fn square_over(&self, divisor: u32) -> Result<Variance, OutOfRange> {
        let divisor = u64::from(divisor);
        let too_big = OutOfRange { quantity: Quantity::Variance };
        if let Some(scaled) = self.square.checked_mul(1 << 28) {
            // Typical: the square of micrometres has bits to spare.
            let rounded = scaled.checked_add(divisor / 2).ok_or(too_big)?;
            return rounded.checked_div(divisor).map(Variance::from_bits).ok_or(too_big);
        }
        let whole = self.square.checked_div(divisor).ok_or(too_big)?;
        if whole >= 1 << 36 {
            return Err(too_big);
        }
        Ok(Variance::from_bits(arith::ratio_bits(self.square, divisor, 28)))
    }

    /// `s²/n` for a given s², to the nearest bit.
    pub(super) fn mean_variance_of(&self, s_squared: Variance) -> Variance {
        of_mean(s_squared, self.count).unwrap_or(Variance::ZERO)
    }
}

/// s²/n, to the nearest bit; `None` for n = 0.
pub(super) fn of_mean(s_squared: Variance, n: u32) -> Option<Variance> {
    let n = u64::from(n);
    // s is at most 4 mm − 2⁻²⁴ mm, so s² leaves room for n / 2.
    s_squared.to_bits().plus(n / 2).checked_div(n).map(Variance::from_bits)
}

/// z − first in bits, |·| below 2^24.
pub(super) fn offset(z: Length, first: Length) -> Result<i32, OutOfRange> {
    let d = i64::from(z.to_bits()).minus(i64::from(first.to_bits()));
    if d.unsigned_abs() >= REACH {
        return Err(OutOfRange { quantity: Quantity::Length });
    }
    Ok(d as i32)
}
