//! The ways of setting the height, side by side: who survives what.

use maud::{Markup, html};

use super::percent;
use crate::show::chart::labels::{LINE, lines};
use crate::show::chart::marks::{PointShape, line, point};
use crate::show::chart::{Anchor, Picture, Width, text};
use crate::text::name::wrapped;
use zdatum_world::questions::compare::{Comparison, Grade, Method, Situation};

/// A grade's shape and class.
fn mark(grade: Grade) -> (PointShape, &'static str) {
    match grade {
        Grade::Holds => (PointShape::Disc, "p3"),
        Grade::Risky => (PointShape::Triangle, "pq"),
        Grade::Fails => (PointShape::Cross, "p2"),
        Grade::Refuses => (PointShape::Square, "p1"),
    }
}

/// A row for each method, a column for each situation; `None` without rows.
pub fn picture(comparison: &Comparison, width: Width) -> Option<Picture> {
    if comparison.rows.is_empty() {
        return None;
    }
    let full = width.px();
    let labels = if width == Width::Wide { 240.0 } else { 86.0 };
    let column = (full - labels) / Situation::ALL.len() as f64;
    let row = if width == Width::Wide { 32.0 } else { 48.0 };
    let top = 44.0;
    let middle = |i: usize| labels + column * (i as f64 + 0.5);
    let body = html! {
        @for (i, situation) in Situation::ALL.iter().enumerate() {
            @let words = wrapped(situation.name(), if width == Width::Wide { 9 } else { 8 });
            @let first = if words.len() > 1 { 13.0 } else { 28.0 };
            (lines(middle(i), first, Anchor::Middle, if width == Width::Wide { "strong" } else { "tiny" }, &words))
        }
        @for (i, method) in comparison.rows.iter().enumerate() {
            @let y = top + row * i as f64;
            @let name = wrapped(&name(method.method, width), if width == Width::Wide { 40 } else { 14 });
            @let middle_of_row = y + row / 2.0 - 4.0;
            @let first = middle_of_row + 4.0 - LINE / 2.0 * (name.len() as f64 - 1.0);
            (line(0.0, y - 4.0, full, y - 4.0, "grid"))
            (lines(0.0, first, Anchor::Start, if width == Width::Wide { "" } else { "small" }, &name))
            @for (j, cell) in method.cells.iter().enumerate() {
                (one(cell.grade, &shown(cell), middle(j), y, width))
            }
        }
        (legend(full, top + row * comparison.rows.len() as f64 + 14.0, width))
    };
    let legend_height = if width == Width::Wide { 30.0 } else { 52.0 };
    let told: Vec<String> = comparison
        .rows
        .iter()
        .map(|row| {
            let cells: Vec<_> = row
                .cells
                .iter()
                .map(|cell| format!("{} {}", cell.situation.name(), cell.grade.word()))
                .collect();
            format!("{}: {}", row.method.name().trim(), cells.join(", "))
        })
        .collect();
    Some(Picture {
        name: "methods-compared".into(),
        title: "Methods of setting the height, and how each performs".into(),
        summary: format!("{}.", told.join("; ")),
        width: full,
        height: top + row * comparison.rows.len() as f64 + legend_height,
        body,
    })
}

/// Variants are told by what differs where there is little room.
fn name(method: Method, width: Width) -> String {
    match width {
        Width::Wide => method.name(),
        // In two words, so that it may be two lines.
        Width::Narrow => method.label().trim().replace('–', "– "),
    }
}

/// A cell's number: beyond the tolerance, or refused where that is what is wrong with it.
fn shown(cell: &zdatum_world::questions::compare::MethodCell) -> String {
    let share = match cell.grade {
        Grade::Refuses => Some(cell.figures.refused),
        _ => cell.figures.outside,
    };
    share.map_or_else(|| "–".into(), |share| format!("{} %", percent(share.value)))
}

fn one(grade: Grade, number: &str, x: f64, y: f64, width: Width) -> Markup {
    let (shape, class) = mark(grade);
    match width {
        Width::Wide => html! {
            (point(x - 24.0, y + 12.0, shape, class))
            (text(x - 12.0, y + 16.0, Anchor::Start, "", number))
        },
        Width::Narrow => html! {
            (point(x, y + 10.0, shape, class))
            (text(x, y + 31.0, Anchor::Middle, "small", number))
        },
    }
}

fn legend(full: f64, y: f64, width: Width) -> Markup {
    let all = [
        (Grade::Holds, "holds"),
        (Grade::Risky, "risky"),
        (Grade::Fails, "fails"),
        (Grade::Refuses, "refuses: its share"),
    ];
    let (per_row, step) = if width == Width::Wide { (4, full / 4.4) } else { (2, full / 2.0) };
    html! {
        @for (i, (grade, words)) in all.iter().enumerate() {
            @let (x, y) = (10.0 + step * (i % per_row) as f64, y + 20.0 * (i / per_row) as f64);
            @let (shape, class) = mark(*grade);
            (point(x, y - 4.0, shape, class))
            (text(x + 12.0, y, Anchor::Start, "soft", words))
        }
    }
}
