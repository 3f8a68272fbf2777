//! Integer arithmetic with named rounding: widening multiplication, rounded division, roots.
//!
//! "Nearest, ties up" is used throughout for signed values: unlike ties away from zero it commutes with
//! adding a whole number, so a plate that is thicker by δ moves a landing by δ to the bit.

use core::num::NonZeroU32;

#[cfg(test)]
mod tests;

/// Sums and products that the ranges of their inputs keep from overflowing.
///
/// A bare `+` would bring a panic into images built with overflow checks. These wrap there, and every test
/// build asserts that they never have to.
pub(crate) trait Bounded: Copy {
    /// `self + other`.
    fn plus(self, other: Self) -> Self;
    /// `self − other`.
    fn minus(self, other: Self) -> Self;
    /// `self · other`.
    fn times(self, other: Self) -> Self;
}

macro_rules! bounded {
    ($($integer:ident)*) => {$(
        impl Bounded for $integer {
            #[inline]
            fn plus(self, other: Self) -> Self {
                debug_assert!(self.checked_add(other).is_some());
                self.wrapping_add(other)
            }

            #[inline]
            fn minus(self, other: Self) -> Self {
                debug_assert!(self.checked_sub(other).is_some());
                self.wrapping_sub(other)
            }

            #[inline]
            fn times(self, other: Self) -> Self {
                debug_assert!(self.checked_mul(other).is_some());
                self.wrapping_mul(other)
            }
        }
    )*};
}

bounded!(i32 i64 u8 u32 u64 usize);

/// `x / 2^bits` to the nearest whole number, ties up. `bits` in 1 to 62; exact for |x| below 2^62.
pub(crate) const fn shift_round(x: i64, bits: u32) -> i64 {
    x.saturating_add(1 << bits.wrapping_sub(1)) >> bits
}

/// Quotient rounded down and the remainder in `0..d`.
pub(crate) const fn div_floor(x: i64, d: NonZeroU32) -> (i64, u32) {
    let d = d.get() as i64;
    // d ≥ 1, so neither call can overflow or divide by zero; the fallback is what the type cannot exclude.
    match (x.checked_div(d), x.checked_rem(d)) {
        (Some(q), Some(r)) if r < 0 => (q.wrapping_sub(1), r.wrapping_add(d) as u32),
        (Some(q), Some(r)) => (q, r as u32),
        _ => (0, 0),
    }
}

/// `x / d` to the nearest whole number, ties up. Exact for |x| below 2^62.
pub(crate) const fn div_round(x: i64, d: NonZeroU32) -> i64 {
    let half = (d.get() / 2) as i64;
    // For odd d, x + (d − 1)/2 rounded down has no ties; for even d a tie x = (q + ½)·d goes to q + 1.
    div_floor(x.saturating_add(half), d).0
}

/// Whether the processor divides words: all but the smallest of 32 bits, and those of 8. A Cortex-M without
/// atomic instructions is an M0 or M1.
const DIVIDES_WORDS: bool =
    cfg!(not(any(all(target_arch = "arm", not(target_has_atomic = "32")), target_arch = "avr")));

/// Whether the processor has the whole product of two words: the same ones.
const MULTIPLIES_WIDE: bool = DIVIDES_WORDS;

/// Whether the processor divides 64 bits.
const DIVIDES_WIDE: bool = cfg!(target_pointer_width = "64");

/// A number to divide words by, more than once: where the processor cannot, by its reciprocal.
#[derive(Clone, Copy)]
pub(crate) struct Divisor {
    d: NonZeroU32,
    /// ⌊(2^32 − 1) / d⌋ where the processor does not divide.
    reciprocal: u32,
}

impl Divisor {
    /// Any number; 0 counts as 1.
    pub(crate) fn of(d: u32) -> Self {
        let d = NonZeroU32::new(d).unwrap_or(NonZeroU32::MIN);
        Self { d, reciprocal: if DIVIDES_WORDS { 0 } else { u32::MAX / d } }
    }

    /// A small number, by a table up to 64.
    #[inline]
    pub(crate) fn small(d: u32) -> Self {
        Self::known(d, &RECIPROCALS)
    }

    /// n²·(n − 1), n in 2..=64: by what s²/n is a mean of squares.
    #[inline]
    pub(crate) fn of_mean(n: u32) -> Self {
        let d = n.wrapping_mul(n).wrapping_mul(n.wrapping_sub(1));
        if DIVIDES_WORDS {
            return Self::of(d);
        }
        match (NonZeroU32::new(d), entry(&OF_MEAN, n)) {
            (Some(d), Some(reciprocal)) => Self { d, reciprocal: *reciprocal },
            _ => Self::of(d),
        }
    }

    #[inline]
    fn known(d: u32, table: &[u32; 65]) -> Self {
        if DIVIDES_WORDS {
            return Self::of(d);
        }
        match (NonZeroU32::new(d), entry(table, d)) {
            (Some(d), Some(reciprocal)) => Self { d, reciprocal: *reciprocal },
            _ => Self::of(d),
        }
    }

    /// The number itself.
    pub(crate) const fn get(self) -> u32 {
        self.d.get()
    }

    /// Quotient and remainder.
    #[inline]
    pub(crate) fn divide(self, x: u32) -> (u32, u32) {
        if DIVIDES_WORDS { (x / self.d, x % self.d) } else { self.divide_by_reciprocal(x) }
    }

    /// [`Divisor::divide`] by products.
    #[inline(always)]
    fn divide_by_reciprocal(self, x: u32) -> (u32, u32) {
        let d = self.d.get();
        let quotient = high(x, self.reciprocal);
        let rest = x.wrapping_sub(quotient.wrapping_mul(d));
        // x·(1/d − reciprocal/2^32) is below 1, so the product is at most one short.
        if rest >= d { (quotient.wrapping_add(1), rest.wrapping_sub(d)) } else { (quotient, rest) }
    }

    /// Quotient and remainder of a wide number, for a divisor below 2^18.
    #[inline]
    pub(crate) fn divide_wide(self, x: u64) -> (u64, u32) {
        if x >> 32 == 0 {
            let (quotient, rest) = self.divide(x as u32);
            return (quotient as u64, rest);
        }
        self.divide_in_steps(x)
    }

    /// [`Divisor::divide_wide`], 14 bits at a time.
    #[cold]
    #[inline(never)]
    fn divide_in_steps(self, x: u64) -> (u64, u32) {
        let (mut quotient, mut rest) = (0, 0);
        let mut shift = 70_u32;
        while shift > 0 {
            shift = shift.wrapping_sub(14);
            let (part, left) = self.divide((rest << 14) | ((x >> shift) as u32 & 0x3FFF));
            (quotient, rest) = ((quotient << 14) | part as u64, left);
        }
        (quotient, rest)
    }
}

/// `x / d` rounded down, or `None` for d = 0; by words where the quotient is below 2^16.
#[inline]
pub(crate) fn div_wide(x: u64, d: u64) -> Option<u64> {
    if DIVIDES_WIDE { x.checked_div(d) } else { div_by_upper_words(x, d) }
}

/// [`div_wide`] by a division of words.
#[inline]
fn div_by_upper_words(x: u64, d: u64) -> Option<u64> {
    let (high, by) = ((x >> 32) as u32, (d >> 32) as u32);
    let above = by.wrapping_add(1);
    if above >> 16 == 0 {
        return x.checked_div(d);
    }
    // high / (by + 1) is not above the quotient, which is at most 2^16, and at most three short of it.
    let mut quotient = high.checked_div(above).unwrap_or(0);
    let product = (product(quotient, by) << 32).wrapping_add(product(quotient, d as u32));
    let mut rest = x.wrapping_sub(product);
    while rest >= d {
        (quotient, rest) = (quotient.wrapping_add(1), rest.wrapping_sub(d));
    }
    Some(quotient as u64)
}

/// `x / d` rounded down, or `None` for d = 0; in steps of 16 bits where the processor divides no more than 32
/// and d is below 2^16, as products of small counts are.
#[inline]
pub(crate) fn div_small(x: u64, d: u32) -> Option<u64> {
    if DIVIDES_WIDE || d >> 16 != 0 {
        return x.checked_div(d as u64);
    }
    div_in_steps(x, d)
}

/// [`div_small`] by words alone, for d below 2^16.
fn div_in_steps(x: u64, d: u32) -> Option<u64> {
    if d == 0 {
        return None;
    }
    let d = Divisor::small(d);
    let (high, low) = ((x >> 32) as u32, x as u32);
    let (first, rest) = d.divide(high);
    // Each rest is below 2^16, so the next step's dividend fits 32 bits.
    let (second, rest) = d.divide((rest << 16) | (low >> 16));
    let (third, _) = d.divide((rest << 16) | (low & 0xFFFF));
    // The second and third are below 2^17 and 2^16: a first of zero leaves room.
    Some((u64::from(first) << 32).wrapping_add(u64::from(second) << 16).wrapping_add(u64::from(third)))
}

/// The full product of two 64-bit numbers as (high, low) words.
///
/// Law: high · 2^64 + low = a · b. Four 32-bit products; no 128-bit arithmetic.
pub(crate) const fn mul_wide(a: u64, b: u64) -> (u64, u64) {
    const LOW: u64 = 0xFFFF_FFFF;
    let (a1, a0, b1, b0) = ((a >> 32) as u32, a as u32, (b >> 32) as u32, b as u32);
    // (2^32 − 1)² + 2·(2^32 − 1) = 2^64 − 1: no sum overflows.
    let low = product(a0, b0);
    let middle = product(a1, b0).wrapping_add(low >> 32);
    let other = product(a0, b1).wrapping_add(middle & LOW);
    (product(a1, b1).wrapping_add(middle >> 32).wrapping_add(other >> 32), (other << 32) | (low & LOW))
}

/// The upper 64 bits of x², short by at most 2: the square of the lower half is left out.
pub(crate) const fn square_high(x: u64) -> u64 {
    let (high, low) = ((x >> 32) as u32, x as u32);
    product(high, high).wrapping_add(product(high, low) >> 31)
}

/// `numerator · 2^bits / denominator` to the nearest whole number, bit by bit, or 0 for a zero denominator.
///
/// The quotient must fit 64 bits and `denominator` must be below 2^63. Used once or a few times a series or a
/// reading, not per touch.
pub(crate) const fn ratio_bits(numerator: u64, denominator: u64, bits: u32) -> u64 {
    let (Some(mut quotient), Some(mut rest)) =
        (numerator.checked_div(denominator), numerator.checked_rem(denominator))
    else {
        return 0;
    };
    let mut left = bits;
    while left > 0 {
        rest <<= 1;
        quotient <<= 1;
        if rest >= denominator {
            rest = rest.wrapping_sub(denominator);
            quotient |= 1;
        }
        left = left.wrapping_sub(1);
    }
    // rest < denominator: at half or above, round up.
    if rest >= denominator.wrapping_sub(rest) { quotient.wrapping_add(1) } else { quotient }
}

/// The square root to the nearest whole number; clips 2^32 − ½ and above to 2^32 − 1.
pub(crate) const fn root_round(x: u64) -> u32 {
    if x == 0 {
        return 0;
    }
    // x · 4^halves lies in [2^62, 2^64).
    let halves = x.leading_zeros() >> 1;
    let m = x << (halves << 1);
    let (root, rest) = root_floor(m);
    if halves == 0 {
        // (root + ½)² = root² + root + ¼, so m is nearer to root + 1 exactly when m − root² > root.
        return if rest > root as u64 { root.saturating_add(1) } else { root };
    }
    // √x is root / 2^halves and less than one unit of it more; no root of a whole number is a tie.
    let half = 1_u64 << halves.wrapping_sub(1);
    ((root as u64).wrapping_add(half) >> halves) as u32
}

/// ⌊√m⌋ with what is left, m − root², for m from 2^62 up. By products alone: 1/√ from a table, refined twice
/// by Newton's step.
const fn root_floor(m: u64) -> (u32, u64) {
    // v = m / 2^64 in [¼, 1), y = 1/√v in (1, 2]. The table's y is within 2^-6.6 of it.
    let v = (m >> 32) as u32;
    // v is 2^30 at least, so the table has it.
    let mut y = match ROOTS.split_at_checked((v >> 25).wrapping_sub(32) as usize) {
        Some((_, [more, ..])) => (*more as u32).wrapping_add(256),
        _ => 256,
    };
    // y·(3 − v·y²)/2 in 32 bits: y² in 2^-16, v in 2^-14, what is left in 2^-21; y in 2^-30, now within
    // 2^-12.
    let left = (3_u32 << 30).wrapping_sub((v >> 18).wrapping_mul(y.wrapping_mul(y)));
    y = y.wrapping_mul(left >> 9);
    // Once more with y² and what is left in 2^-28: within 2^-23.
    let left = (3_u32 << 28).wrapping_sub(high(v, high(y, y)));
    y = (product(y, left) >> 29) as u32;
    // √v = v·y, within 2^9 of the root; what is left over of m gives the rest: rest / 2√m = rest·y/2^33.
    let near = product(v, y) >> 30;
    let near = if near >> 32 == 0 { near as u32 } else { u32::MAX };
    let rest = m.wrapping_sub(product(near, near)) as i64;
    let more = (rest >> 12).wrapping_mul((y >> 1) as i64) >> 50;
    let root = near.wrapping_add(more as u32);
    // Now at most one off.
    let rest = m.wrapping_sub(product(root, root));
    if (rest as i64) < 0 {
        let root = root.wrapping_sub(1);
        return (root, rest.wrapping_add(root as u64).wrapping_add(root as u64).wrapping_add(1));
    }
    let twice = (root as u64) << 1;
    if rest > twice { (root.wrapping_add(1), rest.wrapping_sub(twice).wrapping_sub(1)) } else { (root, rest) }
}

/// 256/√v less 256, for v in the middle of each 128th from ¼ to 1.
static ROOTS: [u8; 96] = {
    let mut table = [0; 96];
    let mut i = 0;
    while i < 96 {
        let square = (1_u32 << 24) / (2 * (i as u32 + 32) + 1);
        table[i] = (square.isqrt() - 256) as u8;
        i += 1;
    }
    table
};

/// The full product of two words.
#[inline]
pub(crate) const fn product(a: u32, b: u32) -> u64 {
    if MULTIPLIES_WIDE { (a as u64).wrapping_mul(b as u64) } else { product_of_halves(a, b) }
}

/// [`product`] by four products of one word each.
#[inline]
const fn product_of_halves(a: u32, b: u32) -> u64 {
    let (a1, a0, b1, b0) = (a >> 16, a & 0xFFFF, b >> 16, b & 0xFFFF);
    // The middle sums reach 2^17 · 2^16 together, so they are taken one after the other.
    let low = a0.wrapping_mul(b0);
    let middle = a1.wrapping_mul(b0).wrapping_add(low >> 16);
    let other = a0.wrapping_mul(b1).wrapping_add(middle & 0xFFFF);
    let high = a1.wrapping_mul(b1).wrapping_add(middle >> 16).wrapping_add(other >> 16);
    ((high as u64) << 32) | ((other << 16) | (low & 0xFFFF)) as u64
}

/// The full product of two signed words.
#[inline]
pub(crate) const fn signed_product(a: i32, b: i32) -> i64 {
    if MULTIPLIES_WIDE { (a as i64).wrapping_mul(b as i64) } else { signed_by_halves(a, b) }
}

/// [`signed_product`] by products of one word each.
const fn signed_by_halves(a: i32, b: i32) -> i64 {
    let size = product_of_halves(a.unsigned_abs(), b.unsigned_abs()) as i64;
    if (a ^ b) < 0 { size.wrapping_neg() } else { size }
}

/// The upper word of a product of two words.
#[inline]
pub(crate) const fn high(a: u32, b: u32) -> u32 {
    (product(a, b) >> 32) as u32
}

/// Whether `a · b > c · d`, exactly.
pub(crate) const fn product_above(a: u64, b: u64, c: u64, d: u64) -> bool {
    if cfg!(target_pointer_width = "64")
        && let (Some(left), Some(right)) = (a.checked_mul(b), c.checked_mul(d))
    {
        return left > right;
    }
    let (left, right) = (mul_wide(a, b), mul_wide(c, d));
    left.0 > right.0 || (left.0 == right.0 && left.1 > right.1)
}

/// Through `try_from`: where a `usize` has 16 bits, a cast would find a small number's entry for a large one.
fn entry(table: &[u32; 65], n: u32) -> Option<&u32> {
    table.get(usize::try_from(n).ok()?)
}

/// ⌊(2^32 − 1) / n⌋ for n in 1..=64.
static RECIPROCALS: [u32; 65] = {
    let mut table = [0; 65];
    let mut n = 1;
    while n <= 64 {
        table[n] = u32::MAX / n as u32;
        n += 1;
    }
    table
};

/// ⌊(2^32 − 1) / (n²·(n − 1))⌋ for n in 2..=64.
static OF_MEAN: [u32; 65] = {
    let mut table = [0; 65];
    let mut n = 2;
    while n <= 64 {
        let by = n as u32;
        table[n] = u32::MAX / (by * by * (by - 1));
        n += 1;
    }
    table
};

/// `x / 2^bits` rounded up; `bits` in 1 to 63.
pub(crate) const fn shift_ceil(x: u64, bits: u32) -> u64 {
    let down = x >> bits;
    if down << bits == x { down } else { down.wrapping_add(1) }
}
