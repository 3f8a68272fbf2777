//! The sections of rare events and of faults.

use maud::html;
use zdatum::RefusalKind;

use super::Section;
use super::parts::{Table, figure, figure_of, minus, words};
use super::simulate::SimulateReport;
use crate::show::campaign::thousands;
use crate::show::chart::{Width, number, signed};
use crate::show::faults::{least, size};
use crate::show::pictures::{power, scrape};
use crate::show::scrape::chance;
use zdatum_world::questions::faulty::{Least, Power};

impl SimulateReport<'_> {
    pub(super) fn scrape(&self) -> Option<Section> {
        let curve = self.further.scrape_curve.as_ref()?;
        scrape::picture(curve, Width::Wide)?;
        let mut table = Table::new(
            "Chance that a cycle is accepted and its nozzle scrapes",
            &["free gap, µm", "chance", "95 %: from", "to", "if all were normal"],
        );
        let or = |p: Option<f64>| p.map_or_else(|| "–".into(), chance);
        for rare in curve {
            table.rows.push(vec![
                figure_of(number(rare.gap * 1e3, 1)),
                figure_of(chance(rare.p.value)),
                figure_of(or(rare.interval.map(|(low, _)| low))),
                figure_of(or(rare.interval.map(|(_, high)| high))),
                figure_of(or(rare.normal)),
            ]);
        }
        let runs = curve.first().map_or(0, |rare| rare.runs);
        let body = html! {
            p.lead { "The free gap of a layer is how much too low the nozzle may come before it scrapes the \
                plate. Read off how often that happens by noise alone: each step down is a thousand times \
                rarer." }
            (figure(|width| scrape::picture(curve, width), &html! {
                "Chance per cycle, found by moving the draws towards the event and weighting each run for \
                    it; " (thousands(runs))
                " runs at each gap. Whiskers: 95 %, where they are longer than the mark. What faults do is \
                    another question: see below."
            }, &table))
        };
        Some(Section { id: "scrape", title: "How often would the nozzle scrape?".into(), body })
    }

    pub(super) fn faults(&self) -> Option<Section> {
        let found = self.further.faults.as_ref()?;
        power::picture(&found.powers, Width::Wide)?;
        let mut table = Table::new(
            "Every fault: from which size it is caught 9 times in 10, and what gets through",
            &[
                "fault",
                "tried up to",
                "caught from",
                "plate known",
                "worst through, µm",
                "caught by",
                "prevents or shows it",
            ],
        );
        for power in &found.powers {
            table.rows.push(row(power));
        }
        let single = &found.single;
        let through: Vec<&str> = found
            .powers
            .iter()
            .filter(|power| power.least_known == Least::Never && power.worst(true).is_some_and(|e| e < -0.05))
            .map(|power| power.kind.name)
            .collect();
        let body = html! {
            p.lead { "Every fault put into the machine on purpose, size by size. Where a curve climbs above \
                the thin dashed line the fault is caught 9 times in 10; where it stays at the bottom no \
                refusal shows it, and only what the table names does." }
            @if !through.is_empty() { p.advice { "Not caught at any size tried, and bringing the tip more \
                than 50 µm too near: "
                (prose(&through.join("; "))) "." } }
            (figure(|width| power::picture(&found.powers, width), &html! {
                "Share of cycles refused, from none to all, against the size of the fault; with the plate’s \
                    last span known and without. "
                (thousands(found.powers.first().and_then(|power| power.known.first()).map_or(0, |point| point.runs)))
                " cycles at each size."
            }, &table))
            @if let Some(bound) = single.bound() { p { "In " (thousands(single.cycles)) " random cycles \
                with one fault each, the nozzle never crashed: the chance is below " (chance(bound)) " at \
                    95 %." } }
            @else if single.cycles > 0 { p.caution { strong { "In " (thousands(single.of_the_nozzle())) " of "
                (thousands(single.cycles)) " random cycles with one fault, the nozzle crashed." } } }
        };
        Some(Section { id: "faults", title: "What is caught when something is wrong?".into(), body })
    }
}

/// The catalogue's words as they stand on a page.
fn prose(text: &str) -> String {
    text.replace('`', "").replace('\'', "’")
}

fn row(power: &Power) -> Vec<super::parts::TableCell> {
    let kind = power.kind;
    let by = power.caught_by(true).filter(|_| power.least_known != Least::Never);
    let by = by.map_or_else(|| "–".into(), |by| RefusalKind::word(by).replace('-', " "));
    vec![
        words(prose(kind.name)),
        figure_of(minus(&size(kind.largest, kind.unit))),
        figure_of(minus(&least(power.least_unknown, kind.unit))),
        figure_of(minus(&least(power.least_known, kind.unit))),
        figure_of(power.worst(true).map_or_else(|| "–".into(), |error| signed(error * 1e3, 0))),
        words(by),
        words(prose(kind.prevented_by)),
    ]
}
