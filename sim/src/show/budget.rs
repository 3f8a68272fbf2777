//! The uncertainty budget twice and the agreement of the intervals, for people and for programs.

use super::campaign::thousands;
use super::charts::bar;
use super::figures::{self, um};
use crate::text::Object;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, line, paragraph};
use crate::text::name::{cut, padded, shown};
use crate::text::object::Value;
use zdatum_world::engine::Estimate;
use zdatum_world::questions::budget::agreement::{Agreement, Agrees, Check};
use zdatum_world::questions::budget::{Budget, BudgetLine, Examined, MoreTouches};

/// Width of the column of sources, and of the widest bar.
const NAMES: usize = 22;
const BAR: u32 = 8;

/// The object `budget` of `docs/json.md`.
pub fn json(budget: &Budget) -> Object {
    Object::default()
        .with("runs", budget.runs)
        .figure("core_u", budget.core_u)
        .estimate("simulated_sd", budget.simulated_sd)
        .estimate("simulated_mean", budget.simulated_mean)
        .with("sources", budget.lines.iter().map(source_json).collect::<Value>())
        .with("more_touches", budget.more.as_ref().map(more_json))
        .with("advice", budget.advice.clone())
}

fn source_json(line: &BudgetLine) -> Object {
    // mm² to a hundredth of a square nanometre.
    let squared = |x: f64| Number::decimal(x, 14);
    Object::default()
        .with("source", line.source.as_str())
        .figure("core_u", line.core_u)
        .figure("core_share", line.core_share)
        .with("variance", squared(line.variance.value))
        .with("variance_standard_error", squared(line.variance.error))
        .estimate("share", line.share)
        .estimate("shift", line.shift)
        .with("averaged_by_touches", line.is_touches)
        .with("reduced_by", line.reduced_by)
        .with("note", line.note)
}

fn more_json(more: &MoreTouches) -> Object {
    Object::default()
        .with("now", more.now)
        .with("then", more.then)
        .with("figures_now", figures::json(&more.figures_now))
        .with("figures_then", figures::json(&more.figures_then))
        .figure("floor", more.floor)
}

/// The object `agreement` of `docs/json.md`.
pub fn agreement_json(agreement: &Agreement) -> Object {
    let Agreement { coverage, stated, simulated, checks } = agreement;
    let stated =
        Object::default().figure("y", stated.y).figure("u", stated.u).figure("expanded_u", stated.expanded);
    let simulated = Object::default()
        .with("blocks", simulated.blocks)
        .with("runs", simulated.trials)
        .with("accepted", simulated.accepted)
        .estimate("y", simulated.y)
        .estimate("u", simulated.u)
        .estimate("low", simulated.low)
        .estimate("high", simulated.high)
        .with("stable", simulated.stable);
    let check = |check: &Check| {
        Object::default()
            .with("digits", u64::from(check.digits))
            .figure("delta", check.delta)
            .estimate("d_low", check.low)
            .estimate("d_high", check.high)
            .with("agrees", check.agrees.word())
    };
    Object::default()
        .figure("coverage", *coverage)
        .with("stated", stated)
        .with("simulated", simulated)
        .with("checks", checks.iter().map(check).collect::<Value>())
}

/// The page: at most 80 columns.
pub fn page(examined: &Examined, machine: &str, seed: u64) -> String {
    let mut out = String::new();
    line!(
        &mut out,
        "{BOLD}Uncertainty budget: what the core states, what the simulated machine shows{BOLD:#}"
    );
    line!(&mut out, "{FAINT}machine: {}{FAINT:#}", shown(machine));
    match &examined.budget {
        Some(budget) => sources(&mut out, budget, seed),
        None => line!(&mut out, "None: fewer than two cycles were accepted, or it was interrupted."),
    }
    line!(&mut out);
    line!(
        &mut out,
        "{BOLD}Does the core's interval agree with the simulated one?{BOLD:#} JCGM 101:2008, 8.1"
    );
    match &examined.agreement {
        Some(agreement) => agree(&mut out, agreement),
        None => {
            let text = "Too few runs to tell: it takes two blocks of runs with accepted cycles (20,000 runs \
                at 95 %; --runs).";
            paragraph(&mut out, text, 2, Default::default());
        }
    }
    out
}

fn sources(out: &mut String, budget: &Budget, seed: u64) {
    let runs = thousands(budget.runs);
    line!(out, "{FAINT}seed {seed}, {runs} runs with each source on and off, on the same draws{FAINT:#}");
    line!(out);
    let name = padded("", NAMES);
    let heads = format!("{:>7} {:>12} {:>14} {:>8}", "core/µm", "simulated/µm", "of variance", "mean/µm");
    line!(out, "  {name}{FAINT}{heads}{FAINT:#}");
    for line in &budget.lines {
        let core = line.core_u.map_or("-".into(), |u| format!("{:.2}", u * 1e3));
        let share = format!("{:.1} ± {:.1} %", line.share.value.max(0.0) * 1e2, line.share.error * 1e2);
        let part = (line.share.value.clamp(0.0, 1.0) * 1e6) as u32;
        let name = padded(&cut(&line.source, NAMES), NAMES);
        let shift = if line.shifts() { format!("{:+.2}", line.shift.value * 1e3) } else { "0".into() };
        let (alone, clear) = alone(line);
        let bar = if clear { bar(part, 1_000_000, BAR) } else { String::new() };
        let row = format!("  {name}{core:>7} {alone:>12} {share:>14} {shift:>8} {bar}");
        line!(out, "{}", row.trim_end());
    }
    let (core, all) = (budget.core_u * 1e3, um(Some(budget.simulated_sd), false));
    let mean = budget.simulated_mean.value * 1e3;
    line!(out, "  {}{core:>7.2} {all:>12} {:>14} {mean:>+8.2}", padded("all together", NAMES), "");
    for note in notes(&budget.lines) {
        paragraph(out, &shown(&note), 2, FAINT);
    }
    line!(out);
    for advice in &budget.advice {
        paragraph(out, &shown(advice), 2, Default::default());
    }
    if let Some(more) = &budget.more {
        touches(out, more);
    }
}

/// What a source alone makes: the root of its variance, and whether that stands clear of its standard error;
/// else 0.
fn alone(line: &BudgetLine) -> (String, bool) {
    let variance = line.variance;
    if variance.value <= 2.0 * variance.error {
        return ("0".into(), false);
    }
    let sd = line.sd();
    (um(Some(Estimate { value: sd, error: variance.error / (2.0 * sd) }), false), true)
}

/// One note for all lines that share it.
pub(super) fn notes(lines: &[BudgetLine]) -> Vec<String> {
    let mut notes: Vec<(&str, Vec<&str>)> = Vec::new();
    for line in lines.iter().filter(|line| !line.note.is_empty()) {
        match notes.iter_mut().find(|(note, _)| *note == line.note) {
            Some((_, names)) => names.push(&line.source),
            None => notes.push((line.note, vec![&line.source])),
        }
    }
    notes.into_iter().map(|(note, names)| format!("{}: {note}", names.join(", "))).collect()
}

fn touches(out: &mut String, more: &MoreTouches) {
    line!(out);
    line!(out, "  {FAINT}touches per station {:>12} {:>12} {:>12}{FAINT:#}", "sd/µm", "seconds", "refused");
    for (count, figures) in [(more.now, &more.figures_now), (more.then, &more.figures_then)] {
        line!(
            out,
            "  {count:<19} {:>12} {:>12.1} {:>10.2} %",
            um(figures.sd, false),
            figures.seconds.value,
            figures.refused.value * 1e2
        );
    }
    line!(out, "  {:<19} {:>12.2}", "any number", more.floor * 1e3);
}

fn agree(out: &mut String, agreement: &Agreement) {
    let Agreement { coverage, stated, simulated, checks } = agreement;
    let (low, high) = (stated.y - stated.expanded, stated.y + stated.expanded);
    line!(
        out,
        "  {FAINT}{:.0} % interval {:>11} {:>10}   {}{FAINT:#}",
        coverage * 1e2,
        "from/mm",
        "to/mm",
        "u/mm"
    );
    line!(out, "  {:<14} {low:>+11.6} {high:>+10.6}   {:.6}", "core", stated.u);
    let (low, high, u) = (simulated.low, simulated.high, simulated.u);
    line!(out, "  {:<14} {:>+11.6} {:>+10.6}   {:.6}", "simulated", low.value, high.value, u.value);
    line!(
        out,
        "  {FAINT}{:<14} {:>11.6} {:>10.6}   {:.6}{FAINT:#}",
        "standard error",
        low.error,
        high.error,
        u.error
    );
    line!(out);
    line!(out, "  {FAINT}{:<30}{:>8} {:>10}{FAINT:#}", "agree within", "low end", "high end");
    for check in checks {
        let digits = if check.digits == 1 { "one digit of u" } else { "two digits of u" };
        let answer = match check.agrees {
            Agrees::Yes => "yes",
            Agrees::No => "no",
            Agrees::TooClose => "too close to say",
        };
        let within = format!("{:.6} mm, {digits}", check.delta);
        let (a, b) = (check.low.value, check.high.value);
        line!(out, "  {within:<29}{a:>9.6} {b:>10.6}   {BOLD}{answer}{BOLD:#}");
    }
    let runs = format!(
        "From {} runs in {} blocks, {} accepted.{}",
        thousands(simulated.trials),
        simulated.blocks,
        thousands(simulated.accepted),
        if simulated.stable {
            ""
        } else {
            " Ended by --runs before the results settled to a fifth of the finer tolerance."
        }
    );
    paragraph(out, &runs, 2, FAINT);
    paragraph(out, conclusion(agreement), 2, Default::default());
}

pub(super) fn conclusion(agreement: &Agreement) -> &'static str {
    let Agreement { stated, simulated, checks, .. } = agreement;
    if checks.iter().any(|check: &Check| check.agrees == Agrees::TooClose) {
        return "Where it is too close to say, more runs (--runs) would tell.";
    }
    if checks.iter().all(|check| check.agrees == Agrees::Yes) {
        return "The interval stated with each landing can be trusted.";
    }
    let wider =
        stated.y - stated.expanded < simulated.low.value && stated.y + stated.expanded > simulated.high.value;
    let narrower =
        stated.y - stated.expanded > simulated.low.value && stated.y + stated.expanded < simulated.high.value;
    if wider {
        "The core's interval is wider at both ends: it errs on the safe side."
    } else if narrower {
        "The core's interval is narrower at both ends: it promises too much. The uncertainty budget shows \
            what it does not allow for."
    } else {
        "The core's interval is off to one side of the simulated one: something shifts the error that no \
            touch shows."
    }
}
