//! A judged cycle in JSON: what `land` tells of it, and what the history keeps.

use zdatum::refusal::{Amount, Refusal, RefusalKind};
use zdatum::{Length, Recorded, Summary};

use super::{BudgetShare, Judged};
use crate::text::json::{Number, document, verdict};
use crate::text::number::rounded;
use crate::text::problem::Problem;

/// What `land` says of one cycle.
#[derive(Debug, serde::Serialize)]
pub struct CycleJson<'a> {
    run: &'a str,
    plate: Option<&'a str>,
    verdict: &'static str,
    reasons: Vec<RefusalJson>,
    landing: Option<Number>,
    landing_seen: Option<Number>,
    // Not kept in the history: a wish may change, what was measured stays.
    #[serde(skip_serializing_if = "Option::is_none")]
    wish: Option<Number>,
    #[serde(skip_serializing_if = "Option::is_none")]
    apply: Option<Option<Number>>,
    #[serde(skip_serializing_if = "is_false")]
    for_gauge_check: bool,
    u: Option<Number>,
    expanded_u: Option<Number>,
    coverage_factor: Option<Number>,
    dof: Option<u32>,
    coverage: Number,
    drop: Option<Number>,
    rise: Option<Number>,
    span: Option<Number>,
    span_u: Option<Number>,
    stations: StationsJson,
    corrections: Option<CorrectionsJson>,
    budget: &'a [BudgetShare],
}

#[derive(Debug, serde::Serialize)]
struct RefusalJson {
    refusal: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    station: Option<&'static str>,
    seen: Option<Number>,
    limit: Option<Number>,
    advice: &'static str,
}

#[derive(Debug, serde::Serialize)]
struct StationsJson {
    tip: OneStation,
    shoulder: OneStation,
    plate: OneStation,
}

#[derive(Debug, serde::Serialize)]
struct OneStation {
    n: usize,
    centre: Option<Number>,
    spread: Option<Number>,
    s: Option<Number>,
    u: Option<Number>,
}

#[derive(Debug, serde::Serialize)]
struct CorrectionsJson {
    speed: Number,
    growth: Number,
    soak: Number,
}

fn is_false(flag: &bool) -> bool {
    !flag
}

/// [`CycleJson`] as text: what the history keeps.
///
/// # Errors
/// None that a text in memory could give.
pub fn one_cycle(judged: &Judged, percent: u8) -> Result<String, Problem> {
    document(&CycleJson::of(judged, percent)).map(|text| text.trim_end().to_owned())
}

impl<'a> CycleJson<'a> {
    /// With what is wanted on top of the landing, and what is to be applied.
    #[must_use]
    pub fn with_wish(self, judged: &Judged) -> Self {
        Self { wish: Some(judged.wish.into()), apply: Some(judged.apply().map(Number::from)), ..self }
    }

    /// Of a judged cycle; `percent` is the coverage at which U is stated.
    pub fn of(judged: &'a Judged, percent: u8) -> Self {
        let (seen, found) = (judged.seen(), judged.uncertainty());
        let length = |pick: fn(&zdatum::Landing) -> Length| seen.map(|landing| pick(landing).into());
        let [tip, shoulder, plate] = &judged.summaries;
        let [at_tip, at_shoulder, at_plate] = &judged.cycle.stations;
        Self {
            run: &judged.cycle.run,
            plate: judged.cycle.plate.as_deref(),
            verdict: verdict(judged.assessment.accepted()),
            reasons: judged.refusals().iter().map(RefusalJson::of).collect(),
            landing: judged.assessment.landing().map(|landing| landing.height.into()),
            landing_seen: length(|landing| landing.height),
            wish: None,
            apply: None,
            for_gauge_check: judged.assessment.for_gauge_check(),
            u: found.map(|found| found.u.into()),
            expanded_u: found.map(|found| found.expanded.into()),
            coverage_factor: found.map(|found| found.factor.into()),
            dof: found.and_then(|found| found.dof.finite()),
            coverage: Number::decimal(f64::from(percent) / 100.0, 2),
            drop: length(|landing| landing.drop),
            rise: length(|landing| landing.rise),
            span: length(|landing| landing.span),
            span_u: seen.map(|landing| landing.span_u().into()),
            stations: StationsJson {
                tip: OneStation::of(at_tip, tip.as_ref()),
                shoulder: OneStation::of(at_shoulder, shoulder.as_ref()),
                plate: OneStation::of(at_plate, plate.as_ref()),
            },
            corrections: seen.map(|landing| CorrectionsJson {
                speed: landing.corrections.speed.into(),
                growth: landing.corrections.growth.into(),
                soak: landing.corrections.soak.into(),
            }),
            budget: &judged.budget,
        }
    }
}

/// Limits that stand in the machine file are shown as they stand there; guarded and computed ones by their
/// exact value.
fn limit_of(kind: RefusalKind, limit: Amount) -> Number {
    match kind {
        RefusalKind::LandingOutOfWindow
        | RefusalKind::MovedTooFar
        | RefusalKind::Walking
        | RefusalKind::NoisierThanStudied => limit.into(),
        _ => Number::as_written(&limit.text()),
    }
}

impl RefusalJson {
    fn of(refusal: &Refusal) -> Self {
        Self {
            refusal: refusal.kind.word(),
            station: refusal.station.map(zdatum::Station::word),
            seen: refusal.seen().map(Number::from),
            limit: refusal.limit().map(|limit| limit_of(refusal.kind, limit)),
            advice: refusal.kind.advice(),
        }
    }
}

impl OneStation {
    fn of<const N: usize>(recorded: &Recorded<N>, summary: Option<&Summary>) -> Self {
        Self {
            n: recorded.series.len(),
            // A mean is finer than a length: nine decimals, without zeros that say nothing.
            centre: summary.map(|summary| {
                let text = rounded(summary.centre().to_bits(), 32, 9);
                Number::as_written(text.trim_end_matches('0'))
            }),
            spread: recorded.series.spread().ok().map(Number::from),
            s: summary.and_then(|summary| summary.s().ok().flatten()).map(Number::from),
            u: summary.map(|summary| summary.variance().root().into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_of_the_file_as_they_stand_there() {
        let text = |kind, amount| serde_json::to_string(&limit_of(kind, amount)).expect("json");
        // Held as 0.0200043….
        let band = Amount::Length(Length::parse("0.020").expect("mm"));
        assert_eq!(text(RefusalKind::Unsteady, band), "0.020000");
        assert_eq!(text(RefusalKind::MovedTooFar, band), "0.020004");
    }
}
