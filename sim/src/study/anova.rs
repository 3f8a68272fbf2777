//! One-way analysis of variance across runs.

use super::heights::{Height, Heights};
use super::sums;
use crate::world::distributions;

/// Between and within runs. Lengths in the log's unit.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Anova {
    /// Runs.
    #[serde(skip)]
    pub runs: usize,
    /// Σ nᵢ(x̄ᵢ − x̄)².
    pub ss_between: f64,
    /// Σ Σ (xᵢⱼ − x̄ᵢ)².
    pub ss_within: f64,
    /// Runs − 1.
    pub df_between: usize,
    /// Touches − runs, less what was fitted to them.
    pub df_within: usize,
    /// Their mean squares' ratio; `None` where nothing scatters within.
    pub f: Option<f64>,
    /// Probability of an F at least as large from runs that are all alike.
    pub p: Option<f64>,
    /// Repeatability: √MS_within (ISO 5725-2).
    pub s_r: f64,
    /// From run to run: √max(0, (MS_between − MS_within)/n₀), n₀ = (N − Σnᵢ²/N)/(runs − 1).
    pub s_run: f64,
    /// Intermediate precision: √(s_r² + s_run²) (ISO 5725-3).
    pub s_intermediate: f64,
}

impl Anova {
    /// Of at least two runs with a degree of freedom left within them. `fitted` is how many numbers were
    /// fitted to the touches beside the runs' means.
    pub fn of(runs: &[&Heights], fitted: usize) -> Option<Self> {
        let count = |run: &Heights| run.offsets.len();
        let total: usize = runs.iter().map(|run| count(run)).sum();
        let df_between = runs.len().checked_sub(1).filter(|df| *df > 0)?;
        let df_within = total.checked_sub(runs.len() + fitted).filter(|df| *df > 0)?;
        let ss_within = sums::sum(runs.iter().map(|run| sums::squares(&run.offsets)));

        let means: Vec<Height> = runs.iter().map(|run| run.mean()).collect();
        // Differences from one run's mean are small; whichever it is.
        let mut order: Vec<usize> = (0..means.len()).collect();
        order.sort_by_key(|i| means.get(*i).map(|mean| mean.near));
        let middle = order.get(order.len() / 2).and_then(|i| means.get(*i))?;
        let apart: Vec<f64> = means.iter().map(|mean| mean.minus(middle)).collect();
        let weighted =
            |f: fn(f64) -> f64| sums::sum(runs.iter().zip(&apart).map(|(run, x)| count(run) as f64 * f(*x)));
        let grand = weighted(|x| x) / total as f64;
        let terms = runs.iter().zip(&apart).map(|(run, x)| count(run) as f64 * (x - grand) * (x - grand));
        let ss_between = sums::sum(terms);

        let (between, within) = (ss_between / df_between as f64, ss_within / df_within as f64);
        let f = Some(between / within).filter(|f| within > 0.0 && f.is_finite());
        let n = total as f64;
        let sizes = sums::sum(runs.iter().map(|run| (count(run) as f64).powi(2)));
        let n0 = (n - sizes / n) / df_between as f64;
        let run_variance = ((between - within) / n0).max(0.0);
        Some(Self {
            runs: runs.len(),
            ss_between,
            ss_within,
            df_between,
            df_within,
            f,
            p: f.and_then(|f| distributions::f_tail(f, df_between as f64, df_within as f64)),
            s_r: within.sqrt(),
            s_run: run_variance.sqrt(),
            s_intermediate: (within + run_variance).sqrt(),
        })
    }
}
