//! Numbers as people write them: decimal text to a quantity, with no float in between.

use zdatum::units::Quantity;
use zdatum::{Growth, Latency, Length, ParseError, Ratio, Speed, Temperature, Uncertainty, Warming};

/// A quantity that is read from decimal text.
pub trait Written: Sized {
    /// The unit it is written in.
    const UNIT: &'static str;

    /// Reads it.
    ///
    /// # Errors
    /// Not a plain decimal number, or out of range.
    fn read(text: &str) -> Result<Self, String>;
}

macro_rules! written {
    ($($name:ident)*) => {$(
        impl Written for $name {
            const UNIT: &'static str = Quantity::$name.spec().unit;

            fn read(text: &str) -> Result<Self, String> {
                $name::parse(text).map_err(|error: ParseError| error.to_string())
            }
        }
    )*};
}

written!(Length Speed Latency Temperature Warming Growth Uncertainty Ratio);

/// For what only the simulator computes with.
impl Written for f64 {
    const UNIT: &'static str = "";

    fn read(text: &str) -> Result<Self, String> {
        let plain = text.bytes().all(|byte| byte.is_ascii_digit() || b"+-.eE".contains(&byte));
        match text.parse::<f64>() {
            Ok(number) if plain && number.is_finite() => Ok(number),
            Ok(_) => Err("not a finite decimal number".into()),
            Err(_) => Err("not a decimal number".into()),
        }
    }
}

/// The unit behind a number in messages: ` mm`, or nothing.
pub fn unit_of<T: Written>() -> String {
    match T::UNIT {
        "" | "1" => String::new(),
        unit => format!(" in {unit}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn floats_take_no_words() {
        for text in ["nan", "inf", "-infinity", "1e999", "", "0x10", "1_0", " 1", "1,0"] {
            assert!(f64::read(text).is_err(), "{text}");
        }
        assert_eq!(f64::read("-1.5e-3"), Ok(-0.0015));
    }

    #[test]
    fn messages_name_the_range() {
        let error = Length::read("40000").expect_err("too long");
        assert!(error.contains("-32768") && error.contains("mm"), "{error}");
    }
}
