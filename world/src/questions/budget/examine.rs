//! The uncertainty budget twice: what the core says, and what the simulated machine shows when each source is
//! switched off in turn.

use std::sync::atomic::AtomicBool;

use zdatum::series::MOST_TOUCHES;

use super::agreement::{Agreement, Stated};
use super::lines::{Budget, BudgetLine, MoreTouches};
use super::{advice, sources};
use crate as world;
use crate::engine::gather::{Gathered, moments};
use crate::engine::{Bench, Estimate, Figures, Progress};
use crate::questions::compare::with_touches;

/// Budget and agreement: what `--budget` shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Examined {
    /// The uncertainty budget; `None` where fewer than two cycles were accepted, or it was interrupted.
    pub budget: Option<Budget>,
    /// JCGM 101:2008, 8.1; `None` likewise.
    pub agreement: Option<Agreement>,
}

impl Examined {
    /// Interrupted at once.
    pub const NOTHING: Self = Self { budget: None, agreement: None };
}

/// What to examine.
#[derive(Clone, Copy, Debug)]
pub struct Examination<'a> {
    /// Names of growing parts, in the setup's order.
    pub growth_names: &'a [String],
    /// The machine in the world.
    pub bench: &'a Bench,
    /// Runs with everything on, and with each source off.
    pub runs: u64,
    /// Most runs for the interval.
    pub most: u64,
    /// Tolerance of the first-layer error, mm.
    pub within: f64,
}

/// Examines a machine on the current `rayon` pool; the same bits with any number of threads. `progress` is
/// told how many runs have been done since its last call. Once `stop` is set no new block begins.
pub fn examine(what: &Examination<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Examined {
    let Some(all) = Gathered::of(what.bench, 0..what.runs, stop, progress) else { return Examined::NOTHING };
    let budget = budget(what, &all, stop, progress);
    let stated = all.stated.u().zip(all.stated.expanded());
    let agreement = stated.and_then(|(u, expanded)| {
        Agreement::of(what.bench, Stated { y: 0.0, u, expanded }, what.most, stop, progress)
    });
    Examined { budget, agreement }
}

fn budget(
    what: &Examination<'_>,
    all: &Gathered,
    stop: &AtomicBool,
    progress: &Progress<'_>,
) -> Option<Budget> {
    let bench = what.bench;
    let core_u = all.stated.u()?;
    let accepted = all.errors.iter().copied().filter(|error| error.is_finite());
    let (simulated_mean, simulated_sd) = moments(accepted)?;
    let whole = simulated_sd.value * simulated_sd.value;
    let mut lines = Vec::new();
    let mut of_touches = 0.0;
    let whole_error = 2.0 * simulated_sd.value * simulated_sd.error;
    let mut squared_errors = whole_error * whole_error;
    for source in sources::all(what.growth_names, &bench.setup, &bench.machine.noise) {
        let core = source.core.and_then(|source| all.stated.variance_of(source)).filter(|v| *v > 0.0);
        let (variance, shift) = match source.without {
            Some(machine) => {
                let without = Bench { machine, ..bench.clone() };
                let without = Gathered::of(&without, 0..what.runs, stop, progress)?;
                difference(&all.errors, &without.errors)?
            }
            None => (Estimate { value: 0.0, error: 0.0 }, Estimate { value: 0.0, error: 0.0 }),
        };
        if source.is_touches {
            of_touches += variance.value;
            squared_errors += variance.error * variance.error;
        }
        let share = |x: f64| if whole > 0.0 { x / whole } else { 0.0 };
        let line = BudgetLine {
            source: source.source,
            core_u: core.map(libm::sqrt),
            core_share: core.map(|variance| variance / (core_u * core_u)),
            variance,
            share: Estimate { value: share(variance.value), error: share(variance.error) },
            shift,
            is_touches: source.is_touches,
            reduced_by: source.reduced_by,
            note: source.note,
        };
        // What neither the core counts nor the world shows is left out, such as a latency's uncertainty that
        // cancels.
        let in_core = source.core.is_some();
        let seen = variance.value.abs() > 3.0 * variance.error || shift.value.abs() > 3.0 * shift.error;
        let there = if in_core { line.core_u.is_some() || seen } else { variance.error > 0.0 || seen };
        if there {
            lines.push(line);
        }
    }
    lines.sort_by(|a, b| b.weight(whole).total_cmp(&a.weight(whole)));
    let floor = root(Estimate { value: whole - of_touches, error: libm::sqrt(squared_errors) });
    let more = more_touches(what, floor, stop, progress);
    let mut budget =
        Budget { runs: what.runs, lines, core_u, simulated_sd, simulated_mean, more, advice: Vec::new() };
    budget.advice = advice::of(&budget);
    Some(budget)
}

/// A standard deviation from its variance. Near zero the error is that of the root of the error, not without
/// bounds.
fn root(variance: Estimate) -> Estimate {
    let value = libm::sqrt(variance.value.max(0.0));
    let error = libm::sqrt(variance.value.max(0.0) + variance.error) - value;
    Estimate { value, error }
}

/// Variance and mean of the first less those of the second, over the runs that are accepted in both; each
/// with its standard error from the runs' own differences, which common draws keep small.
fn difference(with: &[f64], without: &[f64]) -> Option<(Estimate, Estimate)> {
    let pairs = with.iter().zip(without).filter(|(a, b)| a.is_finite() && b.is_finite());
    let (a, _) = moments(pairs.clone().map(|(a, _)| *a))?;
    let (b, _) = moments(pairs.clone().map(|(_, b)| *b))?;
    let square = |x: f64, mean: Estimate| (x - mean.value) * (x - mean.value);
    let (variance, _) = moments(pairs.clone().map(|(x, y)| square(*x, a) - square(*y, b)))?;
    let (shift, _) = moments(pairs.map(|(x, y)| x - y))?;
    Some((variance, shift))
}

fn more_touches(
    what: &Examination<'_>,
    floor: Estimate,
    stop: &AtomicBool,
    progress: &Progress<'_>,
) -> Option<MoreTouches> {
    let touch = &what.bench.setup.draft().touch;
    let (now, then) = (touch.least, touch.least.checked_mul(2)?);
    if usize::from(then) > MOST_TOUCHES {
        return None;
    }
    let figures = |touches| {
        let setup = with_touches(&what.bench.setup, touches, touch.centre).ok()?;
        let machine = world::Machine::new(&setup, &what.bench.machine.noise);
        let bench = Bench { setup, machine, ..what.bench.clone() };
        Some(Figures::with_core_u(&bench, what.runs, what.within, stop, progress)?.0)
    };
    let (figures_now, figures_then) = (figures(now)?, figures(then)?);
    let reached = [figures_now.sd, figures_then.sd];
    // Chance may put the difference of the sources above what was reached.
    let least = reached.iter().flatten().fold(floor.value, |least, sd| least.min(sd.value));
    Some(MoreTouches { now, then, figures_now, figures_then, floor: least, floor_error: floor.error })
}

#[cfg(test)]
mod tests;
