//! How long to wait until the machine has all but stopped growing.

use zdatum::Station;

use super::growth::{Form, Growth, growth, rest_at, rest_at_wait};
use super::heights::{Height, Heights};
use super::line::line;
use super::read::{Groups, TouchGroup};
use super::series::von_neumann_p;
use super::sums;
use crate::files::log::{Column, Log};
use crate::text::{Problem, json};
use crate::world::distributions;

/// Fewest touches that tell three parameters from noise.
pub const LEAST: usize = 6;
/// Shortest log, s, and the largest time: some thirty years.
const SHORTEST: f64 = 1e-3;
const MOST_TIME: f64 = 1e9;
/// A time constant of more than so many lengths of the log: the touches lie on a straight line as far as they
/// tell, and a limit would follow from their rounding alone.
const STRAIGHT: f64 = 10.0;
/// Chance that limits miss.
const TAIL: f64 = 0.05;
/// Chance that an end is seen where there is none: smaller, since a wait that is too short is believed.
const BENT: f64 = 0.01;

/// What the touches at one station tell.
#[derive(Clone, Debug, serde::Serialize)]
pub struct StationSoak {
    /// Which.
    #[serde(serialize_with = "json::station")]
    pub station: Station,
    /// Touches.
    pub n: usize,
    /// Time of the first and of the last touch, s.
    #[serde(flatten, serialize_with = "from_to")]
    pub times: (f64, f64),
    /// What came of it.
    #[serde(flatten)]
    pub told: SoakResult,
    /// Several runs of a station that hangs on the probe: the drop of each fetch is in it.
    #[serde(skip)]
    pub fetches: usize,
}

/// What a log of a station tells.
#[derive(Clone, Debug, serde::Serialize)]
#[serde(tag = "result", rename_all = "kebab-case")]
pub enum SoakResult {
    /// It grows towards an end that can be seen.
    Grows(Box<Growing>),
    /// It may as well grow on in a straight line: the log is too short to tell.
    TooShort {
        /// Growth in an hour, as seen.
        per_hour: f64,
        /// The best curve, where one was found.
        #[serde(skip)]
        best: Option<Growth>,
        /// Shortest time constant that fits, s, at 95 %; `None` where nothing of a curve is seen.
        #[serde(rename = "tau_low_s")]
        tau_low: Option<f64>,
    },
    /// It does not move by more than the limit.
    Still {
        /// The most that it may have moved over the log, at 95 %.
        most: f64,
    },
    /// Nothing is seen, but more than the limit may hide in the noise.
    TooNoisy {
        /// The most that it may have moved over the log, at 95 %.
        most: f64,
    },
}

/// A growth whose end can be seen. Times in s, from the first touch on.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Growing {
    /// The height at the curve's start.
    pub start: Height,
    /// The height at its end.
    #[serde(skip)]
    pub end: Height,
    /// The curve, t from the first touch on.
    #[serde(flatten)]
    pub fit: Growth,
    /// Limits of τ at 95 %.
    #[serde(flatten, serialize_with = "tau_limits")]
    pub tau: (f64, f64),
    /// Residual standard deviation.
    pub s: f64,
    /// What was still to come at the last touch, and its standard uncertainty.
    #[serde(flatten, serialize_with = "left_at_end")]
    pub left: (f64, f64),
    /// When what is still to come falls below the limit; 0 where it was so from the first touch on.
    #[serde(rename = "wait_s")]
    pub wait: f64,
    /// Its standard uncertainty.
    #[serde(rename = "wait_u_s")]
    pub wait_u: f64,
    /// Its limits at 95 %.
    #[serde(flatten, serialize_with = "wait_limits")]
    pub waits: (f64, f64),
    /// Residuals run in the same direction for long: the curve does not describe them.
    pub bent: bool,
}

macro_rules! pairs {
    ($($field:ident = $low:literal, $high:literal;)*) => {$(
        fn $field<S: serde::Serializer>(pair: &(f64, f64), serializer: S) -> Result<S::Ok, S::Error> {
            json::limits([$low, $high], Some(*pair), serializer)
        }
    )*};
}

// The two keys of each pair in JSON.
pairs! {
    from_to = "from_s", "to_s";
    tau_limits = "tau_low_s", "tau_high_s";
    left_at_end = "left_at_end", "left_at_end_u";
    wait_limits = "wait_low_s", "wait_high_s";
}

impl StationSoak {
    /// Whether the touches tell how long to wait.
    pub fn tells(&self) -> bool {
        matches!(self.told, SoakResult::Grows(_) | SoakResult::Still { .. })
    }

    /// How long to wait after the first touch, s, to be sure at 97.5 %.
    pub fn wait(&self) -> Option<f64> {
        match &self.told {
            SoakResult::Grows(growing) => Some(growing.waits.1),
            SoakResult::Still { .. } => Some(0.0),
            _ => None,
        }
    }
}

/// Reads a log and fits each station that has touches enough. `left` is the limit, above zero.
///
/// # Errors
/// A counted touch without a time, times that run backwards, too few touches at every station, all at the
/// same time.
pub fn soak(log: &Log, left: f64) -> Result<Vec<StationSoak>, Problem> {
    let groups = Groups::of(log)?;
    check_times(log)?;
    let mut soaks = Vec::new();
    let mut fullest = 0;
    for station in Station::ALL {
        let series: Vec<&TouchGroup> = groups.at(station).collect();
        let z: Vec<_> = series.iter().flat_map(|group| group.z.iter().copied()).collect();
        let times: Vec<f64> = series.iter().flat_map(|group| group.times.iter().copied()).collect();
        fullest = fullest.max(z.len());
        let Some(heights) = Heights::of(&z) else { continue };
        let length = times.last().zip(times.first()).map_or(0.0, |(last, first)| last - first);
        if z.len() >= LEAST && length >= SHORTEST {
            let fetches = if station == Station::Tip { 1 } else { series.len() };
            soaks.push(fit(station, &times, &heights, left, fetches));
        }
    }
    if soaks.is_empty() {
        let title = if fullest >= LEAST {
            "all touches were taken at the same time".into()
        } else {
            format!("{fullest} counted touches at the fullest station, at least {LEAST} are needed")
        };
        return Err(Problem::new(format!("{}: {title}", log.source.name)).remedy(
            "touch one station, best the tip, once a minute or so from a cold start until it has stopped growing",
        ));
    }
    Ok(soaks)
}

fn check_times(log: &Log) -> Result<(), Problem> {
    let mut latest = None;
    for row in &log.rows {
        match log.value::<f64>(row, Column::Time)? {
            Some(time) if time.abs() > MOST_TIME => {
                return Err(log
                    .problem(row, Column::Time, "column `time_s`: must be within ±1e9 s", "seen here")
                    .remedy("give seconds since the log's start"));
            }
            Some(time) => {
                if let Some((_, before)) = latest.filter(|(latest, _)| time < *latest) {
                    return Err(super::read::back_in_time(log, before, row, "within the log"));
                }
                latest = Some((time, row));
            }
            None if row.counted => {
                let column = if log.has(Column::Time) { Column::Time } else { Column::Z };
                return Err(log
                    .problem(row, column, "this touch has no time", "`time_s` is needed here")
                    .remedy(
                        "a soak is fitted over time: give the seconds of each touch in a column `time_s`",
                    ));
            }
            None => {}
        }
    }
    Ok(())
}

fn fit(station: Station, times: &[f64], heights: &Heights, left: f64, fetches: usize) -> StationSoak {
    let first = times.first().copied().unwrap_or(0.0);
    let last = times.last().copied().unwrap_or(0.0);
    let t: Vec<f64> = times.iter().map(|time| time - first).collect();
    let told = told(&t, heights, left);
    StationSoak { station, n: t.len(), times: (first, last), told, fetches }
}

fn told(t: &[f64], heights: &Heights, left: f64) -> SoakResult {
    let y = &heights.offsets;
    let end = t.last().copied().unwrap_or(0.0);
    let straight = line(t, y);
    let slope = straight.map_or((0.0, 0.0, 1), |line| (line.slope, line.slope_sd, line.dof));
    // What may have moved over the log, were it a straight line.
    let most = distributions::t_point(TAIL / 2.0, slope.2 as f64)
        .map_or(f64::INFINITY, |k| slope.0.abs() + k * slope.1)
        * end;
    let still = || if most <= left { SoakResult::Still { most } } else { SoakResult::TooNoisy { most } };

    let all = sums::squares(y);
    let found = growth(t, y, Form::Free);
    let rest = found.map_or(all, |fit| fit.rest);
    let dof = t.len().saturating_sub(3);
    // Against a height that does not change.
    let moved = distributions::f_tail((all - rest) / 2.0 / (rest / dof as f64), 2.0, dof as f64);
    if all <= 0.0 || (rest > 0.0 && moved.is_none_or(|p| p > TAIL)) {
        return still();
    }
    let allowed = allowed(rest, dof, TAIL);
    let per_hour = slope.0 * 3600.0;
    let tau_low = |from: f64| {
        let low = edge(|tau| rest_at(t, y, tau) <= allowed, from, end / 1e4);
        (low <= STRAIGHT * end).then_some(low)
    };
    let line_rest = straight.map_or(f64::INFINITY, |line| line.s * line.s * line.dof as f64);
    match found {
        Some(fit) if line_rest > self::allowed(rest, dof, BENT) => {
            grows(t, y, heights, left, fit, allowed, end).map_or_else(
                || SoakResult::TooShort { per_hour, best: Some(fit), tau_low: tau_low(fit.tau) },
                |growing| SoakResult::Grows(Box::new(growing)),
            )
        }
        best => {
            SoakResult::TooShort { per_hour, best, tau_low: tau_low(best.map_or(end * 10.0, |fit| fit.tau)) }
        }
    }
}

/// Residual sums of squares up to this one belong to values of one parameter inside limits that miss with
/// chance `tail`: the likelihood's profile (Bates and Watts, *Nonlinear Regression Analysis*, 1988, 6.1;
/// *from memory*).
fn allowed(rest: f64, dof: usize, tail: f64) -> f64 {
    let f = distributions::f_point(tail, 1.0, dof as f64).unwrap_or(f64::INFINITY);
    rest * (1.0 + f / dof as f64) + f64::MIN_POSITIVE
}

fn grows(
    t: &[f64],
    y: &[f64],
    heights: &Heights,
    left: f64,
    fit: Growth,
    allowed: f64,
    end: f64,
) -> Option<Growing> {
    let inside = |tau: f64| rest_at(t, y, tau) <= allowed;
    let high = edge(inside, fit.tau, 1e5 * end.max(fit.tau));
    if high >= 1e5 * end {
        return None;
    }
    let tau = (edge(inside, fit.tau, end / 1e4), high);
    let limit = left.copysign(fit.b);
    let wait = fit.tau * (fit.b.abs() / left).ln();
    let by_tau = (fit.b.abs() / left).ln();
    let by_b = fit.tau / fit.b;
    let square = (by_tau * fit.tau_sd).powi(2) + (by_b * fit.b_sd).powi(2) + 2.0 * by_tau * by_b * fit.b_tau;
    let wait_u = square.max(0.0).sqrt();
    let within = |wait: f64| rest_at_wait(t, y, wait, limit, &fit) <= allowed;
    let later = outwards(within, wait, wait_u.max(1e-6 * end), 1e4 * end)?;
    let sooner = outwards(within, wait, -wait_u.max(1e-6 * end), 1e4 * end).unwrap_or(f64::NEG_INFINITY);
    let residuals: Vec<f64> = t.iter().zip(y).map(|(t, y)| y - (fit.a + fit.b - fit.left(*t))).collect();
    let end_height = Height { near: heights.middle, rest: fit.a + fit.b };
    Some(Growing {
        start: Height { rest: end_height.rest - fit.b, ..end_height },
        end: end_height,
        fit,
        tau,
        s: fit.s(),
        left: (fit.left(end), fit.left_sd(end)),
        wait: wait.max(0.0),
        wait_u,
        waits: (sooner.max(0.0), later.max(0.0)),
        bent: von_neumann_p(&residuals).is_some_and(|p| p < 1e-3),
    })
}

/// Where `inside` ends on the way from a value inside, in factors, towards `limit`; `limit` where it does
/// not.
fn edge(inside: impl Fn(f64) -> bool, from: f64, limit: f64) -> f64 {
    let (mut within, mut beyond) = (from.ln(), limit.ln());
    let step = if beyond > within { 0.1 } else { -0.1 };
    let mut at = within;
    loop {
        at += step;
        if (step > 0.0) == (at >= beyond) {
            return limit;
        }
        if !inside(at.exp()) {
            beyond = at;
            break;
        }
        within = at;
    }
    for _ in 0..60 {
        let middle = (within + beyond) / 2.0;
        if inside(middle.exp()) { within = middle } else { beyond = middle }
    }
    within.exp()
}

/// Where `inside` ends from a value inside on, in growing steps, first `step`; `None` where it does not
/// before `limit` away.
fn outwards(inside: impl Fn(f64) -> bool, from: f64, step: f64, limit: f64) -> Option<f64> {
    let (mut within, mut size) = (from, step);
    let mut beyond = loop {
        let at = within + size;
        if (at - from).abs() > limit {
            return None;
        }
        if !inside(at) {
            break at;
        }
        (within, size) = (at, size * 1.5);
    };
    for _ in 0..40 {
        let middle = (within + beyond) / 2.0;
        if inside(middle) { within = middle } else { beyond = middle }
    }
    Some(within)
}

#[cfg(test)]
mod tests;
