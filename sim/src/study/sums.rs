//! Sums that keep their digits.

/// Σ x, with what each addition rounds off carried along (Neumaier, *ZAMM* 54, 1974).
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0_f64);
    for x in values {
        let next = total + x;
        lost += if total.abs() >= x.abs() { (total - next) + x } else { (x - next) + total };
        total = next;
    }
    // An infinite sum has lost something that is not a number.
    if lost.is_finite() { total + lost } else { total }
}

/// The mean; `None` of nothing.
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() { None } else { Some(sum(values.iter().copied()) / values.len() as f64) }
}

/// Σ (x − x̄)·(y − ȳ) over pairs, corrected for what rounding leaves of Σ (x − x̄); 0 of nothing.
///
/// The two-pass formula of Chan, Golub and LeVeque (*The American Statistician* 37, 1983).
pub fn products(x: &[f64], y: &[f64]) -> f64 {
    let (Some(x_mean), Some(y_mean)) = (mean(x), mean(y)) else { return 0.0 };
    let pairs = || x.iter().zip(y).map(move |(x, y)| (x - x_mean, y - y_mean));
    let (left_x, left_y) = (sum(pairs().map(|(x, _)| x)), sum(pairs().map(|(_, y)| y)));
    sum(pairs().map(|(x, y)| x * y)) - left_x * left_y / x.len().max(1) as f64
}

/// Σ (x − x̄)²; 0 of nothing.
pub fn squares(x: &[f64]) -> f64 {
    products(x, x).max(0.0)
}

/// Lowest and highest; the other way round of nothing.
pub fn range(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    values.into_iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (x.min(low), x.max(high)))
}

/// √(`sum`/`count`), or `None` where nothing is left to divide by.
pub fn root_mean(sum: f64, count: usize) -> Option<f64> {
    if count == 0 { None } else { Some((sum.max(0.0) / count as f64).sqrt()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_rounded_off_comes_back() {
        assert_eq!(sum([1.0, 1e100, 1.0, -1e100]), 2.0);
        assert_eq!(sum([]), 0.0);
        assert_eq!(sum([f64::MAX, f64::MAX]), f64::INFINITY);
    }

    #[test]
    fn squares_are_taken_about_the_mean() {
        let far = [1e9 + 4.0, 1e9 + 7.0, 1e9 + 13.0, 1e9 + 16.0];
        assert_eq!(range(far), (1e9 + 4.0, 1e9 + 16.0));
        assert_eq!((squares(&far), squares(&[3.0]), squares(&[])), (90.0, 0.0, 0.0));
        assert_eq!(products(&[1.0, 2.0, 4.0], &[3.0, 1.0, 2.0]), -1.0);
    }
}
