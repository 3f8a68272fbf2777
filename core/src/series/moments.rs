//! Whole-number sums over a series' differences from its first touch.

use fixed::types::I16F16;

use crate::arith::{self, Bounded};
use crate::units::{Length, OutOfRange, Quantity, Variance, Wide};

/// How far a touch may stand from the first of its series, in bits: 256 mm. Beyond, the series is *out of range*.
const REACH: u64 = 1 << 24;

/// Whether the processor multiplies 64 bits as easily as 32.
const WIDE_WORDS: bool = cfg!(target_pointer_width = "64");

/// Below this spread, 2¹² bits (62 µm), no sum over 64 touches reaches 2³¹: each square is below 2²⁴.
const NARROW: Length = Length::from_fixed(I16F16::from_bits(1 << 12));

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
    /// Sums over touches in their order, at most 64, with their spread.
    pub(super) fn of(touches: &[Length]) -> Result<(Self, Length), OutOfRange> {
        let Some(first) = touches.first().copied() else { return Ok((Self::default(), Length::ZERO)) };
        let (sums, low, high) = Sums::of(touches, first);
        // No touch stands further from the first than the lowest or the highest.
        offset(low, first)?;
        offset(high, first)?;
        let spread = high.minus(low)?;
        let sums = if !WIDE_WORDS && spread >= NARROW { Sums::wide(touches, first).0 } else { sums };
        let Sums { sum, squares, walk, jumps } = sums;
        let count = touches.len() as u32;
        let square = i64::from(count).times(squares).minus(sum.times(sum)) as u64;
        Ok((Self { count, sum, square, walk, jumps: jumps as u64 }, spread))
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
        let too_big = OutOfRange { quantity: Quantity::Variance };
        if let Some(scaled) = self.square.checked_mul(1 << 28) {
            // Typical: the square of micrometres has bits to spare.
            let rounded = scaled.checked_add(u64::from(divisor / 2)).ok_or(too_big)?;
            return arith::div_small(rounded, divisor).map(Variance::from_bits).ok_or(too_big);
        }
        let divisor = u64::from(divisor);
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

/// Σ dᵢ, Σ dᵢ², Σ (2i − n + 1)·dᵢ, Σ (dᵢ₊₁ − dᵢ)².
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Sums {
    sum: i64,
    squares: i64,
    walk: i64,
    jumps: i64,
}

/// The sums in one integer type, with the lowest and the highest touch. Sums that the type cannot hold wrap, and mean nothing.
macro_rules! sums {
    ($name:ident, $integer:ident) => {
        fn $name(touches: &[Length], first: Length) -> (Self, Length, Length) {
            let (mut low, mut high) = (first, first);
            let (mut sum, mut squares, mut walk, mut jumps): ($integer, $integer, $integer, $integer) =
                (0, 0, 0, 0);
            let (mut weight, mut before) = ((1 as $integer).wrapping_sub(touches.len() as $integer), 0);
            for z in touches {
                (low, high) = (low.min(*z), high.max(*z));
                let d = $integer::from(z.to_bits()).wrapping_sub(first.to_bits().into());
                let jump = d.wrapping_sub(before);
                sum = sum.wrapping_add(d);
                squares = squares.wrapping_add(d.wrapping_mul(d));
                walk = walk.wrapping_add(weight.wrapping_mul(d));
                jumps = jumps.wrapping_add(jump.wrapping_mul(jump));
                weight = weight.wrapping_add(2);
                before = d;
            }
            let sums =
                Self { sum: sum.into(), squares: squares.into(), walk: walk.into(), jumps: jumps.into() };
            (sums, low, high)
        }
    };
}

impl Sums {
    // Right for every series within reach.
    sums!(wide, i64);
    // Right where the touches lie less than `NARROW` apart, as those of one series do: products of 32 bits are cheap on all
    // boards.
    sums!(narrow, i32);

    /// As the processor does it best.
    fn of(touches: &[Length], first: Length) -> (Self, Length, Length) {
        if WIDE_WORDS { Self::wide(touches, first) } else { Self::narrow(touches, first) }
    }
}

/// s²/n, to the nearest bit; `None` for n = 0.
#[inline]
pub(super) fn of_mean(s_squared: Variance, n: u32) -> Option<Variance> {
    // s is at most 4 mm − 2⁻²⁴ mm, so s² leaves room for n / 2.
    arith::div_small(s_squared.to_bits().plus(u64::from(n / 2)), n).map(Variance::from_bits)
}

/// z − first in bits, |·| below 2^24.
pub(super) fn offset(z: Length, first: Length) -> Result<i32, OutOfRange> {
    let d = i64::from(z.to_bits()).minus(i64::from(first.to_bits()));
    if d.unsigned_abs() >= REACH {
        return Err(OutOfRange { quantity: Quantity::Length });
    }
    Ok(d as i32)
}

#[cfg(test)]
mod tests {
    extern crate std;

    use super::*;

    /// What boards compute is what hosts compute, up to the very end of the narrow range; and it is the definition.
    #[test]
    fn narrow_sums_are_the_wide_ones() {
        let most = NARROW.to_bits() - 1;
        let mut seen = 0;
        for base in [i32::MIN, -7, 0, i32::MAX - most] {
            for n in [1, 2, 5, 63, 64] {
                for by in [0, 1, most] {
                    // Highest and lowest in turn: the largest jumps; and first low, then high: the largest walk.
                    for at in [|i: i32, _: i32| i % 2, |i: i32, n: i32| i32::from(i >= n / 2)] {
                        let z: std::vec::Vec<i32> = (0..n).map(|i| base + by * at(i, n)).collect();
                        let touches: std::vec::Vec<Length> =
                            z.iter().map(|z| Length::from_bits(i64::from(*z)).expect("held")).collect();
                        let [first, ..] = touches[..] else { panic!("touches") };
                        let narrow = Sums::narrow(&touches, first);
                        assert_eq!(narrow, Sums::wide(&touches, first));
                        let d: std::vec::Vec<i64> =
                            z.iter().map(|x| i64::from(*x) - i64::from(z[0])).collect();
                        let sum = d.iter().sum::<i64>();
                        let jumps = d.windows(2).map(|d| (d[1] - d[0]).pow(2)).sum::<i64>();
                        let squares = d.iter().map(|d| d * d).sum::<i64>();
                        let walk =
                            d.iter().zip(0..).map(|(d, i)| (2 * i - i64::from(n) + 1) * d).sum::<i64>();
                        assert_eq!(narrow.0, Sums { sum, squares, walk, jumps });
                        assert_eq!(
                            (narrow.1.to_bits(), narrow.2.to_bits()),
                            (*z.iter().min().expect("z"), *z.iter().max().expect("z"),)
                        );
                        seen += 1;
                    }
                }
            }
        }
        assert_eq!(seen, 120);
    }
}
