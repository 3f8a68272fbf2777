//! Quantities against the oracle: steps, squares, roots, decimal text, doubles.

use num_bigint::BigInt;
use proptest::prelude::*;
use zdatum::units::{QUANTITIES, Quantity, Spec};
use zdatum::{
    Growth, Latency, Length, ParseError, Ratio, Speed, Step, Temperature, Uncertainty, Variance, Wide,
};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::ToExact;
use zdatum_tests::generate::{bits, length, property, steps, uncertainty, within};
use zdatum_tests::oracle::{self, decimal, error, fraction, nearest_up, of_bits, root, to_f64, whole};

/// Every quantity that has decimal text: its row, and reading and writing as bits.
type Written = (&'static Spec, fn(&str) -> Result<i64, ParseError>, fn(i64) -> String);

macro_rules! written {
    ($($name:ident)*) => {
        [$((
            &$name::SPEC,
            (|text| $name::parse(text).map(|x| i64::from(x.to_bits()))) as fn(&str) -> Result<i64, ParseError>,
            (|bits| $name::from_bits(bits).expect("in range").text().to_string()) as fn(i64) -> String,
        ),)*]
    };
}

pub(crate) const WRITTEN: [Written; 7] = written!(Length Speed Latency Temperature Growth Uncertainty Ratio);

/// Reads a text with core and oracle and compares.
fn check_text(ledger: &Ledger, (spec, parse, _): &Written, text: &str) -> Result<(), TestCaseError> {
    let expected = decimal::read(text).map(|x| decimal::bits(&x, spec.fraction_bits, spec.decimal_shift));
    let in_range = |bits: &BigInt| *bits >= BigInt::from(spec.min) && *bits <= BigInt::from(spec.max_i64());
    match (parse(text), expected) {
        (Ok(seen), Some(bits)) => {
            prop_assert!(in_range(&bits), "{} read as {} {}", text, seen, spec.name);
            ledger.see(Operation::Parse, to_f64(&whole(BigInt::from(seen) - bits)).abs())
        }
        (Err(ParseError::OutOfRange(e)), Some(bits)) => {
            prop_assert!(!in_range(&bits), "{} not read as {}", text, spec.name);
            prop_assert_eq!(e.quantity, spec.quantity);
            Ok(())
        }
        (Err(ParseError::NotANumber), None) => Ok(()),
        (seen, expected) => Err(TestCaseError::fail(format!("{text}: {seen:?} against {expected:?}"))),
    }
}

oracle_tests! {
    fn steps_become_heights_with_one_rounding(ledger: [StepLength, RoundingVariance]) {
        let counts = within(i64::from(i32::MIN), i64::from(i32::MAX));
        let counts = prop_oneof![1 => counts, 3 => -1_000_000_i64..1_000_000];
        property((steps(), counts), |((steps, mm), count)| {
            let step = Step::new(steps, mm).expect("a step");
            prop_assert_eq!((step.steps(), step.mm()), (steps, mm));
            let exact = step.exact() * whole(count);
            let nearest = nearest_up(&oracle::in_bits(&exact, 16));
            match step.length(count as i32) {
                Ok(seen) => {
                    prop_assert_eq!(BigInt::from(seen.to_bits()), nearest);
                    ledger.see(Operation::StepLength, error(seen.to_bits(), &exact, 16))?;
                }
                Err(_) => prop_assert!(nearest < BigInt::from(i32::MIN) || nearest > BigInt::from(i32::MAX)),
            }
            prop_assert_eq!(step.one(), step.length(1).expect("below 1 mm"));
            let variance = step.exact() * step.exact() / whole(12);
            ledger.see(Operation::RoundingVariance, error(step.rounding_variance().to_bits(), &variance, 60))
        });
    }

    fn squares_and_roots_agree(ledger: [Square, ThirdOfSquare, Root, Ceil]) {
        property(uncertainty(), |u| {
            let squared = u.exact() * u.exact();
            match (u.variance(), u.third_of_square()) {
                (Ok(v), Ok(third)) => {
                    prop_assert!(u.exact() < whole(4));
                    ledger.see(Operation::Square, error(v.to_bits(), &squared, 60))?;
                    ledger.see(Operation::ThirdOfSquare, error(third.to_bits(), &(squared / whole(3)), 60))?;
                    prop_assert_eq!(v.root(), u);
                }
                (Err(a), Err(b)) => {
                    prop_assert!(u.exact() >= whole(4));
                    prop_assert_eq!((a.quantity, b.quantity), (Quantity::Variance, Quantity::Variance));
                }
                other => return Err(TestCaseError::fail(format!("{other:?}"))),
            }
            let up = u.ceil().exact() - u.exact();
            prop_assert!(up >= whole(0), "never too small");
            prop_assert!(up < of_bits(1, 16));
            ledger.see(Operation::Ceil, to_f64(&oracle::in_bits(&up, 16)))
        });
        property((0_u32..64, any::<u64>()), |(scale, x)| {
            let v = Variance::from_bits(x >> scale);
            ledger.see(Operation::Root, error(v.root().to_bits(), &root(&v.exact()), 24))
        });
    }

    fn wide_lengths_round_to_nearest_ties_up(ledger: [Round]) {
        property((length(), length()), |(a, b)| {
            prop_assert_eq!(a.widen().exact(), a.exact());
            prop_assert_eq!(a.widen().round(), Ok(a));
            let z = zdatum_tests::case::series_of(&[i64::from(a.to_bits()), i64::from(a.to_bits()) + 1].map(|z| z.min(i64::from(i32::MAX))));
            let middle: Wide = z.centre(zdatum::Centre::Mean).expect("near").expect("two");
            let seen = middle.round().expect("between two lengths");
            prop_assert_eq!(BigInt::from(seen.to_bits()), nearest_up(&oracle::in_bits(&middle.exact(), 16)));
            ledger.see(Operation::Round, error(seen.to_bits(), &middle.exact(), 16))?;

            let sum = oracle::in_bits(&(a.exact() + b.exact()), 16);
            let difference = oracle::in_bits(&(a.exact() - b.exact()), 16);
            for (seen, exact) in [(a.plus(b), sum), (a.minus(b), difference)] {
                match seen {
                    Ok(seen) => prop_assert_eq!(whole(seen.to_bits()), exact),
                    Err(e) => {
                        prop_assert_eq!(e.quantity, Quantity::Length);
                        prop_assert!(exact < whole(i32::MIN) || exact > whole(i32::MAX));
                    }
                }
            }
            Ok(())
        });
    }

    fn decimal_text_reads_as_the_nearest_bits(ledger: [Parse]) {
        for written in &WRITTEN {
            let spec = written.0;
            // Numbers in and about the range, with all kinds of digits behind the point, and odd texts.
            let numbers = (bits(spec), "[0-9]{0,24}", proptest::option::of(-12_i32..12)).prop_map(|(bits, digits, exponent)| {
                let whole = bits >> spec.fraction_bits;
                match exponent {
                    Some(e) => format!("{whole}.{digits}e{e}"),
                    None => format!("{whole}.{digits}"),
                }
            });
            let odd = "[+-]?[0-9]{0,8}\\.?[0-9]{0,60}([eE][+-]?[0-9]{0,3})?";
            let broken = "[-+0-9.eE_x ]{0,9}";
            property(prop_oneof![4 => numbers, 3 => odd, 2 => broken], |text| check_text(ledger, written, &text));
        }
    }

    /// Exactly between two bits, and one digit to either side of it, far beyond a double's digits.
    fn decimal_ties_go_away_from_zero(ledger: [Parse]) {
        for written in &WRITTEN {
            let spec = written.0;
            property(bits(spec), |bits| {
                let scale = whole(10_i64.pow(u32::from(spec.decimal_shift)));
                let tie = (of_bits(bits, spec.fraction_bits) + of_bits(1, spec.fraction_bits + 1)) * scale;
                // 2^-33 has 33 decimals: 40 write every tie out.
                let digits = (&tie * whole(BigInt::from(10).pow(40))).to_integer();
                let text = format!("{digits}e-40");
                check_text(ledger, written, &text)?;
                check_text(ledger, written, &format!("{}e-40", &digits - 1))?;
                check_text(ledger, written, &format!("{}e-40", &digits + 1))?;
                check_text(ledger, written, &format!("{digits}00000000000000000001e-60"))
            });
        }
    }

    fn text_reads_back_as_the_same_bits(ledger: [Text]) {
        for (spec, parse, text) in &WRITTEN {
            property(bits(spec), |bits| {
                let written = text(bits);
                let read = parse(&written).map_err(|e| TestCaseError::fail(format!("{written}: {e}")))?;
                ledger.see(Operation::Text, (read - bits).abs() as f64)?;
                // Nothing shorter reads back: with one decimal less neither neighbour does.
                if let Some((_, decimals)) = written.split_once('.') {
                    prop_assert!(!decimals.ends_with('0') , "{}", written);
                    let exact = decimal::read(&written).expect("a number");
                    let unit = whole(10_i64.pow(decimals.len() as u32 - 1));
                    let down = (&exact * &unit).floor() / &unit;
                    let up = (&exact * &unit).ceil() / &unit;
                    for shorter in [down, up] {
                        let reads = decimal::bits(&shorter, spec.fraction_bits, spec.decimal_shift);
                        let tie = (oracle::in_bits(&(shorter / whole(10_i64.pow(u32::from(spec.decimal_shift)))), spec.fraction_bits)
                            - whole(bits)).reduced();
                        prop_assert!(reads != BigInt::from(bits) || num_traits::Signed::abs(&tie) == fraction(1, 2), "{}", written);
                    }
                }
                Ok(())
            });
        }
    }

    fn doubles_round_to_the_nearest_bits(ledger: [Float]) {
        macro_rules! check {
            ($($name:ident)*) => {$(
                property(bits(&$name::SPEC), |bits| {
                    let x = $name::from_bits(bits).expect("in range");
                    let double = x.to_f64();
                    let exact = of_bits(bits, $name::SPEC.fraction_bits);
                    ledger.see(Operation::Float, to_f64(&(oracle::Exact::from_float(double).expect("finite") - exact)))?;
                    prop_assert_eq!($name::from_f64(double), Ok(x));
                    let bit = 2.0_f64.powi(-($name::SPEC.fraction_bits as i32));
                    // Just under half a bit further reads as the same; just over, as the next or out of
                    // range.
                    prop_assert_eq!($name::from_f64(double + 0.49 * bit), Ok(x));
                    prop_assert_eq!($name::from_f64(double - 0.49 * bit), Ok(x));
                    prop_assert_eq!($name::from_f64(double + 0.51 * bit).ok(), $name::from_bits(bits + 1).ok());
                    Ok(())
                });
                let out = zdatum::OutOfRange { quantity: Quantity::$name };
                for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300] {
                    assert_eq!($name::from_f64(bad), Err(out));
                }
            )*};
        }
        check!(Length Speed Latency Temperature Growth Uncertainty Ratio);
    }
}

/// Variances and wide lengths as doubles: what a double holds comes back the same.
#[test]
fn doubles_of_variances_and_wide_lengths() {
    property((0_u32..63, any::<u64>()), |(scale, x)| {
        let v = Variance::from_bits((x >> 11 << 10) >> scale);
        prop_assert_eq!(Variance::from_f64(v.to_f64()), Ok(v));
        prop_assert_eq!(v.to_f64() * 2.0_f64.powi(60), v.to_bits() as f64);
        Ok(())
    });
    assert_eq!(Variance::from_f64(0.0), Ok(Variance::ZERO));
    assert_eq!(Variance::from_f64(1.0), Ok(Variance::from_bits(1 << 60)));
    assert_eq!(Variance::from_f64(1.4 * 2.0_f64.powi(-60)), Ok(Variance::from_bits(1)));
    for bad in [-1e-9, 16.0, f64::NAN, f64::INFINITY] {
        assert_eq!(Variance::from_f64(bad).map_err(|e| e.quantity), Err(Quantity::Variance), "{bad}");
    }
    assert!(Variance::from_f64(15.999_999_999_999).is_ok());
    let half = Length::from_mm(-3).widen();
    assert_eq!(half.to_f64(), -3.0);
    assert_eq!(Length::from_bits(1).expect("a bit").widen().to_f64(), 2.0_f64.powi(-16));
}

/// Every row of the table: ends are held, one bit beyond is *out of range*, and the message names quantity,
/// ends and unit.
#[test]
fn ranges_end_where_the_table_says() {
    macro_rules! ends {
        ($($name:ident)*) => {$(
            let spec = Quantity::$name.spec();
            assert_eq!((spec.quantity, *spec), (Quantity::$name, $name::SPEC));
            for bits in [spec.min, spec.max_i64()] {
                assert_eq!($name::from_bits(bits).map(|x| i64::from(x.to_bits())), Ok(bits));
            }
            for bits in [spec.min - 1, spec.max_i64() + 1, i64::MIN, i64::MAX] {
                let e = $name::from_bits(bits).expect_err("beyond the range");
                assert_eq!(e.quantity, Quantity::$name);
                let text = e.to_string();
                for part in [spec.name, spec.min_text, spec.max_text, spec.unit] {
                    assert!(text.contains(part), "{text} lacks {part}");
                }
            }
            assert_eq!($name::ZERO.to_bits(), 0);
            // The ends as texts are within the range, to the digits they have.
            for (text, bits) in [(spec.min_text, spec.min), (spec.max_text, spec.max_i64())] {
                let end = $name::parse(text).expect("an end of the range");
                let off = (i64::from(end.to_bits()) - bits).abs();
                assert!(off < 8, "{text} is {off} bits off");
            }
        )*};
    }
    ends!(Length Speed Latency Temperature Growth Uncertainty Ratio);
    assert_eq!(Quantity::Variance.spec(), &Variance::SPEC);
    assert_eq!(QUANTITIES.map(|q| q.spec().quantity), QUANTITIES);
    assert_eq!(zdatum::OutOfRange { quantity: Quantity::Speed }.to_string(), "speed outside 0 to 1000 mm/s");
}

/// Steps and millimetres outside of the rule are refused on both sides of each limit.
#[test]
fn steps_outside_the_rule_are_refused() {
    for (steps, mm, ok) in [
        (0, 1, false),
        (1, 0, false),
        (1, 1, true),
        (1, 2, false),
        (1 << 20, 1 << 6, true),
        (1 << 20, (1 << 6) - 1, false),
        ((1 << 20) + 1, 1 << 7, false),
        (1 << 20, 1 << 20, true),
        (1 << 14, 1, true),
        ((1 << 14) + 1, 1, false),
    ] {
        assert_eq!(Step::new(steps, mm).is_ok(), ok, "{steps} steps in {mm} mm");
    }
    let third = Step::new(3, 1).expect("a step");
    assert_eq!(third.length(-1).expect("held").to_bits(), -21_845);
    assert_eq!(third.length(3), Ok(Length::from_mm(1)));
    assert!(third.length(i32::MAX).is_err());
    assert!(Step::new(1, 1).expect("1 mm").length(i32::MIN).is_err());
    // Half a bit goes up, on either side of zero: 1/8192 mm is 8 bits, 1/16384 with an odd count and 3/…
    // none.
    let fine = Step::new(1 << 17, 8).expect("2^-14 mm");
    assert_eq!(fine.one().to_bits(), 4);
    let odd = Step::new(131_072, 9).expect("4.5 bits");
    assert_eq!((odd.length(1).map(Length::to_bits), odd.length(-1).map(Length::to_bits)), (Ok(5), Ok(-4)));
}

/// Texts that people and programs write, by hand.
#[test]
fn decimal_texts_by_hand() {
    let length = |text: &str| Length::parse(text).map(Length::to_bits);
    for (text, bits) in [
        ("0", 0),
        ("-0.0", 0),
        ("+1", 65_536),
        (".5", 32_768),
        ("5.", 5 << 16),
        ("1e0", 65_536),
        ("1E+3", 1_000 << 16),
        ("655.36e-1", 4_294_967),
        ("-32768", i32::MIN),
        ("-32768.000007", i32::MIN),
        ("32767.99999", i32::MAX),
        ("0.0000076293945312", 0),
        ("0.00000762939453125", 1),
        ("-0.00000762939453125", -1),
        ("000000000000000000000000000000000000000000000000000000000001", 65_536),
        ("0e999999999999999999", 0),
        ("1e-999999999999999999", 0),
    ] {
        assert_eq!(length(text), Ok(bits), "{text}");
    }
    let long_zeros = format!("0.{}1e501", "0".repeat(500));
    assert_eq!(length(&long_zeros), Ok(65_536), "exponent and zeros cancel");
    let many = format!("1{}e-600", "0".repeat(600));
    assert_eq!(length(&many), Ok(65_536), "exponent and digits cancel");
    for text in [
        "", "-", "+", ".", "-.", "e5", "1e", "1e+", "1.2.3", "--1", "1-", " 1", "1 ", "1,5", "0x10", "nan",
        "inf", "1_000", "１", "1e5.0", "1\u{0}", "½",
    ] {
        assert_eq!(length(text), Err(ParseError::NotANumber), "{text:?}");
    }
    for text in ["32768", "-32768.00001", "1e5", "99999999999999999999999", "1e999999999999999999", "-4e9"] {
        assert!(
            matches!(length(text), Err(ParseError::OutOfRange(e)) if e.quantity == Quantity::Length),
            "{text}"
        );
    }
    assert_eq!(ParseError::NotANumber.to_string(), "not a decimal number");
    assert_eq!(
        Length::parse("1e9").expect_err("too far").to_string(),
        "length outside -32768 to 32767.9999 mm"
    );
}

/// Numbers written out by hand: the shortest text that reads back.
#[test]
fn shortest_texts_by_hand() {
    for (bits, text) in [
        (0, "0"),
        (65_536, "1"),
        (-32_768, "-0.5"),
        (1, "0.00002"),
        (6_554, "0.1"),
        (i64::from(i32::MIN), "-32768"),
    ] {
        assert_eq!(Length::from_bits(bits).expect("a length").to_string(), text);
    }
    assert_eq!(Growth::parse("0.256").expect("a growth").to_string(), "0.256");
    assert_eq!(Growth::parse("-62.5").expect("a growth").to_string(), "-62.5");
    assert_eq!(Latency::parse("0.0005").expect("a latency").to_string(), "0.0005");
    assert_eq!(Temperature::parse("-273.15").expect("a temperature").to_string(), "-273.15");
    assert_eq!(Speed::parse("1000").expect("a speed").to_string(), "1000");
    assert_eq!(Ratio::ONE.to_string(), "1");
    assert_eq!(Uncertainty::parse("0.0012").expect("an uncertainty").to_string(), "0.0012");
}
