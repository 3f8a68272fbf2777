//! What moves from run to run: the probe in its mount, and the span.
//!
//! Shoulder and plate hang on the probe, so both move with the drop at each fetch; the tip does not. The drop
//! of a run is S − T, its span P − S: growth and homing cancel in both, the seating in the span too. What
//! their scatter over runs has more than the switches explain is the seating, and the plate's own lying.

use std::collections::HashMap;

use super::heights::Height;
use super::sums;
use crate::text::json;
use crate::world::distributions;

/// A run's means and what they are made of.
#[derive(Clone, Debug)]
pub struct RunMean {
    /// The mean height.
    pub mean: Height,
    /// Variance of that mean from the switch alone: s²/n.
    pub variance: f64,
    /// The plate, where it is named.
    pub plate: Option<String>,
}

/// Scatter over runs beyond what the switches explain. Lengths in the log's unit.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Scatter {
    /// Runs.
    pub runs: usize,
    /// Degrees of freedom: runs less plates for a span, runs − 1 for a drop.
    pub dof: usize,
    /// The mean drop, or the span of the first plate.
    pub mean: f64,
    /// Standard deviation over runs.
    pub sd: f64,
    /// What the switches' noise alone makes of it.
    pub switches: f64,
    /// What is left: √max(0, sd² − switches²).
    pub beyond: f64,
    /// Limits of what is left, two-sided at 95 %.
    #[serde(flatten, serialize_with = "beyond_limits")]
    pub limits: (f64, f64),
    /// Chance of an sd at least as large from the switches alone.
    pub p: f64,
}

fn beyond_limits<S: serde::Serializer>(limits: &(f64, f64), serializer: S) -> Result<S::Ok, S::Error> {
    json::limits(["beyond_low", "beyond_high"], Some(*limits), serializer)
}

/// Of differences upper − lower, run by run, about the mean of their group. `None` with fewer than two runs
/// in any group.
pub fn scatter(pairs: &[(RunMean, RunMean)]) -> Option<Scatter> {
    let mut groups: HashMap<Option<&str>, Vec<f64>> = HashMap::new();
    let mut first: Option<Option<&str>> = None;
    for (upper, lower) in pairs {
        let group = upper.plate.as_deref();
        first.get_or_insert(group);
        groups.entry(group).or_default().push(upper.mean.minus(&lower.mean));
    }
    let dof = pairs.len().checked_sub(groups.len()).filter(|dof| *dof > 0)?;
    let mut parts: Vec<f64> = groups.values().map(|group| sums::squares(group)).collect();
    parts.sort_unstable_by(f64::total_cmp);
    let variance = sums::sum(parts) / dof as f64;
    let noise = sums::sum(pairs.iter().map(|(a, b)| a.variance + b.variance)) / pairs.len() as f64;
    let beyond = |variance: f64| (variance - noise).max(0.0).sqrt();
    let freedom = dof as f64;
    let limit =
        |p: f64| distributions::chi_square_point(p, freedom).map(|chi| beyond(variance * freedom / chi));
    Some(Scatter {
        runs: pairs.len(),
        dof,
        mean: first.and_then(|group| groups.get(&group)).and_then(|group| sums::mean(group))?,
        sd: variance.sqrt(),
        switches: noise.sqrt(),
        beyond: beyond(variance),
        limits: (limit(0.975)?, limit(0.025)?),
        p: if noise > 0.0 {
            distributions::chi_square_tail(variance * freedom / noise, freedom)?
        } else {
            // Without noise whatever moves has moved.
            f64::from(u8::from(variance <= 0.0))
        },
    })
}
