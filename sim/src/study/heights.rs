//! Heights as they are written: exact decimals, and a series of them as differences from its middle one.

use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};

use super::sums;
use crate::text::json::Number;
use crate::text::written::Written;

/// A height as the log has it: up to 28 digits, magnitude below 7.9·10²⁸, in whatever unit.
impl Written for Decimal {
    const UNIT: &'static str = "";

    fn read(text: &str) -> Result<Self, String> {
        // Sorts out words, other signs and what no double holds, in the words used elsewhere.
        f64::read(text)?;
        let exact = Decimal::from_scientific(text).or_else(|_| text.parse());
        exact.map_err(|_| "beyond what can be held: at most 7.9·10^28, with at most 28 digits".into())
    }
}

/// A number near to an exact decimal: so that a mean of large heights keeps all the digits of their noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Height {
    /// The decimal.
    pub near: Decimal,
    /// What is to be added to it.
    pub rest: f64,
}

impl Height {
    /// An exact one.
    pub fn exact(near: Decimal) -> Self {
        Self { near, rest: 0.0 }
    }

    /// `self` − `other`.
    pub fn minus(&self, other: &Height) -> f64 {
        difference(self.near, other.near) + (self.rest - other.rest)
    }

    /// To the nearest double.
    pub fn to_f64(&self) -> f64 {
        double(self.near) + self.rest
    }

    /// As decimal text: the rest to 15 digits.
    pub fn text(&self) -> String {
        let sum = Decimal::from_f64(self.rest).and_then(|rest| self.near.checked_add(rest));
        sum.map_or_else(|| format!("{}", self.to_f64()), |sum| sum.normalize().to_string())
    }

    /// As decimal text with so many decimals, ties away from zero.
    pub fn rounded(&self, places: usize) -> String {
        let sum = Decimal::from_f64(self.rest).and_then(|rest| self.near.checked_add(rest));
        match sum {
            Some(sum) => {
                let away = rust_decimal::RoundingStrategy::MidpointAwayFromZero;
                format!("{:.places$}", sum.round_dp_with_strategy(places as u32, away))
            }
            None => format!("{:.places$}", self.to_f64()),
        }
    }
}

impl serde::Serialize for Height {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Number::as_written(&self.text()).serialize(serializer)
    }
}

/// A series of heights in their order: differences from its middle one.
#[derive(Clone, Debug)]
pub struct Heights {
    /// Lower median of the heights.
    pub middle: Decimal,
    /// Their differences from it.
    pub offsets: Vec<f64>,
}

impl Heights {
    /// From at least one height; `None` of nothing.
    pub fn of(heights: &[Decimal]) -> Option<Self> {
        let mut sorted = heights.to_vec();
        sorted.sort_unstable();
        let middle = *sorted.get(sorted.len().checked_sub(1)? / 2)?;
        let offsets = heights.iter().map(|z| difference(*z, middle)).collect();
        Some(Self { middle, offsets })
    }

    /// The mean.
    pub fn mean(&self) -> Height {
        Height { near: self.middle, rest: sums::mean(&self.offsets).unwrap_or(0.0) }
    }

    /// The median.
    pub fn median(&self) -> Height {
        let mut sorted = self.offsets.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        let half = sorted.len() / 2;
        let upper = sorted.get(half).copied().unwrap_or(0.0);
        let lower =
            if sorted.len().is_multiple_of(2) { sorted.get(half.saturating_sub(1)).copied() } else { None };
        Height { near: self.middle, rest: lower.map_or(upper, |lower| lower + (upper - lower) / 2.0) }
    }
}

/// `a` − `b` to the nearest double, or as near as doubles allow where the decimals have nothing in common.
fn difference(a: Decimal, b: Decimal) -> f64 {
    a.checked_sub(b).map_or_else(|| double(a) - double(b), double)
}

fn double(x: Decimal) -> f64 {
    // By way of its text: correctly rounded.
    x.to_string().parse().ok().or_else(|| x.to_f64()).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Decimal {
        Decimal::read(text).unwrap_or_else(|error| panic!("{text}: {error}"))
    }

    #[test]
    fn heights_are_read_exactly() {
        assert_eq!(read("1000000000000.4").to_string(), "1000000000000.4");
        assert_eq!(read("-2.5e-3").to_string(), "-0.0025");
        assert_eq!(read("1E3").normalize().to_string(), "1000");
        for plain in ["+1", ".5", "5.", "-0", "1e-20", "0.1234567890123456789012345678"] {
            read(plain);
        }
        for bad in ["nan", "inf", "1_000", "0x1", "", "1e", "1e29", "-1e300", "1e999", "--1", "1.2.3", "mm"] {
            assert!(Decimal::read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn large_heights_keep_the_digits_of_their_noise() {
        let heights: Vec<Decimal> =
            ["1000000000000.4", "1000000000000.3", "1000000000000.5"].map(read).to_vec();
        let heights = Heights::of(&heights).expect("heights");
        assert_eq!(heights.offsets, [0.0, -0.1, 0.1]);
        assert_eq!(heights.mean().text(), "1000000000000.4");
        assert_eq!(heights.mean().rounded(2), "1000000000000.40");
        assert!((sums::squares(&heights.offsets) - 0.02).abs() < 1e-17);
        assert!(Heights::of(&[]).is_none());
    }

    #[test]
    fn the_median_of_an_even_number_lies_between_the_middle_two() {
        let median = |heights: &[&str]| {
            let heights: Vec<_> = heights.iter().map(|text| read(text)).collect();
            Heights::of(&heights).expect("heights").median().text()
        };
        assert_eq!(median(&["3", "1", "2"]), "2");
        assert_eq!(median(&["4", "1", "1.5", "3"]), "2.25");
        assert_eq!(median(&["7"]), "7");
    }

    #[test]
    fn differences_of_means_are_taken_exactly() {
        let a = Height { near: read("1e15"), rest: 0.25 };
        let b = Height { near: read("1000000000000000.0625"), rest: 0.125 };
        assert_eq!(a.minus(&b), 0.0625);
    }
}
