//! A closed series, and whether it walks.

use core::num::NonZeroU32;

use super::moments::Moments;
use crate::arith::{self, Bounded};
use crate::budget::Dof;
use crate::tables;
use crate::units::{Length, OutOfRange, Ratio, Step, Uncertainty, Variance, Wide};

/// A closed series: what the landing, the budget and the guard need of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Summary {
    pub(super) centre: Wide,
    pub(super) variance: Variance,
    pub(super) dof: Dof,
    pub(super) spread: Length,
    pub(super) moments: Moments,
}

impl Summary {
    /// How many touches count.
    pub const fn count(&self) -> u8 {
        // At most 64.
        self.moments.count as u8
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
        if self.moments.count < 2 { Ok(None) } else { Ok(Some(self.moments.sample_variance()?.root())) }
    }

    /// How far the series walked: |b|·(n − 1), b the least-squares slope per touch, to the nearest bit.
    pub fn walked(&self) -> Length {
        // b = 6·walk / (n·(n² − 1)), so |b|·(n − 1) = 6·|walk| / (n·(n + 1)).
        let n = self.moments.count;
        let bits = match NonZeroU32::new(n.times(n.plus(1))) {
            Some(divisor) => arith::div_round((self.moments.walk.unsigned_abs() as i64).times(6), divisor),
            None => 0,
        };
        Length::from_bits(bits).unwrap_or(Length::ZERO)
    }

    /// The least-squares slope per touch, to the nearest bit, ties up; zero for fewer than two touches.
    pub fn slope(&self) -> Length {
        let n = self.moments.count;
        let bits = match NonZeroU32::new(n.times(n.times(n).saturating_sub(1))) {
            Some(divisor) => arith::div_round(self.moments.walk.times(6), divisor),
            None => 0,
        };
        Length::from_bits(bits).unwrap_or(Length::ZERO)
    }

    /// von Neumann's ratio Σ(zᵢ₊₁ − zᵢ)² / Σ(zᵢ − z̄)², 0 to 4; `None` where all touches are equal.
    pub fn von_neumann(&self) -> Option<Ratio> {
        // Both below 2^62; give the quotient its 16 bits one at a time.
        let numerator = self.moments.jumps.times(u64::from(self.moments.count));
        if self.moments.square == 0 {
            return None;
        }
        Ratio::from_bits(arith::ratio_bits(numerator, self.moments.square, 16) as i64).ok()
    }

    /// Whether the touches trend, judged without a study: von Neumann's ratio below its exact 0.1 % point. Not judged
    /// below five touches or where s = 0.
    pub fn walks_by_ratio(&self) -> Option<(Ratio, Ratio)> {
        let limit = Ratio::from_bits(i64::from(von_neumann_point(self.moments.count)?)).ok()?;
        if self.moments.square == 0 {
            return None;
        }
        let numerator = self.moments.jumps.times(u64::from(self.moments.count));
        let below = arith::product_above(self.moments.square, u64::from(limit.to_bits()), numerator, 1 << 16);
        if below { Some((self.von_neumann()?, limit)) } else { None }
    }

    /// Whether the touches trend, judged with a study: |b|·√Σ(i − ī)² > 3.6·√(s² + Δ²/12) and |b|·(n − 1) > 2Δ. Not judged
    /// below three touches.
    ///
    /// # Errors
    /// *Out of range* where s is 4 mm or more.
    pub fn walks_by_slope(&self, s: Uncertainty, step: Step, floor: Variance) -> Result<bool, OutOfRange> {
        let n = u64::from(self.moments.count);
        if n < 3 {
            return Ok(false);
        }
        let sigma2 = s.variance()?.plus(floor)?.to_bits();
        let walk = self.moments.walk.unsigned_abs();
        // |b|·(n − 1) = 6·walk/(n·(n + 1)) bits of 2^-16 mm against 2·mm/steps: all in integers. A walk below 2^36 times 3·2^20
        // fits, and so does 64·65·2^20·2^16.
        let far = walk.times(3).times(u64::from(step.steps()))
            > n.times(n.plus(1)).times(u64::from(step.mm())) << 16;
        if !far {
            return Ok(false);
        }
        // b²·Σ(i − ī)² = 3·walk²/(n·(n² − 1)) against 3.6²·σ²; walk² in 2^-32 mm², σ² in 2^-60 mm². With 12.96 = 324/25:
        // 75·walk²·2^28 > 324·n·(n² − 1)·σ². A walk from 2^31 up exceeds the right side by size.
        let per_sigma2 = n.times(324).times(n.times(n).saturating_sub(1));
        if walk >= 1 << 31 {
            return Ok(true);
        }
        Ok(arith::product_above(walk.times(walk), 75 << 28, sigma2, per_sigma2))
    }
}

impl Summary {
    /// How far a series of this length may walk before [`Summary::walks_by_slope`]: the larger of 2Δ and
    /// 3.6·√(s² + Δ²/12)·(n − 1)/√Σ(i − ī)², for messages; `None` below two touches or where it cannot be held.
    pub fn walk_limit(&self, s: Uncertainty, step: Step, floor: Variance) -> Option<Length> {
        let n = u64::from(self.moments.count);
        // ((n − 1)² / Σ(i − ī)²) = 12·(n − 1) / (n·(n + 1)); with 3.6² = 12.96 and σ² divided first: 155.52 = 3888/25.
        let sigma2 = s.variance().ok()?.plus(floor).ok()?.to_bits();
        let squared =
            sigma2.checked_div(n.times(n.plus(1)).times(25))?.checked_mul(n.checked_sub(1)?.times(3888))?;
        let by_noise = Variance::from_bits(squared).root().ceil();
        Some(by_noise.max(step.length(2).ok()?))
    }
}

/// The lower 0.1 % point of von Neumann's ratio in Q16; `None` below five touches.
fn von_neumann_point(count: u32) -> Option<u32> {
    tables::VON_NEUMANN_001.get(usize::try_from(count.checked_sub(5)?).ok()?).copied()
}
