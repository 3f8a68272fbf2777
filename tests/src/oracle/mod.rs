//! Exact arithmetic on quantised inputs. Nothing here knows the core.

pub mod coverage;
pub mod decimal;
pub mod dof;
pub mod floors;
pub mod landing;
pub mod plates;
pub mod series;
pub mod trim;
pub mod watch;

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};

/// An exact number.
pub type Exact = BigRational;

/// So many 2^-`fraction_bits`.
pub fn of_bits(bits: impl Into<BigInt>, fraction_bits: u32) -> Exact {
    Exact::new(bits.into(), BigInt::from(1) << fraction_bits)
}

/// A whole number.
pub fn whole(n: impl Into<BigInt>) -> Exact {
    Exact::from_integer(n.into())
}

/// A fraction.
pub fn fraction(numerator: impl Into<BigInt>, denominator: impl Into<BigInt>) -> Exact {
    Exact::new(numerator.into(), denominator.into())
}

/// How many 2^-`fraction_bits` there are in `x`.
pub fn in_bits(x: &Exact, fraction_bits: u32) -> Exact {
    x * whole(BigInt::from(1) << fraction_bits)
}

/// The nearest whole number, ties up.
pub fn nearest_up(x: &Exact) -> BigInt {
    (x + fraction(1, 2)).floor().to_integer()
}

/// The nearest whole number, ties away from zero.
pub fn nearest_away(x: &Exact) -> BigInt {
    if x.is_negative() { -nearest_up(&-x) } else { nearest_up(x) }
}

/// The square root to 2^-80, rounded down.
pub fn root(x: &Exact) -> Exact {
    assert!(!x.is_negative(), "the oracle takes no roots of negative numbers");
    if x.is_zero() {
        return Exact::zero();
    }
    // Scale to at least 200 bits, so that small numbers keep their relative precision too.
    let scaled: BigInt = ((x.numer() << 400_u32) / x.denom()).sqrt();
    Exact::new(scaled, BigInt::from(1) << 200_u32)
}

/// As a double, for measured errors and for factors that are given to a relative error.
pub fn to_f64(x: &Exact) -> f64 {
    // Numerators and denominators may pass a double's range: keep 200 bits of quotient.
    let scaled: BigInt = (x.numer() << 200_u32) / x.denom();
    scaled.to_f64().unwrap_or(f64::NAN) * 0.5_f64.powi(200)
}

/// Distance between a result in bits and the exact value, in bits.
pub fn error(seen: impl Into<BigInt>, exact: &Exact, fraction_bits: u32) -> f64 {
    to_f64(&(whole(seen) - in_bits(exact, fraction_bits)).abs())
}
