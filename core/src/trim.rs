//! A gauge check in, a trip depth out.
//!
//! Under the tip lies a gauge of thickness g; drag is first felt at commanded height c, in coordinates of a
//! landing made with trip depth t₀ at speed v. The landing was g − c too high, so t is too small by as much.
//! The check is weighed against what was known, as two estimates of one number are (the scalar form of least
//! squares with prior knowledge):
//!
//! ```text
//!     t_v = t − (v − v₀)·τ                 u_p² = u²(t) + (v − v₀)²·u²(τ)
//!     i   = (t₀ − t) + (g − c)             u_y² = u²(gauge) + u²(feel) + u²(landing without its u(t))
//!     K   = u_p² / (u_p² + u_y²)
//!     t ← t_v + K·i      v₀ ← v      u(t) ← max(√(1 − K)·u_p, 4 µm)
//! ```

use crate::arith::{self, Bounded, signed_product};
use crate::setup::Delay;
use crate::units::{Length, OutOfRange, Quantity, Ratio, Speed, Uncertainty, Variance, Wide};

/// What gauge and feel have in common from check to check, so that no number of checks averages it away: 4 µm
/// (*common practice*).
pub const COMMON_U: Uncertainty = match Uncertainty::from_bits(67_109) {
    Ok(u) => u,
    Err(_) => Uncertainty::ZERO,
};

/// Disagreement beyond which something else must have moved, in units of its standard uncertainty.
pub const MOST_DISAGREEMENT: u32 = 4;

/// What is known of the trip depth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Depth {
    /// t.
    pub t: Length,
    /// u(t).
    pub u: Uncertainty,
    /// v₀, the speed for which t holds.
    pub speed: Speed,
}

/// What a gauge, or a nudge during a first layer, said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Check {
    /// g − c; for a nudge by δ (down is negative): −δ.
    pub too_high: Length,
    /// t₀, the trip depth with which the landing was made.
    pub made_with: Length,
    /// v, the speed of that landing's plate touches.
    pub speed: Speed,
    /// u of the gauge's thickness; 0 for a nudge, which has none.
    pub gauge_u: Uncertainty,
    /// u of the feel of first drag.
    pub feel_u: Uncertainty,
    /// u of that landing without its u(t).
    pub landing_u: Uncertainty,
}

/// How the check counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weighing {
    /// Against what was known.
    Weighed,
    /// After work on switch, mount or shoulder: what was known counts for nothing (K = 1).
    Afresh,
}

/// A trip depth after a check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trimmed {
    /// The new trip depth with its uncertainty and speed.
    pub depth: Depth,
    /// New t − old t.
    pub change: Length,
    /// K, 0 to 1.
    pub weight: Ratio,
    /// |i| / √(u_p² + u_y²).
    pub disagreement: Ratio,
    /// Whether the check may be applied: the disagreement is at most 4, or the trim starts afresh.
    pub accepted: bool,
}

/// Weighs a check against what was known.
///
/// Afresh, u(t) becomes u_y (never below 4 µm): the limit of the formula for a worthless prior, where the
/// literal K = 1 would leave none of the check's own doubt.
///
/// # Errors
/// *Out of range* where an uncertainty is 4 mm or more, the check differs by 16 m or more, all uncertainties
/// are 0, or the disagreement is 65,536 or more.
pub fn trim(known: &Depth, delay: &Delay, check: &Check, weighing: Weighing) -> Result<Trimmed, OutOfRange> {
    // Speeds are below 2^26, latencies below 2^29.
    let faster = (check.speed.to_bits() as i32).minus(known.speed.to_bits() as i32);
    let late = signed_product(faster, delay.latency.to_bits() as i32);
    let late = Wide::from_bits(arith::shift_round(late, 16));

    let mut prior = known.u.variance()?;
    prior.add_product(faster.unsigned_abs(), delay.latency_u.to_bits())?;
    let seen = check.gauge_u.variance()?.plus(check.feel_u.variance()?)?.plus(check.landing_u.variance()?)?;
    let both = prior.plus(seen)?;
    if both == Variance::ZERO {
        return Err(OutOfRange { quantity: Quantity::Ratio });
    }

    let innovation = check.made_with.minus(known.t)?.plus(check.too_high)?;
    if innovation.to_bits().unsigned_abs() >= 1 << 30 {
        return Err(OutOfRange { quantity: Quantity::Length });
    }
    let (weight, variance) = match weighing {
        Weighing::Afresh => (1_u64 << 32, seen),
        Weighing::Weighed => {
            let weight = arith::ratio_bits(prior.to_bits() >> 1, (both.to_bits() >> 1).max(1), 32);
            (weight, scaled(prior, (1_u64 << 32).minus(weight.min(1 << 32))))
        }
    };

    // 2^-16 mm times 2^-32, below 2^62.
    let part = arith::shift_round(i64::from(innovation.to_bits()).times(weight as i64), 16);
    let t = known.t.widen().minus(late).plus(Wide::from_bits(part)).round()?;
    let size = u64::from(innovation.to_bits().unsigned_abs());
    let disagreement = arith::ratio_bits(size, u64::from(both.root_bits().max(1)), 30);
    // i² from 2^-32 to 2^-60 mm².
    let limit = u64::from(MOST_DISAGREEMENT * MOST_DISAGREEMENT);
    let too_far = arith::product_above(size.times(size), 1 << 28, both.to_bits(), limit);
    Ok(Trimmed {
        depth: Depth { t, u: variance.root().max(COMMON_U), speed: check.speed },
        change: t.minus(known.t)?,
        weight: Ratio::from_bits((weight.saturating_add(1 << 15) >> 16) as i64)?,
        disagreement: Ratio::from_bits(i64::try_from(disagreement).unwrap_or(i64::MAX))?,
        accepted: !too_far || weighing == Weighing::Afresh,
    })
}

/// variance · share / 2^32, share at most 2^32.
fn scaled(variance: Variance, share: u64) -> Variance {
    let (high, low) = arith::mul_wide(variance.to_bits(), share);
    Variance::from_bits((high << 32) | (low >> 32))
}
