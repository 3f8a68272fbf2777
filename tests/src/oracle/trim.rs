//! A gauge check weighed against what was known, lengths in mm.

use num_traits::{Signed, Zero};

use super::{Exact, fraction, root, whole};

/// What goes in; u² in mm², speeds in mm/s, latency in s.
#[derive(Clone, Debug)]
pub struct Check {
    /// t.
    pub t: Exact,
    /// u(t).
    pub u: Exact,
    /// v − v₀.
    pub faster: Exact,
    /// τ.
    pub latency: Exact,
    /// u(τ).
    pub latency_u: Exact,
    /// t₀.
    pub made_with: Exact,
    /// g − c.
    pub too_high: Exact,
    /// u_y²: gauge, feel and landing.
    pub seen: Exact,
}

/// What comes out.
#[derive(Clone, Debug)]
pub struct Trimmed {
    /// The new t.
    pub t: Exact,
    /// Its u² before the common part's limit.
    pub variance: Exact,
    /// K.
    pub weight: Exact,
    /// i.
    pub innovation: Exact,
    /// |i| / √(u_p² + u_y²).
    pub disagreement: Exact,
    /// i² / (u_p² + u_y²).
    pub disagreement_squared: Exact,
}

/// The rule; `None` where every uncertainty is 0.
pub fn weigh(check: &Check, afresh: bool) -> Option<Trimmed> {
    let at_speed = &check.t - &check.faster * &check.latency;
    let by_speed = &check.faster * &check.latency_u;
    let prior = &check.u * &check.u + &by_speed * &by_speed;
    let both = &prior + &check.seen;
    if both.is_zero() {
        return None;
    }
    let innovation = &check.made_with - &check.t + &check.too_high;
    let weight = if afresh { whole(1) } else { &prior / &both };
    let variance = if afresh { check.seen.clone() } else { (whole(1) - &weight) * &prior };
    let squared = &innovation * &innovation / &both;
    Some(Trimmed {
        t: at_speed + &weight * &innovation,
        variance,
        weight,
        disagreement: innovation.abs() / root(&both),
        disagreement_squared: squared,
        innovation,
    })
}

/// 4 µm: what gauge and feel have in common from check to check.
pub fn common() -> Exact {
    fraction(4, 1000)
}
