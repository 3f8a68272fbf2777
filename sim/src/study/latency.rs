//! How late a trip is seen, from touches at different speeds: reported heights fall by v·τ.

use zdatum::Station;

use super::line::LineSums;
use super::read::{Groups, TouchGroup};
use super::sums;

/// Beyond this correlation of speed and order, a drift would pass for latency.
const MOST_ORDER: f64 = 0.5;

/// Where the speeds differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Between {
    /// Within runs, so that what moves from run to run does no harm.
    Touches,
    /// From run to run only.
    Runs,
}

/// The latency that a station's touches show.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct StationLatency {
    /// The station.
    #[serde(skip)]
    pub station: Station,
    /// τ = −dz/dv.
    #[serde(rename = "latency_s")]
    pub latency: f64,
    /// Its standard uncertainty.
    #[serde(rename = "latency_u_s")]
    pub u: f64,
    /// Degrees of freedom.
    pub dof: usize,
    /// Lowest and highest speed.
    pub speeds: (f64, f64),
    /// Where the speeds differ.
    pub between: Between,
    /// Correlation of speed with the order of the touches, or of the runs: 0 where they are well mixed, ±1
    /// where speed only rises or falls.
    pub order: f64,
    /// By how much a drift of 1 per touch (or per run) would change the latency.
    #[serde(skip)]
    pub per_drift: f64,
}

impl StationLatency {
    /// Whether the speeds were mixed well enough for a drift not to pass for latency.
    pub fn interleaved(&self) -> bool {
        self.order.abs() <= MOST_ORDER
    }

    /// Of a station's series; `None` where the speeds do not differ or too few touches are left to judge by.
    pub fn of(groups: &Groups, station: Station) -> Option<Self> {
        let known: Vec<&TouchGroup> = groups.at(station).filter(|group| !group.speeds.is_empty()).collect();
        let varied: Vec<&TouchGroup> =
            known.iter().copied().filter(|group| sums::squares(&group.speeds) > 0.0).collect();
        if varied.is_empty() { among_runs(station, &known) } else { within_runs(station, &varied) }
    }
}

fn within_runs(station: Station, groups: &[&TouchGroup]) -> Option<StationLatency> {
    let fit =
        LineSums::of(groups.iter().map(|group| (group.speeds.as_slice(), group.heights.offsets.as_slice())));
    let orders: Vec<Vec<f64>> =
        groups.iter().map(|group| (0..group.speeds.len()).map(|i| i as f64).collect()).collect();
    let drift = LineSums::of(
        groups.iter().zip(&orders).map(|(group, order)| (group.speeds.as_slice(), order.as_slice())),
    );
    let order_squares = sums::sum(orders.iter().map(|order| sums::squares(order)));
    seen(station, &fit, &drift, order_squares, Between::Touches, groups)
}

fn among_runs(station: Station, groups: &[&TouchGroup]) -> Option<StationLatency> {
    let first = groups.first()?.heights.mean();
    let speeds: Vec<f64> = groups.iter().filter_map(|group| group.speeds.first().copied()).collect();
    let means: Vec<f64> = groups.iter().map(|group| group.heights.mean().minus(&first)).collect();
    // A run of its own at the lowest or the highest speed would decide alone.
    let (low, high) = sums::range(speeds.iter().copied());
    let repeated = |speed: f64| speeds.iter().filter(|v| **v == speed).count() > 1;
    if !repeated(low) || !repeated(high) {
        return None;
    }
    let order: Vec<f64> = (0..groups.len()).map(|i| i as f64).collect();
    let fit = LineSums::of(std::iter::once((speeds.as_slice(), means.as_slice())));
    let drift = LineSums::of(std::iter::once((speeds.as_slice(), order.as_slice())));
    seen(station, &fit, &drift, sums::squares(&order), Between::Runs, groups)
}

fn seen(
    station: Station,
    fit: &LineSums,
    drift: &LineSums,
    order_squares: f64,
    between: Between,
    groups: &[&TouchGroup],
) -> Option<StationLatency> {
    let u = fit.slope_sd()?;
    let all = || groups.iter().flat_map(|group| group.speeds.iter().copied());
    Some(StationLatency {
        station,
        latency: -fit.slope,
        u,
        dof: fit.dof,
        order: if order_squares > 0.0 { drift.xy / (drift.xx * order_squares).sqrt() } else { 0.0 },
        per_drift: -drift.slope,
        between,
        speeds: sums::range(all()),
    })
}

/// The latency of one switch, from all stations that press it.
#[derive(Clone, Debug, PartialEq)]
pub struct SwitchLatency {
    /// τ, s.
    pub latency: f64,
    /// Its standard uncertainty, s.
    pub u: f64,
    /// What each station shows.
    pub stations: Vec<StationLatency>,
}

impl SwitchLatency {
    /// The datum switch (tip and shoulder), weighed by 1/u².
    pub fn datum(groups: &Groups) -> Option<Self> {
        Self::of(
            [Station::Tip, Station::Shoulder]
                .iter()
                .filter_map(|station| StationLatency::of(groups, *station))
                .collect(),
        )
    }

    /// The probe's own switch.
    pub fn plate(groups: &Groups) -> Option<Self> {
        Self::of(StationLatency::of(groups, Station::Plate).into_iter().collect())
    }

    fn of(stations: Vec<StationLatency>) -> Option<Self> {
        // A station without scatter would outweigh everything by a doubt of nothing.
        let finest = stations.iter().map(|seen| seen.u).fold(f64::INFINITY, f64::min);
        let equal = finest <= 0.0;
        let weight = |seen: &StationLatency| if equal { 1.0 } else { 1.0 / (seen.u * seen.u) };
        let weights = sums::sum(stations.iter().map(weight));
        let latency = sums::sum(stations.iter().map(|seen| weight(seen) * seen.latency)) / weights;
        let u = if equal {
            let squares = sums::sum(stations.iter().map(|seen| seen.u * seen.u));
            squares.sqrt() / stations.len().max(1) as f64
        } else {
            (1.0 / weights).sqrt()
        };
        (!stations.is_empty() && latency.is_finite() && u.is_finite()).then_some(Self {
            latency,
            u,
            stations,
        })
    }

    /// Whether the speeds of all its stations were interleaved.
    pub fn interleaved(&self) -> bool {
        self.stations.iter().all(StationLatency::interleaved)
    }

    /// How many standard uncertainties of their difference tip and shoulder lie apart; `None` of one station.
    pub fn disagreement(&self) -> Option<f64> {
        match self.stations.as_slice() {
            [a, b] => Some((a.latency - b.latency).abs() / a.u.hypot(b.u)).filter(|ratio| ratio.is_finite()),
            _ => None,
        }
    }
}
