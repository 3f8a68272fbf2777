//! Reading and writing decimals, exhaustive over what has 16 bits behind the point.

extern crate std;

use std::format;
use std::string::{String, ToString};
use std::vec::Vec;

use super::*;
use crate::units::{Growth, Latency, Length, Quantity, Ratio, Uncertainty};

/// Whole digits of `magnitude` · 2^-`bits` and of one half bit to either side, times 10^`places`, as a triple
/// for comparison.
fn scaled(magnitude: u64, spec: &Spec, places: u32) -> (u128, u128, u128, u128) {
    let scale = 10_u128.pow(places + u32::from(spec.decimal_shift));
    let below = 1_u128 << (spec.fraction_bits + 1);
    let value = u128::from(magnitude) * 2;
    ((value.saturating_sub(1)) * scale, value * scale, (value + 1) * scale, below)
}

/// Checks a text written for some bits: it reads back, lies within half a bit, and no shorter text does.
fn check(bits: i64, spec: &Spec) {
    let text = shortest(bits, spec);
    assert_eq!(parse(&text, spec), Ok(bits), "{text}");
    let digits = text.trim_start_matches('-');
    assert_eq!(text.starts_with('-'), bits < 0, "{text}");
    let (whole, decimals) = digits.split_once('.').unwrap_or((digits, ""));
    assert!(whole == "0" || !whole.starts_with('0'), "{text}");
    assert!(!decimals.ends_with('0'), "{text}");
    let number: u128 = format!("{whole}{decimals}").parse().expect("digits");
    let places = decimals.len() as u32;
    let (low, exact, high, below) = scaled(bits.unsigned_abs(), spec, places);
    assert!(low <= number * below && number * below <= high, "{text} is not {bits} bits");
    // Of as many places it is the nearest, or one of two that are equally near.
    let unit = below;
    assert!((number * below).abs_diff(exact) * 2 <= unit, "{text} is not the nearest to {bits} bits");
    if places > 0 {
        let (low, _, high, below) = scaled(bits.unsigned_abs(), spec, places - 1);
        let shorter = low / below + 1;
        assert!(shorter * below >= high, "{text} could be shorter for {bits} bits");
    }
}

#[test]
fn every_fraction_of_16_bits_reads_back() {
    for whole in [0_i64, -32_768] {
        for fraction in 0..1 << 16 {
            check((whole << 16) + fraction, &Length::SPEC);
        }
    }
    for fraction in 0..1_i64 << 16 {
        check((65_535 << 16) + fraction, &Ratio::SPEC);
    }
}

#[test]
fn finer_fractions_read_back() {
    let mut state = 1_u64;
    for spec in [&Latency::SPEC, &Growth::SPEC, &Uncertainty::SPEC] {
        for near in [spec.min, 0, spec.max_i64()] {
            for off in -300..=300 {
                check((near + off).clamp(spec.min, spec.max_i64()), spec);
            }
        }
        for i in 0..20_000 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let bits = (state >> 32 >> (i % 32)) as i64;
            check(bits.clamp(spec.min, spec.max_i64()), spec);
            check((-bits).clamp(spec.min, spec.max_i64()), spec);
        }
    }
}

#[test]
fn decimals_up_to_five_places_come_back_as_written() {
    // Five places are coarser than a bit only to four: what has four or fewer is written back the same.
    for number in 0..100_000_u32 {
        let text = format!("{}.{:04}", number / 10_000, number % 10_000);
        let bits = parse(&text, &Length::SPEC).expect("a length");
        let expected = text.trim_end_matches('0').trim_end_matches('.').to_string();
        assert_eq!(shortest(bits, &Length::SPEC).as_str(), expected);
    }
}

#[test]
fn doubling_carries() {
    let mut digits = [9, 9, 9];
    assert_eq!((double(&mut digits), digits), (1, [9, 9, 8]));
    let mut digits = [4, 9, 9];
    assert_eq!((double(&mut digits), digits), (0, [9, 9, 8]));
    let mut digits = [5];
    assert_eq!((double(&mut digits), digits), (1, [0]));
    assert_eq!(double(&mut []), 0);
}

#[test]
fn scanning_finds_sign_digits_and_point() {
    let parts =
        |text: &str| scan(text).map(|d| (d.negative, d.digits.iter().copied().collect::<Vec<u8>>(), d.point));
    for (text, negative, digits, point) in [
        ("0", false, &[][..], 0),
        ("12.5", false, &[1, 2, 5], 2),
        ("-0012.50", true, &[1, 2, 5, 0], 2),
        ("+.0025", false, &[2, 5], -2),
        ("0.0", false, &[], -1),
        ("1e3", false, &[1], 4),
        ("-1.5E-3", true, &[1, 5], -2),
        ("1e+0", false, &[1], 1),
        ("7e1234567890", false, &[7], 1 + MAX_EXPONENT),
        ("7e-1234567890", false, &[7], 1 - MAX_EXPONENT),
        ("7e100000001", false, &[7], 1 + MAX_EXPONENT),
        ("7e99999999", false, &[7], 100_000_000),
    ] {
        assert_eq!(parts(text), Ok((negative, digits.to_vec(), point)), "{text}");
    }
}

#[test]
fn digits_beyond_those_kept_decide_nothing() {
    // Just below a tie by one in the 60th digit, at it, and just above.
    let tie = "0.00000762939453125";
    let below = String::from("0.00000762939453124") + &"9".repeat(60);
    assert_eq!(parse(&below, &Length::SPEC), Ok(0));
    assert_eq!(parse(tie, &Length::SPEC), Ok(1));
    assert_eq!(parse(&(String::from(tie) + &"0".repeat(60) + "1"), &Length::SPEC), Ok(1));
    let long = String::from("1") + &"0".repeat(70) + "e-70";
    assert_eq!(parse(&long, &Length::SPEC), Ok(65_536));
    // As many digits before the point as may decide, and more.
    assert_eq!(parse("0000032767.5", &Length::SPEC), Ok(2_147_450_880));
    assert!(parse("9999999999.9", &Length::SPEC).is_ok_and(|bits| bits > Length::SPEC.max_i64()));
    assert!(parse("99999999999.9", &Length::SPEC).is_err());
    assert_eq!(parse("0.00000000000000000000000000001", &Length::SPEC), Ok(0));
    assert_eq!(parse("1e-31", &Length::SPEC), Ok(0));
    assert_eq!(parse("1e-40", &Length::SPEC), Ok(0));
}

#[test]
fn texts_compare_and_show() {
    let text = shortest(-98_304, &Length::SPEC);
    assert_eq!(text.as_str(), "-1.5");
    assert!(text == "-1.5" && text != "1.5");
    assert_eq!(format!("{text}"), "-1.5");
    assert_eq!(text.len(), 4);
    assert_eq!(Text::new().as_str(), "");
}

#[test]
fn what_is_no_number_is_refused() {
    for text in [
        "", "+", ".", "-.", "1.2.3", "..1", "1e", "1e-", "e1", "--1", "1 ", " 1", "1,5", "inf", "0x1",
        "1e5.0",
    ] {
        assert_eq!(parse(text, &Length::SPEC), Err(ParseError::NotANumber), "{text:?}");
    }
    assert_eq!(ParseError::NotANumber.to_string(), "not a decimal number");
}

#[test]
fn the_variance_alone_is_wider_than_a_signed_number() {
    for (quantity, most) in [(Quantity::Variance, i64::MAX), (Quantity::Length, (1 << 31) - 1)] {
        assert_eq!(quantity.spec().max_i64(), most);
    }
}
