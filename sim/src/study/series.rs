//! One series: the touches of one run at one station.

use rust_decimal::Decimal;
use zdatum::Station;

use super::heights::Height;
use super::normality::{Normality, normality};
use super::outliers::outliers;
use super::read::TouchGroup;
use super::sums;
use crate::text::json;
use crate::world::distributions;

/// What is known of a series of at least one touch. Lengths in the log's unit.
#[derive(Clone, Debug, serde::Serialize)]
pub struct SeriesStatistics {
    /// The run's name.
    pub run: String,
    /// Where.
    #[serde(serialize_with = "json::station")]
    pub station: Station,
    /// Touches.
    pub n: usize,
    /// Their mean.
    pub mean: Height,
    /// s with n − 1 degrees of freedom; `None` of a single touch.
    pub s: Option<f64>,
    /// Limits of s, two-sided at 95 %, for normal noise.
    #[serde(flatten, serialize_with = "s_limits")]
    pub s_limits: Option<(f64, f64)>,
    /// The median.
    pub median: Height,
    /// Highest − lowest.
    pub spread: f64,
    /// Σ(xᵢ − x̄)(xᵢ₊₁ − x̄)/Σ(xᵢ − x̄)²; `None` without scatter.
    pub lag1: Option<f64>,
    /// Σ(xᵢ₊₁ − xᵢ)²/Σ(xᵢ − x̄)²; `None` without scatter.
    pub von_neumann: Option<f64>,
    /// Chance of a ratio at least as small from touches in no order; `None` below eight touches.
    pub von_neumann_p: Option<f64>,
    /// Outliers, farthest first.
    pub outliers: Vec<Outlier>,
    /// Whether they scatter as a normal distribution does; `None` with too few touches or without scatter.
    pub normality: Option<Normality>,
}

/// A touch that the test takes for an outlier.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Outlier {
    /// Its place in the series, from 0.
    pub index: usize,
    /// Its line in the log.
    pub line: usize,
    /// Its height.
    pub z: Height,
    /// R = |x − x̄|/s.
    pub r: f64,
    /// λ, which R exceeds, in this step of the test or a later one.
    pub critical: f64,
}

fn s_limits<S: serde::Serializer>(limits: &Option<(f64, f64)>, serializer: S) -> Result<S::Ok, S::Error> {
    json::limits(["s_low", "s_high"], *limits, serializer)
}

impl SeriesStatistics {
    /// Works a series out.
    pub fn of(group: &TouchGroup) -> Self {
        let heights = &group.heights;
        let x = &heights.offsets;
        let n = x.len();
        let mean = heights.mean();
        let squares = sums::squares(x);
        let s = n.checked_sub(1).and_then(|dof| sums::root_mean(squares, dof));
        let pairs = x.iter().zip(x.iter().skip(1));
        let products = sums::sum(pairs.map(|(a, b)| (a - mean.rest) * (b - mean.rest)));
        let von_neumann = von_neumann(x);
        let (low, high) = sums::range(x.iter().copied());
        Self {
            run: group.run.clone(),
            station: group.station,
            n,
            mean,
            s,
            s_limits: s.and_then(|s| distributions::limits_of_s(s, n - 1)),
            median: heights.median(),
            spread: if n == 0 { 0.0 } else { high - low },
            lag1: (squares > 0.0).then(|| products / squares),
            von_neumann,
            von_neumann_p: von_neumann_p(x),
            outliers: outliers(x)
                .into_iter()
                .map(|step| Outlier {
                    index: step.index,
                    line: group.lines.get(step.index).copied().unwrap_or(0),
                    z: Height::exact(group.z.get(step.index).copied().unwrap_or(Decimal::ZERO)),
                    r: step.r,
                    critical: step.critical,
                })
                .collect(),
            normality: normality(x),
        }
    }
}

/// von Neumann's ratio, Σ(xᵢ₊₁ − xᵢ)²/Σ(xᵢ − x̄)²; `None` without scatter.
fn von_neumann(x: &[f64]) -> Option<f64> {
    let squares = sums::squares(x);
    let steps = sums::sum(x.iter().zip(x.iter().skip(1)).map(|(a, b)| (b - a) * (b - a)));
    (squares > 0.0).then(|| steps / squares)
}

/// Chance of a ratio at least as small from touches in no order; `None` below eight touches or without
/// scatter.
pub fn von_neumann_p(x: &[f64]) -> Option<f64> {
    below(von_neumann(x)?, x.len())
}

/// Fewest touches for which the chance of a ratio is told.
const LEAST_ORDER: usize = 8;

/// Chance that the ratio of touches in no order lies below `ratio`.
///
/// A quarter of the ratio is nearly a beta variable with both parameters ½·((n² − 1)/(n − 2) − 1), which has
/// its mean and its variance (Bartels, *JASA* 77, 1982; *from memory*). Compared with exact points in the
/// tests: 1.05 % at the exact 1 % point of n = 8, 1.02 % at that of n = 10; below eight touches it is too
/// rough.
fn below(ratio: f64, n: usize) -> Option<f64> {
    if n < LEAST_ORDER {
        return None;
    }
    let n = n as f64;
    distributions::beta_below(ratio / 4.0, ((n * n - 1.0) / (n - 2.0) - 1.0) / 2.0)
}
