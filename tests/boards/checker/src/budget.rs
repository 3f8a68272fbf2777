//! What each board's figures are compared with: `benches/boards.toml`.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use crate::builds::Place;
use crate::counts::Counts;
use crate::report::Report;

/// How far a figure may be over its budget, in per cent.
const ALLOWED: u64 = 3;

/// One board's figures, group by group: instructions, stack, size, flash, flash-small.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Figures {
    /// The compiler that they hold for.
    pub rustc: String,
    /// Figures by group and name.
    pub groups: BTreeMap<String, BTreeMap<String, u64>>,
}

impl Figures {
    /// Of a board's counts; floats are what it is compared with, not what is held.
    pub fn of(rustc: &str, counts: &Counts) -> Self {
        let mut figures = Self { rustc: rustc.to_owned(), groups: BTreeMap::new() };
        let mut put = |group: &str, name: &str, value: Option<u64>| {
            if let Some(value) = value {
                figures.groups.entry(group.to_owned()).or_default().insert(name.to_owned(), value);
            }
        };
        for (name, cost) in &counts.jobs {
            if !name.contains("_f32") && !name.contains("_f64") {
                put("instructions", name, cost.instructions);
                put("stack", name, cost.stack);
            }
        }
        for (name, bytes) in &counts.sizes {
            put("size", name, Some(*bytes));
        }
        figures
    }

    /// Adds a group.
    pub fn put(&mut self, group: &str, name: &str, value: u64) {
        self.groups.entry(group.to_owned()).or_default().insert(name.to_owned(), value);
    }

    /// One figure.
    pub fn get(&self, group: &str, name: &str) -> Option<u64> {
        self.groups.get(group)?.get(name).copied()
    }
}

/// All boards, by name.
pub type Budget = BTreeMap<String, Figures>;

/// Where the file is.
pub fn file(place: &Place) -> PathBuf {
    place.boards.join("../../benches/boards.toml")
}

/// Reads the file.
pub fn read(path: &Path) -> Result<Budget, String> {
    let text = std::fs::read_to_string(path)
        .map_err(|error| format!("{}: {error}; tests/boards/run --write makes it", path.display()))?;
    parse(&text).map_err(|error| format!("{}: {error}", path.display()))
}

fn parse(text: &str) -> Result<Budget, String> {
    // The parser's message names line, column and key.
    let table: toml::Table = text.parse().map_err(|error| format!("{error}"))?;
    let mut budget = Budget::new();
    for (board, value) in table {
        let mut figures = Figures::default();
        for (key, value) in value.as_table().ok_or_else(|| format!("{board} is not a table"))? {
            match value {
                toml::Value::String(rustc) if key == "rustc" => figures.rustc.clone_from(rustc),
                toml::Value::Table(group) => {
                    for (name, value) in group {
                        let number = value.as_integer().and_then(|number| u64::try_from(number).ok());
                        let number =
                            number.ok_or_else(|| format!("{board}.{key}.{name} is not a whole number"))?;
                        figures.put(key, name, number);
                    }
                }
                _ => return Err(format!("{board}.{key} is not known")),
            }
        }
        budget.insert(board, figures);
    }
    Ok(budget)
}

/// The file's text.
pub fn text(budget: &Budget) -> String {
    let mut text = String::from(
        "# What the core costs on each board: instructions and deepest stack of its main jobs, bytes of its types, bytes of\n\
         # flash for each use (optimised for speed, and as `flash-small` for size); written by\n\
         #   tests/boards/run --write\n\
         # Without --write the same command compares, and fails where a figure is more than 3 % over.\n",
    );
    for (board, figures) in budget {
        let _ = writeln!(text, "\n[{board}]\nrustc = {:?}", figures.rustc);
        for (group, names) in &figures.groups {
            let _ = writeln!(text, "\n[{board}.{group}]");
            for (name, value) in names {
                let _ = writeln!(text, "{name} = {value}");
            }
        }
    }
    text
}

/// Holds one board's figures against the file.
pub fn hold(report: &mut Report, board: &str, seen: &Figures, budget: &Budget) {
    let Some(limits) = budget.get(board) else {
        return report.fail(&format!("{board}: benches/boards.toml has no budget for it; run with --write"));
    };
    if limits.rustc != seen.rustc {
        return report.say(&format!(
            "{board}: figures of {}, budget of {}: reported only, nothing failed; with --write they become the budget",
            seen.rustc, limits.rustc
        ));
    }
    let complaints = complaints(seen, limits);
    let count: usize = seen.groups.values().map(BTreeMap::len).sum();
    if complaints.is_empty() {
        report.pass(&format!("{board}: {count} figures, none more than {ALLOWED} % over its budget"));
    } else {
        report.fail(&format!(
            "{board}: over budget; make the code smaller, or run with --write and say why:\n  {}",
            complaints.join("\n  ")
        ));
    }
}

fn complaints(seen: &Figures, limits: &Figures) -> Vec<String> {
    let mut complaints = Vec::new();
    for (group, names) in &seen.groups {
        for (name, value) in names {
            match limits.get(group, name) {
                None => complaints.push(format!("{group} {name}: no budget")),
                Some(limit) if value * 100 > limit * (100 + ALLOWED) => {
                    complaints.push(format!("{group} {name}: {value}, budget {limit}"));
                }
                Some(_) => {}
            }
        }
    }
    for (group, names) in &limits.groups {
        for name in names.keys().filter(|name| seen.get(group, name).is_none()) {
            complaints.push(format!("{group} {name}: in the budget, and not there any more"));
        }
    }
    complaints
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figures(value: u64) -> Figures {
        let mut figures = Figures { rustc: "rustc 1".to_owned(), ..Figures::default() };
        figures.put("stack", "cycle", value);
        figures
    }

    #[test]
    fn the_file_is_read_as_it_is_written() {
        let budget = Budget::from([("cortex-m0".to_owned(), figures(7))]);
        assert_eq!(parse(&text(&budget)), Ok(budget));
        assert!(parse("[a.stack]\nx = -1").is_err_and(|error| error.contains("a.stack.x")));
        assert!(parse("[a]\nx = 1").is_err());
    }

    #[test]
    fn three_per_cent_over_is_within() {
        assert!(complaints(&figures(1_030), &figures(1_000)).is_empty());
        assert!(complaints(&figures(10), &figures(1_000)).is_empty());
        assert_eq!(complaints(&figures(1_031), &figures(1_000)), ["stack cycle: 1031, budget 1000"]);
        assert_eq!(complaints(&figures(1), &Figures::default()), ["stack cycle: no budget"]);
        assert_eq!(complaints(&Figures::default(), &figures(1)).len(), 1);
    }
}
