//! Filament on the tip: it raises the tip's touches and is squashed a little by each.

use super::noise::Noise;

/// What is left after a touch, the first approach included: a ← a·(1 − squash).
#[inline]
pub(super) fn after_touch(filament: f64, noise: &Noise) -> f64 {
    filament * (1.0 - noise.tip_squash)
}
