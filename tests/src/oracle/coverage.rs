//! Two-sided coverage of Student's t, by its closed sums over whole degrees of freedom.
//!
//! Source: Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.3 (odd ν) and 26.7.4 (even ν), which
//! are exact, with θ = atan(t/√ν). The core inverts nothing and tabulates quantiles: the two have no formula
//! in common.

/// P(|T| ≤ t) at ν degrees of freedom, ν ≥ 1.
pub fn student(t: f64, nu: u64) -> f64 {
    let n = nu as f64;
    let (sin, cos2) = (t / (n + t * t).sqrt(), n / (n + t * t));
    if nu % 2 == 1 {
        let theta = (t / n.sqrt()).atan();
        let (mut term, mut sum) = (cos2.sqrt(), 0.0);
        let mut k = 1.0;
        while k + 2.0 <= n {
            sum += term;
            term *= cos2 * (k + 1.0) / (k + 2.0);
            k += 2.0;
        }
        (theta + sin * sum) * std::f64::consts::FRAC_2_PI
    } else {
        let (mut term, mut sum) = (1.0, 0.0);
        let mut k = 0.0;
        while k + 2.0 <= n {
            sum += term;
            term *= cos2 * (k + 1.0) / (k + 2.0);
            k += 2.0;
        }
        sin * sum
    }
}

/// P(|Z| ≤ z) of the normal, by the series of the error function: √(2/π)·e^(−z²/2)·(z + z³/3 + z⁵/(3·5) + …).
pub fn normal(z: f64) -> f64 {
    let (mut term, mut sum, mut k) = (z, 0.0, 1.0);
    while term > 1e-18 {
        sum += term;
        k += 2.0;
        term *= z * z / k;
    }
    sum * (-z * z / 2.0).exp() * (2.0 / std::f64::consts::PI).sqrt()
}

/// The t at which the coverage is `p`; ν `None` where infinite.
pub fn factor(p: f64, nu: Option<u64>) -> f64 {
    let cover = |t: f64| nu.map_or_else(|| normal(t), |nu| student(t, nu));
    let (mut low, mut high) = (0.5, 128.0);
    // The normal's series needs room below where e^(−z²/2) is lost.
    if nu.is_none() {
        high = 8.0;
    }
    while high - low > 1e-12 * high {
        let middle = 0.5 * (low + high);
        if cover(middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
