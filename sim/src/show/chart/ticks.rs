//! Round numbers along an axis.

use super::number;

/// Where an axis is marked, with what is written there.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    /// The value.
    pub at: f64,
    /// What is written.
    pub label: String,
}

/// Ticks from `low` to `high` at whole multiples of 1, 2 or 5 times a power of ten, at most `most` of them
/// and as many as that allows; all with as many decimals as the step needs. None where `most` is 0 or the
/// ends are no numbers in order.
pub fn ticks(low: f64, high: f64, most: usize) -> Vec<Tick> {
    if !(low.is_finite() && high.is_finite() && low < high) || most == 0 {
        return Vec::new();
    }
    let span = high - low;
    // What is narrower cannot be told apart by doubles.
    if !span.is_finite() || span < 1e-300 {
        return Vec::new();
    }
    // One below the power that surely fits: from there upwards the first that fits is the finest.
    let finest = libm::floor(libm::log10(span / most as f64)) as i32 - 1;
    for exponent in finest..finest + 4 {
        for factor in [1.0, 2.0, 5.0] {
            let step = factor * libm::pow(10.0, f64::from(exponent));
            let (first, last) = (libm::ceil(low / step - 1e-6), libm::floor(high / step + 1e-6));
            let count = last - first + 1.0;
            if step > 0.0 && count <= most as f64 {
                let places = usize::try_from(-exponent).unwrap_or(0).min(12);
                return (0..count.max(0.0) as u64)
                    .map(|i| (first + i as f64) * step)
                    .map(|at| Tick { at, label: number(at, places) })
                    .collect();
            }
        }
    }
    Vec::new()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(low: f64, high: f64, most: usize) -> Vec<String> {
        ticks(low, high, most).into_iter().map(|tick| tick.label).collect()
    }

    #[test]
    fn ticks_are_round_and_as_many_as_fit() {
        assert_eq!(labels(0.0, 10.0, 6), ["0", "2", "4", "6", "8", "10"]);
        assert_eq!(labels(0.0, 10.0, 11).len(), 11);
        assert_eq!(labels(-22.0, 22.0, 5), ["−20", "−10", "0", "10", "20"]);
        assert_eq!(labels(0.0, 0.3, 4), ["0.0", "0.1", "0.2", "0.3"]);
        assert_eq!(labels(0.943, 0.962, 5), ["0.945", "0.950", "0.955", "0.960"]);
        assert_eq!(labels(0.0, 900_000.0, 5), ["0", "200000", "400000", "600000", "800000"]);
    }

    #[test]
    fn ticks_hold_for_any_ends() {
        let ends = [
            (32_767.9, 32_768.0),
            (-1e-7, 1e-7),
            (1e12, 1e12 + 1.0),
            (-1e15, 1e15),
            (0.0, 5e-324),
            (-3.0, -1.0),
        ];
        for (low, high) in ends {
            for most in 1..20 {
                let found = ticks(low, high, most);
                assert!(found.len() <= most, "{low} {high} {most}");
                let slack = (high - low) * 1e-3;
                assert!(
                    found.iter().all(|tick| low - slack <= tick.at && tick.at <= high + slack),
                    "{found:?}"
                );
                assert!(found.is_sorted_by(|a, b| a.at < b.at), "{found:?}");
                let mut labels: Vec<_> = found.iter().map(|tick| &tick.label).collect();
                labels.dedup();
                assert!(high - low < 1e-10 || labels.len() == found.len(), "{found:?}");
            }
        }
        // At least two for any span, where five may be drawn.
        for i in 1..2_000 {
            let high = f64::from(i) * 0.013;
            assert!((2..=5).contains(&ticks(0.0, high, 5).len()), "{high}");
        }
        for (low, high) in
            [(f64::NAN, 1.0), (1.0, 1.0), (2.0, 1.0), (0.0, f64::INFINITY), (f64::MIN, f64::MAX)]
        {
            assert_eq!(ticks(low, high, 5), []);
        }
        assert_eq!(ticks(0.0, 1.0, 0), []);
    }
}
