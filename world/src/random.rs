//! Random numbers: one stream a run, the same on every host and with any number of threads.
//!
//! xoshiro256++ (Blackman and Vigna) seeded from seed and run by SplitMix64; normals by a ziggurat of our
//! own.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

use super::normal;

/// One run's stream.
#[derive(Clone, Debug)]
pub struct Random(Xoshiro256PlusPlus);

impl Random {
    /// The stream of a run.
    pub fn of_run(seed: u64, run: u64) -> Self {
        // Two rounds of mixing keep the streams of neighbouring seeds and runs apart.
        Self(Xoshiro256PlusPlus::seed_from_u64(mix(mix(seed) ^ run)))
    }

    /// A standard normal number.
    #[inline]
    pub fn normal(&mut self) -> f64 {
        normal::draw(&mut || self.0.next_u64())
    }

    /// Uniform in [0, 1), 53 bits.
    #[inline]
    pub fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }

    /// Uniform in [−½, ½).
    #[inline]
    pub fn centred(&mut self) -> f64 {
        self.uniform() - 0.5
    }
}

/// SplitMix64's finalizer (Steele, Lea and Flood, 2014).
fn mix(x: u64) -> u64 {
    let x = x.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x ^ (x >> 31)
}
