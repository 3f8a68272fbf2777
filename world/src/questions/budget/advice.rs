//! What an owner should know of an uncertainty budget, in words.

use super::lines::{Budget, BudgetLine, MoreTouches};

/// Share of the variance from which a source is worth a word.
const WORTH_A_WORD: f64 = 0.05;
/// Part of the standard deviation that more touches must save to be worth their time.
const WORTH_MORE_TOUCHES: f64 = 0.05;
/// How many standard errors a figure must stand clear of chance before anything is said of it.
const CLEAR: f64 = 2.0;
/// Part of itself to which a floor must be known to be named.
const KNOWN: f64 = 0.1;
/// By how much the core's u may differ from the simulated standard deviation and still be called alike.
const ALIKE: f64 = 0.05;

/// Sentences, the most important first.
pub(super) fn of(budget: &Budget) -> Vec<String> {
    let mut all = Vec::new();
    let off = off(budget);
    // What moves every landing alike comes first where it weighs more than all scatter.
    let leads = budget.simulated_mean.value.abs() > budget.simulated_sd.value;
    let (before, after) = if leads { (off, None) } else { (None, off) };
    all.extend(before);
    all.extend(first(budget, leads));
    if let Some(more) = &budget.more {
        all.extend(more_touches(budget, more));
    }
    all.extend(after);
    all.push(compared(budget));
    all
}

/// To a hundredth of a micrometre.
fn um(mm: f64) -> String {
    format!("{:.2} µm", mm * 1e3)
}

fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

fn first(budget: &Budget, is_second: bool) -> Option<String> {
    let start = if is_second { "Of the scatter, fix first" } else { "Fix first" };
    let reducible = budget.lines.iter().filter(|line| !line.reduced_by.is_empty());
    let line = reducible.max_by(|a, b| a.share.value.total_cmp(&b.share.value))?;
    let sd = budget.simulated_sd.value;
    let left = libm::sqrt((sd * sd - line.variance.value).max(0.0));
    if line.share.value <= 0.0 {
        return None;
    }
    if line.share.value <= CLEAR * line.share.error {
        return Some(
            "Too few runs (--each) to tell what to fix first: no source stands out from chance.".into(),
        );
    }
    Some(format!(
        "{start}: {}. It makes {} of the error's variance. To reduce it: {}. Without it the standard \
             deviation would be {} instead of {}.",
        line.source,
        percent(line.share.value),
        line.reduced_by,
        um(left),
        um(sd)
    ))
}

fn more_touches(budget: &Budget, more: &MoreTouches) -> Vec<String> {
    let (Some(now), Some(then)) = (more.figures_now.sd, more.figures_then.sd) else { return Vec::new() };
    let saved = 1.0 - then.value / now.value;
    let longer = more.figures_then.seconds.value - more.figures_now.seconds.value;
    // Both on the same draws, so that this is more than the error of what is saved.
    let chance = CLEAR * libm::hypot(now.error, then.error) / now.value;
    let worth = if saved + chance < WORTH_MORE_TOUCHES {
        "hardly worth it"
    } else if saved - chance >= WORTH_MORE_TOUCHES {
        "worth a try"
    } else {
        "too few runs (--each) to tell whether it is worth it"
    };
    // Refused cycles end early, so the mean may fall.
    let time = if longer > 0.5 { format!(", take {longer:.0} s more per cycle") } else { String::new() };
    let mut refused = String::new();
    let (before, after) = (more.figures_now.refused.value, more.figures_then.refused.value);
    if after > before + 0.001 {
        refused = format!(", and refuse {:.1} % of the cycles instead of {:.1} %", after * 1e2, before * 1e2);
    }
    let mut all = vec![format!(
        "Twice as many touches ({} instead of {} per station) would bring the standard deviation from {} to {}{time}{refused}: {worth}.",
        more.then,
        more.now,
        um(now.value),
        um(then.value)
    )];
    let rest: Vec<&str> = budget
        .lines
        .iter()
        .filter(|line| !line.is_touches && line.share.value >= WORTH_A_WORD)
        .map(|line| line.source.as_str())
        .collect();
    if CLEAR * more.floor_error > KNOWN * more.floor {
        all.push("Too few runs (--each) to tell what is left with any number of touches.".into());
    } else if !rest.is_empty() {
        all.push(format!(
            "No number of touches brings it below {}: they do nothing about {}.",
            um(more.floor),
            listed(&rest)
        ));
    }
    all
}

/// A mean that is off by more than its standard error explains, and by a tenth of the standard deviation.
fn off(budget: &Budget) -> Option<String> {
    let mean = budget.simulated_mean;
    let matters = mean.value.abs() > (3.0 * mean.error).max(0.1 * budget.simulated_sd.value);
    let whole = budget.simulated_sd.value * budget.simulated_sd.value;
    let line = budget
        .lines
        .iter()
        .filter(|line| line.shifts())
        .max_by(|a, b| a.weight_of_shift(whole).total_cmp(&b.weight_of_shift(whole)))?;
    let side = if mean.value > 0.0 { "far" } else { "near" };
    matters.then(|| {
        format!(
            "On average the tip is {} too {side}, mostly because of {}: it shifts every landing by {:+.2} µm, and no interval allows for that. To \
             reduce it: {}.",
            um(mean.value.abs()),
            line.source,
            line.shift.value * 1e3,
            line.reduced_by
        )
    })
}

fn compared(budget: &Budget) -> String {
    let (core, seen) = (budget.core_u, budget.simulated_sd.value);
    let start = format!("The core states u = {}, the simulation shows {}", um(core), um(seen));
    // By how much more the core allows for a source than there is of it.
    let excess = |line: &BudgetLine| line.core_u.map_or(0.0, |u| u * u) - line.variance.value;
    if core > seen * (1.0 + ALIKE) {
        let most = budget.lines.iter().max_by(|a, b| excess(a).total_cmp(&excess(b)));
        let why = most.map_or_else(String::new, |line| {
            let there_is = if line.variance.value > 0.0 { um(line.sd()) } else { "none".into() };
            let allowed = um(line.core_u.unwrap_or(0.0));
            format!(
                ", mostly because it allows {allowed} for {}, of which the simulated machine has {there_is}",
                line.source
            )
        });
        format!("{start}: the core is on the safe side by {}{why}.", percent(core / seen - 1.0))
    } else if core < seen * (1.0 - ALIKE) {
        let most = budget.lines.iter().min_by(|a, b| excess(a).total_cmp(&excess(b)));
        let why = most.map_or_else(String::new, |line| {
            format!(", mostly about {}: there is {} of it", line.source, um(line.sd()))
        });
        format!(
            "{start}: the core is too sure by {}{why}. Check the machine file against a study.",
            percent(1.0 - core / seen)
        )
    } else {
        format!("{start}: they agree.")
    }
}

/// `a, b and c`.
fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

#[cfg(test)]
mod tests;
