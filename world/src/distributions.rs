//! Points and tails of the normal distribution, Student's t, χ², F and beta, from `statrs` and `libm`.
//!
//! Where there are no degrees of freedom or a value is not finite, there is no answer: `statrs` itself would
//! panic on some of them. Compared with 50-digit arithmetic in the tests: points and tails to ten digits,
//! points of F to eight.

use statrs::distribution::{Beta, ChiSquared, Continuous, ContinuousCDF, FisherSnedecor, StudentsT};

/// Degrees of freedom beyond which nothing changes any more, and the largest that are taken.
const MOST_DOF: f64 = 1e9;

/// The t that ν degrees of freedom exceed with probability `tail`, 0 < `tail` < ½.
pub fn t_point(tail: f64, dof: f64) -> Option<f64> {
    let dof = freedom(dof)?;
    let t = StudentsT::new(0.0, 1.0, dof).ok()?;
    // Of the lower tail, where a double is finest; then one step of Newton's, where it is small.
    let about = finite(-t.inverse_cdf(probability(tail)?))?;
    let step = (t.sf(about) - tail) / t.pdf(about);
    Some(if step.abs() < 1e-3 * about.abs() { about + step } else { about })
}

/// The χ² that ν degrees of freedom stay below with probability `p`.
pub fn chi_square_point(p: f64, dof: f64) -> Option<f64> {
    finite(ChiSquared::new(freedom(dof)?).ok()?.inverse_cdf(probability(p)?))
}

/// Probability of a χ² at least as large.
pub fn chi_square_tail(chi: f64, dof: f64) -> Option<f64> {
    let distribution = ChiSquared::new(freedom(dof)?).ok()?;
    finite(chi).map(|chi| if chi <= 0.0 { 1.0 } else { distribution.sf(chi) })
}

/// The F that is exceeded with probability `tail`.
pub fn f_point(tail: f64, above: f64, below: f64) -> Option<f64> {
    let f = FisherSnedecor::new(freedom(above)?, freedom(below)?).ok()?;
    finite(f.inverse_cdf(1.0 - probability(tail)?))
}

/// Probability of an F at least as large.
pub fn f_tail(f: f64, above: f64, below: f64) -> Option<f64> {
    let distribution = FisherSnedecor::new(freedom(above)?, freedom(below)?).ok()?;
    finite(f).map(|f| if f <= 0.0 { 1.0 } else { distribution.sf(f) })
}

/// Probability of a standard normal number below `x`, and of one above.
pub fn normal(x: f64) -> (f64, f64) {
    let tail = |x: f64| 0.5 * libm::erfc(x * std::f64::consts::FRAC_1_SQRT_2);
    (tail(-x), tail(x))
}

/// Probability that a beta variable with both parameters `shape` lies below `x`.
pub fn beta_below(x: f64, shape: f64) -> Option<f64> {
    let beta = Beta::new(freedom(shape)?, shape).ok()?;
    finite(x).map(|x| beta.cdf(x.clamp(0.0, 1.0)))
}

/// The point below which a beta variable lies with probability `p`: by halving, so that small points keep
/// their digits.
pub fn beta_point(p: f64, a: f64, b: f64) -> Option<f64> {
    let (p, beta) = (probability(p)?, Beta::new(finite(a)?, finite(b)?).ok()?);
    let (mut low, mut high) = (-700.0, 0.0);
    for _ in 0..64 {
        let middle = (low + high) / 2.0;
        *(if beta.cdf(libm::exp(middle)) < p { &mut low } else { &mut high }) = middle;
    }
    Some(libm::exp((low + high) / 2.0))
}

/// Lower and upper limit of a share of which `part` of `whole` were seen (Clopper and Pearson, 1934), each
/// wrong with probability `alpha`.
pub fn share_limits(part: u64, whole: u64, alpha: f64) -> (f64, f64) {
    let (k, n) = (part as f64, whole as f64);
    let low = if part == 0 { 0.0 } else { beta_point(alpha, k, n - k + 1.0).unwrap_or(0.0) };
    let high = if part >= whole { 1.0 } else { beta_point(1.0 - alpha, k + 1.0, n - k).unwrap_or(1.0) };
    (low, high)
}

/// What a share of which none of `whole` was seen stays below at 95 %: 1 − 0.05^(1/n), about 3/n.
pub fn unseen(whole: u64) -> f64 {
    -libm::expm1(libm::log(0.05) / whole as f64)
}

/// Limits of a standard deviation s with ν degrees of freedom: s·√(ν/χ²), two-sided at 95 %.
pub fn limits_of_s(s: f64, dof: usize) -> Option<(f64, f64)> {
    let dof = dof as f64;
    let limit = |p: f64| chi_square_point(p, dof).map(|chi| s * (dof / chi).sqrt());
    Some((limit(0.975)?, limit(0.025)?))
}

fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}

fn freedom(dof: f64) -> Option<f64> {
    (dof > 0.0 && dof <= MOST_DOF).then_some(dof)
}

fn probability(p: f64) -> Option<f64> {
    (p > 0.0 && p < 1.0).then_some(p)
}
