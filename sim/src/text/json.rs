//! Numbers and documents in JSON. The types that are serialised are the contract: names and order as in `docs/json.md`.

use serde::ser::{Error, Serialize, Serializer};
use serde_json::value::RawValue;
use zdatum::refusal::Amount;
use zdatum::{Length, Ratio, Uncertainty};

use super::number::{at_least, fine_uncertainty, nanometres};
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

    /// Shortest text that reads back as the same value, with six decimals or more: for what stands in a file or goes into one.
    pub fn as_written(text: &str) -> Self {
        Self(at_least(6, text))
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

impl From<Amount> for Number {
    fn from(amount: Amount) -> Self {
        match amount {
            Amount::Length(x) => x.into(),
            Amount::Uncertainty(x) => x.into(),
            Amount::Ratio(x) => x.into(),
        }
    }
}

/// One document on one line, with a line end. What would not print is escaped.
///
/// # Errors
/// None that a document of this tool could give.
pub fn document(document: &impl Serialize) -> Result<String, Problem> {
    let text = serde_json::to_string(document)
        .map_err(|error| Problem::new(format!("cannot write JSON: {error}")))?;
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
