//! A closed series, and whether it walks.

use core::num::NonZeroU32;

use super::sums::{self, Sums, square_over};
use super::{CannotClose, Method, variance_factor};
use crate::arith::{self, Bounded, Divisor};
use crate::budget::Dof;
use crate::tables;
use crate::units::{Length, OutOfRange, Quantity, Ratio, Step, Uncertainty, Variance, Wide};

/// A closed series: what the landing, the budget and the guard need of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Summary {
    pub(super) centre: Wide,
    pub(super) variance: Variance,
    /// n·Σ(zᵢ − z̄)² in bits² of [`Length`], below 2^60.
    square: u64,
    /// Σ (2i − n + 1)·zᵢ, twice the least-squares numerator; below 2^36.
    walk: i64,
    /// Σ (zᵢ₊₁ − zᵢ)², below 2^56.
    jumps: u64,
    spread: Length,
    pub(super) dof: Dof,
    /// n, at most 64.
    count: u8,
}

impl Summary {
    /// Room for a series that is yet to be closed, for [`Series::close_into`](super::Series::close_into).
    pub const OPEN: Self = Self {
        centre: Wide::ZERO,
        variance: Variance::ZERO,
        square: 0,
        walk: 0,
        jumps: 0,
        spread: Length::ZERO,
        dof: Dof::INFINITE,
        count: 0,
    };

    /// Closes touches with the mean as their centre.
    #[inline(never)]
    pub(super) fn close(&mut self, touches: &[Length], method: &Method) -> Result<(), CannotClose> {
        let n = self.sum_up(touches)?;
        let (mut variance, dof) = match &method.pooled {
            Some(pooled) => {
                let of_mean = sums::of_mean(pooled.s.variance()?, n).unwrap_or(Variance::ZERO);
                (of_mean, Dof::new(pooled.dof))
            }
            None => {
                let Some(nu) = NonZeroU32::new(n.saturating_sub(1)) else {
                    return Err(CannotClose::TooFew);
                };
                (square_over(self.square, Divisor::of_mean(n))?, Dof::new(nu))
            }
        };
        let factor = variance_factor(method.centre, touches.len());
        if factor != 1 << 15 {
            variance = scale_by_factor(variance, factor)?;
        }
        (self.variance, self.dof) =
            if variance > method.floor { (variance, dof) } else { (method.floor, Dof::INFINITE) };
        Ok(())
    }

    /// All that follows from the touches alone, and how many there are.
    #[inline]
    pub(super) fn sum_up(&mut self, touches: &[Length]) -> Result<u32, CannotClose> {
        let Some(first) = touches.first().copied() else { return Err(CannotClose::TooFew) };
        let sums = Sums::of(touches, first)?;
        self.spread = sums.spread();
        self.centre = sums.mean(first);
        (self.square, self.walk, self.jumps) = (sums.square(), sums.walk, sums.jumps);
        self.count = sums.count as u8;
        Ok(sums.count)
    }

    /// How many touches count.
    pub const fn count(&self) -> u8 {
        self.count
    }

    /// The height of the series, to 2⁻³² mm.
    pub const fn centre(&self) -> Wide {
        self.centre
    }

    /// u² of the centre.
    pub const fn variance(&self) -> Variance {
        self.variance
    }

    /// Degrees of freedom of [`Summary::variance`].
    pub const fn dof(&self) -> Dof {
        self.dof
    }

    /// max − min of the counted touches.
    pub const fn spread(&self) -> Length {
        self.spread
    }

    /// Sample standard deviation of the touches; `None` for a single one.
    ///
    /// # Errors
    /// *Out of range* from 4 mm up.
    pub fn s(&self) -> Result<Option<Uncertainty>, OutOfRange> {
        let n = u32::from(self.count);
        if n < 2 {
            return Ok(None);
        }
        // s² = square / (n·(n − 1)).
        Ok(Some(square_over(self.square, Divisor::of(n.times(n.saturating_sub(1))))?.root()))
    }

    /// How far the series walked: |b|·(n − 1), b the least-squares slope per touch, to the nearest bit.
    pub fn walked(&self) -> Length {
        // b = 6·walk / (n·(n² − 1)), so |b|·(n − 1) = 6·|walk| / (n·(n + 1)).
        let n = u32::from(self.count);
        let bits = match NonZeroU32::new(n.times(n.plus(1))) {
            Some(divisor) => arith::div_round((self.walk.unsigned_abs() as i64).times(6), divisor),
            None => 0,
        };
        Length::from_bits(bits).unwrap_or(Length::ZERO)
    }

    /// The least-squares slope per touch, to the nearest bit, ties up; zero for fewer than two touches.
    pub fn slope(&self) -> Length {
        let n = u32::from(self.count);
        let bits = match NonZeroU32::new(n.times(n.times(n).saturating_sub(1))) {
            Some(divisor) => arith::div_round(self.walk.times(6), divisor),
            None => 0,
        };
        Length::from_bits(bits).unwrap_or(Length::ZERO)
    }

    /// von Neumann's ratio Σ(zᵢ₊₁ − zᵢ)² / Σ(zᵢ − z̄)², 0 to 4; `None` where all touches are equal.
    pub fn von_neumann(&self) -> Option<Ratio> {
        // Both below 2^62; give the quotient its 16 bits one at a time.
        let numerator = self.von_neumann_numerator();
        if self.square == 0 {
            return None;
        }
        Ratio::from_bits(arith::ratio_bits(numerator, self.square, 16) as i64).ok()
    }

    /// Whether the touches trend, judged without a study: von Neumann's ratio below its exact 0.1 % point,
    /// both given where it is. Not judged below five touches or where s = 0.
    pub fn walks_by_ratio(&self) -> Option<(Ratio, Ratio)> {
        if !self.is_below_point() {
            return None;
        }
        Some((self.von_neumann()?, von_neumann_point(u32::from(self.count))?))
    }

    /// The same without the numbers.
    #[inline]
    pub(crate) fn is_below_point(&self) -> bool {
        // Half of all series that do not trend have a ratio above 2, and no point is.
        let numerator = self.von_neumann_numerator();
        numerator >> 1 < self.square && self.is_below_its_point(numerator)
    }

    /// For any ratio; 0 / 0 is above.
    #[inline(never)]
    fn is_below_its_point(&self, numerator: u64) -> bool {
        let Some(limit) = von_neumann_point(u32::from(self.count)) else { return false };
        if (self.square | numerator >> 15) >> 32 == 0 {
            return arith::product(self.square as u32, limit.to_bits()) > numerator << 16;
        }
        arith::product_above(self.square, u64::from(limit.to_bits()), numerator, 1 << 16)
    }

    /// n·Σ(zᵢ₊₁ − zᵢ)², below 2^62.
    fn von_neumann_numerator(&self) -> u64 {
        if self.jumps >> 32 == 0 {
            return arith::product(self.jumps as u32, u32::from(self.count));
        }
        self.jumps.times(u64::from(self.count))
    }

    /// Whether the touches trend, judged with a study: |b|·√Σ(i − ī)² > 3.6·√(s² + Δ²/12) and |b|·(n − 1) >
    /// 2Δ. Not judged below three touches.
    ///
    /// # Errors
    /// *Out of range* where s is 4 mm or more.
    pub fn walks_by_slope(&self, s: Uncertainty, step: Step, floor: Variance) -> Result<bool, OutOfRange> {
        let n = u64::from(self.count);
        if n < 3 {
            return Ok(false);
        }
        let sigma2 = s.variance()?.plus(floor)?.to_bits();
        let walk = self.walk.unsigned_abs();
        // |b|·(n − 1) = 6·walk/(n·(n + 1)) bits of 2^-16 mm against 2·mm/steps: all in integers. A walk below
        // 2^36 times 3·2^20 fits, and so does 64·65·2^20·2^16.
        // Most walks are below 2^30: then two products of words do.
        let limit = arith::product((n.times(n.plus(1))) as u32, step.mm()) << 16;
        let far = if walk >> 30 == 0 {
            arith::product((walk as u32).times(3), step.steps())
        } else {
            walk.times(3).times(u64::from(step.steps()))
        };
        if far <= limit {
            return Ok(false);
        }
        // b²·Σ(i − ī)² = 3·walk²/(n·(n² − 1)) against 3.6²·σ²; walk² in 2^-32 mm², σ² in 2^-60 mm². With
        // 12.96 = 324/25: 75·walk²·2^28 > 324·n·(n² − 1)·σ². A walk from 2^31 up exceeds the right side by
        // size.
        let per_sigma2 = n.times(324).times(n.times(n).saturating_sub(1));
        if walk >= 1 << 31 {
            return Ok(true);
        }
        Ok(arith::product_above(walk.times(walk), 75 << 28, sigma2, per_sigma2))
    }
}

impl Summary {
    /// How far a series of this length may walk before [`Summary::walks_by_slope`]: the larger of 2Δ and
    /// 3.6·√(s² + Δ²/12)·(n − 1)/√Σ(i − ī)², for messages; `None` below two touches or where it cannot be
    /// held.
    pub fn walk_limit(&self, s: Uncertainty, step: Step, floor: Variance) -> Option<Length> {
        let n = u64::from(self.count);
        // ((n − 1)² / Σ(i − ī)²) = 12·(n − 1) / (n·(n + 1)); with 3.6² = 12.96 and σ² divided first: 155.52 =
        // 3888/25.
        let sigma2 = s.variance().ok()?.plus(floor).ok()?.to_bits();
        let squared =
            sigma2.checked_div(n.times(n.plus(1)).times(25))?.checked_mul(n.checked_sub(1)?.times(3888))?;
        let by_noise = Variance::from_bits(squared).root().ceil();
        Some(by_noise.max(step.length(2).ok()?))
    }
}

/// The lower 0.1 % point of von Neumann's ratio; `None` below five touches.
fn von_neumann_point(count: u32) -> Option<Ratio> {
    tables::VON_NEUMANN_001.get(usize::try_from(count.checked_sub(5)?).ok()?).copied().map(Ratio::from_word)
}

/// variance · factor / 2^15, to the nearest bit.
#[inline(never)]
pub(super) fn scale_by_factor(variance: Variance, factor: u16) -> Result<Variance, OutOfRange> {
    if factor == 1 << 15 {
        return Ok(variance);
    }
    let (high, low) = arith::mul_wide(variance.to_bits(), u64::from(factor));
    if high >> 15 != 0 {
        return Err(OutOfRange { quantity: Quantity::Variance });
    }
    Variance::from_bits((high << 49) | (low >> 15)).plus(Variance::from_bits((low >> 14) & 1))
}
