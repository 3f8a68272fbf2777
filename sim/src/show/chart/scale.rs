//! From values to places.

/// A scale: values from `low` to `high` lie evenly, or by their logarithm, between two places in pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
    logarithmic: bool,
}

impl Scale {
    /// An even scale. What is empty or no number is widened to something that can be drawn.
    pub fn linear(low: f64, high: f64, from: f64, to: f64) -> Self {
        let (low, high) = sound(low, high);
        Self { low, high, from, to, logarithmic: false }
    }

    /// A logarithmic scale; an even one where `low` is not above zero.
    pub fn logarithmic(low: f64, high: f64, from: f64, to: f64) -> Self {
        let (low, high) = sound(low, high);
        Self { low, high, from, to, logarithmic: low > 0.0 }
    }

    /// The lowest value.
    pub fn low(&self) -> f64 {
        self.low
    }

    /// The highest value.
    pub fn high(&self) -> f64 {
        self.high
    }

    /// The place of a value; beyond the ends, and for what is no number, the nearest end.
    pub fn at(&self, value: f64) -> f64 {
        let value = if value.is_nan() { self.low } else { value.clamp(self.low, self.high) };
        let part = if self.logarithmic {
            libm::log(value / self.low) / libm::log(self.high / self.low)
        } else {
            (value - self.low) / (self.high - self.low)
        };
        self.from + part * (self.to - self.from)
    }

    /// Whether a value lies on the scale.
    pub fn holds(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}

/// Two ends that are numbers and apart, by what a double can tell at their size.
fn sound(low: f64, high: f64) -> (f64, f64) {
    // Nothing that is drawn is larger; so no difference overflows.
    let held = |x: f64| if x.is_finite() { x.clamp(-1e15, 1e15) } else { 0.0 };
    let (low, high) = (held(low).min(held(high)), held(low).max(held(high)));
    let least = (low.abs().max(high.abs()) * 1e-9).max(1e-9);
    if high - low < least { (low - least, high + least) } else { (low, high) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_have_their_places() {
        let scale = Scale::linear(-1.0, 3.0, 100.0, 0.0);
        assert_eq!([scale.at(-1.0), scale.at(0.0), scale.at(3.0)], [100.0, 75.0, 0.0]);
        let scale = Scale::logarithmic(0.25, 4.0, 0.0, 100.0);
        assert!((scale.at(1.0) - 50.0).abs() < 1e-9);
        assert!(scale.holds(1.0) && !scale.holds(4.1) && !scale.holds(f64::NAN));
    }

    #[test]
    fn what_cannot_be_drawn_is_kept_inside() {
        for (low, high) in [
            (0.0, 0.0),
            (5.0, 5.0),
            (3.0, -3.0),
            (f64::NAN, 1.0),
            (f64::INFINITY, f64::NEG_INFINITY),
            (f64::MIN, f64::MAX),
            (32_768.0, 32_768.0),
        ] {
            for scale in [Scale::linear(low, high, 0.0, 10.0), Scale::logarithmic(low, high, 0.0, 10.0)] {
                assert!(scale.low() < scale.high(), "{low} {high}");
                for value in [low, high, 0.0, f64::NAN, f64::INFINITY, f64::MIN] {
                    assert!((0.0..=10.0).contains(&scale.at(value)), "{value} on {scale:?}");
                }
            }
        }
    }
}
