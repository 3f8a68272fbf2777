//! Effective degrees of freedom (JCGM 100:2008, G.4.1).

use num_traits::Zero;

use super::{Exact, whole};

/// u⁴ / Σ(uᵢ⁴/νᵢ), not truncated; `None` where infinite. Terms are u² with their ν, `None` where infinite.
pub fn welch_satterthwaite(terms: &[(Exact, Option<u32>)]) -> Option<Exact> {
    let total = terms.iter().fold(Exact::zero(), |sum, (variance, _)| sum + variance);
    let below = terms.iter().fold(Exact::zero(), |sum, (variance, nu)| match nu {
        Some(nu) => sum + variance * variance / whole(*nu),
        None => sum,
    });
    if below.is_zero() { None } else { Some(&total * &total / below) }
}

/// Truncated to the next lower whole number, a value within 2^-16 below a whole number counting as that
/// number.
pub fn truncate(nu: &Exact) -> Exact {
    let up = nu.ceil();
    if &up - nu <= super::of_bits(1, 16) { up } else { nu.floor() }
}

/// How far ν is from where its truncated value changes.
pub fn distance_to_change(nu: &Exact) -> f64 {
    let shifted = nu + super::of_bits(1, 16);
    let low = super::to_f64(&(&shifted - shifted.floor()));
    low.min(1.0 - low)
}
