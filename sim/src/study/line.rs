//! Straight lines by least squares.

use super::sums;

/// A line, with the standard deviations of its parameters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FittedLine {
    /// y at x = 0.
    pub intercept: f64,
    /// Its standard deviation; 0 where the line goes through the origin by rule.
    pub intercept_sd: f64,
    /// dy/dx.
    pub slope: f64,
    /// Its standard deviation.
    pub slope_sd: f64,
    /// Residual standard deviation.
    pub s: f64,
    /// Residual sum of squares.
    pub rest: f64,
    /// Degrees of freedom.
    pub dof: usize,
}

/// Σ (x − x̄)², Σ (x − x̄)(y − ȳ) and the residual sum of squares of one or more groups that share a slope
/// and have an intercept each.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LineSums {
    /// Σ (x − x̄)².
    pub xx: f64,
    /// Σ (x − x̄)(y − ȳ).
    pub xy: f64,
    /// Slope, 0 where x does not vary.
    pub slope: f64,
    /// Residual sum of squares about the slope.
    pub rest: f64,
    /// Points − groups − 1, at least 0.
    pub dof: usize,
}

impl LineSums {
    /// Of groups of points (x, y), each of one point or more.
    pub fn of<'a>(groups: impl Iterator<Item = (&'a [f64], &'a [f64])> + Clone) -> Self {
        let xx = sums::sum(groups.clone().map(|(x, _)| sums::squares(x)));
        let xy = sums::sum(groups.clone().map(|(x, y)| sums::products(x, y)));
        let slope = if xx > 0.0 { xy / xx } else { 0.0 };
        // From the residuals themselves: a difference of sums would lose the digits of a good fit.
        let rest = sums::sum(groups.clone().map(|(x, y)| {
            let residuals: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - slope * x).collect();
            sums::squares(&residuals)
        }));
        let (points, count) = groups.fold((0, 0), |(points, count), (x, _)| (points + x.len(), count + 1));
        Self { xx, xy, slope, rest, dof: usize::saturating_sub(points, count + 1) }
    }

    /// Standard deviation of the slope; `None` without degrees of freedom or where x does not vary.
    pub fn slope_sd(&self) -> Option<f64> {
        if self.xx <= 0.0 { None } else { sums::root_mean(self.rest, self.dof).map(|s| s / self.xx.sqrt()) }
    }
}

/// y = a + b·x through three points or more; `None` where x does not vary.
pub fn line(x: &[f64], y: &[f64]) -> Option<FittedLine> {
    let fit = LineSums::of(std::iter::once((x, y)));
    let (x_mean, y_mean) = (sums::mean(x)?, sums::mean(y)?);
    let s = sums::root_mean(fit.rest, fit.dof)?;
    let slope_sd = fit.slope_sd()?;
    Some(FittedLine {
        intercept: y_mean - fit.slope * x_mean,
        intercept_sd: s * (1.0 / x.len() as f64 + x_mean * x_mean / fit.xx).sqrt(),
        slope: fit.slope,
        slope_sd,
        s,
        rest: fit.rest,
        dof: fit.dof,
    })
}

/// y = b·x through two points or more.
pub fn line_from_zero(x: &[f64], y: &[f64]) -> Option<FittedLine> {
    let xx = sums::sum(x.iter().map(|x| x * x));
    let slope = sums::sum(x.iter().zip(y).map(|(x, y)| x * y)) / xx;
    let rest = sums::sum(x.iter().zip(y).map(|(x, y)| (y - slope * x).powi(2)));
    let dof = x.len().checked_sub(1)?;
    let s = sums::root_mean(rest, dof)?;
    let slope_sd = s / xx.sqrt();
    let line = FittedLine { intercept: 0.0, intercept_sd: 0.0, slope, slope_sd, s, rest, dof };
    (xx > 0.0 && slope.is_finite()).then_some(line)
}
