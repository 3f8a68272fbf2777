//! The map of coverage for people and for programs.

use super::campaign::thousands;
use crate::text::Object;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::shown;
use crate::text::object::Value;
use zdatum_world::questions::coverage::{Condition, Coverage, CoverageCell, DRIFT, Rests, TOUCHES};

/// The object `coverage_map` of `docs/json.md`.
pub fn json(found: &Coverage, seed: u64) -> Object {
    let machine = |cell: &CoverageCell| {
        Object::default()
            .with("rests_on", cell.rests.word())
            .with("noise", cell.condition.word())
            .with("touches", cell.touches)
            .with("studied", cell.studied)
            .estimate("coverage", cell.held.map(|share| share.estimate()))
            .figure("p_refused", cell.refused.map(|share| share.estimate().value))
            .with("short", cell.is_short(found.stated))
    };
    Object::default()
        .with("format", 1_u8)
        .with("complete", found.complete)
        .with("runs", found.runs)
        .with("seed", seed)
        .figure("stated", found.stated)
        .with("machines", found.cells.iter().map(machine).collect::<Value>())
}

/// The page: at most 80 columns.
pub fn page(found: &Coverage, machine: &str, seed: u64) -> String {
    let mut out = String::new();
    let stated = found.stated * 100.0;
    line!(&mut out, "{BOLD}How often the stated {stated:.0} % interval holds the true landing{BOLD:#}");
    line!(&mut out, "{FAINT}machine: {}{FAINT:#}", shown(machine));
    line!(&mut out, "{FAINT}seed {seed}, {} cycles each, on the same draws{FAINT:#}", thousands(found.runs));
    if !found.complete {
        line!(&mut out, "Interrupted: this is what was done so far.");
    }
    for rests in Rests::ALL {
        table(&mut out, found, rests);
    }
    line!(&mut out);
    summary(&mut out, found);
    out
}

fn table(out: &mut String, found: &Coverage, rests: Rests) {
    let cells: Vec<&CoverageCell> = found.cells.iter().filter(|cell| cell.rests == rests).collect();
    if cells.is_empty() {
        return;
    }
    line!(out);
    line!(out, "{BOLD}{}{BOLD:#}", rests.name());
    line!(out, "  {FAINT}{:<27}{:<31}without, %{FAINT:#}", "", "with a study, %");
    let mut heads = String::new();
    for (studied, touches) in columns() {
        let gap = if !studied && touches == TOUCHES[1] { " " } else { "" };
        heads += &format!("{gap}{touches:>4} ");
    }
    line!(out, "  {FAINT}{:<19}{}{FAINT:#}", "touches", heads.trim_end());
    for condition in Condition::ALL {
        let mut row = format!("  {:<19}", condition.name());
        for (studied, touches) in columns() {
            if !studied && touches == TOUCHES[1] {
                row.push(' ');
            }
            let cell = cells
                .iter()
                .find(|cell| (cell.condition, cell.studied, cell.touches) == (condition, studied, touches));
            row += &match cell.and_then(|cell| Some((cell, cell.held?.estimate().value * 100.0))) {
                Some((cell, held)) if cell.is_short(found.stated) => {
                    format!("{YELLOW}{held:>4.1}!{YELLOW:#}")
                }
                Some((_, held)) if held >= 99.95 => " 100 ".into(),
                Some((_, held)) => format!("{held:>4.1} "),
                None => "   - ".into(),
            };
        }
        line!(out, "{}", row.trim_end());
    }
}

/// With a study first.
fn columns() -> impl Iterator<Item = (bool, u8)> {
    [true, false]
        .into_iter()
        .flat_map(|studied| TOUCHES.into_iter().filter(move |n| studied || *n > 1).map(move |n| (studied, n)))
}

fn summary(out: &mut String, found: &Coverage) {
    let text = format!(
        "All limits are wide open, and the band is eight times the scatter. Where the frame grows, {:.0} µm \
            is still to come; \"stated\" means that [soak] says so. With a study the scatter is known.",
        DRIFT * 1e3
    );
    paragraph(out, &text, 0, FAINT);
    line!(out);
    let short = found.short().count();
    if short == 0 {
        let text = format!("None of {} falls short of the promise.", found.cells.len());
        paragraph(out, &text, 0, Default::default());
        return;
    }
    let drifting = |cell: &&CoverageCell| cell.condition == Condition::Drifting;
    let drift = found.short().filter(drifting).count();
    let text = format!("{short} of {} fall short (marked !).", found.cells.len());
    paragraph(out, &text, 0, Default::default());
    let mut remedy = |count: usize, text: &str| {
        if count > 0 {
            paragraph(out, &format!("{count}: {text}"), 2, Default::default());
        }
    };
    remedy(
        drift,
        "the frame grows and the file does not say so: let it soak (zdatum soak), or state what is left in \
            [soak]",
    );
    remedy(
        short - drift,
        "a few touches say too little about their own scatter: make a study (zdatum study) or take seven",
    );
}
