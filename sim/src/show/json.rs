//! The JSON documents. The types are the contract: names and order as in `docs/json.md`.

use serde::ser::{Error, Serialize, Serializer};
use serde_json::value::RawValue;
use zdatum::refusal::{Amount, Refusal, RefusalKind};
use zdatum::{Length, Ratio, Recorded, Summary, Uncertainty};

use super::history::Consulted;
use super::number::{at_least, fine_uncertainty, nanometres, rounded};
use crate::files::Problem;
use crate::judged::{Judged, Share};

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

/// What `land` answers.
#[derive(Debug, serde::Serialize)]
pub struct Land<'a> {
    format: u8,
    cycles: Vec<OneCycle<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    history: Option<Consulted>,
}

#[derive(Debug, serde::Serialize)]
struct OneCycle<'a> {
    run: &'a str,
    plate: Option<&'a str>,
    verdict: &'static str,
    reasons: Vec<Reason>,
    landing: Option<Number>,
    landing_seen: Option<Number>,
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
    stations: Stations,
    corrections: Option<Corrections>,
    budget: Vec<Source<'a>>,
}

#[derive(Debug, serde::Serialize)]
struct Reason {
    refusal: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    station: Option<&'static str>,
    seen: Option<Number>,
    limit: Option<Number>,
    advice: &'static str,
}

#[derive(Debug, serde::Serialize)]
struct Stations {
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
struct Corrections {
    speed: Number,
    growth: Number,
}

/// One source of the error budget.
#[derive(Debug, serde::Serialize)]
pub struct Source<'a> {
    source: &'a str,
    u: Number,
    share: Number,
    reduced_by: &'static str,
}

fn is_false(flag: &bool) -> bool {
    !flag
}

/// `accept` or `refuse`.
pub fn verdict(accepted: bool) -> &'static str {
    if accepted { "accept" } else { "refuse" }
}

impl<'a> Land<'a> {
    /// The document of judged cycles; `percent` is the coverage at which U is stated.
    pub fn of(judged: &'a [Judged], percent: u8) -> Self {
        let cycles = judged.iter().map(|judged| OneCycle::of(judged, percent)).collect();
        Self { format: 1, cycles, history: None }
    }

    /// With what the history had to do with it.
    #[must_use]
    pub fn with_history(self, history: Option<Consulted>) -> Self {
        Self { history, ..self }
    }
}

/// What [`Land`] says of one cycle, as the text that stands in its document.
///
/// # Errors
/// None that a text in memory could give.
pub fn one_cycle(judged: &Judged, percent: u8) -> Result<String, Problem> {
    document(&OneCycle::of(judged, percent)).map(|text| text.trim_end().to_owned())
}

impl<'a> OneCycle<'a> {
    fn of(judged: &'a Judged, percent: u8) -> Self {
        let seen = judged.seen();
        let length = |pick: fn(&zdatum::Landing) -> Length| seen.map(|landing| pick(landing).into());
        let [tip, shoulder, plate] = &judged.summaries;
        let [at_tip, at_shoulder, at_plate] = &judged.cycle.stations;
        Self {
            run: &judged.cycle.run,
            plate: judged.cycle.plate.as_deref(),
            verdict: verdict(judged.assessment.accepted()),
            reasons: judged.refusals().iter().map(Reason::of).collect(),
            landing: judged.assessment.landing().map(|landing| landing.height.into()),
            landing_seen: length(|landing| landing.height),
            for_gauge_check: judged.assessment.for_gauge_check(),
            u: seen.map(|landing| landing.uncertainty.u.into()),
            expanded_u: seen.map(|landing| landing.uncertainty.expanded.into()),
            coverage_factor: seen.map(|landing| landing.uncertainty.factor.into()),
            dof: seen.and_then(|landing| landing.uncertainty.dof.finite()),
            coverage: Number(format!("0.{percent}")),
            drop: length(|landing| landing.drop),
            rise: length(|landing| landing.rise),
            span: length(|landing| landing.span),
            span_u: seen.map(|landing| landing.span_u().into()),
            stations: Stations {
                tip: OneStation::of(at_tip, tip.as_ref()),
                shoulder: OneStation::of(at_shoulder, shoulder.as_ref()),
                plate: OneStation::of(at_plate, plate.as_ref()),
            },
            corrections: seen.map(|landing| Corrections {
                speed: landing.corrections.speed.into(),
                growth: landing.corrections.growth.into(),
            }),
            budget: judged.budget.iter().map(Source::of).collect(),
        }
    }
}

/// Limits that stand in the machine file are shown as they stand there; guarded and computed ones by their exact value.
fn limit_of(kind: RefusalKind, limit: Amount) -> Number {
    match kind {
        RefusalKind::LandingOutOfWindow | RefusalKind::MovedTooFar | RefusalKind::Walking => limit.into(),
        _ => Number::as_written(&limit.text()),
    }
}

impl Reason {
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
                Number(at_least(6, text.trim_end_matches('0')))
            }),
            spread: recorded.series.spread().ok().map(Number::from),
            s: summary.and_then(|summary| summary.s().ok().flatten()).map(Number::from),
            u: summary.map(|summary| summary.variance().root().into()),
        }
    }
}

impl<'a> Source<'a> {
    /// As the budget says.
    pub fn of(share: &'a Share) -> Self {
        Self {
            source: &share.source,
            u: share.u.into(),
            share: share.share.into(),
            reduced_by: share.reduced_by,
        }
    }
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
    fn lengths_are_exact_and_limits_of_the_file_as_they_stand_there() {
        // 0.00010681… mm, whose shortest text is 0.0001; 0.020 is held as 0.0200043….
        let seven = Length::from_bits(7).expect("mm");
        assert_eq!(Number::from(seven), Number("0.000107".into()));
        assert_eq!(Number::from(Uncertainty::from_bits(1).expect("mm")), Number("0.00000006".into()));
        let band = Amount::Length(Length::parse("0.020").expect("mm"));
        assert_eq!(limit_of(RefusalKind::Unsteady, band), Number("0.020000".into()));
        assert_eq!(limit_of(RefusalKind::MovedTooFar, band), Number("0.020004".into()));
    }

    #[test]
    fn what_turns_text_round_is_escaped() {
        assert_eq!(
            document(&"a\u{202e}é\u{e0001}\u{7}\\").expect("json"),
            "\"a\\u202eé\\udb40\\udc01\\u0007\\\\\"\n"
        );
    }
}
