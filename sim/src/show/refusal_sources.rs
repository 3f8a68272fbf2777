//! What makes cycles refused, for people and for programs: a part of the budget's page and document.

use super::campaign::thousands;
use super::charts::bar;
use crate::text::Object;
use crate::text::lines::{BOLD, FAINT, line, paragraph};
use crate::text::object::Value;
use crate::world::picked::Drawn;
use zdatum_world::questions::budget::refusals::{CYCLES, Index, IndexPair, RefusalSources};

/// Widest bar.
const BAR: u32 = 14;
/// A total index below this is next to nothing.
const LITTLE: f64 = 0.005;

/// The object `refusals` of `docs/json.md`.
pub fn json(found: &RefusalSources) -> Object {
    let index = |index: &Index| {
        Object::default().figure("value", index.value).figure("low", index.low).figure("high", index.high)
    };
    let source = |(drawn, pair): (&Drawn, &IndexPair)| {
        Object::default()
            .with("source", drawn.word())
            .with("first", index(&pair.first))
            .with("total", index(&pair.total))
    };
    let sources = found.indices.as_ref().map(|pairs| Drawn::ALL.iter().zip(pairs).map(source));
    Object::default()
        .with("complete", found.complete)
        .with("runs", found.runs)
        .figure("p_refused", found.refused)
        .with("sources", sources.map(Value::from_iter))
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
    line!(&mut out, "{BOLD}What makes cycles refused?{BOLD:#} {share:.2} % of cycles were refused");
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
    let text = "Sobol’ indices of being refused, with 95 % intervals. First order: the share of the \
        variance that would go if this source were known. Total: the share that would remain if all others \
        were known.";
    paragraph(&mut out, text, 2, FAINT);
    out
}
