//! A gauge check weighed against what was known, lengths in mm.

use num_traits::{Signed, Zero};

use super::{Exact, fraction, root, whole};

/// One growing part: u(g) in mm/K, temperature differences in K.
#[derive(Clone, Debug)]
pub struct Part {
    /// u(g).
    pub rate_u: Exact,
    /// w.
    pub trimmed: Exact,
    /// Δθ of the landing under test.
    pub under_test: Exact,
}

/// What goes in; u² in mm², speeds in mm/s, latency in s.
#[derive(Clone, Debug)]
pub struct Check {
    /// t.
    pub t: Exact,
    /// u(t).
    pub u: Exact,
    /// v₀.
    pub trimmed_at: Exact,
    /// v.
    pub speed: Exact,
    /// τ.
    pub latency: Exact,
    /// u(τ).
    pub latency_u: Exact,
    /// Growing parts.
    pub parts: Vec<Part>,
    /// t₀.
    pub made_with: Exact,
    /// g − c.
    pub too_high: Exact,
    /// What was applied on top.
    pub wish: Exact,
    /// u² of gauge and feel.
    pub felt: Exact,
    /// u² of the landing without its own t and growth.
    pub landing: Exact,
}

/// What comes out.
#[derive(Clone, Debug)]
pub struct Trimmed {
    /// The new t.
    pub t: Exact,
    /// The new v₀.
    pub speed: Exact,
    /// The new w.
    pub warmings: Vec<Exact>,
    /// The new u²(t).
    pub variance: Exact,
    /// K.
    pub weight: Exact,
    /// i.
    pub innovation: Exact,
    /// A + R.
    pub both: Exact,
    /// |i| / √(A + R).
    pub disagreement: Exact,
    /// i² / (A + R).
    pub disagreement_squared: Exact,
}

fn square(x: &Exact) -> Exact {
    x * x
}

/// The rule; `None` where every uncertainty is 0.
pub fn weigh(check: &Check, afresh: bool) -> Option<Trimmed> {
    let before = square(&check.u);
    // As the core holds 4 µm.
    let common = square(&common()).min(check.felt.clone()).min(before.clone());
    let own = before - &common;
    let rest = &check.felt + &check.landing - &common;
    let faster = &check.speed - &check.trimmed_at;
    let mut prior = &own + square(&(&faster * &check.latency_u));
    for part in &check.parts {
        prior += square(&((&part.under_test - &part.trimmed) * &part.rate_u));
    }
    let both = &prior + &rest;
    if both.is_zero() {
        return None;
    }
    let innovation = &check.made_with - &check.t + &check.too_high - &check.wish;
    let weight = if afresh { whole(1) } else { &prior / &both };
    let step = &weight * (&innovation - &faster * &check.latency);
    let toward = |from: &Exact, to: &Exact| from + &weight * (to - from);
    let warmings = check.parts.iter().map(|part| toward(&part.trimmed, &part.under_test)).collect();
    let rest_squared = square(&(whole(1) - &weight)) * own;
    Some(Trimmed {
        t: &check.t + step,
        speed: toward(&check.trimmed_at, &check.speed),
        warmings,
        variance: common + rest_squared + square(&weight) * rest,
        disagreement: innovation.abs() / root(&both),
        disagreement_squared: square(&innovation) / &both,
        weight,
        innovation,
        both,
    })
}

/// 4 µm: what gauge and feel have in common from check to check, to the nearest 2⁻²⁴ mm.
pub fn common() -> Exact {
    fraction(67_109, 1 << 24)
}
