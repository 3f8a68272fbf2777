//! Whether touches scatter as a normal distribution does.

use super::sums;
use crate::world::distributions;

/// Fewest touches that are judged (D'Agostino and Stephens, below).
pub const LEAST: usize = 8;

/// Anderson–Darling's test with mean and s taken from the touches.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Normality {
    /// A², as computed.
    pub a2: f64,
    /// Probability of an A² at least as large from a normal distribution.
    pub p: f64,
    /// The heights' steps are coarse beside s (more than half of it), which alone makes p small.
    pub stepped: bool,
}

/// Tests offsets; `None` with fewer than eight or without scatter.
///
/// A² = −n − Σ (2i − 1)/n·(ln Φ(zᵢ) + ln(1 − Φ(zₙ₊₁₋ᵢ))) over the ordered zᵢ = (xᵢ − x̄)/s; p from A²·(1 +
/// 0.75/n + 2.25/n²) (D'Agostino and Stephens, *Goodness-of-Fit Techniques*, 1986, table 4.9).
pub fn normality(offsets: &[f64]) -> Option<Normality> {
    let n = offsets.len();
    let s = sums::root_mean(sums::squares(offsets), n.checked_sub(1)?)?;
    let mean = sums::mean(offsets)?;
    if n < LEAST || s <= 0.0 {
        return None;
    }
    let mut sorted = offsets.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let tails: Vec<(f64, f64)> = sorted.iter().map(|x| distributions::normal((x - mean) / s)).collect();
    let terms = tails.iter().zip(tails.iter().rev()).enumerate().map(|(i, (low, high))| {
        let log = |p: f64| p.max(f64::MIN_POSITIVE).ln();
        (2 * i + 1) as f64 / n as f64 * (log(low.0) + log(high.1))
    });
    let a2 = -(n as f64) - sums::sum(terms);
    let n = n as f64;
    let gap = sorted.windows(2).filter_map(|pair| match pair {
        [a, b] if b > a => Some(b - a),
        _ => None,
    });
    let stepped = gap.fold(f64::INFINITY, f64::min) > 0.5 * s;
    Some(Normality { a2, p: probability(a2 * (1.0 + 0.75 / n + 2.25 / (n * n))), stepped })
}

fn probability(a: f64) -> f64 {
    let square = |c0: f64, c1: f64, c2: f64| (c0 + c1 * a + c2 * a * a).exp();
    if a < 0.2 {
        1.0 - square(-13.436, 101.14, -223.73)
    } else if a < 0.34 {
        1.0 - square(-8.318, 42.796, -59.938)
    } else if a < 0.6 {
        square(0.9177, -4.279, -1.38)
    } else if a < 13.0 {
        square(1.2937, -5.709, 0.0186)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests;
