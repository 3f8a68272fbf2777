//! The document of `docs/json.md`.

use serde::ser::{Serialize, Serializer};
use zdatum::Station;

use super::{findings, latency_entry};
use crate::study::anova::Anova;
use crate::study::capability::Capability;
use crate::study::latency::{Between, Seen, Switch};
use crate::study::seating::Scatter;
use crate::study::series::SeriesStatistics;
use crate::study::{Group, Study};
use crate::text::json::{Number, verdict};

/// What `study` answers.
#[derive(Debug, serde::Serialize)]
pub struct Document<'a> {
    format: u8,
    series: Vec<OneSeries<'a>>,
    anova: Map<OneAnova>,
    pooled: Map<Pooled>,
    #[serde(skip_serializing_if = "Option::is_none")]
    seating: Option<Moves>,
    #[serde(skip_serializing_if = "Option::is_none")]
    span: Option<Moves>,
    #[serde(skip_serializing_if = "Map::is_empty")]
    latency: Map<OneSwitch>,
    #[serde(skip_serializing_if = "Option::is_none")]
    capability: Option<Capable>,
    written: bool,
    notes: Vec<String>,
}

/// An object whose keys are known only when it is written.
#[derive(Debug)]
struct Map<T>(Vec<(&'static str, T)>);

impl<T> Map<T> {
    fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<T: Serialize> Serialize for Map<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

#[derive(Debug, serde::Serialize)]
struct OneSeries<'a> {
    run: &'a str,
    station: &'static str,
    n: usize,
    mean: Number,
    s: Option<Number>,
    s_low: Option<Number>,
    s_high: Option<Number>,
    median: Number,
    spread: Number,
    lag1: Option<Number>,
    von_neumann: Option<Number>,
    von_neumann_p: Option<Number>,
    outliers: Vec<Outlier>,
    normality: Option<Normality>,
}

#[derive(Debug, serde::Serialize)]
struct Outlier {
    index: usize,
    line: usize,
    z: Number,
    r: Number,
    critical: Number,
}

#[derive(Debug, serde::Serialize)]
struct Normality {
    a2: Number,
    p: Number,
    stepped: bool,
}

#[derive(Debug, serde::Serialize)]
struct OneAnova {
    ss_between: Number,
    ss_within: Number,
    df_between: usize,
    df_within: usize,
    f: Option<Number>,
    p: Option<Number>,
    s_r: Number,
    s_run: Number,
    s_intermediate: Number,
    #[serde(skip_serializing_if = "Option::is_none")]
    at_speed: Option<Number>,
}

#[derive(Debug, serde::Serialize)]
struct Pooled {
    s: Number,
    dof: usize,
    s_low: Option<Number>,
    s_high: Option<Number>,
}

#[derive(Debug, serde::Serialize)]
struct Moves {
    runs: usize,
    dof: usize,
    mean: Number,
    sd: Number,
    switches: Number,
    beyond: Number,
    beyond_low: Number,
    beyond_high: Number,
    p: Number,
}

#[derive(Debug, serde::Serialize)]
struct OneSwitch {
    latency_s: Number,
    latency_u_s: Number,
    interleaved: bool,
    offered: bool,
    stations: Map<OneLatency>,
}

#[derive(Debug, serde::Serialize)]
struct OneLatency {
    latency_s: Number,
    latency_u_s: Number,
    dof: usize,
    speeds: [Number; 2],
    between: &'static str,
    order: Number,
}

#[derive(Debug, serde::Serialize)]
struct Capable {
    within: Number,
    touches: usize,
    expanded_u: Number,
    #[serde(skip_serializing_if = "Option::is_none")]
    expanded_u_with_span: Option<Number>,
    share: Number,
    limit: Number,
    enough: Option<usize>,
    verdict: &'static str,
    missing: Vec<&'static str>,
    parts: Vec<Part>,
}

#[derive(Debug, serde::Serialize)]
struct Part {
    source: &'static str,
    u: Number,
    share: Number,
}

/// A computed number: fifteen significant digits, six decimals or more.
pub(in crate::show) fn number(x: f64) -> Number {
    // No minus before a zero.
    let x = if x.is_finite() { x + 0.0 } else { 0.0 };
    let fifteen = format!("{x:.14e}").parse::<f64>().unwrap_or(x);
    Number::as_written(&format!("{fifteen}"))
}

impl<'a> Document<'a> {
    /// The document of a study; `written` where its pooled s went into a machine file.
    pub fn of(study: &'a Study, written: bool) -> Self {
        let stations = || study.stations.iter();
        let switches = [("datum_switch", &study.datum), ("plate_switch", &study.plate)];
        Self {
            format: 1,
            series: study
                .groups
                .groups
                .iter()
                .zip(&study.series)
                .map(|(group, series)| OneSeries::of(group, series))
                .collect(),
            anova: Map(stations()
                .filter_map(|one| Some((one.station.word(), OneAnova::of(one.anova.as_ref()?, one.at_speed))))
                .collect()),
            pooled: Map(stations()
                .filter_map(|one| one.pooled.map(|(s, dof)| (one.station.word(), Pooled::of(s, dof))))
                .collect()),
            seating: study.drop.as_ref().map(Moves::of),
            span: study.span.as_ref().map(Moves::of),
            latency: Map(switches
                .into_iter()
                .filter_map(|(name, switch)| Some((name, OneSwitch::of(switch.as_ref()?))))
                .collect()),
            capability: study.capability.as_ref().map(Capable::of),
            written,
            notes: findings(study),
        }
    }
}

impl<'a> OneSeries<'a> {
    fn of(group: &'a Group, series: &SeriesStatistics) -> Self {
        let limit = |pick: fn((f64, f64)) -> f64| series.s_limits.map(|limits| number(pick(limits)));
        Self {
            run: &group.run,
            station: group.station.word(),
            n: series.n,
            mean: Number::as_written(&series.mean.text()),
            s: series.s.map(number),
            s_low: limit(|limits| limits.0),
            s_high: limit(|limits| limits.1),
            median: Number::as_written(&series.median.text()),
            spread: number(series.spread),
            lag1: series.lag1.map(number),
            von_neumann: series.von_neumann.map(number),
            von_neumann_p: series.von_neumann_p.map(number),
            outliers: series
                .outliers
                .iter()
                .map(|step| Outlier {
                    index: step.index,
                    line: group.lines.get(step.index).copied().unwrap_or(0),
                    z: Number::as_written(
                        &group.z.get(step.index).copied().unwrap_or_default().normalize().to_string(),
                    ),
                    r: number(step.r),
                    critical: number(step.critical),
                })
                .collect(),
            normality: series.normality.map(|test| Normality {
                a2: number(test.a2),
                p: number(test.p),
                stepped: test.stepped,
            }),
        }
    }
}

impl OneAnova {
    fn of(anova: &Anova, at_speed: Option<f64>) -> Self {
        Self {
            ss_between: number(anova.ss_between),
            ss_within: number(anova.ss_within),
            df_between: anova.df_between,
            df_within: anova.df_within,
            f: anova.f.map(number),
            p: anova.p.map(number),
            s_r: number(anova.s_r),
            s_run: number(anova.s_run),
            s_intermediate: number(anova.s_intermediate),
            at_speed: at_speed.map(number),
        }
    }
}

impl Pooled {
    fn of(s: f64, dof: usize) -> Self {
        let limits = crate::world::distributions::limits_of_s(s, dof);
        Self { s: number(s), dof, s_low: limits.map(|l| number(l.0)), s_high: limits.map(|l| number(l.1)) }
    }
}

impl Moves {
    fn of(scatter: &Scatter) -> Self {
        Self {
            runs: scatter.runs,
            dof: scatter.dof,
            mean: number(scatter.mean),
            sd: number(scatter.sd),
            switches: number(scatter.switches),
            beyond: number(scatter.beyond),
            beyond_low: number(scatter.limits.0),
            beyond_high: number(scatter.limits.1),
            p: number(scatter.p),
        }
    }
}

impl OneSwitch {
    fn of(switch: &Switch) -> Self {
        Self {
            latency_s: number(switch.latency),
            latency_u_s: number(switch.u),
            interleaved: switch.interleaved(),
            offered: latency_entry(switch).is_some(),
            stations: Map(switch
                .stations
                .iter()
                .map(|seen| (seen.station.word(), OneLatency::of(seen)))
                .collect()),
        }
    }
}

impl OneLatency {
    fn of(seen: &Seen) -> Self {
        Self {
            latency_s: number(seen.latency),
            latency_u_s: number(seen.u),
            dof: seen.dof,
            speeds: [number(seen.speeds.0), number(seen.speeds.1)],
            between: match seen.between {
                Between::Touches => "touches",
                Between::Runs => "runs",
            },
            order: number(seen.order),
        }
    }
}

impl Capable {
    fn of(capability: &Capability) -> Self {
        Self {
            within: number(capability.within),
            touches: capability.touches,
            expanded_u: number(capability.expanded),
            expanded_u_with_span: capability.with_span.map(number),
            share: number(capability.share),
            limit: number(crate::study::capability::MOST_SHARE),
            enough: capability.enough,
            verdict: verdict(capability.good()),
            missing: capability.missing.iter().map(|station: &Station| station.word()).collect(),
            parts: capability
                .parts
                .iter()
                .map(|part| Part {
                    source: super::part(part.station),
                    u: number(part.u),
                    share: number(part.share),
                })
                .collect(),
        }
    }
}
