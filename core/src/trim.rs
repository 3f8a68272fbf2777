//! A gauge check in, a trip depth out.
//!
//! Under the tip lies a gauge of thickness g; drag is first felt at commanded height c, in coordinates of a
//! landing made with trip depth t₀ at speed v. The landing was g − c too high, so t is too small by as much.
//! The check is weighed against what was known, as two estimates of one number are (the scalar form of least
//! squares with prior knowledge). A gauge check sees the whole landing, so the trimmed t takes up the latency's
//! error at its speed and the growths' at their warmings; from then on only the differences from v₀ and wᵢ count:
//!
//! ```text
//!     i  = (t₀ − t) + (g − c) − wish
//!     c² = min((4 µm)², u²(gauge) + u²(feel), u²(t))        in common from check to check
//!     V  = u²(t) − c²
//!     A  = V + (v − v₀)²·u²(τ) + Σ (Δθᵢ − wᵢ)²·u²(gᵢ)
//!     R  = u²(gauge) + u²(feel) + u²(landing) − c²          the landing's without its t and growth terms
//!     K  = A / (A + R)
//!     t ← t + K·(i − (v − v₀)·τ)      v₀ ← v₀ + K·(v − v₀)      wᵢ ← wᵢ + K·(Δθᵢ − wᵢ)
//!     u²(t) ← c² + (1 − K)²·V + K²·R
//! ```

use crate::arith::{self, Bounded, signed_product};
use crate::setup::{Delay, Grows, MOST_GROWTH};
use crate::units::{
    Growth, Length, OutOfRange, Quantity, Ratio, Speed, Uncertainty, Variance, Warming, Wide,
};

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

/// A growing part, as a check sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Warmed {
    /// u(g), not negative.
    pub rate_u: Growth,
    /// w, the warming that t has taken up so far.
    pub trimmed: Warming,
    /// Δθ of the landing under test, print less touch.
    pub under_test: Warming,
}

/// What a gauge, or a nudge during a first layer, said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Check {
    /// g − c; for a nudge by δ (down is negative): −δ; for a first layer commanded at h and measured as m: m − h.
    pub too_high: Length,
    /// What was applied on top of the landing, on purpose; up is positive.
    pub wish: Length,
    /// t₀, the trip depth with which the landing was made.
    pub made_with: Length,
    /// v, the speed of that landing's plate touches.
    pub speed: Speed,
    /// u of the gauge's thickness; 0 for a nudge, which has none.
    pub gauge_u: Uncertainty,
    /// u of the feel of first drag.
    pub feel_u: Uncertainty,
    /// u of that landing without its trip depth, growth and plate latency, which the check weighs for itself: touches,
    /// terms between series, unseen, readings, datum latency, growth still to come.
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
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trimmed {
    /// The new trip depth with its uncertainty and speed.
    pub depth: Depth,
    /// The new w of each part, in the order given.
    pub warmings: heapless::Vec<Warming, MOST_GROWTH>,
    /// New t − old t.
    pub change: Length,
    /// i.
    pub innovation: Length,
    /// K, 0 to 1.
    pub weight: Ratio,
    /// |i| / √(A + R), the size of the check's z.
    pub disagreement: Ratio,
    /// Whether the check may be applied: the disagreement is at most 4, or the trim starts afresh.
    pub accepted: bool,
}

/// Weighs a gauge check against what is known of the trip depth. `parts` are the setup's growing parts in their
/// order; more than [`MOST_GROWTH`] are not looked at.
///
/// # Errors
/// *Out of range* where an uncertainty is 4 mm or more, the check differs by 16 m or more, all uncertainties
/// are 0, or the disagreement is 65,536 or more.
pub fn trim(
    known: &Depth,
    parts: &[Warmed],
    delay: &Delay,
    check: &Check,
    weighing: Weighing,
) -> Result<Trimmed, OutOfRange> {
    // Speeds are below 2^26, latencies below 2^29.
    let faster = (check.speed.to_bits() as i32).minus(known.speed.to_bits() as i32);
    let late = signed_product(faster, delay.latency.to_bits() as i32);
    let late = arith::shift_round(late, 16);

    let (before, common) = (known.u.variance()?, COMMON_U.variance()?);
    let felt = check.gauge_u.variance()?.plus(check.feel_u.variance()?)?;
    let common = common.min(felt).min(before);
    let less = |x: Variance| Variance::from_bits(x.to_bits().saturating_sub(common.to_bits()));
    let own = less(before);
    let rest = less(felt.plus(check.landing_u.variance()?)?);
    let mut prior = own;
    prior.add_product(faster.unsigned_abs(), delay.latency_u.to_bits())?;
    for part in parts.iter().take(MOST_GROWTH) {
        let untrimmed = part.under_test.to_bits().minus(part.trimmed.to_bits());
        prior.add_product(untrimmed.unsigned_abs(), part.rate_u.to_bits().unsigned_abs())?;
    }
    let both = prior.plus(rest)?;
    if both == Variance::ZERO {
        return Err(OutOfRange { quantity: Quantity::Ratio });
    }

    let innovation = check.made_with.minus(known.t)?.plus(check.too_high)?.minus(check.wish)?;
    if innovation.to_bits().unsigned_abs() >= 1 << 30 {
        return Err(OutOfRange { quantity: Quantity::Length });
    }
    let weight = match weighing {
        Weighing::Afresh => Weight::ALL,
        Weighing::Weighed => Weight::of(prior, both),
    };

    let step = weight.part((i64::from(innovation.to_bits()) << 16).minus(late));
    let t = known.t.widen().plus(Wide::from_bits(step)).round()?;
    let speed = Speed::from_bits(i64::from(known.speed.to_bits()).plus(weight.part_rounded(faster)))?;
    let mut warmings = heapless::Vec::new();
    for part in parts.iter().take(MOST_GROWTH) {
        let (was, now) = (part.trimmed.to_bits(), part.under_test.to_bits());
        let moved = Warming::from_bits(i64::from(was).plus(weight.part_rounded(now.minus(was))))?;
        let _ = warmings.push(moved);
    }
    let variance = common.plus(weight.rest_squared(own))?.plus(weight.squared(rest))?;

    let size = u64::from(innovation.to_bits().unsigned_abs());
    let disagreement = arith::ratio_bits(size, u64::from(both.root_bits().max(1)), 30);
    // i² from 2^-32 to 2^-60 mm².
    let limit = u64::from(MOST_DISAGREEMENT * MOST_DISAGREEMENT);
    let too_far = arith::product_above(size.times(size), 1 << 28, both.to_bits(), limit);
    Ok(Trimmed {
        depth: Depth { t, u: variance.root(), speed },
        warmings,
        change: t.minus(known.t)?,
        innovation,
        weight: weight.ratio()?,
        disagreement: Ratio::from_bits(i64::try_from(disagreement).unwrap_or(i64::MAX))?,
        accepted: !too_far || weighing == Weighing::Afresh,
    })
}

/// A part was exchanged for another of the same growth: what t had taken up of the old one's error is a doubt of
/// its own from now on, and the new part's w is 0.
///
/// u²(t) ← u²(t) + w²·u²(g)
///
/// # Errors
/// *Out of range* where u(t) becomes 4 mm or more.
pub fn exchange(known: &Depth, part: &Grows) -> Result<Depth, OutOfRange> {
    let mut variance = known.u.variance()?;
    variance.add_product(part.trimmed.to_bits().unsigned_abs(), part.rate_u.to_bits().unsigned_abs())?;
    Ok(Depth { u: variance.root(), ..*known })
}

/// A part's growth was entered anew, from a sheet or a measurement: t moves so that landings at the trimmed warming
/// stay where they are.
///
/// t ← t + (g_new − g_old)·w
///
/// # Errors
/// *Out of range* beyond ±32,768 mm.
pub fn enter_growth(known: &Depth, part: &Grows, new: Growth) -> Result<Depth, OutOfRange> {
    let more = new.to_bits().minus(part.rate.to_bits());
    let moved = arith::shift_round(signed_product(more, part.trimmed.to_bits()), 16);
    Ok(Depth { t: known.t.widen().plus(Wide::from_bits(moved)).round()?, ..*known })
}

/// K in 2⁻³², 0 to 1.
#[derive(Clone, Copy)]
struct Weight(u64);

impl Weight {
    const ALL: Self = Self(1 << 32);

    fn of(prior: Variance, both: Variance) -> Self {
        let weight = arith::ratio_bits(prior.to_bits() >> 1, (both.to_bits() >> 1).max(1), 32);
        Self(weight.min(1 << 32))
    }

    fn ratio(self) -> Result<Ratio, OutOfRange> {
        Ratio::from_bits((self.0.saturating_add(1 << 15) >> 16) as i64)
    }

    /// K·x, |x| below 2^62, to the nearest, ties away from 0.
    fn part(self, x: i64) -> i64 {
        let (high, low) = arith::mul_wide(x.unsigned_abs(), self.0);
        let size = ((high << 32) | (low >> 32)).plus((low >> 31) & 1) as i64;
        if x < 0 { 0_i64.minus(size) } else { size }
    }

    fn part_rounded(self, x: i32) -> i64 {
        self.part(i64::from(x))
    }

    /// K²·v.
    fn squared(self, v: Variance) -> Variance {
        scaled(scaled(v, self.0), self.0)
    }

    /// (1 − K)²·v.
    fn rest_squared(self, v: Variance) -> Variance {
        let rest = Self::ALL.0.minus(self.0);
        scaled(scaled(v, rest), rest)
    }
}

/// variance · share / 2^32, share at most 2^32.
fn scaled(variance: Variance, share: u64) -> Variance {
    let (high, low) = arith::mul_wide(variance.to_bits(), share);
    Variance::from_bits((high << 32) | (low >> 32))
}
