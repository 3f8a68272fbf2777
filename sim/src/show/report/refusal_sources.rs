//! What makes cycles refused: a table below the refusals of a report.

use maud::{Markup, html};

use super::parts::{Table, TableCell, figure_of, words};
use super::simulate::SimulateReport;
use crate::show::campaign::thousands;
use crate::show::chart::number;
use crate::show::refusal_sources::ranked;
use zdatum_world::questions::budget::refusals::{CYCLES, Index};

/// A source is named among those that refusals come from where its total index is surely above this.
const LEADS: f64 = 0.05;

impl SimulateReport<'_> {
    /// Nothing where it was not asked for, or where all cycles were refused, or none.
    pub(super) fn refusal_sources(&self) -> Option<Markup> {
        let found = self.further.refusal_sources.as_ref()?;
        let (rows, little) = ranked(found.indices.as_ref()?);
        let mut table = Table::new(
            "Where refusals come from: Sobol’ indices in %, with 95 % intervals",
            &["source", "first order", "total"],
        );
        for (name, pair) in &rows {
            table.rows.push(vec![words(*name), cell(pair.first), cell(pair.total)]);
        }
        let clear = rows.iter().filter(|(_, pair)| pair.total.low >= LEADS);
        let leading: Vec<&str> = clear.map(|(name, _)| *name).collect();
        Some(html! {
            @if leading.is_empty() {
                p.note { "No source of refusals stands out from chance; more runs would tell." }
            } @else {
                p.advice { "Refusals come mostly from: " strong { (leading.join(", ")) } "." }
            }
            (table.markup())
            p.note { "First order: the share of the variance of being refused that would go if this source \
                were known. Total: the share that would remain if all others were known. " (thousands(found.runs)) " \
                    runs of " (CYCLES) " cycles."
                @if !little.is_empty() { " Total index below 0.5 %, left out: " (little.join(", ")) "." } }
        })
    }
}

fn cell(index: Index) -> TableCell {
    let percent = |share: f64| number(100.0 * share, 1);
    figure_of(format!("{} ({} to {})", percent(index.value), percent(index.low), percent(index.high)))
}
