//! The section of the plan: what a landing takes against how far the first layer may be off.

use maud::html;

use super::Section;
use super::parts::{Table, figure, figure_of, words};
use super::simulate::{SimulateReport, percent_of};
use crate::show::campaign::thousands;
use crate::show::chart::{Width, number};
use crate::show::pictures::plan;
use crate::show::plan::{beside, words as in_words};
use zdatum_world::questions::plan::Way;

impl SimulateReport<'_> {
    pub(super) fn plan(&self) -> Option<Section> {
        let front = self.further.plan.as_ref()?;
        plan::picture(front, Width::Wide)?;
        let mut table = Table::new(
            "Ways of touching that no other way tried beats in both time and error",
            &["touching", "seconds per landing", "all but a few within, µm", "beyond the tolerance, %"],
        );
        let row = |name: String, way: &Way| {
            let reach = if way.reach.is_finite() { number(way.reach * 1e3, 2) } else { "refused".into() };
            let chance = percent_of(way.chance());
            vec![words(name), figure_of(number(way.seconds, 1)), figure_of(reach), figure_of(chance)]
        };
        let all: Vec<&Way> = front.ways.iter().chain([&front.own]).collect();
        let named = |way: &Way| {
            let touch = &way.setup.draft().touch;
            match beside(touch, &all) {
                beside if beside.is_empty() => in_words(touch),
                beside => format!("{} ({beside})", in_words(touch)),
            }
        };
        table.rows.extend(front.ways.iter().map(|way| row(named(way), way)));
        table.rows.push(row(format!("this machine: {}", named(&front.own)), &front.own));
        let (within, one_in) = (number(front.within * 1e3, 1), number(1.0 / front.risk, 0));
        let quickest = front.ways.iter().find(|way| way.surely());
        let body = html! {
            p.lead { "More time for a landing makes it more exact, up to a point: where the curve turns \
                flat, more touches buy nothing, and the machine has to be improved instead. Below the \
                dashed line no more than one first layer in " (one_in)
                " misses the tolerance." }
            @if let Some(way) = quickest {
                p.advice { "The quickest that is surely below the line takes " (number(way.seconds, 1)) " s \
                    per landing (now "
                    (number(front.own.seconds, 1)) " s): " (named(way)) "." }
            } @else {
                p.advice { "None of " (thousands(front.tried as u64)) " ways tried surely keeps ±" (within) " \
                    µm for all but one in " (one_in)
                    ". " code { "zdatum plan" } " says which part to improve, and by how much." }
            }
            (figure(|width| plan::picture(front, width), &html! {
                "Ways of touching that no other of " (thousands(front.tried as u64)) " tried beats in both. \
                    Seconds of all cycles for each accepted landing; a refused one costs " (number(front.refused_costs, 0)) " \
                        s more. A short search: "
                code { "zdatum plan" } " confirms what it names by a campaign of its own."
            }, &table))
        };
        Some(Section { id: "plan", title: "Which touching?".into(), body })
    }
}
