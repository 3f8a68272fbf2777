//! A JSON object written key by key: for results of the simulated machine, which knows no JSON. A document
//! names each field once and holds no copy of the result.

use serde::ser::{Serialize, Serializer};
use zdatum::RefusalKind;
use zdatum_world::engine::Estimate;

use super::json::Number;

/// A JSON object; its keys keep their order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Object(Vec<(String, Value)>);

/// What a key of an [`Object`] holds.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
#[serde(untagged)]
pub enum Value {
    /// `null`.
    Null,
    /// `true` or `false`.
    Flag(bool),
    /// A whole number.
    Count(u64),
    /// Any other number.
    Number(Number),
    /// A string.
    Text(String),
    /// An array.
    List(Vec<Value>),
    /// An object.
    Object(Object),
}

impl Object {
    /// With another key.
    #[must_use]
    pub fn with(mut self, key: &str, value: impl Into<Value>) -> Self {
        self.0.push((key.into(), value.into()));
        self
    }

    /// With another key, where there is a value for it.
    #[must_use]
    pub fn with_some(self, key: &str, value: Option<impl Into<Value>>) -> Self {
        match value {
            Some(value) => self.with(key, value),
            None => self,
        }
    }

    /// With all keys of another.
    #[must_use]
    pub fn with_all(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self
    }

    /// With a simulated figure.
    #[must_use]
    pub fn figure(self, key: &str, figure: impl Into<Option<f64>>) -> Self {
        self.with(key, figure.into().map(Number::figure))
    }

    /// With an estimate, and its standard error as `KEY_standard_error`.
    #[must_use]
    pub fn estimate(self, key: &str, estimate: impl Into<Option<Estimate>>) -> Self {
        self.both([key, &format!("{key}_standard_error")], estimate.into())
    }

    /// With a mean as `KEY_mean`, and its standard error as `KEY_standard_error`.
    #[must_use]
    pub fn mean(self, key: &str, mean: impl Into<Option<Estimate>>) -> Self {
        self.both([&format!("{key}_mean"), &format!("{key}_standard_error")], mean.into())
    }

    fn both(self, [value, error]: [&str; 2], estimate: Option<Estimate>) -> Self {
        self.figure(value, estimate.map(|x| x.value)).figure(error, estimate.map(|x| x.error))
    }

    /// With the two ends of a range.
    #[must_use]
    pub fn ends(self, [low, high]: [&str; 2], ends: Option<(f64, f64)>) -> Self {
        self.figure(low, ends.map(|ends| ends.0)).figure(high, ends.map(|ends| ends.1))
    }

    /// With the number of refusals of each kind.
    #[must_use]
    pub fn refusals(self, key: &str, refusals: impl IntoIterator<Item = (RefusalKind, u64)>) -> Self {
        let counts = refusals.into_iter().fold(Self::default(), |all, (kind, n)| all.with(kind.word(), n));
        self.with(key, counts)
    }
}

impl Serialize for Object {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(key, value)| (key, value)))
    }
}

impl<T: Into<Value>> From<Option<T>> for Value {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Null, Into::into)
    }
}

impl<T: Into<Value>> From<Vec<T>> for Value {
    fn from(values: Vec<T>) -> Self {
        values.into_iter().collect()
    }
}

impl<T: Into<Value>> FromIterator<T> for Value {
    fn from_iter<I: IntoIterator<Item = T>>(values: I) -> Self {
        Self::List(values.into_iter().map(Into::into).collect())
    }
}

impl From<bool> for Value {
    fn from(flag: bool) -> Self {
        Self::Flag(flag)
    }
}

impl From<u8> for Value {
    fn from(count: u8) -> Self {
        Self::Count(count.into())
    }
}

impl From<u64> for Value {
    fn from(count: u64) -> Self {
        Self::Count(count)
    }
}

impl From<Number> for Value {
    fn from(number: Number) -> Self {
        Self::Number(number)
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::Text(text.into())
    }
}

impl From<String> for Value {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<Object> for Value {
    fn from(object: Object) -> Self {
        Self::Object(object)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::json::document;

    #[test]
    fn an_object_is_written_in_the_order_of_its_keys() {
        let object = Object::default()
            .with("z", 1_u8)
            .with("a", None::<bool>)
            .with_some("left out", None::<bool>)
            .estimate("sd", Estimate { value: -0.0, error: 0.25 })
            .mean("cycle_s", None)
            .ends(["low", "high"], Some((-1.0, 1e-9)))
            .refusals("refused", [(RefusalKind::NoTrip, 2)])
            .with_all(Object::default().with("list", vec!["one", "two"]));
        assert_eq!(
            document(&object).expect("json"),
            "{\"z\":1,\"a\":null,\"sd\":0.000000000,\"sd_standard_error\":0.250000000,\"cycle_s_mean\":null,\
             \"cycle_s_standard_error\":null,\"low\":-1.000000000,\"high\":0.000000001,\
             \"refused\":{\"no-trip\":2},\"list\":[\"one\",\"two\"]}\n"
        );
    }
}
