//! A reading in units of scatter, though scatter and mean are only estimated.
//!
//! With B the sum of squares about the means so far, ν its degrees of freedom, n readings at this level with
//! the mean x̄, and x the next one (Hawkins, *The Statistician* 36, 1987; recursive residuals over several
//! levels: Brown, Durbin and Evans, *Journal of the Royal Statistical Society* B 37, 1975; both from memory):
//!
//! ```text
//!     T² = ν·I/B,   I = n/(n + 1)·(x − x̄)²
//!     U  = ±(ν − 2/3 + 1/(10ν)) · √(ln(1 + I/B) / (ν − 5/6))
//! ```
//!
//! T is Student's with ν degrees of freedom, and each T is independent of those before; U is T as a normal
//! deviate (Peizer and Pratt 1968, from memory).
//!
//! So U is as good as normal from the fourth degree of freedom on, and the charts' run lengths hold with the
//! estimation of limits included. From 2 on the approximation understates |U|, at 4 by 0.067 for ν = 4 and
//! 0.012 for ν = 10: to the quiet side.
//!
//! B is never below ν·u²: a stream is not taken to be steadier than its own readings say they are.

use super::chart::Score;
use crate::arith::{self, Bounded};
use crate::level::EVEN_FINER;
use crate::units::Variance;

/// Degrees of freedom from which on readings are scored.
pub const LEAST_DOF: u32 = 4;

/// Most degrees of freedom that the sums ever come to: 13 bits.
const MOST_DOF: u32 = 1 << 13;

/// ln 2 in 2⁻⁶⁴, rounded down.
const LN_2: u64 = 0xB172_17F7_D1CF_79AB;

/// Below this B takes the bits of I: 64 mm².
const ROOMY: u64 = 1 << 50;

/// Bits behind the point of the logarithm.
const LOG_BITS: u32 = 48;

/// B: the sum of squares, not below ν·u² and never zero; both in 2⁻⁴⁴ mm².
pub(super) fn base(scatter: u64, dof: u32, variance: Variance) -> u64 {
    let least = (variance.to_bits() >> 16).times(u64::from(dof.min(MOST_DOF)));
    scatter.max(least).max(1)
}

/// |U| for I = `added` in 2⁻⁵⁶ mm² and B = `base` in 2⁻⁴⁴ mm², from ν = 4 up.
pub(super) fn size(added: u64, base: u64, dof: u32) -> Score {
    let (added, base) = match base {
        0..ROOMY => (added, base << EVEN_FINER),
        _ => (added >> EVEN_FINER, base),
    };
    let nu = u64::from(dof.clamp(LEAST_DOF, MOST_DOF));
    // (ν − 2/3 + 1/(10ν))² / (ν − 5/6) = (30ν² − 20ν + 3)² / (150ν²·(6ν − 5)), below 2^14; numerator below
    // 2^62.
    let front = nu.times(nu).times(30).minus(nu.times(20)).plus(3);
    let below = nu.times(nu).times(150).times(nu.times(6).minus(5));
    let factor = arith::ratio_bits(front.times(front), below, 32);
    // Below 2^46 in 2^-32, times below 2^54 in 2^-48: U² below 2^19 in 2^-80, taken to 2^-32.
    let (high, low) = arith::mul_wide(factor, ln_of_sum(added, base));
    let square = (high << 16).plus(low >> 48).plus((low >> 47) & 1);
    // The root of a number in 2^-32 is in 2^-16, below 2^26.
    Score::from_bits(arith::root_round(square) as i32).unwrap_or(Score::ZERO)
}

/// ln(1 + a/b) in 2⁻⁴⁸, for a below 2^62 and b in 1 to 2^62; within 2 bits.
fn ln_of_sum(a: u64, b: u64) -> u64 {
    // The ratio between 1 and 2 in 2^-62, by one shift of either side.
    let sum = a.plus(b);
    let shift = b.leading_zeros().saturating_sub(sum.leading_zeros());
    let scaled = b << (shift & 63);
    let (whole, scaled) = if scaled > sum { (shift.saturating_sub(1), scaled >> 1) } else { (shift, scaled) };
    let mut mantissa = arith::ratio_bits(sum, scaled, 62);
    let mut log = u64::from(whole);
    // Each squaring doubles the logarithm: its next bit is whether the square has passed 2.
    let mut left = LOG_BITS;
    while left > 0 {
        let (high, low) = arith::mul_wide(mantissa, mantissa);
        let square = (high << 2) | (low >> 62);
        log <<= 1;
        if square >= 1 << 63 {
            log |= 1;
            mantissa = square >> 1;
        } else {
            mantissa = square;
        }
        left = left.saturating_sub(1);
    }
    let (high, low) = arith::mul_wide(log, LN_2);
    high.plus(low >> 63)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logarithms_of_known_ratios() {
        // ln 1, ln 2, ln 3, ln 1.5, ln 1024 to 2^-48.
        let ln = |a, b| ln_of_sum(a, b) as f64 / 2.0_f64.powi(48);
        for (a, b, right) in [
            (0, 1, 0.0),
            (1, 1, core::f64::consts::LN_2),
            (2, 1, 1.098_612_288_668_109_8),
            (1, 2, 0.405_465_108_108_164_4),
            (1_023 << 30, 1 << 30, 6.931_471_805_599_453),
            (1, 1 << 62, 0.0),
            ((1 << 49) - 1, 1, 49.0 * core::f64::consts::LN_2),
            // Sum a power of two, base just below and above half of it.
            ((1 << 40) + 1, (1 << 40) - 1, 0.693_147_180_560_854_8),
            ((1 << 40) - 1, (1 << 40) + 1, 0.693_147_180_559_035_8),
        ] {
            assert!((ln(a, b) - right).abs() < 2.0_f64.powi(-46), "ln(1 + {a}/{b}): {}", ln(a, b));
        }
    }

    /// Numbers of all sizes.
    fn numbers() -> impl Iterator<Item = u64> {
        let mut state = 1_u64;
        core::iter::repeat_with(move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            state ^ state >> 29
        })
    }

    #[test]
    fn logarithms_and_sizes_of_many_numbers() {
        let mut numbers = numbers();
        let mut next = || numbers.next().expect("without end");
        for _ in 0..2_000 {
            let (a, b) = (next() >> (2 + next() % 60), (next() >> (2 + next() % 60)).max(1));
            let (log, right) = (ln_of_sum(a, b) as f64 / 2.0_f64.powi(48), (a as f64 / b as f64).ln_1p());
            assert!(
                (log - right).abs() < 2.0_f64.powi(-46) + 1e-14,
                "ln(1 + {a}/{b}): {log} against {right}"
            );

            let (b, dof) = (b >> 1, 4 + (next() >> (50 + next() % 14)) as u32 % 8_189);
            let b = b.max(1);
            let nu = f64::from(dof);
            let ratio = a as f64 / (b as f64 * 4_096.0);
            let right = (nu - 2.0 / 3.0 + 0.1 / nu) * (ratio.ln_1p() / (nu - 5.0 / 6.0)).sqrt();
            let seen = f64::from(size(a, b, dof).to_bits()) / 65_536.0;
            assert!(
                (seen - right).abs() < 2.0_f64.powi(-16) + 1e-7 * right,
                "{a} {b} {dof}: {seen} against {right}"
            );
        }
        // The last bit of either: ln 4 = 1.38629…, and U² = 0.75 in its last place.
        assert_eq!(ln_of_sum(3, 1), (LN_2 >> 15) + 1);
        assert_eq!(size(1, 4_978_639, 4).to_bits(), 1);
    }

    #[test]
    fn the_base_is_never_steadier_than_the_readings() {
        let u2 = Variance::from_bits(1_000 << 16);
        assert_eq!(base(5_000, 4, u2), 5_000);
        assert_eq!(base(3_999, 4, u2), 4_000);
        assert_eq!(base(0, 0, Variance::ZERO), 1);
        assert_eq!(base(0, u32::MAX, Variance::from_bits(u64::MAX)), ((1 << 48) - 1) << 13);
    }
}
