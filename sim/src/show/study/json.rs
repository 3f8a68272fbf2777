//! The document of `docs/json.md`: the results themselves, with what only this page and the machine file say
//! of them.

use serde::Serialize;

use super::{findings, latency_entry};
use crate::study::Study;
use crate::study::anova::Anova;
use crate::study::capability::{Capability, CapabilityPart, MOST_SHARE};
use crate::study::latency::{StationLatency, SwitchLatency};
use crate::study::seating::Scatter;
use crate::study::series::SeriesStatistics;
use crate::text::json::{Keyed, limits, verdict};
use crate::world::distributions::limits_of_s;

/// What `study` answers.
#[derive(Debug, Serialize)]
pub struct StudyJson<'a> {
    format: u8,
    series: &'a [SeriesStatistics],
    anova: Keyed<StationAnova<'a>>,
    pooled: Keyed<PooledScatter>,
    #[serde(skip_serializing_if = "Option::is_none")]
    seating: Option<&'a Scatter>,
    #[serde(skip_serializing_if = "Option::is_none")]
    span: Option<&'a Scatter>,
    #[serde(skip_serializing_if = "Keyed::is_empty")]
    latency: Keyed<SwitchJson<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    capability: Option<JudgedCapability<'a>>,
    written: bool,
    notes: Vec<String>,
}

#[derive(Debug, Serialize)]
struct StationAnova<'a> {
    #[serde(flatten)]
    anova: &'a Anova,
    #[serde(skip_serializing_if = "Option::is_none")]
    at_speed: Option<f64>,
}

#[derive(Debug, Serialize)]
struct PooledScatter {
    s: f64,
    dof: usize,
    #[serde(flatten, serialize_with = "s_limits")]
    limits: Option<(f64, f64)>,
}

#[derive(Debug, Serialize)]
struct SwitchJson<'a> {
    latency_s: f64,
    latency_u_s: f64,
    interleaved: bool,
    offered: bool,
    stations: Keyed<&'a StationLatency>,
}

#[derive(Debug, Serialize)]
struct JudgedCapability<'a> {
    within: f64,
    touches: usize,
    expanded_u: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    expanded_u_with_span: Option<f64>,
    share: f64,
    limit: f64,
    enough: Option<usize>,
    verdict: &'static str,
    missing: Vec<&'static str>,
    parts: &'a [CapabilityPart],
}

fn s_limits<S: serde::Serializer>(pair: &Option<(f64, f64)>, serializer: S) -> Result<S::Ok, S::Error> {
    limits(["s_low", "s_high"], *pair, serializer)
}

impl<'a> StudyJson<'a> {
    /// The document of a study; `written` where its pooled s went into a machine file.
    pub fn of(study: &'a Study, written: bool) -> Self {
        let stations = || study.stations.iter();
        let anova = stations().filter_map(|one| {
            Some((one.station.word(), StationAnova { anova: one.anova.as_ref()?, at_speed: one.at_speed }))
        });
        let pooled = stations().filter_map(|one| {
            let (s, dof) = one.pooled?;
            Some((one.station.word(), PooledScatter { s, dof, limits: limits_of_s(s, dof) }))
        });
        let switches = [("datum_switch", &study.datum), ("plate_switch", &study.plate)];
        Self {
            format: 1,
            series: &study.series,
            anova: anova.collect(),
            pooled: pooled.collect(),
            seating: study.drop.as_ref(),
            span: study.span.as_ref(),
            latency: switches
                .into_iter()
                .filter_map(|(name, switch)| Some((name, SwitchJson::of(switch.as_ref()?))))
                .collect(),
            capability: study.capability.as_ref().map(JudgedCapability::of),
            written,
            notes: findings(study),
        }
    }
}

impl<'a> SwitchJson<'a> {
    fn of(switch: &'a SwitchLatency) -> Self {
        Self {
            latency_s: switch.latency,
            latency_u_s: switch.u,
            interleaved: switch.interleaved(),
            offered: latency_entry(switch).is_some(),
            stations: switch.stations.iter().map(|one| (one.station.word(), one)).collect(),
        }
    }
}

impl<'a> JudgedCapability<'a> {
    fn of(capability: &'a Capability) -> Self {
        Self {
            within: capability.within,
            touches: capability.touches,
            expanded_u: capability.expanded,
            expanded_u_with_span: capability.with_span,
            share: capability.share,
            limit: MOST_SHARE,
            enough: capability.enough,
            verdict: verdict(capability.good()),
            missing: capability.missing.iter().map(|station| station.word()).collect(),
            parts: &capability.parts,
        }
    }
}
