//! Figures of many runs as JSON and as cells of tables.

use crate::text::json::Number;
use zdatum_world::engine::{Estimate, Figures};

/// The fields that every object with figures has; see `docs/json.md`.
#[derive(Debug, serde::Serialize)]
pub struct Document {
    runs: u64,
    accepted: u64,
    refused: Refused,
    mean: Option<Number>,
    mean_standard_error: Option<Number>,
    sd: Option<Number>,
    sd_standard_error: Option<Number>,
    low: Option<Number>,
    high: Option<Number>,
    min: Option<Number>,
    max: Option<Number>,
    p_outside: Option<Number>,
    p_outside_standard_error: Option<Number>,
    p_refused: Number,
    p_refused_standard_error: Number,
    coverage: Option<Number>,
    coverage_standard_error: Option<Number>,
    touches_mean: Number,
    touches_standard_error: Number,
    cycle_s_mean: Number,
    cycle_s_standard_error: Number,
}

#[derive(Debug)]
struct Refused(Vec<(&'static str, u64)>);

impl serde::Serialize for Refused {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().copied())
    }
}

/// Nine decimals, as all computed lengths and shares have.
pub(super) fn number(x: f64) -> Number {
    Number::decimal(x, 9)
}

/// An estimate and its standard error.
pub(super) fn both(estimate: Option<Estimate>) -> (Option<Number>, Option<Number>) {
    estimate.map(|x| (number(x.value), number(x.error))).unzip()
}

impl Document {
    /// From figures.
    pub fn of(figures: &Figures) -> Self {
        let (mean, mean_standard_error) = both(figures.mean);
        let (sd, sd_standard_error) = both(figures.sd);
        let (p_outside, p_outside_standard_error) = both(figures.outside);
        let (coverage, coverage_standard_error) = both(figures.coverage);
        let ends = |ends: Option<(f64, f64)>| ends.map(|(a, b)| (number(a), number(b))).unzip();
        let (low, high) = ends(figures.middle);
        let (min, max) = ends(figures.extremes);
        Self {
            runs: figures.runs,
            accepted: figures.accepted,
            refused: Refused(figures.refusals.iter().map(|(kind, count)| (kind.word(), *count)).collect()),
            mean,
            mean_standard_error,
            sd,
            sd_standard_error,
            low,
            high,
            min,
            max,
            p_outside,
            p_outside_standard_error,
            p_refused: number(figures.refused.value),
            p_refused_standard_error: number(figures.refused.error),
            coverage,
            coverage_standard_error,
            touches_mean: number(figures.touches.value),
            touches_standard_error: number(figures.touches.error),
            cycle_s_mean: number(figures.seconds.value),
            cycle_s_standard_error: number(figures.seconds.error),
        }
    }
}

/// A length in µm with its standard error, two decimals, one from 1000 up; `-` where there is none.
pub(super) fn um(estimate: Option<Estimate>, signed: bool) -> String {
    let Some(Estimate { value, error }) = estimate else { return "-".into() };
    let (value, error) = (value * 1e3, error * 1e3);
    // No minus before a zero.
    let value = if value.abs() < 0.005 { 0.0 } else { value };
    let places = if value.abs() < 1000.0 { 2 } else { 0 };
    if signed {
        format!("{value:+.places$}±{error:.places$}")
    } else {
        format!("{value:.places$}±{error:.places$}")
    }
}

/// A share in per cent with its standard error.
pub(super) fn percent(estimate: Option<Estimate>) -> String {
    estimate.map_or("-".into(), |p| format!("{:.2}±{:.2}", p.value * 1e2, p.error * 1e2))
}
