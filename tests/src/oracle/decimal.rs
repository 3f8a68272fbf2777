//! Decimal text to an exact number.

use num_bigint::BigInt;
use num_traits::{Pow, Signed};

use super::{Exact, nearest_away, whole};

/// Reads an optional sign, digits with at most one point, and an optional exponent; `None` for anything else.
pub fn read(text: &str) -> Option<Exact> {
    let (mantissa, exponent) = match text.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, signed(exponent)?),
        None => (text, BigInt::from(0)),
    };
    let (negative, digits) = sign(mantissa);
    let (before, behind) = digits.split_once('.').unwrap_or((digits, ""));
    let all = format!("{before}{behind}");
    let number = whole(plain(&all)?);
    let power = exponent - BigInt::from(behind.len());
    let size = u32::try_from(power.abs()).ok().filter(|size| *size < 5_000)?;
    let scale = whole(BigInt::from(10).pow(size));
    let number = if power.is_negative() { number / scale } else { number * scale };
    Some(if negative { -number } else { number })
}

/// To the nearest 2^-`fraction_bits`, ties away from zero, of a number written in a unit 10^`shift` times
/// smaller.
pub fn bits(number: &Exact, fraction_bits: u32, shift: u8) -> BigInt {
    nearest_away(&super::in_bits(&(number / whole(10_i64.pow(u32::from(shift)))), fraction_bits))
}

fn sign(text: &str) -> (bool, &str) {
    match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    }
}

fn plain(text: &str) -> Option<BigInt> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) { None } else { text.parse().ok() }
}

fn signed(text: &str) -> Option<BigInt> {
    let (negative, digits) = sign(text);
    plain(digits).map(|n| if negative { -n } else { n })
}
