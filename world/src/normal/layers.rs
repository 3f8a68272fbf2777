//! The ziggurat's layers, worked out by the compiler.
//!
//! Marsaglia and Tsang: under f(x) = e^(−x²/2), x ≥ 0, lie 256 layers of one area V. The lowest is a
//! rectangle of height f(R) with the tail beyond R; layer i > 0 reaches from f(xᵢ) to f(xᵢ₊₁) and is xᵢ wide.
//! So x₁ = R, f(xᵢ₊₁) = f(xᵢ) + V/xᵢ, and R is where x₂₅₆ comes out as 0. With 31 digits on the way, each
//! entry is the double nearest to the true value.

use super::twofold::Twofold;

/// Where the lowest layer ends and the tail begins: R = 3.65415288536100877164542972040.
const R: Twofold = Twofold { high: 3.654152885361009, low: -2.4038371788458352e-17 };
/// f(R) = 0.00126028593049859756413346221554.
const AT_R: Twofold = Twofold { high: 0.0012602859304985975, low: 2.5456987055086395e-20 };
/// The area of a layer: V = 0.00492867323397465534736177540234.
const AREA: Twofold = Twofold { high: 0.004928673233974655, low: -9.808438274118268e-21 };

/// Where each layer ends and how high the density is there.
pub(super) struct Layers {
    /// xᵢ; x₀ is as wide as a rectangle of the lowest layer's area.
    pub(super) x: [f64; 257],
    /// f(xᵢ); the lowest layer begins at 0.
    pub(super) f: [f64; 257],
}

impl Layers {
    /// All 256, and the top.
    pub(super) const fn new() -> Self {
        let mut layers = Self { x: [0.0; 257], f: [0.0; 257] };
        layers.x[0] = AREA.over(AT_R).high;
        let mut edge = Edge::LOWEST;
        let mut i = 1;
        while i < 256 {
            layers.x[i] = edge.x.high;
            layers.f[i] = edge.f.high;
            edge = edge.next();
            i += 1;
        }
        layers.f[256] = 1.0;
        layers
    }
}

/// The edge between two layers.
#[derive(Clone, Copy)]
struct Edge {
    x: Twofold,
    f: Twofold,
    /// x².
    square: Twofold,
}

impl Edge {
    const LOWEST: Self = Self { x: R, f: AT_R, square: R.times(R) };

    /// The edge above: x² falls by 2 ln(f(xᵢ₊₁)/f(xᵢ)).
    const fn next(self) -> Self {
        let f = self.f.plus(AREA.over(self.x));
        let square = self.square.less(f.log_ratio(self.f).times(Twofold::of(2.0)));
        Self { x: square.root(self.x), f, square }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What R, f(R) and V have to fulfil, to 28 digits.
    #[test]
    fn the_layers_have_the_areas_and_close_at_the_top() {
        // The tail beyond R is f(R)/(R + 1/(R + 2/(R + 3/…))), Laplace's continued fraction.
        let beyond = (1..=400).rev().fold(R, |below, k| R.plus(Twofold::of(f64::from(k)).over(below)));
        let lowest = AT_R.times(R).plus(AT_R.over(beyond));
        assert!((lowest.less(AREA).high / AREA.high).abs() < 1e-28);
        let top = (1..256).fold(Edge::LOWEST, |edge, _| edge.next());
        assert!(top.f.less(Twofold::of(1.0)).high.abs() < 1e-28);
        assert!(top.square.high.abs() < 1e-28);
    }

    /// Marsaglia and Tsang print R and V; the rest was worked out once with fifty digits.
    #[test]
    fn known_entries_have_the_same_bits() {
        let Layers { x, f } = Layers::new();
        assert_eq!(Ok(x[1]), "3.6541528853610088".parse::<f64>());
        assert_eq!(format!("{:.14}", AREA.high), "0.00492867323397");
        let known = [
            (1, 3.654152885361009, 0.0012602859304985975),
            (2, 3.449278298561431, 0.002609072746102163),
            (64, 2.025713947863854, 0.12850872227999954),
            (128, 1.535342571441514, 0.30769741250429195),
            (192, 1.0961066278520215, 0.5484139632552655),
            (254, 0.2861745917920725, 0.9598790918001063),
            (255, 0.2152418959848817, 0.9771017012676713),
        ];
        for (i, x_i, f_i) in known {
            assert_eq!((x[i], f[i]), (x_i, f_i), "layer {i}");
        }
        assert_eq!((x[0], f[0], x[256], f[256]), (3.910757959524916, 0.0, 0.0, 1.0));
    }
}
