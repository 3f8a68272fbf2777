//! Figures of many runs as JSON and as cells of tables.

use crate::text::Object;
use zdatum_world::engine::{Estimate, Figures};

/// The fields that every object with figures has; see `docs/json.md`.
pub fn json(figures: &Figures) -> Object {
    Object::default()
        .with("runs", figures.runs)
        .with("accepted", figures.accepted)
        .refusals("refused", figures.refusals.iter().copied())
        .estimate("mean", figures.mean)
        .estimate("sd", figures.sd)
        .ends(["low", "high"], figures.middle)
        .ends(["min", "max"], figures.extremes)
        .estimate("p_outside", figures.outside)
        .estimate("p_refused", figures.refused)
        .estimate("coverage", figures.coverage)
        .mean("touches", figures.touches)
        .mean("cycle_s", figures.seconds)
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
