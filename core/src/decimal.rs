//! Decimal text to fixed point and back, without a float in between.

use crate::arith::Bounded;
use crate::units::{OutOfRange, Spec};

#[cfg(test)]
mod tests;

/// Text of a number: at most 24 characters, all ASCII.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Text(heapless::Vec<u8, 24>);

impl Text {
    const fn new() -> Self {
        Self(heapless::Vec::new())
    }

    /// The text.
    pub fn as_str(&self) -> &str {
        // Only digits, a sign and a point are ever pushed.
        core::str::from_utf8(&self.0).unwrap_or("")
    }

    fn push(&mut self, byte: u8) {
        let _ = self.0.push(byte);
    }
}

impl core::ops::Deref for Text {
    type Target = str;

    fn deref(&self) -> &str {
        self.as_str()
    }
}

impl PartialEq<&str> for Text {
    fn eq(&self, other: &&str) -> bool {
        self.as_str() == *other
    }
}

impl core::fmt::Display for Text {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.as_str())
    }
}

/// Why a text is not a value of a quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ParseError {
    /// Not a plain decimal number: digits with at most one point, a sign before and an exponent after being
    /// allowed.
    NotANumber,
    /// A number, but outside the quantity's range.
    OutOfRange(OutOfRange),
}

impl From<OutOfRange> for ParseError {
    fn from(e: OutOfRange) -> Self {
        ParseError::OutOfRange(e)
    }
}

impl core::fmt::Display for ParseError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            ParseError::NotANumber => f.write_str("not a decimal number"),
            ParseError::OutOfRange(e) => e.fmt(f),
        }
    }
}

impl core::error::Error for ParseError {}

/// Significant digits that are kept. A rounding boundary has at most 7 + 33 of them, so what is cut off
/// decides nothing.
const DIGITS: usize = 48;

/// Largest power of ten that a text may name, where longer ones stop counting: longer than any text has zeros
/// to make up for it, and ten times as much still fits.
const MAX_EXPONENT: i32 = 100_000_000;

/// The number as digits d₀d₁d₂… with the point before digit `point`.
struct Digits {
    digits: heapless::Vec<u8, DIGITS>,
    point: i32,
    negative: bool,
}

/// Reads `text` in the unit of `spec` and rounds to the nearest bit; ties away from zero.
pub(crate) fn parse(text: &str, spec: &Spec) -> Result<i64, ParseError> {
    let mut number = scan(text)?;
    number.point = number.point.saturating_sub(i32::from(spec.decimal_shift));
    let too_big = ParseError::OutOfRange(OutOfRange { quantity: spec.quantity });

    // A zero has no digits left, whatever its exponent says.
    if number.digits.is_empty() {
        return Ok(0);
    }
    // Every range is below 10^6, every resolution above 10^-11.
    if number.point > 10 {
        return Err(too_big);
    }
    if number.point < -30 {
        return Ok(0);
    }

    // Integer part.
    let mut whole: i64 = 0;
    let mut digits = number.digits.iter().copied();
    for _ in 0..number.point {
        whole = whole.times(10).plus(i64::from(digits.next().unwrap_or(0)));
    }

    // Fraction: leading zeros for a negative point, then the digits that are left.
    let mut fraction: heapless::Vec<u8, 80> = heapless::Vec::new();
    for _ in number.point..0 {
        let _ = fraction.push(0);
    }
    for digit in digits {
        let _ = fraction.push(digit);
    }

    // Doubling the decimal fraction carries out its binary digits, exactly.
    let mut bits = whole;
    for _ in 0..spec.fraction_bits {
        let Some(twice) = bits.checked_mul(2) else { return Err(too_big) };
        bits = twice.plus(i64::from(double(&mut fraction)));
    }
    let half_or_more = double(&mut fraction) == 1;
    if half_or_more {
        bits = bits.checked_add(1).ok_or(too_big)?;
    }
    Ok(if number.negative { bits.wrapping_neg() } else { bits })
}

/// Doubles a decimal fraction in place and returns what carries out of it.
fn double(fraction: &mut [u8]) -> u8 {
    let mut carry = 0;
    for digit in fraction.iter_mut().rev() {
        let twice = digit.times(2).plus(carry);
        (carry, *digit) = if twice >= 10 { (1, twice.minus(10)) } else { (0, twice) };
    }
    carry
}

/// Splits a text into sign, digits and point.
fn scan(text: &str) -> Result<Digits, ParseError> {
    let mut bytes = text.as_bytes().iter().copied().peekable();
    let mut out = Digits { digits: heapless::Vec::new(), point: 0, negative: false };
    if let Some(sign @ (b'+' | b'-')) = bytes.peek().copied() {
        out.negative = sign == b'-';
        bytes.next();
    }

    let (mut any, mut seen_point) = (false, false);
    while let Some(byte) = bytes.peek().copied() {
        match byte {
            b'0'..=b'9' => {
                any = true;
                let digit = byte.minus(b'0');
                let leading_zero = digit == 0 && out.digits.is_empty();
                if !leading_zero {
                    let _ = out.digits.push(digit);
                }
                // Before the point every digit but a leading zero moves it; behind the point only leading
                // zeros do.
                if !seen_point && !leading_zero {
                    out.point = out.point.saturating_add(1);
                } else if seen_point && leading_zero {
                    out.point = out.point.saturating_sub(1);
                }
            }
            b'.' if !seen_point => seen_point = true,
            _ => break,
        }
        bytes.next();
    }
    if !any {
        return Err(ParseError::NotANumber);
    }

    if let Some(b'e' | b'E') = bytes.peek().copied() {
        bytes.next();
        let mut negative = false;
        if let Some(sign @ (b'+' | b'-')) = bytes.peek().copied() {
            negative = sign == b'-';
            bytes.next();
        }
        let (mut exponent, mut any) = (0_i32, false);
        while let Some(byte @ b'0'..=b'9') = bytes.peek().copied() {
            any = true;
            exponent = exponent.times(10).plus(i32::from(byte.minus(b'0'))).min(MAX_EXPONENT);
            bytes.next();
        }
        if !any {
            return Err(ParseError::NotANumber);
        }
        out.point = out.point.saturating_add(if negative { exponent.wrapping_neg() } else { exponent });
    }
    if bytes.next().is_some() {
        return Err(ParseError::NotANumber);
    }
    Ok(out)
}

/// The shortest decimal that reads back as the same bits (fixed-point printing of Steele and White, 1990,
/// "FP³").
///
/// `bits` in the range of `spec`, at most 32 bits behind the point.
pub(crate) fn shortest(bits: i64, spec: &Spec) -> Text {
    let mut out = Text::new();
    let unit = 1_u64 << spec.fraction_bits;
    let magnitude = bits.unsigned_abs();
    if bits < 0 {
        out.push(b'-');
    }

    // Written in a smaller unit than held: multiply by 10^shift first. `half` is half a bit in units of
    // 2^-(bits + 1).
    let (mut rest, mut half) = (magnitude, 1_u64);
    for _ in 0..spec.decimal_shift {
        rest = rest.times(10);
        half = half.times(10);
    }
    let whole = rest >> spec.fraction_bits;
    rest &= unit.minus(1);

    let mut fraction: heapless::Vec<u8, 16> = heapless::Vec::new();
    let mut carry = false;
    // A whole number is short already; else digits follow until what is left lies within half a bit.
    if rest.times(2) >= half {
        loop {
            rest = rest.times(10);
            half = half.times(10);
            let digit = (rest >> spec.fraction_bits) as u8;
            rest &= unit.minus(1);
            let low = rest.times(2) < half;
            let high = rest.times(2).plus(half) > unit.times(2);
            if !low && !high {
                if fraction.push(digit).is_err() {
                    break;
                }
                continue;
            }
            let up = if low && high { rest.times(2) >= unit } else { high };
            let last = digit.plus(u8::from(up));
            // Ten in the last place can only happen in the first place behind the point.
            carry = last == 10;
            let _ = fraction.push(if carry { 0 } else { last });
            break;
        }
    }
    if carry {
        fraction.clear();
    }

    push_whole(&mut out, whole.plus(u64::from(carry)));
    if !fraction.is_empty() {
        out.push(b'.');
        for digit in &fraction {
            out.push(b'0'.plus(*digit));
        }
    }
    out
}

/// Appends a whole number below 10^7.
fn push_whole(out: &mut Text, whole: u64) {
    let mut rest = whole;
    let mut started = false;
    for power in [1_000_000, 100_000, 10_000, 1_000, 100, 10, 1_u64] {
        let mut digit = 0_u8;
        while rest >= power {
            rest = rest.minus(power);
            digit = digit.plus(1);
        }
        started |= digit > 0 || power == 1;
        if started {
            out.push(b'0'.plus(digit));
        }
    }
}
