//! Outliers by the generalized extreme studentized deviate test (Rosner, *Technometrics* 25, 1983; ISO
//! 16269-4), at 5 %.

use super::sums;
use crate::world::distributions;

/// Chance that one is seen where there is none.
const ALPHA: f64 = 0.05;

/// One step of the test: the touch farthest from the mean of those still in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutlierStep {
    /// Its place in the series, from 0.
    pub index: usize,
    /// R = |x − x̄|/s.
    pub r: f64,
    /// λ, which R must exceed.
    pub critical: f64,
}

/// Touches that the test takes for outliers, farthest first: as many as its last step with R > λ, among at
/// most max(1, n/10).
pub fn outliers(offsets: &[f64]) -> Vec<OutlierStep> {
    let mut steps = steps(offsets, (offsets.len() / 10).max(1));
    let count = steps.iter().rposition(|step| step.r > step.critical).map_or(0, |last| last + 1);
    steps.truncate(count);
    steps
}

/// The test's first steps, at most `most` of them; fewer where nothing scatters any more or too few touches
/// are left.
pub fn steps(offsets: &[f64], most: usize) -> Vec<OutlierStep> {
    let n = offsets.len();
    // The farthest from the mean is always the lowest or the highest of those left.
    let mut order: Vec<usize> = (0..n).collect();
    let value = |index: &usize| offsets.get(*index).copied().unwrap_or(0.0);
    order.sort_by(|a, b| value(a).total_cmp(&value(b)));
    let sorted: Vec<f64> = order.iter().map(value).collect();
    let (mut low, mut high) = (0, n);
    let mut steps = Vec::new();
    let mut left = Left::of(&sorted);
    while steps.len() < most && high - low >= 3 {
        let s = (left.squares / (left.count - 1.0)).sqrt();
        // Of equal heights, a difference is what rounding left.
        let width = sorted.get(high - 1).zip(sorted.get(low)).map_or(0.0, |(high, low)| high - low);
        if s.is_nan() || s <= 0.0 || width <= 0.0 {
            break;
        }
        let above = sorted.get(high - 1).map_or(0.0, |x| x - left.mean);
        let below = sorted.get(low).map_or(0.0, |x| left.mean - x);
        let (at, far) = if above > below { (high - 1, above) } else { (low, below) };
        let Some(critical) = critical(n, steps.len() + 1) else { break };
        let index = order.get(at).copied().unwrap_or(0);
        steps.push(OutlierStep { index, r: far / s, critical });
        if above > below {
            high -= 1
        } else {
            low += 1
        }
        let gone = sorted.get(at).copied().unwrap_or(0.0);
        left = left.without(gone, sorted.get(low..high).unwrap_or(&[]));
    }
    steps
}

/// λᵢ = (n − i)·t/√((n − i − 1 + t²)·(n − i + 1)), t exceeded by n − i − 1 degrees of freedom with
/// probability α/(2(n − i + 1)).
fn critical(n: usize, i: usize) -> Option<f64> {
    let left = (n - i) as f64;
    let t = distributions::t_point(ALPHA / (2.0 * (left + 1.0)), left - 1.0)?;
    Some(left * t / ((left - 1.0 + t * t) * (left + 1.0)).sqrt())
}

/// Mean and sum of squares of those still in, so that a step need not go over all of them.
struct Left {
    count: f64,
    mean: f64,
    squares: f64,
    /// The sum of squares when it was last worked out afresh.
    fresh: f64,
}

impl Left {
    fn of(values: &[f64]) -> Self {
        let squares = sums::squares(values);
        let mean = sums::mean(values).unwrap_or(0.0);
        Self { count: values.len() as f64, mean, squares, fresh: squares }
    }

    /// Takes one out; `rest` is what is then left.
    fn without(&self, gone: f64, rest: &[f64]) -> Self {
        let mean = self.mean - (gone - self.mean) / (self.count - 1.0);
        let squares = self.squares - (gone - self.mean) * (gone - mean);
        // A difference of nearly equal sums would keep too few digits.
        if squares < 0.5 * self.fresh || rest.len() < 1000 {
            return Self::of(rest);
        }
        Self { count: self.count - 1.0, mean, squares, fresh: self.fresh }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wild_one_is_found_where_it_stands() {
        let offsets = [0.0, 1.0, -1.0, 0.5, 60.0, -0.5, 0.2, 0.1];
        let found: Vec<_> = outliers(&offsets).iter().map(|step| step.index).collect();
        assert_eq!(found, [4]);
        assert!(outliers(&[1.0, 1.0, 1.0, 1.0]).is_empty());
        assert!(outliers(&[1.0, 2.0]).is_empty() && outliers(&[]).is_empty());
    }

    #[test]
    fn long_series_are_judged_step_by_step_as_short_ones_are() {
        // A grid with far ones: the running sums against sums made afresh.
        let mut offsets: Vec<f64> = (0..3000).map(|i| f64::from(i % 101) / 50.0 - 1.0).collect();
        offsets.extend([40.0, -35.0, 30.0, 1e9]);
        let running = steps(&offsets, 300);
        for (taken, step) in running.iter().enumerate() {
            let gone: Vec<_> = running.iter().take(taken).map(|step| step.index).collect();
            let left: Vec<f64> =
                (0..offsets.len()).filter(|i| !gone.contains(i)).map(|i| offsets[i]).collect();
            let s = (sums::squares(&left) / (left.len() - 1) as f64).sqrt();
            let mean = sums::mean(&left).expect("some");
            let far = left.iter().map(|x| (x - mean).abs()).fold(0.0, f64::max);
            assert!((step.r / (far / s) - 1.0).abs() < 1e-10, "step {taken}");
        }
        assert_eq!(outliers(&offsets).len(), 4);
    }

    /// 1,500 values of ±1 and a wild one: without a common one the sums go on, without the wild one they are
    /// made afresh, since hardly any of the sum of squares is left. Short series are always made afresh.
    #[test]
    fn running_sums_are_made_afresh_where_digits_are_lost() {
        let mut values: Vec<f64> = (0..1_500).map(|i| if i % 2 == 0 { 1.0 } else { -1.0 }).collect();
        values.push(100.0);
        let all = Left::of(&values);
        let rest: Vec<f64> = values.iter().skip(1).copied().collect();
        let common = all.without(1.0, &rest);
        let exact = Left::of(&rest);
        assert_eq!((common.fresh, common.count), (all.fresh, 1_500.0));
        assert!(
            (common.mean - exact.mean).abs() < 1e-12 && (common.squares / exact.squares - 1.0).abs() < 1e-12
        );
        let wild = all.without(100.0, &values[..1_500]);
        assert_eq!((wild.fresh, wild.squares, wild.mean, wild.count), (1_500.0, 1_500.0, 0.0, 1_500.0));
        let few = Left::of(&values[..1_000]).without(1.0, &values[1..1_000]);
        assert_eq!(few.fresh, few.squares);
    }

    /// The first, then the wild ones hidden behind it: R against λ by Rosner's formula, here for ten values
    /// (t of 8 degrees of freedom at 0.25 % is 3.8325).
    #[test]
    fn critical_values_are_the_formulas() {
        let seen = critical(10, 1).expect("nine left");
        let t = 3.832_518_686_4_f64;
        assert!((seen - 9.0 * t / ((8.0 + t * t) * 10.0).sqrt()).abs() < 1e-6, "{seen}");
        // Table 4 of Iglewicz and Hoaglin, How to detect and handle outliers, 1993 (from memory): 2.29 for n
        // = 10.
        assert!((seen - 2.29).abs() < 0.005);
        let three = steps(&[0.0, 0.1, 5.0], 3);
        assert_eq!(three.iter().map(|step| step.index).collect::<Vec<_>>(), [2], "two are too few to go on");
        // The farthest are at the end of growing squares, whichever way they grow; of two as far the lower
        // one.
        for sign in [1.0, -1.0] {
            let squares: Vec<f64> = (0..40).map(|i| sign * f64::from(i * i)).collect();
            let taken: Vec<usize> = steps(&squares, 4).iter().map(|step| step.index).collect();
            assert_eq!(taken, [39, 38, 37, 36]);
        }
        assert_eq!(steps(&[1.0, 3.0, 0.0, 4.0], 1)[0].index, 2);
    }
}
