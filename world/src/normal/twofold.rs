//! Numbers as the unevaluated sum of two doubles, about 31 decimal digits, in arithmetic that the compiler
//! can do.
//!
//! Dekker, "A floating-point technique for extending the available precision", *Numerische Mathematik* 18
//! (1971).

/// `high + low`, `high` being the double nearest to the sum.
#[derive(Clone, Copy, Debug)]
pub(super) struct Twofold {
    pub(super) high: f64,
    pub(super) low: f64,
}

impl Twofold {
    /// A double as it is.
    pub(super) const fn of(value: f64) -> Self {
        Self { high: value, low: 0.0 }
    }

    /// The exact sum of two doubles.
    const fn sum(a: f64, b: f64) -> Self {
        let high = a + b;
        let of_b = high - a;
        Self { high, low: (a - (high - of_b)) + (b - of_b) }
    }

    /// The exact product of two doubles.
    const fn product(a: f64, b: f64) -> Self {
        let high = a * b;
        let [(a, a_rest), (b, b_rest)] = [halves(a), halves(b)];
        Self { high, low: a_rest * b_rest - (((high - a * b) - a_rest * b) - a * b_rest) }
    }

    pub(super) const fn plus(self, other: Self) -> Self {
        let (high, low) = (Self::sum(self.high, other.high), Self::sum(self.low, other.low));
        let sum = Self::sum(high.high, high.low + low.high);
        Self::sum(sum.high, sum.low + low.low)
    }

    pub(super) const fn less(self, other: Self) -> Self {
        self.plus(Self { high: -other.high, low: -other.low })
    }

    pub(super) const fn times(self, other: Self) -> Self {
        let product = Self::product(self.high, other.high);
        Self::sum(product.high, product.low + (self.high * other.low + self.low * other.high))
    }

    pub(super) const fn over(self, other: Self) -> Self {
        let first = self.high / other.high;
        let rest = self.less(other.times(Self::of(first)));
        let second = rest.high / other.high;
        let rest = rest.less(other.times(Self::of(second)));
        Self::sum(first, second).plus(Self::of(rest.high / other.high))
    }

    /// ln(self/other) for self ≥ other: 2(z + z³/3 + z⁵/5 + …) with z = (self − other)/(self + other).
    pub(super) const fn log_ratio(self, other: Self) -> Self {
        let z = self.less(other).over(self.plus(other));
        let square = z.times(z);
        let (mut power, mut sum, mut exponent) = (z, z, 1.0);
        while power.high > 1e-33 {
            power = power.times(square);
            exponent += 2.0;
            sum = sum.plus(power.over(Self::of(exponent)));
        }
        sum.times(Self::of(2.0))
    }

    /// √self by Newton's method: six steps from a guess at most twice too large.
    pub(super) const fn root(self, guess: Self) -> Self {
        let mut root = guess;
        let mut step = 0;
        while step < 6 {
            root = root.plus(self.over(root)).times(Self::of(0.5));
            step += 1;
        }
        root
    }
}

/// A double as the sum of two with 26 bits each.
const fn halves(x: f64) -> (f64, f64) {
    let scaled = x * 134_217_729.0;
    let high = scaled - (scaled - x);
    (high, x - high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn assert_same(seen: Twofold, due: Twofold) {
        let off = seen.less(due);
        assert!((off.high / due.high).abs() < 1e-30, "{seen:?}, not {due:?}");
    }

    #[test]
    fn known_values_have_31_digits() {
        let third = Twofold::of(1.0).over(Twofold::of(3.0));
        assert_same(third, Twofold { high: 0.3333333333333333, low: 1.850371707708594e-17 });
        assert_same(third.times(Twofold::of(3.0)), Twofold::of(1.0));
        let ln_2 = Twofold { high: std::f64::consts::LN_2, low: 2.3190468138462996e-17 };
        assert_same(Twofold::of(2.0).log_ratio(Twofold::of(1.0)), ln_2);
        let root_2 = Twofold { high: std::f64::consts::SQRT_2, low: -9.667293313452913e-17 };
        assert_same(Twofold::of(2.0).root(Twofold::of(2.0)), root_2);
    }
}
