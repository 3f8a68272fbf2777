//! The numbers of the pictures.

use super::parts::{Table, figure_of, share, um, words};
use crate::files::MachineFile;
use crate::judged::explained::Explained;
use crate::show::chart::{number, signed};
use crate::show::pictures::stations::StationHeights;
use crate::show::pictures::sweep::short;
use crate::text::name::shown;
use crate::text::number::{percent, uncertainty};
use zdatum_world::engine::Estimate;
use zdatum_world::questions::budget::Budget;
use zdatum_world::questions::compare::Comparison;
use zdatum_world::questions::sweep::Sweep;

pub(super) fn heights_table(heights: &StationHeights) -> Table {
    let [t, s, p] = heights.touched;
    let mut table = Table::new("Heights and lengths in mm", &["what", "mm", "standard uncertainty, mm"]);
    let u = |i: usize| {
        heights.touched_u.and_then(|all| all.get(i).map(|u| number(*u, 4))).unwrap_or_else(|| "–".into())
    };
    let mut row = |name: &str, value: String, u: String| {
        table.rows.push(vec![words(name), figure_of(value), figure_of(u)])
    };
    row("T, tip on datum switch", signed(t, 4), u(0));
    row("S, shoulder on datum switch", signed(s, 4), u(1));
    row("P, plunger on plate", signed(p, 4), u(2));
    row("t, trip depth", number(heights.trip_depth.0, 4), number(heights.trip_depth.1, 4));
    row("d, drop: S − T", number(heights.drop, 4), "–".into());
    row("r, rise: P − S − t", signed(heights.rise, 4), "–".into());
    row("corrections for speed and growth", signed(heights.corrections, 4), "–".into());
    let landing = heights
        .landing_u
        .map_or_else(|| "–".into(), |(u, percent)| format!("U {} at {percent} %", number(u, 4)));
    row("L, landing: P − (S − T) − t + corrections", signed(heights.landing, 4), landing);
    table
}

pub(super) fn examined_table(found: &Budget) -> Table {
    let mut table = Table::new(
        "Uncertainty budget: what the core states and what the simulated machine shows",
        &[
            "source",
            "core’s u, µm",
            "share of u², %",
            "simulated, share of variance",
            "moves the mean by",
            "what reduces it",
        ],
    );
    for line in &found.lines {
        let number_or =
            |value: Option<f64>, factor: f64| value.map_or_else(|| "–".into(), |x| number(x * factor, 2));
        table.rows.push(vec![
            words(shown(&line.source)),
            figure_of(number_or(line.core_u, 1e3)),
            figure_of(number_or(line.core_share, 1e2)),
            figure_of(share(line.share)),
            figure_of(um(line.shift, true)),
            words(if line.reduced_by.is_empty() { "–" } else { line.reduced_by }),
        ]);
    }
    table
}

pub(super) fn expected_table(machine: &MachineFile) -> Table {
    let mut table = Table::new(
        "Uncertainty budget, as the core expects it",
        &["source", "u, mm", "share of u²", "what reduces it"],
    );
    let budget = Explained::of(machine).expected.map(|expected| expected.budget).unwrap_or_default();
    for share in &budget {
        table.rows.push(vec![
            words(shown(&share.source)),
            figure_of(uncertainty(share.u)),
            figure_of(format!("{} %", percent(share.share))),
            words(share.reduced_by),
        ]);
    }
    table
}

pub(super) fn methods_table(comparison: &Comparison) -> Table {
    let mut table = Table::new(
        "Each method in each situation",
        &[
            "method",
            "situation",
            "verdict",
            "beyond the tolerance",
            "refused",
            "mean error",
            "standard deviation",
            "cycle, s",
        ],
    );
    let or = |estimate: Option<Estimate>, show: &dyn Fn(Estimate) -> String| {
        estimate.map_or_else(|| "–".into(), show)
    };
    for row in &comparison.rows {
        for cell in &row.cells {
            let figures = &cell.figures;
            table.rows.push(vec![
                words(row.method.name()),
                words(cell.situation.name()),
                words(cell.grade.word()),
                figure_of(or(figures.outside, &share)),
                figure_of(share(figures.refused)),
                figure_of(or(figures.mean, &|x| um(x, true))),
                figure_of(or(figures.sd, &|x| um(x, false))),
                figure_of(number(figures.seconds.value, 1)),
            ]);
        }
    }
    table
}

pub(super) fn sweep_table(found: &Sweep, head: &str) -> Table {
    let heads =
        [head, "error, standard deviation", "core’s u, µm", "beyond the tolerance", "refused", "cycle, s"];
    let mut table = Table::new("Error at each setting; the machine file’s own is marked", &heads);
    for point in &found.points {
        let figures = &point.figures;
        let own = if point.is_own { " (this machine)" } else { "" };
        table.rows.push(vec![
            words(format!("{}{own}", short(point.at))),
            figure_of(figures.sd.map_or_else(|| "–".into(), |sd| um(sd, false))),
            figure_of(point.core_u.map_or_else(|| "–".into(), |u| number(u * 1e3, 2))),
            figure_of(figures.outside.map_or_else(|| "–".into(), share)),
            figure_of(share(figures.refused)),
            figure_of(number(figures.seconds.value, 1)),
        ]);
    }
    table
}
