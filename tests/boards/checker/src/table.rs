//! The figures in full as `docs/tables/boards.md` shows them, in short as `docs/boards.md` does: what stands
//! between their two marks is written here.

use std::path::PathBuf;

use crate::boards::Board;
use crate::budget::Figures;
use crate::builds::Place;
use crate::counts::Counts;
use crate::report::thousands;

/// One board's part of the tables.
#[derive(Debug)]
pub struct Column {
    /// Which.
    pub board: &'static Board,
    /// What was counted.
    pub counts: Counts,
    /// The same with flash, as the budget holds it.
    pub figures: Figures,
}

const BEGIN: &str = "<!-- written by tests/boards/run --write: begin -->\n";
const END: &str = "<!-- written by tests/boards/run --write: end -->\n";

/// Where all tables are.
pub fn full_file(place: &Place) -> PathBuf {
    place.boards.join("../../docs/tables/boards.md")
}

/// Where the short table for firmware authors is.
pub fn short_file(place: &Place) -> PathBuf {
    place.boards.join("../../docs/boards.md")
}

/// The page of all tables, made anew.
pub fn full_page(old: &str, columns: &[Column]) -> Result<String, String> {
    between(old, &tables(columns))
}

/// The page with the short table, made anew.
pub fn short_page(old: &str, columns: &[Column]) -> Result<String, String> {
    between(old, &short(columns))
}

fn between(old: &str, new: &str) -> Result<String, String> {
    let (before, rest) = old.split_once(BEGIN).ok_or("the mark where the tables begin is lost")?;
    let (_, after) = rest.split_once(END).ok_or("the mark where the tables end is lost")?;
    Ok(format!("{before}{BEGIN}\n{new}\n{END}{after}"))
}

const JOBS: &[(&str, &str)] = &[
    ("touch", "a touch handled, and the poll after it"),
    ("lift", "a lift handled, and the poll after it"),
    ("series", "a series of 5 closed, s from the touches"),
    ("series_studied", "the same, s from a study"),
    ("landing", "landing with u, ν, k, U from 3 × 5 touches, s from the touches"),
    ("landing_studied", "the same, s from a study"),
    ("verdict", "**the whole landing with verdict**, s from the touches"),
    ("verdict_studied", "the same, s from a study"),
    ("shares", "every source's share of the budget (6 terms)"),
    ("trim", "a gauge check to a trip depth"),
    ("cycle", "a whole cycle of 3 × (1 + 1 + 5) touches with its outcome"),
    ("cycle_studied", "the same, s from a study"),
    ("setup", "a setup checked, the floors included"),
    ("verdict_f32", "the whole landing with verdict in `f32`, s from the touches"),
    ("verdict_f32_studied", "the same, s from a study"),
    ("verdict_f64", "the whole landing with verdict in `f64`, s from the touches"),
    ("verdict_f64_studied", "the same, s from a study"),
];

const RATIOS: &[(&str, &str, &str)] = &[
    ("verdict_f32", "verdict", "`f32` over fixed point, s from the touches"),
    ("verdict_f32_studied", "verdict_studied", "the same, s from a study"),
    ("verdict_f64", "verdict", "`f64` over fixed point, s from the touches"),
    ("verdict_f64_studied", "verdict_studied", "the same, s from a study"),
];

const SIZES: &[(&str, &str)] = &[
    ("cycle", "the cycle, nine touches per station"),
    ("setup", "the checked setup"),
    ("series", "a series of nine"),
    ("summary", "a closed series"),
    ("landing", "a landing"),
    ("assessment", "an assessment with its reasons"),
    ("outcome", "a cycle's outcome with its reasons"),
];

/// Images that are weighed: name, and what the use is.
pub const USES: &[(&str, &str)] = &[
    ("setup", "a setup checked, the floors included"),
    ("landing", "the same, and touches to landing and verdict"),
    ("landing-and-trim", "the same and gauge checks"),
    ("cycle", "the touch cycle"),
    ("everything", "every public function, decimal text and messages included"),
];

/// What a firmware's author asks first.
fn short(columns: &[Column]) -> String {
    let counted = counted(columns);
    let mut text = head("", &counted);
    for (name, what) in [
        ("touch", "instructions: a touch handled"),
        ("verdict", "the whole landing with u, ν, k, U and verdict from 3 × 5 touches"),
        ("verdict_f32", "the same in `f32`"),
        ("verdict_f64", "the same in `f64`"),
        ("cycle", "a whole cycle"),
    ] {
        text += &row(what, &counted, |column| column.counts.instructions(name).map(thousands));
    }
    for (name, what) in
        [("landing", "bytes of flash, optimised for size: the landing"), ("cycle", "the touch cycle")]
    {
        text += &row(what, &counted, |column| column.figures.get("flash-small", name).map(thousands));
    }
    text += &row("bytes of RAM: the cycle's state", &counted, |column| {
        column.counts.sizes.get("cycle").copied().map(thousands)
    });
    text += &row("deepest stack of a cycle", &counted, |column| {
        column.counts.cost("cycle")?.stack.map(thousands)
    });
    text
}

/// The boards that count instructions.
fn counted(columns: &[Column]) -> Vec<&Column> {
    let counts = |column: &&Column| column.counts.jobs.iter().any(|(_, cost)| cost.instructions.is_some());
    columns.iter().filter(counts).collect()
}

fn tables(columns: &[Column]) -> String {
    let counted = counted(columns);
    let all: Vec<&Column> = columns.iter().collect();
    let mut text = String::from("### Instructions\n\n");
    text += &head("job", &counted);
    for (name, what) in JOBS {
        text += &row(what, &counted, |column| column.counts.instructions(name).map(thousands));
    }
    text += "\n### Against floats\n\n";
    text += &head("instructions, ratio", &counted);
    for (float, fixed, what) in RATIOS {
        text += &row(what, &counted, |column| {
            let (float, fixed) = (column.counts.instructions(float)?, column.counts.instructions(fixed)?);
            Some(format!("{:.2}", float as f64 / fixed as f64))
        });
    }
    text += "\n### Deepest stack, bytes\n\n";
    text += &head("job", &counted);
    for (name, what) in JOBS {
        text += &row(what, &counted, |column| column.counts.cost(name)?.stack.map(thousands));
    }
    text += "\n### Sizes, bytes\n\n";
    text += &head("type", &all);
    for (name, what) in SIZES {
        text += &row(what, &all, |column| column.counts.sizes.get(*name).copied().map(thousands));
    }
    for (group, title) in [("flash", "speed"), ("flash-small", "size")] {
        text += &format!("\n### Flash, bytes, optimised for {title}\n\n");
        text += &head("use", &all);
        for (name, what) in USES {
            text += &row(what, &all, |column| column.figures.get(group, name).map(thousands));
        }
    }
    text += "\n### Made with\n\n| board | compiler | counted by |\n|---|---|---|\n";
    for Column { board, counts, figures } in columns {
        text += &format!("| {} | {} | {} |\n", board.title, figures.rustc, counts.how);
    }
    text
}

fn head(first: &str, columns: &[&Column]) -> String {
    let titles: Vec<&str> = columns.iter().map(|column| column.board.title).collect();
    format!("| {first} | {} |\n|---|{}\n", titles.join(" | "), "---:|".repeat(columns.len()))
}

fn row(what: &str, columns: &[&Column], cell: impl Fn(&Column) -> Option<String>) -> String {
    let cells: Vec<String> =
        columns.iter().map(|column| cell(column).unwrap_or_else(|| "–".to_owned())).collect();
    format!("| {what} | {} |\n", cells.join(" | "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_stands_between_the_marks_is_written() {
        let old = format!("head\n{BEGIN}old{END}tail\n");
        let new = full_page(&old, &[]).expect("both marks");
        assert!(
            new.starts_with(&format!("head\n{BEGIN}\n### Instructions"))
                && new.ends_with(&format!("\n{END}tail\n"))
        );
        assert!(!new.contains("old"));
        assert_eq!(full_page(&new, &[]), Ok(new.clone()));
        assert!(full_page("head", &[]).is_err());
    }
}
