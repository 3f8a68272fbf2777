//! Growth of the frame while the cycle runs: D(s) = drift·(1 − e^(−s/τ)).

use super::noise::Noise;

/// D at `seconds` after the cycle's start, mm. It raises the tip, shoulder and plate heights and the true
/// landing alike.
#[inline]
pub fn drift(noise: &Noise, seconds: f64) -> f64 {
    if noise.drift == 0.0 { 0.0 } else { -noise.drift * libm::expm1(-seconds / noise.drift_tau_s) }
}
