//! The section of sensitivities: which source makes the error, and which the refusals.

use maud::html;

use super::Section;
use super::parts::{Cell, Table, figure, figure_of, words};
use super::simulate::Simulate;
use crate::show::campaign::thousands;
use crate::show::chart::{Width, number};
use crate::show::pictures::sensitivity;
use crate::show::sensitivity::{Row, rows};
use zdatum_world::questions::budget::refusals::{CYCLES, Index, Pair};

/// A source is named among those that refusals come from where its total index is surely above this.
const LEADS: f64 = 0.05;

impl Simulate<'_> {
    pub(super) fn sensitivity(&self) -> Option<Section> {
        let found = self.beside.sensitivity.as_ref()?;
        sensitivity::picture(found, Width::Wide)?;
        let rows = rows(found);
        let mut table = Table::new(
            "Share of the variance in %, with 95 % intervals",
            &["source", "error: alone", "error: with others", "refusal: alone", "refusal: with others"],
        );
        for row in &rows {
            let [error, refusal] = [row.error, row.refusal].map(cells);
            table.rows.push([vec![words(row.name)], error, refusal].concat());
        }
        let little: Vec<&str> = rows.iter().filter(|row| !row.matters()).map(|row| row.name).collect();
        let error = rows.iter().find_map(|row| Some((row.name, row.error?)));
        let refusal = leading(&rows);
        let body = html! {
            p.lead { "Sobol’ indices. A disc is the part of the variance that would go if this source were known and all else stayed: what \
                mending it alone brings. A diamond is the part that would stay if all others were known. Where both lie together the source \
                acts by itself; where the diamond lies far to the right, it acts only together with others."
                @if found.error.is_some() && found.refusal.is_some() { " The second panel says the same of being refused." } }
            @if let Some((name, pair)) = error {
                p.advice { "The error comes mostly from: " strong { (name) } ", " (percent(pair.first.value))
                    " % of its variance alone." }
            }
            @if !refusal.is_empty() {
                p.advice { "Refusals come mostly from: " strong { (refusal.join(", ")) } "."
                    @if error.is_some_and(|(name, _)| !refusal.contains(&name)) { " What mends the error does not mend them." } }
            } @else if found.refusal.is_some() {
                p.note { "Of being refused no source stands clear of chance: " code { "zdatum simulate --budget --each" } " takes more runs." }
            }
            @if found.refusal.is_none() { p.note { "Of being refused there is nothing to explain: all cycles were, or none." } }
            @if found.error.is_none() { p.note { "Of the error there is nothing to explain: it does not vary." } }
            (figure(|width| sensitivity::picture(found, width), &html! {
                (thousands(found.runs)) " runs of " (CYCLES) " cycles. Whiskers: 95 %, where they are longer than the mark."
                @if !little.is_empty() { " Below 0.5 % with all others, and left out: " (little.join(", ")) "." }
                @if !found.complete { " Interrupted: this is what was done so far." }
            }, &table))
        };
        Some(Section { id: "sensitivity", title: "Which source makes the error?".into(), body })
    }
}

/// The sources of refusals that stand clear of chance, with all that they act together with, the largest first.
fn leading(rows: &[Row]) -> Vec<&'static str> {
    let total = |row: &Row| Some(row.refusal?.total);
    let mut leading: Vec<_> = rows.iter().filter_map(|row| Some((row.name, total(row)?))).collect();
    leading.retain(|(_, total)| total.low >= LEADS);
    leading.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
    leading.into_iter().map(|(name, _)| name).collect()
}

fn percent(share: f64) -> String {
    number(100.0 * share, 0)
}

fn cells(pair: Option<Pair>) -> Vec<Cell> {
    let cell = |index: Option<Index>| {
        figure_of(index.map_or_else(
            || "–".into(),
            |index| {
                let percent = |share: f64| number(100.0 * share, 1);
                format!("{} ({} to {})", percent(index.value), percent(index.low), percent(index.high))
            },
        ))
    };
    vec![cell(pair.map(|pair| pair.first)), cell(pair.map(|pair| pair.total))]
}
