//! A closed series, whether it walks, and whether it is noisier than its study.

use core::num::NonZeroU32;

use super::sums::{self, Sums, square_over};
use super::{CannotClose, Method, Pooled, variance_factor};
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

    /// Whether the touches trend, judged with a study: |b|·√Σ(i − ī)² > 3.6·f(ν)·√(s² + Δ²/12) and |b|·(n − 1) >
    /// 2Δ, with f(ν) = 1 + 3.5/ν + 11/ν² + 24/ν³. Not judged below three touches.
    ///
    /// # Errors
    /// *Out of range* where s is 4 mm or more.
    pub fn walks_by_slope(&self, study: &Pooled, step: Step, floor: Variance) -> Result<bool, OutOfRange> {
        let n = u64::from(self.count);
        if n < 3 {
            return Ok(false);
        }
        let sigma2 = study.s.variance()?.plus(floor)?.to_bits();
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
        // b²·Σ(i − ī)² = 3·walk²/(n·(n² − 1)) against 3.6²·f²·σ²; walk² in 2^-32 mm², σ² in 2^-60 mm². With
        // 12.96 = 324/25: 75·walk²·2^28 > 324·n·(n² − 1)·f²·σ². A walk from 2^31 up is metres of it.
        let per_sigma2 = n.times(324).times(n.times(n).saturating_sub(1));
        if walk >= 1 << 31 {
            return Ok(true);
        }
        // f is at least 1, so most series need no more than this.
        if !arith::product_above(walk.times(walk), 75 << 28, sigma2, per_sigma2) {
            return Ok(false);
        }
        // f² in 2^-26, below 2^37; the other factor is below 2^27.
        let f = u64::from(tail_factor(study.dof));
        Ok(arith::product_above(walk.times(walk), 75 << 54, sigma2, per_sigma2.times(f.times(f))))
    }

    /// Whether the touches scatter more than their study allows, from three up: s > Δ, and s² over the 99.98 %
    /// point of F(n − 1, ν) times (s² + Δ²/12) of the study. Not judged where ν is below
    /// [`LEAST_DOF`](Summary::LEAST_DOF).
    ///
    /// # Errors
    /// *Out of range* where the study's s is 4 mm or more.
    pub fn noisier_than(&self, study: &Pooled, step: Step, floor: Variance) -> Result<bool, OutOfRange> {
        let sigma2 = study.s.variance()?.plus(floor)?.to_bits();
        let n = u64::from(self.count);
        // s² = square/(n·(n − 1)) in 2^-32 mm², σ² in 2^-60 mm², the factor in 2^-16.
        let pairs = n.times(n.saturating_sub(1));
        // The factor is above 3 up to twelve touches and above 1.5 beyond: enough for nearly all sound series.
        let twice = if n <= 12 { 6 } else { 3 };
        if self.square >> 34 == 0
            && sigma2 >> 50 == 0
            && self.square << 29 <= pairs.times(sigma2).times(twice)
        {
            return Ok(false);
        }
        let Some(factor) = noise_factor(self.count, study.dof) else { return Ok(false) };
        if !arith::product_above(self.square, 1 << 44, sigma2, pairs.times(u64::from(factor))) {
            return Ok(false);
        }
        let (steps, mm) = (u64::from(step.steps()), u64::from(step.mm()));
        Ok(arith::product_above(self.square, steps.times(steps), pairs.times(mm.times(mm)), 1 << 32))
    }

    /// Fewest degrees of freedom of a study that says how much its switch may scatter.
    pub const LEAST_DOF: u32 = 12;
}

impl Summary {
    /// How far a series of this length may walk before [`Summary::walks_by_slope`]: the larger of 2Δ and
    /// 3.6·f(ν)·√(s² + Δ²/12)·(n − 1)/√Σ(i − ī)², for messages; `None` below two touches or where it cannot be
    /// held.
    pub fn walk_limit(&self, study: &Pooled, step: Step, floor: Variance) -> Option<Length> {
        let n = u64::from(self.count);
        // ((n − 1)² / Σ(i − ī)²) = 12·(n − 1) / (n·(n + 1)); with 3.6² = 12.96 and σ² divided first: 155.52 =
        // 3888/25.
        let sigma2 = study.s.variance().ok()?.plus(floor).ok()?.to_bits();
        let squared =
            sigma2.checked_div(n.times(n.plus(1)).times(25))?.checked_mul(n.checked_sub(1)?.times(3888))?;
        // Root in 2^-30 mm, f in 2^-13.
        let root = arith::product(Variance::from_bits(squared).root_bits(), tail_factor(study.dof));
        let by_noise = Length::from_bits(arith::shift_ceil(root, 27) as i64).ok()?;
        Some(by_noise.max(step.length(2).ok()?))
    }

    /// The largest s of a series of this length before [`Summary::noisier_than`], for messages; `None` where it
    /// is not judged or cannot be held.
    pub fn noise_limit(&self, study: &Pooled, step: Step, floor: Variance) -> Option<Uncertainty> {
        let factor = noise_factor(self.count, study.dof)?;
        let sigma2 = study.s.variance().ok()?.plus(floor).ok()?.to_bits();
        let (high, low) = arith::mul_wide(sigma2, u64::from(factor));
        if high >> 16 != 0 {
            return None;
        }
        let by_study = Variance::from_bits((high << 48) | (low >> 16)).root();
        let one = Uncertainty::from_bits(i64::from(step.one().to_bits()) << 8).ok()?;
        Some(by_study.max(one))
    }
}

/// f(ν) = 1 + 3.5/ν + 11/ν² + 24/ν³ in 2⁻¹³, below 2^19: by what the normal's 3.6 becomes about the point of
/// Student's t with the same tail.
fn tail_factor(dof: NonZeroU32) -> u32 {
    // Horner in x = 1/ν, 2^-20; each product is below 2^40.
    let x = u64::from((1_u32 << 20).checked_div(dof.get()).unwrap_or(0));
    let h = (11_u64 << 13).plus((24_u64 << 13).times(x) >> 20);
    let h = (7_u64 << 12).plus(h.times(x) >> 20);
    (1_u64 << 13).plus(h.times(x) >> 20) as u32
}

/// The 99.98 % point of F(n − 1, ν) in 2⁻¹⁶; `None` below three touches or where ν is below 12.
fn noise_factor(count: u8, dof: NonZeroU32) -> Option<u32> {
    let row = tables::NOISE_F.get(usize::from(count).checked_sub(3)?)?;
    if dof.get() < Summary::LEAST_DOF {
        return None;
    }
    let [q, a, b, c] = row.map(u64::from);
    // q·(1 + x·(a + x·(b + x·c))), x = 1/ν in 2^-20, below 2^17; q in 2^-12, a in 2^-11, b in 2^-9, c in 2^-5.
    let x = u64::from((1_u32 << 20).checked_div(dof.get()).unwrap_or(0));
    let h = b.plus(c.times(x) >> 16);
    let h = a.plus(h.times(x) >> 18);
    let h = (1_u64 << 16).plus(h.times(x) >> 15);
    Some((q.times(h) >> 12) as u32)
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
