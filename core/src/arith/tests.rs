//! Integer arithmetic against 128 bits, exhaustive where the domain is small.

use core::num::NonZeroU32;

use super::*;

/// Corners of 64 bits, their neighbours, and numbers of every size from a fixed sequence.
fn numbers() -> impl Iterator<Item = u64> + Clone {
    let corners = (0..64).flat_map(|shift| {
        let power = 1_u64 << shift;
        [power - 1, power, power + 1, u64::MAX - power, u64::MAX / (shift + 1)]
    });
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mixed = core::array::from_fn::<u64, 300, _>(|i| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        state >> (i % 64)
    });
    corners.chain(mixed)
}

/// The same with both signs, below 2^62.
fn signed() -> impl Iterator<Item = i64> + Clone {
    numbers().flat_map(|x| [(x >> 2) as i64, -((x >> 2) as i64)])
}

fn divisors() -> impl Iterator<Item = NonZeroU32> + Clone {
    let large = [65_535, 65_536, 1_000_003, u32::MAX - 1, u32::MAX];
    (1..=70).chain(large).filter_map(NonZeroU32::new)
}

#[test]
fn the_root_is_the_nearest_for_all_of_16_bits() {
    let mut root = 0_u64;
    for x in 0..=u64::from(u16::MAX) {
        // (root + ½)² = root² + root + ¼.
        if x > root * root + root {
            root += 1;
        }
        assert_eq!(u64::from(root_round(x)), root, "{x}");
    }
}

#[test]
fn the_root_is_the_nearest_at_the_edges_of_64_bits() {
    let edges = numbers().flat_map(|x| {
        // Where the root changes: about x², and about (x + ½)², for every root of 32 bits.
        let r = x >> 32;
        [x, r * r, (r * r).saturating_sub(1), r * r + 1, r * r + r, r * r + r + 1]
    });
    for x in edges.chain([u64::MAX, u64::MAX - 1]) {
        let root = u128::from(root_round(x));
        let x = u128::from(x);
        // 4x between (2·root − 1)² and (2·root + 1)², but for the clipped end.
        assert!(root == 0 || 4 * x > (2 * root - 1) * (2 * root - 1), "{x}");
        assert!(4 * x < (2 * root + 1) * (2 * root + 1) || root == u128::from(u32::MAX), "{x}");
    }
    assert_eq!(root_round(u64::MAX), u32::MAX);
    assert_eq!(root_round((1 << 62) - 1), 1 << 31);
}

#[test]
fn shifts_round_to_nearest_ties_up() {
    for x in signed() {
        for bits in 1..=62 {
            let half = 1_i128 << (bits - 1);
            let expected = (i128::from(x) + half) >> bits;
            assert_eq!(i128::from(shift_round(x, bits)), expected, "{x} >> {bits}");
        }
    }
    for (x, expected) in [(-3, -1), (-2, -1), (-1, 0), (0, 0), (1, 1), (2, 1), (3, 2)] {
        assert_eq!(shift_round(x, 1), expected, "{x}/2");
    }
}

#[test]
fn shifts_rounded_up() {
    for x in numbers() {
        for bits in 1..=63 {
            assert_eq!(u128::from(shift_ceil(x, bits)), u128::from(x).div_ceil(1 << bits), "{x} >> {bits}");
        }
    }
}

#[test]
fn divisions_round_down_and_to_nearest_ties_up() {
    for x in signed() {
        for d in divisors() {
            let wide = i128::from(d.get());
            let (quotient, rest) = div_floor(x, d);
            assert_eq!(i128::from(quotient) * wide + i128::from(rest), i128::from(x), "{x}/{d}");
            assert!(rest < d.get(), "{x}/{d}");
            // The nearest q, ties up: q − ½ ≤ x/d < q + ½ with the tie on the lower side.
            let nearest = i128::from(div_round(x, d));
            let twice = 2 * i128::from(x);
            assert!((2 * nearest - 1) * wide <= twice && twice < (2 * nearest + 1) * wide, "{x}/{d}");
        }
    }
}

/// Rounding commutes with adding a whole number: what makes a thicker plate move the landing to the bit.
#[test]
fn rounding_commutes_with_whole_numbers() {
    for x in -300_i64..300 {
        for whole in [-7, -1, 1, 1_000_000] {
            assert_eq!(shift_round(x + whole * 16, 4), shift_round(x, 4) + whole);
            for d in divisors().take(20) {
                assert_eq!(div_round(x + whole * i64::from(d.get()), d), div_round(x, d) + whole);
            }
        }
    }
}

#[test]
fn products_are_whole() {
    for a in numbers() {
        for b in numbers().step_by(3) {
            let (high, low) = mul_wide(a, b);
            let product = u128::from(a) * u128::from(b);
            assert_eq!((u128::from(high) << 64) | u128::from(low), product, "{a} · {b}");
        }
        let exact = (u128::from(a) * u128::from(a)) >> 64;
        let short = exact - u128::from(square_high(a));
        assert!(short <= 2, "{a}² is short by {short}");
    }
}

#[test]
fn products_compare_exactly() {
    for a in numbers().step_by(5) {
        for b in numbers().step_by(7) {
            for (c, d) in
                [(b, a), (a, b.saturating_add(1)), (a, b.saturating_sub(1)), (b >> 1, a), (a ^ 1, b)]
            {
                let exact = u128::from(a) * u128::from(b) > u128::from(c) * u128::from(d);
                assert_eq!(product_above(a, b, c, d), exact, "{a} · {b} > {c} · {d}");
            }
        }
    }
}

#[test]
fn ratios_round_to_nearest() {
    for numerator in numbers().step_by(3) {
        for denominator in numbers().filter(|d| *d > 0 && *d < 1 << 63).step_by(5) {
            for bits in [0, 1, 16, 28, 32, 60] {
                let exact = (u128::from(numerator) << bits) * 2 / u128::from(denominator);
                let nearest = exact.div_ceil(2);
                if nearest < 1 << 63 {
                    let seen = ratio_bits(numerator, denominator, bits);
                    assert_eq!(u128::from(seen), nearest, "{numerator}/{denominator} in {bits} bits");
                }
            }
        }
    }
    assert_eq!(ratio_bits(5, 0, 16), 0);
    // A tie goes up.
    assert_eq!((ratio_bits(1, 2, 0), ratio_bits(3, 4, 1), ratio_bits(1, 4, 0)), (1, 2, 0));
}

#[test]
fn reciprocals_divide_exactly() {
    let known = |n: usize, d: u32, table: &[u32; 65]| Divisor {
        d: NonZeroU32::new(d).expect("a divisor"),
        reciprocal: table[n],
    };
    for n in 1_u32..=64 {
        let by_count = known(n as usize, n, &RECIPROCALS);
        let mut tried = [by_count, by_count];
        if n > 1 {
            tried = [by_count, known(n as usize, n * n * (n - 1), &OF_MEAN)];
            assert_eq!(Divisor::of_mean(n).get(), n * n * (n - 1));
        }
        for divisor in tried {
            let d = divisor.get();
            // At every quotient's ends where there are few, and at the ends of the words everywhere.
            let last = u32::MAX / d;
            let quotients = (0..=last.min(70_000)).chain(last.saturating_sub(70_000)..=last);
            for x in quotients.flat_map(|q| [q * d, (q * d).wrapping_sub(1)]).chain([u32::MAX, u32::MAX - 1])
            {
                assert_eq!(divisor.divide_by_reciprocal(x), (x / d, x % d), "{x} / {d}");
                assert_eq!(divisor.divide(x), (x / d, x % d), "{x} / {d}");
            }
            for x in numbers() {
                let d = u64::from(d);
                assert_eq!(divisor.divide_wide(x), (x / d, (x % d) as u32), "{x} / {d}");
            }
        }
    }
    assert_eq!(Divisor::of(0).get(), 1);
}

#[test]
fn small_division_is_exact() {
    let edges = |d: u64| {
        [0, 1, d - 1, d, d + 1, d * d, u64::MAX / d * d, u64::MAX / d * d - 1, u64::MAX - 1, u64::MAX]
    };
    for d in [1, 2, 3, 5, 64, 100, 65_535, 65_536, 65_537, 258_048, u32::MAX] {
        for x in edges(u64::from(d)) {
            for x in [x, x >> 16, x >> 32] {
                assert_eq!(div_small(x, d), Some(x / u64::from(d)), "{x} / {d}");
                if d < 1 << 16 {
                    assert_eq!(div_in_steps(x, d), Some(x / u64::from(d)), "{x} / {d}");
                }
            }
        }
    }
    assert_eq!((div_small(1, 0), div_in_steps(1, 0)), (None, None));
}

#[test]
fn products_of_halves_are_whole() {
    for a in numbers().map(|x| x as u32).step_by(3) {
        for b in numbers().map(|x| (x >> 7) as u32) {
            let whole = u64::from(a) * u64::from(b);
            assert_eq!((product_of_halves(a, b), product(a, b)), (whole, whole), "{a} · {b}");
            let whole = i64::from(a as i32) * i64::from(b as i32);
            assert_eq!(
                (signed_by_halves(a as i32, b as i32), signed_product(a as i32, b as i32)),
                (whole, whole)
            );
        }
    }
}

#[test]
fn wide_division_is_exact() {
    for x in numbers() {
        for d in numbers().filter(|d| *d > 0) {
            assert_eq!(div_wide(x, d), Some(x / d), "{x} / {d}");
            assert_eq!(div_by_upper_words(x, d), Some(x / d), "{x} / {d}");
        }
        // About each whole quotient that the upper words can give.
        for q in (1..1 << 16).step_by(199) {
            let d = x / q;
            if d >> 48 != 0 {
                for x in [d * q - 1, d * q, (d * q).saturating_add(1), (d * q).saturating_add(d - 1)] {
                    assert_eq!(div_by_upper_words(x, d), Some(x / d), "{x} / {d}");
                }
            }
        }
    }
    // Words alone are left to the library: steps would take for ever.
    assert_eq!(div_by_upper_words(u64::MAX, 3), Some(u64::MAX / 3));
    assert_eq!((div_wide(1, 0), div_by_upper_words(1, 0)), (None, None));
}
