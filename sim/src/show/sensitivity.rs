//! Sensitivities for people and for programs.

use super::campaign::thousands;
use super::charts::bar;
use super::figures::number;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, line, paragraph};
use crate::world::picked::Drawn;
use zdatum_world::questions::budget::refusals::{CYCLES, Index, Pair, Sensitivity};

/// Widest bar.
const BAR: u32 = 16;
/// A total index below this is told as next to nothing.
const LITTLE: f64 = 0.005;

/// One source with what it makes of both results.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// Which, for people.
    pub name: &'static str,
    /// Of the first-layer error, where that varies.
    pub error: Option<Pair>,
    /// Of being refused, where that varies.
    pub refusal: Option<Pair>,
}

impl Row {
    /// Whether it makes more than next to nothing of either.
    pub fn matters(&self) -> bool {
        [self.error, self.refusal].iter().flatten().any(|pair| pair.total.value >= LITTLE)
    }
}

/// All sources, those first that make most of the error; of the refusals, where the error does not vary.
pub fn rows(found: &Sensitivity) -> Vec<Row> {
    let at = |pairs: &Option<Vec<Pair>>, at: usize| pairs.as_ref().and_then(|all| all.get(at).copied());
    let row = |(i, drawn): (usize, &Drawn)| Row {
        name: drawn.name(),
        error: at(&found.error, i),
        refusal: at(&found.refusal, i),
    };
    let mut rows: Vec<Row> = Drawn::ALL.iter().enumerate().map(row).collect();
    let weight = |row: &Row| row.error.or(row.refusal).map_or(0.0, |pair| pair.total.value);
    rows.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    rows
}

/// The object `refusals` of the document of `simulate --budget`.
#[derive(Debug, serde::Serialize)]
pub struct RefusalsJson {
    complete: bool,
    runs: u64,
    p_refused: Number,
    sources: Option<Vec<OneSource>>,
}

#[derive(Debug, serde::Serialize)]
struct OneSource {
    source: &'static str,
    first: OneIndex,
    total: OneIndex,
}

#[derive(Debug, serde::Serialize)]
struct OneIndex {
    value: Number,
    low: Number,
    high: Number,
}

impl OneIndex {
    fn of(index: &Index) -> Self {
        Self { value: number(index.value), low: number(index.low), high: number(index.high) }
    }
}

impl RefusalsJson {
    /// From what was found.
    pub fn of(found: &Sensitivity) -> Self {
        let one = |(drawn, pair): (&Drawn, &Pair)| OneSource {
            source: drawn.word(),
            first: OneIndex::of(&pair.first),
            total: OneIndex::of(&pair.total),
        };
        let sources = found.refusal.as_ref().map(|pairs| Drawn::ALL.iter().zip(pairs).map(one).collect());
        Self { complete: found.complete, runs: found.runs, p_refused: number(found.refused), sources }
    }
}

/// The page: at most 80 columns.
pub fn page(found: &Sensitivity) -> String {
    let mut out = String::new();
    line!(&mut out, "{BOLD}What makes cycles refused{BOLD:#}");
    line!(&mut out, "{FAINT}Sobol’ indices from {} runs of {CYCLES} cycles{FAINT:#}", thousands(found.runs));
    if !found.complete {
        line!(&mut out, "Interrupted: this is what was done so far.");
    }
    line!(&mut out);
    let share = format!("Refusals, {:.2} % of cycles", found.refused * 100.0);
    table(&mut out, &share, found.refusal.as_deref());
    line!(&mut out);
    let text = "First-order index: the part of the variance that would go if this source were known. Total index: the part that would stay \
                if all others were known. Where both are alike a source acts by itself. In brackets 95 % intervals.";
    paragraph(&mut out, text, 0, FAINT);
    out
}

fn table(out: &mut String, title: &str, pairs: Option<&[Pair]>) {
    line!(out, "{BOLD}{title}{BOLD:#}");
    let Some(pairs) = pairs else {
        line!(out, "  nothing to explain: all cycles are refused, or none");
        return;
    };
    line!(out, "  {FAINT}{:<20} {:<19}with others, %{FAINT:#}", "source", "alone, %");
    let mut rows: Vec<(&Drawn, &Pair)> = Drawn::ALL.iter().zip(pairs).collect();
    rows.sort_by(|a, b| b.1.total.value.total_cmp(&a.1.total.value));
    let mut little = Vec::new();
    for (drawn, pair) in rows {
        if pair.total.value < LITTLE {
            little.push(drawn.name());
            continue;
        }
        let cell = |index: &Index| {
            // No minus before a zero.
            let percent = |x: f64| if (x * 100.0).abs() < 0.05 { 0.0 } else { x * 100.0 };
            format!("{:.1} ({:.1}..{:.1})", percent(index.value), percent(index.low), percent(index.high))
        };
        let bar = bar((pair.total.value.clamp(0.0, 1.0) * 1e6) as u32, 1_000_000, BAR);
        let row = format!("  {:<20} {:<19}{:<19}{bar}", drawn.name(), cell(&pair.first), cell(&pair.total));
        line!(out, "{}", row.trim_end());
    }
    if !little.is_empty() {
        paragraph(out, &format!("Total index below 0.5 %: {}.", little.join(", ")), 2, FAINT);
    }
}
