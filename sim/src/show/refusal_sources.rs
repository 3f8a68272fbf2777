//! What makes cycles refused, for people and for programs: a part of the budget's page and document.

use super::campaign::thousands;
use super::charts::bar;
use super::figures::number;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, line, paragraph};
use crate::world::picked::Drawn;
use zdatum_world::questions::budget::refusals::{CYCLES, Index, IndexPair, RefusalSources};

/// Widest bar.
const BAR: u32 = 14;
/// A total index below this is next to nothing.
const LITTLE: f64 = 0.005;

/// The object `refusals` of `docs/json.md`.
#[derive(Debug, serde::Serialize)]
pub struct RefusalSourcesJson {
    complete: bool,
    runs: u64,
    p_refused: Number,
    sources: Option<Vec<SourceIndices>>,
}

#[derive(Debug, serde::Serialize)]
struct SourceIndices {
    source: &'static str,
    first: IndexJson,
    total: IndexJson,
}

#[derive(Debug, serde::Serialize)]
struct IndexJson {
    value: Number,
    low: Number,
    high: Number,
}

impl IndexJson {
    fn of(index: &Index) -> Self {
        Self { value: number(index.value), low: number(index.low), high: number(index.high) }
    }
}

impl RefusalSourcesJson {
    /// From what was found.
    pub fn of(found: &RefusalSources) -> Self {
        let one = |(drawn, pair): (&Drawn, &IndexPair)| SourceIndices {
            source: drawn.word(),
            first: IndexJson::of(&pair.first),
            total: IndexJson::of(&pair.total),
        };
        Self {
            complete: found.complete,
            runs: found.runs,
            p_refused: number(found.refused),
            sources: found.indices.as_ref().map(|pairs| Drawn::ALL.iter().zip(pairs).map(one).collect()),
        }
    }
}

/// Sources that matter, the largest total index first, and the names of those that do not.
pub fn ranked(pairs: &[IndexPair]) -> (Vec<(&'static str, &IndexPair)>, Vec<&'static str>) {
    let mut rows: Vec<_> = Drawn::ALL.iter().map(|drawn| drawn.name()).zip(pairs).collect();
    rows.sort_by(|a, b| b.1.total.value.total_cmp(&a.1.total.value));
    let little = rows.iter().filter(|row| row.1.total.value < LITTLE).map(|row| row.0).collect();
    rows.retain(|row| row.1.total.value >= LITTLE);
    (rows, little)
}

/// Its part of the budget's page: at most 80 columns.
pub fn page(found: &RefusalSources) -> String {
    let mut out = String::new();
    let share = found.refused * 100.0;
    line!(&mut out, "{BOLD}What makes cycles refused?{BOLD:#} {share:.2} % of cycles are");
    let Some(pairs) = &found.indices else {
        line!(&mut out, "  Nothing to explain: all cycles were refused, or none.");
        return out;
    };
    line!(&mut out, "{FAINT}{} runs of {CYCLES} cycles{FAINT:#}", thousands(found.runs));
    line!(&mut out, "  {FAINT}{:<20} {:<20}total, %{FAINT:#}", "source", "first order, %");
    let (rows, little) = ranked(pairs);
    for (name, pair) in rows {
        let cell = |index: &Index| {
            // No minus before a zero.
            let percent = |x: f64| if (x * 100.0).abs() < 0.05 { 0.0 } else { x * 100.0 };
            format!("{:.1} ({:.1}..{:.1})", percent(index.value), percent(index.low), percent(index.high))
        };
        let bar = bar((pair.total.value.clamp(0.0, 1.0) * 1e6) as u32, 1_000_000, BAR);
        let row = format!("  {name:<20} {:<20}{:<21}{bar}", cell(&pair.first), cell(&pair.total));
        line!(&mut out, "{}", row.trim_end());
    }
    if !little.is_empty() {
        paragraph(&mut out, &format!("Total index below 0.5 %: {}.", little.join(", ")), 2, FAINT);
    }
    let text = "Sobol’ indices of being refused, with 95 % intervals. First order: the part of the variance that would go if this \
                source were known. Total: the part that would remain if all others were known.";
    paragraph(&mut out, text, 2, FAINT);
    out
}
