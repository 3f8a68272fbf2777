//! Readings of one level, remembered by their sums: how many, their mean, how they scatter.
//!
//! With δᵢ the differences from the first reading, in whole bits, the sums n, Σδ and Σδ² are exact, so mean
//! and scatter are those of all readings together and no order of theirs matters.

use core::num::NonZeroU32;

use crate::arith::{self, Bounded};
use crate::units::{Length, OutOfRange, Quantity, Variance, Wide};

/// Readings after which the sums are halved: 4,096. From there on the oldest count for half, then for a
/// quarter.
pub(crate) const MOST: u32 = 1 << 12;

/// A reading this far from the first one cannot be of the same level: 4 mm, in bits.
const FAR: i64 = 4 << 16;

/// Bits that a sum of squares carries beyond those of Σδ²: it is in 2⁻⁴⁴ mm².
const FINER: u32 = 12;

/// Bits more of what one reading adds, which may be small.
pub(crate) const EVEN_FINER: u32 = 12;

/// Sums over the readings of one level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct LevelSums {
    first: Length,
    /// n, in 1 to 4,095.
    count: u32,
    /// Σδ, below 2^30.
    sum: i64,
    /// Σδ², below 2^48.
    squares: u64,
}

impl LevelSums {
    pub(crate) const fn new(first: Length) -> Self {
        Self { first, count: 1, sum: 0, squares: 0 }
    }

    /// From its parts; `None` where no readings have such sums.
    pub(crate) fn restored(first: Length, count: u32, sum: i64, squares: u64) -> Option<Self> {
        let readings = u64::from(count);
        let far = FAR.unsigned_abs();
        let held = (1..MOST).contains(&count)
            && Self::is_near(sum, count)
            && squares <= readings.times(far.times(far));
        // Held so, both products are below 2^60. Σδ² is no less than (Σδ)²/n.
        let whole = held && readings.times(squares) >= sum.unsigned_abs().times(sum.unsigned_abs());
        whole.then_some(Self { first, count, sum, squares })
    }

    pub(crate) const fn parts(&self) -> (Length, u32, i64, u64) {
        (self.first, self.count, self.sum, self.squares)
    }

    /// δ of a reading.
    ///
    /// # Errors
    /// *Out of range* from 4 mm up.
    pub(crate) fn offset(&self, reading: Length) -> Result<i64, OutOfRange> {
        let offset = i64::from(reading.to_bits()).minus(i64::from(self.first.to_bits()));
        if offset.unsigned_abs() >= FAR.unsigned_abs() {
            return Err(OutOfRange { quantity: Quantity::Length });
        }
        Ok(offset)
    }

    /// Takes a reading in, by its δ. Says whether the sums were halved.
    pub(crate) fn push(&mut self, offset: i64) -> bool {
        self.count = self.count.plus(1);
        self.sum = self.sum.plus(offset);
        self.squares = self.squares.plus(offset.unsigned_abs().times(offset.unsigned_abs()));
        let full = self.count >= MOST;
        if full {
            // Σδ towards zero and Σδ² up, so that n·Σδ² ≥ (Σδ)² holds on.
            self.count >>= 1;
            let half = self.sum.unsigned_abs() >> 1;
            self.sum = if self.sum < 0 { 0_i64.minus(half as i64) } else { half as i64 };
            self.squares = self.squares.div_ceil(2);
        }
        full
    }

    pub(crate) const fn count(&self) -> u32 {
        self.count
    }

    /// Whether so many readings can have this Σδ.
    pub(crate) fn is_near(sum: i64, count: u32) -> bool {
        sum.unsigned_abs() <= u64::from(count).times(FAR.unsigned_abs())
    }

    /// n and the mean without so many readings of this sum; `None` where fewer than two would be left.
    pub(crate) fn mean_without(&self, count: u32, sum: i64) -> Option<(u32, Wide)> {
        let count = self.count.checked_sub(count).filter(|left| *left >= 2)?;
        let sum = self.sum.checked_sub(sum)?;
        Self::is_near(sum, count).then(|| (count, self.height(sum, count)))
    }

    /// The mean, to the nearest 2⁻³² mm.
    pub(crate) fn mean(&self) -> Wide {
        self.height(self.sum, self.count)
    }

    /// The mean of so many readings with this Σδ.
    pub(crate) fn height(&self, sum: i64, count: u32) -> Wide {
        // |sum| below 2^34 for 2^16 readings: below 2^50 with its 16 bits more.
        let mean = NonZeroU32::new(count).map_or(0, |count| arith::div_round(sum << 16, count));
        self.first.widen().plus(Wide::from_bits(mean))
    }

    /// Σ(x − x̄)², to the nearest 2⁻⁴⁴ mm², below 2^60.
    pub(crate) fn scatter(&self) -> u64 {
        let spread = u64::from(self.count)
            .times(self.squares)
            .saturating_sub(self.sum.unsigned_abs().times(self.sum.unsigned_abs()));
        arith::ratio_bits(spread, u64::from(self.count), FINER)
    }

    /// What a reading would add to [`LevelSums::scatter`]: n/(n + 1)·(x − x̄)², to the nearest 2⁻⁵⁶ mm²,
    /// below 2^62.
    pub(crate) fn added(&self, offset: i64) -> u64 {
        let count = u64::from(self.count);
        // Below 2^12·2^18 + 2^30 = 2^31.
        let far = i64::from(self.count).times(offset).minus(self.sum).unsigned_abs();
        arith::ratio_bits(far.times(far), count.times(count.plus(1)), FINER.plus(EVEN_FINER))
    }

    /// Whether a reading stands below the mean, exactly.
    pub(crate) fn is_below_mean(&self, offset: i64) -> bool {
        i64::from(self.count).times(offset) < self.sum
    }

    /// Degrees of freedom of the scatter: n − 1.
    pub(crate) const fn dof(&self) -> u32 {
        self.count.saturating_sub(1)
    }
}

/// A sum of squares over its degrees of freedom, to the nearest 2⁻⁶⁰ mm²; `None` without any.
///
/// # Errors
/// *Out of range* from 16 mm² up.
pub(crate) fn mean_square(scatter: u64, dof: u32) -> Result<Option<Variance>, OutOfRange> {
    let Some(whole) = scatter.checked_div(u64::from(dof)) else { return Ok(None) };
    if whole >= (1 << 48) - 1 {
        return Err(OutOfRange { quantity: Quantity::Variance });
    }
    Ok(Some(Variance::from_bits(arith::ratio_bits(scatter, u64::from(dof), 16))))
}

/// A variance over a count, to the nearest bit.
pub(crate) fn over(variance: Variance, count: u32) -> Variance {
    Variance::from_bits(arith::ratio_bits(variance.to_bits(), u64::from(count.max(1)), 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn length(bits: i64) -> Length {
        Length::from_bits(bits).expect("a length")
    }

    #[test]
    fn sums_of_a_hand_made_case() {
        // 10, 12, 17 bits: mean 13, scatter 9 + 1 + 16.
        let mut history = LevelSums::new(length(10));
        assert_eq!((history.scatter(), history.dof()), (0, 0));
        assert_eq!(history.added(history.offset(length(12)).expect("near")), 2 << 24);
        assert!(!history.push(2));
        assert_eq!(history.added(7), 24 << 24);
        assert!(!history.push(7));
        assert_eq!((history.count(), history.dof(), history.scatter()), (3, 2, 26 << FINER));
        assert_eq!(history.mean().to_bits(), 13 << 16);
        assert_eq!(history.mean_without(1, 7), Some((2, length(11).widen())));
        assert_eq!(history.mean_without(2, 9), None, "one reading is too few");
        // Σ(x − x̄)²/ν = 13 bits².
        assert_eq!(mean_square(26 << FINER, 2), Ok(Some(Variance::from_bits(13 << 28))));
    }

    #[test]
    fn far_readings_are_refused_on_both_sides() {
        let history = LevelSums::new(length(-5));
        assert_eq!(history.offset(length(-5 + FAR - 1)), Ok(FAR - 1));
        assert_eq!(history.offset(length(-5 - FAR + 1)), Ok(1 - FAR));
        for far in [FAR, -FAR] {
            assert_eq!(history.offset(length(-5 + far)), Err(OutOfRange { quantity: Quantity::Length }));
        }
    }

    #[test]
    fn a_full_history_halves_and_keeps_mean_and_scatter() {
        for sign in [1, -1] {
            let mut history = LevelSums::new(length(0));
            for n in 1..u64::from(MOST) {
                let halved = history.push(sign * (FAR - 1) * i64::from(n % 2 == 1));
                assert_eq!(halved, n + 1 == u64::from(MOST));
            }
            assert_eq!(history.count(), MOST / 2);
            let half = (sign * (FAR - 1)) << 15;
            assert!((history.mean().to_bits() - half).abs() <= 1 << 10, "{}", history.mean().to_bits());
            let s = mean_square(history.scatter(), history.dof()).expect("held").expect("some").root();
            // Alternately 0 and 4 mm: s is 2 mm.
            assert!(s.to_bits().abs_diff(2 << 24) < 1 << 13, "{}", s.to_bits());
        }
    }

    #[test]
    fn sums_that_no_readings_have_are_not_taken_back() {
        let restored =
            |count, sum, squares| LevelSums::restored(length(7), count, sum, squares).map(|h| h.parts());
        let far = FAR.unsigned_abs();
        for (count, sum, squares) in [
            (1, 0, 0),
            (2, 10, 50),
            (2, -10, 51),
            (3, 0, 3 * far * far),
            (MOST - 1, -4_095 * FAR, 4_095 * far * far),
        ] {
            assert_eq!(restored(count, sum, squares), Some((length(7), count, sum, squares)));
        }
        for (count, sum, squares) in [
            (0, 0, 0),
            (MOST, 0, 0),
            (2, 10, 49),
            (2, -10, 49),
            (3, 0, 3 * far * far + 1),
            (2, 2 * FAR + 1, 2 * far * far),
        ] {
            assert_eq!(restored(count, sum, squares), None, "{count} {sum} {squares}");
        }
    }

    #[test]
    fn a_mean_square_is_held_below_sixteen() {
        assert_eq!(mean_square(5, 0), Ok(None));
        assert!(mean_square((1 << 48) - 1, 1).is_err());
        assert_eq!(mean_square((1 << 48) - 2, 1), Ok(Some(Variance::from_bits(((1 << 48) - 2) << 16))));
        assert_eq!(over(Variance::from_bits(7), 2), Variance::from_bits(4));
        assert_eq!(over(Variance::from_bits(7), 0), Variance::from_bits(7));
    }
}
