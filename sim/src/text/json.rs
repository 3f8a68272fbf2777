//! Numbers and documents in JSON: the one place that says how a number is written. The types that are
//! serialised are the contract: names and order as in `docs/json.md`.

use std::io;

use serde::ser::{Error, Serialize, SerializeMap as _, Serializer};
use serde_json::ser::Formatter;
use serde_json::value::RawValue;
use zdatum::refusal::Amount;
use zdatum::watch::Score;
use zdatum::{Length, Ratio, Station, Uncertainty};

use super::number::{at_least, fine_uncertainty, nanometres, rounded};
use super::problem::Problem;

/// A number as decimal text, so that no float stands between the bits and the document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Number(String);

impl Number {
    /// A computed value to so many places; check that it is finite before: 0 stands for what is not.
    pub fn decimal(x: f64, places: usize) -> Self {
        let text = format!("{:.places$}", if x.is_finite() { x } else { 0.0 });
        // No minus before a zero.
        let zero = text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
        Self(if zero { text.trim_start_matches('-').into() } else { text })
    }

    /// A simulated figure, a length or a share: nine decimals.
    pub fn figure(x: f64) -> Self {
        Self::decimal(x, 9)
    }

    /// Shortest text that reads back as the same value, with six decimals or more: for what stands in a file
    /// or goes into one.
    pub fn as_written(text: &str) -> Self {
        Self(at_least(6, text))
    }

    /// A chance, with its power of ten and every digit of the double: decimals would lose it. What is not
    /// finite is 0: check before.
    pub fn chance(p: f64) -> Self {
        // A finite double can always be written.
        Self(serde_json::to_string(&if p.is_finite() { p } else { 0.0 }).unwrap_or_else(|_| "0.0".into()))
    }

    /// To fewer places, for people.
    pub fn rounded(&self, places: usize) -> String {
        format!("{:.places$}", self.0.parse::<f64>().unwrap_or(0.0))
    }
}

impl Serialize for Number {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        RawValue::from_string(self.0.clone()).map_err(S::Error::custom)?.serialize(serializer)
    }
}

impl From<f64> for Number {
    /// Fifteen significant digits, six decimals or more. What is not finite is 0: check before.
    fn from(x: f64) -> Self {
        // No minus before a zero.
        let x = if x.is_finite() { x + 0.0 } else { 0.0 };
        let fifteen = format!("{x:.14e}").parse::<f64>().unwrap_or(x);
        Self::as_written(&format!("{fifteen}"))
    }
}

impl From<Length> for Number {
    fn from(length: Length) -> Self {
        Self(nanometres(length))
    }
}

impl From<Uncertainty> for Number {
    fn from(u: Uncertainty) -> Self {
        Self(fine_uncertainty(u))
    }
}

impl From<Ratio> for Number {
    fn from(ratio: Ratio) -> Self {
        Self(ratio.text().to_string())
    }
}

impl From<Score> for Number {
    fn from(score: Score) -> Self {
        Self::as_written(&rounded(i64::from(score.to_bits()), 16, 6))
    }
}

impl From<Amount> for Number {
    fn from(amount: Amount) -> Self {
        match amount {
            Amount::Length(x) => x.into(),
            Amount::Uncertainty(x) => x.into(),
            Amount::Ratio(x) => x.into(),
        }
    }
}

/// `serialize_with`: a quantity as its [`Number`].
///
/// # Errors
/// The serializer's.
pub fn number<T: Copy + Into<Number>, S: Serializer>(value: &T, serializer: S) -> Result<S::Ok, S::Error> {
    (*value).into().serialize(serializer)
}

/// `serialize_with`: a station's word.
///
/// # Errors
/// The serializer's.
pub fn station<S: Serializer>(station: &Station, serializer: S) -> Result<S::Ok, S::Error> {
    station.word().serialize(serializer)
}

/// `serialize_with` and `flatten`: limits as two fields of the object that they stand in.
///
/// # Errors
/// The serializer's.
pub fn limits<S: Serializer>(
    [low, high]: [&'static str; 2],
    limits: Option<(f64, f64)>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let mut map = serializer.serialize_map(Some(2))?;
    map.serialize_entry(low, &limits.map(|limits| limits.0))?;
    map.serialize_entry(high, &limits.map(|limits| limits.1))?;
    map.end()
}

/// An object whose keys are known only when it is written.
#[derive(Debug)]
pub struct Keyed<T>(Vec<(&'static str, T)>);

impl<T> Keyed<T> {
    /// Without a key.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<T> FromIterator<(&'static str, T)> for Keyed<T> {
    fn from_iter<I: IntoIterator<Item = (&'static str, T)>>(entries: I) -> Self {
        Self(entries.into_iter().collect())
    }
}

impl<T: Serialize> Serialize for Keyed<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

/// Writes a double as its [`Number`], so that types can be derived with plain ones.
struct NumberFormatter;

impl Formatter for NumberFormatter {
    fn write_f64<W: ?Sized + io::Write>(&mut self, writer: &mut W, value: f64) -> io::Result<()> {
        writer.write_all(Number::from(value).0.as_bytes())
    }
}

/// One document on one line, with a line end. What would not print is escaped.
///
/// # Errors
/// None that a document of this tool could give.
pub fn document(document: &impl Serialize) -> Result<String, Problem> {
    let cannot = |error: &dyn std::fmt::Display| Problem::new(format!("cannot write JSON: {error}"));
    let mut bytes = Vec::new();
    document
        .serialize(&mut serde_json::Serializer::with_formatter(&mut bytes, NumberFormatter))
        .map_err(|error| cannot(&error))?;
    let text = String::from_utf8(bytes).map_err(|error| cannot(&error))?;
    let mut out = String::with_capacity(text.len() + 1);
    for c in text.chars() {
        // Only strings hold such characters, and there an escape means the same.
        if c.is_ascii() || super::name::shown(c.encode_utf8(&mut [0; 4])).starts_with(c) {
            out.push(c);
        } else {
            for unit in c.encode_utf16(&mut [0; 2]) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        }
    }
    out.push('\n');
    Ok(out)
}

/// `accept` or `refuse`.
pub fn verdict(accepted: bool) -> &'static str {
    if accepted { "accept" } else { "refuse" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_decimal_text() {
        let mm = |text: &str| {
            serde_json::to_string(&Number::from(Length::parse(text).expect("mm"))).expect("json")
        };
        assert_eq!(mm("-0.5"), "-0.500000");
        assert_eq!(mm("0"), "0.000000");
        assert_eq!(mm("32767"), "32767.000000");
    }

    #[test]
    fn doubles_have_fifteen_digits_and_six_decimals_or_more() {
        assert_eq!(
            document(&[0.1 + 0.2, -0.0, 1e-9, 12.0]).expect("json"),
            "[0.300000,0.000000,0.000000001,12.000000]\n"
        );
    }

    #[test]
    fn chances_keep_their_power_of_ten() {
        let chances = [1.114_252_106_287_059_9e-58, 0.25, 0.0, f64::NAN].map(Number::chance);
        assert_eq!(document(&chances).expect("json"), "[1.1142521062870599e-58,0.25,0.0,0.0]\n");
    }

    #[test]
    fn lengths_are_exact() {
        // 0.00010681… mm, whose shortest text is 0.0001.
        let seven = Length::from_bits(7).expect("mm");
        assert_eq!(Number::from(seven), Number("0.000107".into()));
        assert_eq!(Number::from(Uncertainty::from_bits(1).expect("mm")), Number("0.00000006".into()));
    }

    #[test]
    fn what_turns_text_round_is_escaped() {
        assert_eq!(
            document(&"a\u{202e}é\u{e0001}\u{7}\\").expect("json"),
            "\"a\\u202eé\\udb40\\udc01\\u0007\\\\\"\n"
        );
    }
}
