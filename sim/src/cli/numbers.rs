//! Numbers as typed after an option.

use std::ops::RangeInclusive;

use clap::builder::{StringValueParser, TypedValueParser};

/// A whole number of such a range.
pub(super) fn whole<T>(range: RangeInclusive<u64>) -> impl TypedValueParser<Value = T>
where
    T: TryFrom<u64> + Clone + Send + Sync + 'static,
{
    StringValueParser::new().try_map(move |text| {
        let (least, most) = (range.start(), range.end());
        let number = text.parse::<u64>().ok().filter(|number| range.contains(number));
        number
            .and_then(|number| T::try_from(number).ok())
            .ok_or_else(|| format!("must be a whole number from {least} to {most}"))
    })
}

/// The number of an entry of a history.
pub(super) fn entry() -> impl TypedValueParser<Value = i64> {
    whole(1..=i64::MAX.unsigned_abs())
}

/// Any whole number that tells one run or one stream of random numbers from others.
pub(super) fn counted() -> impl TypedValueParser<Value = u64> {
    whole(0..=u64::MAX)
}

/// What simulated first layers are compared with.
#[derive(clap::Args)]
pub(crate) struct Tolerance {
    /// Tolerance of the first-layer error, mm
    #[arg(
        long,
        default_value = "0.020",
        value_name = "MM",
        allow_negative_numbers = true,
        value_parser = tolerance
    )]
    pub(super) within: f64,
}

/// Smallest tolerance, mm: a hundredth of a micrometre, finer than any height is held.
const LEAST_WITHIN: f64 = 0.000_01;

/// A tolerance in mm, as written: it is only compared with and shown again.
pub(super) fn tolerance(text: &str) -> Result<f64, String> {
    zdatum::Length::parse(text).map_err(|error| format!("{error}; give mm, such as 0.020"))?;
    let within: f64 = text.parse().map_err(|_| "must be a decimal number of mm, such as 0.020")?;
    if within < LEAST_WITHIN {
        return Err(format!("must be {LEAST_WITHIN:.5} mm or more"));
    }
    Ok(within)
}
