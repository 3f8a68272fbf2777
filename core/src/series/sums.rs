//! Whole-number sums over a series' differences from its first touch.

use fixed::types::I16F16;

use crate::arith::{self, Bounded, Divisor};
use crate::units::{Length, OutOfRange, Quantity, Variance, Wide};

/// How far a touch may stand from the first of its series, in bits: 256 mm. Beyond, the series is *out of
/// range*.
const REACH: u64 = 1 << 24;

/// Whether the processor has registers for sums of 64 bits. A Cortex-M3 multiplies and adds them at once, but
/// all of a loop's sums in pairs of registers are more than it has.
const WIDE_SUMS: bool = cfg!(target_pointer_width = "64");

/// Below this spread, 2¹² bits (62 µm), no sum over 64 touches reaches 2³¹: each square is below 2²⁴.
const NARROW: Length = Length::from_fixed(I16F16::from_bits(1 << 12));

/// Whole-number sums of a series over the differences dᵢ from its first touch, in bits of [`Length`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sums {
    /// n, in 1..=64.
    pub(super) count: u32,
    /// Σ dᵢ, below 2^30.
    sum: i32,
    /// Σ dᵢ², below 2^54.
    squares: u64,
    /// Σ (2i − n + 1)·dᵢ, twice the least-squares numerator; below 2^36.
    pub(super) walk: i64,
    /// Σ (dᵢ₊₁ − dᵢ)², below 2^56.
    pub(super) jumps: u64,
    low: Length,
    high: Length,
}

impl Sums {
    /// Sums over touches in their order, at most 64, the first of them given.
    #[inline]
    pub(super) fn of(touches: &[Length], first: Length) -> Result<Self, OutOfRange> {
        let sums = if WIDE_SUMS { Self::wide(touches, first) } else { Self::narrow(touches, first) };
        // No touch stands further from the first than the lowest or the highest.
        offset(sums.low, first)?;
        offset(sums.high, first)?;
        if !WIDE_SUMS && sums.spread() >= NARROW {
            return Ok(Self::wide_after_all(touches, first));
        }
        Ok(sums)
    }

    /// max − min, below 2^25 bits.
    #[inline]
    pub(super) fn spread(&self) -> Length {
        Length::from_word(self.high.to_bits().minus(self.low.to_bits()))
    }

    /// The mean height, `first` + Σd/n to the nearest 2⁻³² mm, whichever touch came first.
    #[inline]
    pub(super) fn mean(&self, first: Length) -> Wide {
        let by_count = Divisor::small(self.count);
        // With 2^24 more for each touch the sum is not negative and below 2^31.
        let (whole, rest) = by_count.divide(self.sum.plus((self.count << 24) as i32) as u32);
        let (fraction, _) = by_count.divide((rest << 16).plus(self.count / 2));
        let offset = i64::from((whole as i32).minus(1 << 24)) << 16;
        first.widen().plus(Wide::from_bits(offset.plus(i64::from(fraction))))
    }

    /// n·Σ dᵢ² − (Σ dᵢ)² = n·Σ(zᵢ − z̄)², below 2^60.
    #[inline]
    pub(super) fn square(&self) -> u64 {
        let of_sum = arith::product(self.sum.unsigned_abs(), self.sum.unsigned_abs());
        self.squares.times(u64::from(self.count)).minus(of_sum)
    }

    #[cold]
    #[inline(never)]
    fn wide_after_all(touches: &[Length], first: Length) -> Self {
        Self::wide(touches, first)
    }
}

/// The sums with squares in one integer type. Sums that the type cannot hold wrap, and mean nothing.
macro_rules! sums {
    ($name:ident, $integer:ident) => {
        #[inline]
        fn $name(touches: &[Length], first: Length) -> Self {
            let (mut low, mut high, mut before) = (first, first, 0_i32);
            let (mut sum, mut squares, mut jumps) = (0_i32, 0 as $integer, 0 as $integer);
            // Σ of the sums so far = Σ (n − i)·dᵢ: in it each difference has its weight, and nothing is
            // multiplied.
            let mut sum_of_sums: $integer = 0;
            for z in touches {
                let d = z.to_bits().wrapping_sub(first.to_bits());
                (low, high) = (low.min(*z), high.max(*z));
                let jump = d.wrapping_sub(before);
                sum = sum.wrapping_add(d);
                sum_of_sums = sum_of_sums.wrapping_add(sum.into());
                squares = squares.wrapping_add($integer::from(d).wrapping_mul(d.into()));
                jumps = jumps.wrapping_add($integer::from(jump).wrapping_mul(jump.into()));
                before = d;
            }
            let count = touches.len() as u32;
            // Σ (2i − n + 1)·dᵢ, i from 0.
            let walk = $integer::from(sum)
                .wrapping_mul((count as $integer).wrapping_add(1))
                .wrapping_sub(sum_of_sums.wrapping_mul(2));
            Self { count, sum, squares: squares as u64, walk: walk.into(), jumps: jumps as u64, low, high }
        }
    };
}

impl Sums {
    // Right for every series within reach.
    sums!(wide, i64);
    // Right where the touches lie less than `NARROW` apart, as those of one series do: products of 32 bits
    // are cheap on all boards.
    sums!(narrow, i32);
}

/// square / divisor from 2⁻³² mm² to 2⁻⁶⁰ mm², to the nearest; the divisor below 2¹⁸.
#[inline]
pub(super) fn square_over(square: u64, divisor: Divisor) -> Result<Variance, OutOfRange> {
    let too_big = OutOfRange { quantity: Quantity::Variance };
    let (whole, rest) = divisor.divide_wide(square);
    if whole >> 36 != 0 {
        return Err(too_big);
    }
    // What is left is below 2^18, so two steps of 14 bits fit, the half that rounds included.
    let (more, rest) = divisor.divide(rest << 14);
    let (last, _) = divisor.divide((rest << 14).plus(divisor.get() / 2));
    Ok(Variance::from_bits((whole << 28).plus(u64::from((more << 14).plus(last)))))
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

    /// What boards compute is what hosts compute, up to the very end of the narrow range; and it is the
    /// definition.
    #[test]
    fn narrow_sums_are_the_wide_ones() {
        let most = NARROW.to_bits() - 1;
        let mut seen = 0;
        for base in [i32::MIN, -7, 0, i32::MAX - most] {
            for n in [1, 2, 5, 63, 64] {
                for by in [0, 1, most] {
                    // Highest and lowest in turn: the largest jumps; and first low, then high: the largest
                    // walk.
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
                        let (sum, squares, jumps) = (sum as i32, squares as u64, jumps as u64);
                        let bits = |z: Option<&i32>| Length::from_word(*z.expect("a touch"));
                        let (low, high) = (bits(z.iter().min()), bits(z.iter().max()));
                        let count = n as u32;
                        assert_eq!(narrow, Sums { count, sum, squares, walk, jumps, low, high });
                        seen += 1;
                    }
                }
            }
        }
        assert_eq!(seen, 120);
    }
}
