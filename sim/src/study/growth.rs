//! The curve of a machine that warms: y = a + b·(1 − exp(−t/τ)), by least squares.
//!
//! a and b follow from τ by a straight line, so τ is first sought on a grid, which finds the right valley
//! whatever the log; then `rmpfit` (Levenberg–Marquardt with the exact derivatives) finishes all three
//! together.

use rmpfit::{MPConfig, MPFitter, MPPar, MPResult, MPSide};

use super::line::{FittedLine, line, line_from_zero};
use super::sums;

/// Time constants that are tried: this many to a factor of ten.
const PER_DECADE: i32 = 24;
/// Time constants from this part of the log's length up to as many times its length.
const REACH: f64 = 1e3;

/// Which curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// y = a + b·(1 − exp(−t/τ)).
    Free,
    /// The same with a = 0: it starts at nothing.
    FromZero,
}

impl Form {
    fn parameters(self) -> usize {
        match self {
            Form::Free => 3,
            Form::FromZero => 2,
        }
    }
}

/// The curve that fits best, with standard deviations of its parameters by the residuals' scatter.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Growth {
    /// y at t = 0.
    #[serde(skip)]
    pub a: f64,
    /// Standard deviation of a.
    #[serde(rename = "start_u")]
    pub a_sd: f64,
    /// All that is to come from t = 0 on; negative where it shrinks.
    #[serde(rename = "growth")]
    pub b: f64,
    /// Its standard deviation.
    #[serde(rename = "growth_u")]
    pub b_sd: f64,
    /// Time constant.
    #[serde(rename = "tau_s")]
    pub tau: f64,
    /// Its standard deviation.
    #[serde(rename = "tau_u_s")]
    pub tau_sd: f64,
    /// Covariance of b and τ.
    #[serde(skip)]
    pub b_tau: f64,
    /// Residual sum of squares.
    #[serde(skip)]
    pub rest: f64,
    /// Points less parameters.
    #[serde(skip)]
    pub dof: usize,
}

impl Growth {
    /// What is still to come at time t.
    pub fn left(&self, t: f64) -> f64 {
        self.b * (-t / self.tau).exp()
    }

    /// Its standard deviation.
    pub fn left_sd(&self, t: f64) -> f64 {
        let still = (-t / self.tau).exp();
        let by_tau = self.b * still * t / (self.tau * self.tau);
        let square =
            (still * self.b_sd).powi(2) + (by_tau * self.tau_sd).powi(2) + 2.0 * still * by_tau * self.b_tau;
        square.max(0.0).sqrt()
    }

    /// Residual standard deviation.
    pub fn s(&self) -> f64 {
        sums::root_mean(self.rest, self.dof).unwrap_or(0.0)
    }
}

/// Fits the curve; `None` with fewer points than parameters and one more, where times do not differ, or where
/// no curve is found.
pub fn growth(t: &[f64], y: &[f64], form: Form) -> Option<Growth> {
    let (t_most, y_most) = scales(t, y)?;
    // Of order one, whatever the units.
    let scaled = |x: &[f64], most: f64| x.iter().map(|x| x / most).collect::<Vec<_>>();
    let mut curve = Curve::new(scaled(t, t_most), scaled(y, y_most), form);
    let dof = t.len().checked_sub(form.parameters()).filter(|dof| *dof > 0)?;
    let (tau, line) = best_on_grid(&curve.t, &curve.y, form)?;
    let mut found = [line.intercept, line.slope, tau.ln()];
    let status = curve.mpfit(&mut found).ok()?;
    let [a, b, log_tau] = found;
    let tau = log_tau.exp();
    let variance = status.best_norm / dof as f64;
    let covariance = |i: usize, j: usize| status.covar.get(3 * i + j).map_or(0.0, |c| c * variance);
    let fit = Growth {
        a: a * y_most,
        b: b * y_most,
        tau: tau * t_most,
        a_sd: covariance(0, 0).sqrt() * y_most,
        b_sd: covariance(1, 1).sqrt() * y_most,
        tau_sd: covariance(2, 2).sqrt() * tau * t_most,
        b_tau: covariance(1, 2) * y_most * tau * t_most,
        rest: status.best_norm * y_most * y_most,
        dof,
    };
    [fit.a, fit.b, fit.tau, fit.a_sd, fit.b_sd, fit.tau_sd].iter().all(|x| x.is_finite()).then_some(fit)
}

/// Least residual sum of squares for a given τ, with a and b free.
pub fn rest_at(t: &[f64], y: &[f64], tau: f64) -> f64 {
    at_tau(t, y, tau, Form::Free).map_or(f64::INFINITY, |line| line.rest)
}

/// Least residual sum of squares where `left` is still to come at time `wait`, with a and τ free.
pub fn rest_at_wait(t: &[f64], y: &[f64], wait: f64, left: f64, start: &Growth) -> f64 {
    let rest = |log_tau: f64| {
        let tau = log_tau.exp();
        let curve: Vec<f64> = t.iter().zip(y).map(|(t, y)| y + left * ((wait - t) / tau).exp()).collect();
        let rest = sums::squares(&curve);
        if rest.is_finite() { rest } else { f64::MAX }
    };
    lowest(rest, start.tau.ln())
}

/// The lowest value of a function with one valley around `from`: steps outwards until it rises, then golden
/// sections.
fn lowest(f: impl Fn(f64) -> f64, from: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut middle, mut high) = (from - 0.05, from, from + 0.05);
    let mut least = f(middle);
    for _ in 0..400 {
        let (below, above) = (f(low), f(high));
        if below < least {
            (high, middle, least) = (middle, low, below);
            low = middle - 1.5 * (high - middle);
        } else if above < least {
            (low, middle, least) = (middle, high, above);
            high = middle + 1.5 * (middle - low);
        } else {
            break;
        }
        if !(-700.0..700.0).contains(&low) || !(-700.0..700.0).contains(&high) {
            return least;
        }
    }
    for _ in 0..80 {
        let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        let (at_a, at_b) = (f(a), f(b));
        least = least.min(at_a).min(at_b);
        if at_a < at_b {
            high = b
        } else {
            low = a
        }
        if high - low < 1e-6 {
            break;
        }
    }
    least
}

/// Largest time and the heights' scatter, to scale by.
fn scales(t: &[f64], y: &[f64]) -> Option<(f64, f64)> {
    let most = |x: &[f64]| x.iter().map(|x| x.abs()).fold(0.0, f64::max);
    let scales = (most(t), most(y));
    (sums::squares(t) > 0.0 && scales.1 > 0.0 && scales.0.is_finite() && scales.1.is_finite())
        .then_some(scales)
}

fn at_tau(t: &[f64], y: &[f64], tau: f64, form: Form) -> Option<FittedLine> {
    let basis: Vec<f64> = t.iter().map(|t| -(-t / tau).exp_m1()).collect();
    match form {
        Form::Free => line(&basis, y),
        Form::FromZero => line_from_zero(&basis, y),
    }
}

/// The best τ of a grid, with a and b for it.
fn best_on_grid(t: &[f64], y: &[f64], form: Form) -> Option<(f64, FittedLine)> {
    let (first, last) = sums::range(t.iter().copied());
    let length = last - first;
    let half = (REACH.log10() * f64::from(PER_DECADE)) as i32;
    let tried = (-half..=half).filter_map(|step| {
        let tau = length * 10_f64.powf(f64::from(step) / f64::from(PER_DECADE));
        Some((tau, at_tau(t, y, tau, form)?))
    });
    tried.filter(|(_, line)| line.rest.is_finite()).min_by(|(_, a), (_, b)| a.rest.total_cmp(&b.rest))
}

/// What the solver works on: a, b and ln τ.
struct Curve {
    t: Vec<f64>,
    y: Vec<f64>,
    config: MPConfig,
    parameters: [MPPar; 3],
}

impl Curve {
    fn new(t: Vec<f64>, y: Vec<f64>, form: Form) -> Self {
        let user = || MPPar { side: MPSide::User, ..MPPar::new() };
        let a = MPPar { fixed: form == Form::FromZero, ..user() };
        let config = MPConfig { ftol: 1e-15, xtol: 1e-13, gtol: 1e-13, ..MPConfig::new() };
        Self { t, y, config, parameters: [a, user(), user()] }
    }
}

impl MPFitter for Curve {
    fn eval(&mut self, parameters: &[f64], deviates: &mut [f64]) -> MPResult<()> {
        let [a, b, log_tau] = *parameters else { return Ok(()) };
        let tau = log_tau.exp();
        for ((deviate, t), y) in deviates.iter_mut().zip(&self.t).zip(&self.y) {
            *deviate = y - (a - b * (-t / tau).exp_m1());
        }
        Ok(())
    }

    fn number_of_points(&self) -> usize {
        self.t.len()
    }

    fn config(&self) -> &MPConfig {
        &self.config
    }

    fn parameters(&self) -> &[MPPar] {
        &self.parameters
    }

    fn jacobian(
        &mut self,
        parameters: &[f64],
        deviates: &mut [f64],
        columns: &mut [Option<Vec<f64>>],
    ) -> MPResult<()> {
        self.eval(parameters, deviates)?;
        let [_, b, log_tau] = *parameters else { return Ok(()) };
        let tau = log_tau.exp();
        let derivatives: [&dyn Fn(f64) -> f64; 3] =
            [&|_| -1.0, &|t| (-t / tau).exp_m1(), &|t| b * (t / tau) * (-t / tau).exp()];
        for (column, derivative) in columns.iter_mut().zip(derivatives) {
            if let Some(column) = column {
                for (cell, t) in column.iter_mut().zip(&self.t) {
                    *cell = derivative(*t);
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
