//! Standard normal numbers with the same bits on every host.
//!
//! The ziggurat of Marsaglia and Tsang (*Journal of Statistical Software* 5(8), 2000) with 256 layers: nearly
//! every number takes one random word, one product and one comparison. Where an exponential or a logarithm is
//! needed it is `libm`'s, never the host's, however the tool is built.

mod layers;
mod twofold;

use layers::Layers;

const LAYERS: Layers = Layers::new();
/// Where the lowest layer ends and the tail begins.
const TAIL: f64 = LAYERS.x[1];

static WIDTHS: [f64; 257] = LAYERS.x;
static DENSITIES: [f64; 257] = LAYERS.f;

/// The next normal number from a source of random words.
#[inline]
pub(super) fn draw(next: &mut impl FnMut() -> u64) -> f64 {
    loop {
        let word = next();
        // The low byte chooses the layer, the upper 52 bits the place in it: [2, 4) less 3.
        let layer = usize::from(word as u8);
        let place = f64::from_bits(0x4000_0000_0000_0000 | (word >> 12)) - 3.0;
        let x = place * WIDTHS[layer];
        if x.abs() < WIDTHS[layer + 1] {
            return x;
        }
        if let Some(x) = at_the_edge(layer, place, x, next) {
            return x;
        }
    }
}

/// Uniform in (0, 1), 52 bits.
fn open(word: u64) -> f64 {
    ((word >> 12) as f64 + 0.5) * (1.0 / 4_503_599_627_370_496.0)
}

/// Beyond the next layer's width, about one number in 80: under the density or not. `None` where not.
#[cold]
#[inline(never)]
fn at_the_edge(layer: usize, place: f64, x: f64, next: &mut impl FnMut() -> u64) -> Option<f64> {
    if layer == 0 {
        // Marsaglia's tail: exponentials, taken where they lie under the density.
        loop {
            let beyond = -libm::log(open(next())) / TAIL;
            if -2.0 * libm::log(open(next())) >= beyond * beyond {
                return Some((TAIL + beyond).copysign(place));
            }
        }
    }
    let (low, high) = (DENSITIES[layer], DENSITIES[layer + 1]);
    let height = high + (low - high) * open(next());
    (height < libm::exp(-0.5 * x * x)).then_some(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Random;

    #[test]
    fn layers_have_one_area_and_end_at_the_top() {
        let (x, f) = (WIDTHS, DENSITIES);
        let area = x[0] * f[1];
        for layer in 0..256 {
            let seen = x[layer] * (f[layer + 1] - f[layer]);
            assert!((seen / area - 1.0).abs() < 1e-11, "layer {layer}: {seen}, not {area}");
        }
        for (x, f) in x.into_iter().zip(f).skip(1) {
            assert!((libm::exp(-0.5 * x * x) / f - 1.0).abs() < 1e-15);
        }
        assert_eq!((x[256], f[256]), (0.0, 1.0));
        // The lowest layer: a rectangle with the tail beside it, √(π/2)·erfc(R/√2).
        let tail =
            libm::sqrt(std::f64::consts::FRAC_PI_2) * libm::erfc(TAIL * std::f64::consts::FRAC_1_SQRT_2);
        assert!(((TAIL * f[1] + tail) / area - 1.0).abs() < 1e-14);
    }

    /// The same bits however the tool is built: alone or in a workspace whose other members bring the host's
    /// functions along.
    #[test]
    fn the_bits_are_known() {
        let mut random = Random::of_run(1, 0);
        let (mut sum, mut beyond) = (0_u64, 0);
        for _ in 0..1_000_000 {
            let x = random.normal();
            beyond += u32::from(x.abs() > TAIL);
            sum = sum.rotate_left(1) ^ x.to_bits();
        }
        assert_eq!((sum, beyond), (6_107_849_119_060_057_612, 245));
    }
}
