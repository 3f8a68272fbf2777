//! A whole study: every series, each station across its runs, and what follows from them.

use std::collections::HashMap;

use zdatum::Station;

use super::anova::Anova;
use super::capability::Capability;
use super::heights::Heights;
use super::latency::{Between, StationLatency, SwitchLatency};
use super::read::{Groups, TouchGroup};
use super::seating::{RunMean, Scatter, scatter};
use super::series::SeriesStatistics;
use super::sums;

/// What is asked beside the statistics.
#[derive(Clone, Copy, Debug)]
pub struct StudyOptions {
    /// Tolerance of the first layer, ±.
    pub within: Option<f64>,
    /// Touches per station that a landing is made with.
    pub touches: usize,
    /// Variance below which no mean's goes: Δ²/12, or 0.
    pub floor: f64,
}

/// One station across its runs.
#[derive(Clone, Debug)]
pub struct StationStudy {
    /// Which.
    pub station: Station,
    /// Counted touches.
    pub touches: usize,
    /// Runs that have any.
    pub runs: usize,
    /// The speed to which touches at other speeds were brought, where they differ within runs.
    pub at_speed: Option<f64>,
    /// Across runs; `None` of one run, or without a degree of freedom within.
    pub anova: Option<Anova>,
    /// s of one touch over all runs, with its degrees of freedom; `None` where there are none.
    pub pooled: Option<(f64, usize)>,
}

/// What a log of touches says about the switches.
#[derive(Clone, Debug)]
pub struct Study {
    /// The series as read.
    pub groups: Groups,
    /// Their statistics, in the same order.
    pub series: Vec<SeriesStatistics>,
    /// The stations that the log has.
    pub stations: Vec<StationStudy>,
    /// The drop over runs: what the seating does.
    pub drop: Option<Scatter>,
    /// The span over runs.
    pub span: Option<Scatter>,
    /// Latency of the datum switch.
    pub datum: Option<SwitchLatency>,
    /// Latency of the probe's own switch.
    pub plate: Option<SwitchLatency>,
    /// Whether it is good enough, where that was asked.
    pub capability: Option<Capability>,
}

impl Study {
    /// Works everything out.
    pub fn of(groups: Groups, asked: &StudyOptions) -> Self {
        let series = groups.groups.iter().map(SeriesStatistics::of).collect();
        let worked: Vec<Worked<'_>> =
            Station::ALL.into_iter().filter_map(|station| Worked::of(&groups, station)).collect();
        let pairs = |upper: Station, lower: Station| {
            let find = |station| worked.iter().find(|worked| worked.study.station == station);
            match (find(upper), find(lower)) {
                (Some(upper), Some(lower)) => upper.pairs(lower, &groups.runs),
                _ => Vec::new(),
            }
        };
        // A drop belongs to no plate.
        let drops: Vec<_> = pairs(Station::Shoulder, Station::Tip)
            .into_iter()
            .map(|(upper, lower)| (RunMean { plate: None, ..upper }, lower))
            .collect();
        let drop = scatter(&drops);
        let span = scatter(&pairs(Station::Plate, Station::Shoulder));
        let stations: Vec<StationStudy> = worked.iter().map(|worked| worked.study.clone()).collect();
        let (datum, plate) = (SwitchLatency::datum(&groups), SwitchLatency::plate(&groups));
        let capability = asked.within.and_then(|within| capability(within, asked, &stations, span.as_ref()));
        Self { series, stations, drop, span, datum, plate, capability, groups }
    }

    /// A station's part.
    pub fn station(&self, station: Station) -> Option<&StationStudy> {
        self.stations.iter().find(|study| study.station == station)
    }
}

fn capability(
    within: f64,
    asked: &StudyOptions,
    stations: &[StationStudy],
    span: Option<&Scatter>,
) -> Option<Capability> {
    let switches: Vec<(Station, f64)> =
        stations.iter().filter_map(|study| study.pooled.map(|(s, _)| (study.station, s * s))).collect();
    let missing = Station::ALL
        .into_iter()
        .filter(|station| !switches.iter().any(|(known, _)| known == station))
        .collect();
    // What the switches may explain is no move.
    let span = span.filter(|span| span.p < 0.05).map(|span| span.beyond * span.beyond);
    Capability::of(within, asked.touches, &switches, asked.floor, span, missing)
}

/// A station with its heights brought to one speed.
struct Worked<'a> {
    study: StationStudy,
    runs: Vec<(&'a TouchGroup, Heights)>,
}

impl<'a> Worked<'a> {
    fn of(groups: &'a Groups, station: Station) -> Option<Self> {
        let seen = StationLatency::of(groups, station).filter(|seen| seen.between == Between::Touches);
        let all: Vec<f64> = groups.at(station).flat_map(|group| group.speeds.iter().copied()).collect();
        let at_speed = seen.and_then(|_| sums::mean(&all));
        let runs: Vec<(&TouchGroup, Heights)> = groups
            .at(station)
            .map(|group| {
                let mut heights = group.heights.clone();
                if let (Some(seen), Some(at)) = (seen, at_speed) {
                    for (x, v) in heights.offsets.iter_mut().zip(&group.speeds) {
                        *x += seen.latency * (v - at);
                    }
                }
                (group, heights)
            })
            .collect();
        let fitted = usize::from(at_speed.is_some());
        let touches: usize = runs.iter().map(|(_, heights)| heights.offsets.len()).sum();
        let dof = touches.saturating_sub(runs.len() + fitted);
        let squares = sums::sum(runs.iter().map(|(_, heights)| sums::squares(&heights.offsets)));
        let only: Vec<&Heights> = runs.iter().map(|(_, heights)| heights).collect();
        let study = StationStudy {
            station,
            touches,
            runs: runs.len(),
            at_speed,
            anova: Anova::of(&only, fitted),
            pooled: sums::root_mean(squares, dof).map(|s| (s, dof)),
        };
        (!runs.is_empty()).then_some(Self { study, runs })
    }

    /// Each run's mean.
    fn run_means(&self) -> HashMap<&'a str, RunMean> {
        let Some((s, _)) = self.study.pooled else { return HashMap::new() };
        let mean = |(group, heights): &(&'a TouchGroup, Heights)| {
            let variance = s * s / heights.offsets.len() as f64;
            (group.run.as_str(), RunMean { mean: heights.mean(), variance, plate: group.plate.clone() })
        };
        self.runs.iter().map(mean).collect()
    }

    /// This station's means with another's, run by run, where a run has both.
    fn pairs(&self, lower: &Self, runs: &[String]) -> Vec<(RunMean, RunMean)> {
        let (mut upper, mut lower) = (self.run_means(), lower.run_means());
        runs.iter().filter_map(|run| upper.remove(run.as_str()).zip(lower.remove(run.as_str()))).collect()
    }
}
