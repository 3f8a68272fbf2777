//! The report of a campaign: what trigger noise does to the first layer, and what would help.

use maud::html;
use zdatum_world::truth::middle;

use super::parts::{Table, figure, figure_of, key_figures, share, um, words};
use super::tables::{examined_table, expected_table, heights_table};
use super::words::{cautions, glossary};
use super::{Report, Section, frame};
use crate::files::MachineFile;
use crate::judged::explained::Explained;
use crate::show::budget::notes;
use crate::show::campaign::{CampaignResult, FurtherAnswers, thousands};
use crate::show::chart::{Picture, Width, number, signed};
use crate::show::pictures::stations::StationHeights;
use crate::show::pictures::{self, budget, histogram, methods, power, refusals, scrape, stations, sweep};
use crate::text::name::shown;
use zdatum_world::engine::Share;
use zdatum_world::questions::budget::{Budget, BudgetLine};
use zdatum_world::questions::sweep::Swept;

/// What a report of a campaign is made of.
#[derive(Clone, Copy, Debug)]
pub struct SimulateReport<'a> {
    /// The machine file.
    pub machine: &'a MachineFile,
    /// The campaign.
    pub campaign: &'a CampaignResult<'a>,
    /// The further answers.
    pub further: &'a FurtherAnswers,
}

impl SimulateReport<'_> {
    /// The report.
    pub fn report(&self) -> Report {
        let sections = self.sections();
        let campaign = self.campaign;
        let made = html! {
            p.made { "Machine: " (shown(campaign.machine)) }
            p.made { (thousands(campaign.tally.runs)) " simulated cycles, seed " (campaign.seed) ", \
                tolerance ±"
                (number(campaign.within * 1e3, 1)) " µm. The same seed gives the same page." }
        };
        Report {
            html: frame("What trigger noise does to the first layer", &made, &sections),
            pictures: self.pictures(Width::Wide),
        }
    }

    /// Its sections, in their order.
    pub fn sections(&self) -> Vec<Section> {
        [
            Some(self.in_short()),
            Some(self.refused()),
            Some(self.drawing()),
            self.errors(),
            Some(self.budget()),
            self.agreement(),
            self.methods(),
            self.sweep(Swept::Touches, "touches", "More touches?"),
            self.sweep(Swept::Noise, "noise", "Better switches?"),
            self.plan(),
            self.scrape(),
            self.faults(),
            Some(cautions()),
            Some(glossary()),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// All its pictures.
    fn pictures(&self, width: Width) -> Vec<Picture> {
        let campaign = self.campaign;
        let sweeps = self.further.sweeps.iter().flatten().filter_map(|one| sweep::picture(one, width));
        let refused: Vec<_> = campaign.tally.refusals().collect();
        [
            Some(stations::picture(&self.heights(), width)),
            histogram::picture(&campaign.tally.errors, campaign.within, width),
            budget::picture(&self.sources(), width),
            self.further.comparison.as_ref().and_then(|comparison| methods::picture(comparison, width)),
            refusals::picture(&refused, campaign.tally.runs, width),
            self.further.plan.as_ref().and_then(|front| pictures::plan::picture(front, width)),
            self.further.scrape_curve.as_ref().and_then(|curve| scrape::picture(curve, width)),
            self.further.faults.as_ref().and_then(|found| power::picture(&found.powers, width)),
        ]
        .into_iter()
        .flatten()
        .chain(sweeps)
        .collect()
    }

    fn in_short(&self) -> Section {
        let campaign = self.campaign;
        let tally = campaign.tally;
        let within = number(campaign.within * 1e3, 1);
        let refused = tally.runs - tally.accepted;
        let mut figures = Vec::new();
        if let Some(sd) = tally.sd() {
            figures.push(("standard deviation of the error", um(sd, false), ""));
        }
        if let Some(mean) = tally.mean() {
            figures.push(("mean error", um(mean, true), "above zero: too far from the plate"));
        }
        let middle = tally.errors.quantile(0.025).zip(tally.errors.quantile(0.975));
        if let Some((low, high)) = middle {
            figures.push((
                "the middle 95 % of errors",
                format!("{} to {} µm", signed(low.value * 1e3, 1), signed(high.value * 1e3, 1)),
                "",
            ));
        }
        // A single cycle shows no share.
        let beyond = tally.beyond().filter(|_| tally.accepted >= 2);
        if let Some(outside) = tally.p_outside().filter(|_| tally.accepted >= 2) {
            figures.push(("beyond the tolerance", share(outside), "of accepted cycles"));
        }
        let stated = format!("the stated {} % interval holds in", campaign.coverage);
        if let Some(coverage) = tally.coverage().filter(|_| tally.accepted >= 2) {
            figures.push((&stated, share(coverage), "of accepted cycles"));
        }
        let cycle = format!("{} s", number(tally.cycle_s_mean(), 0));
        let touches = format!("with {} touches", number(tally.touches_mean(), 1));
        figures.push(("a cycle takes", cycle, &touches));
        let advice = self.further.examined.as_ref().and_then(|examined| examined.budget.as_ref());
        let body = html! {
            @if tally.runs < campaign.asked {
                p.caution { strong { "Interrupted. " } (thousands(campaign.asked)) " cycles were asked for; \
                    this is what was done so far." }
            }
            @if refused == 0 {
                p.lead { "No cycle was refused." }
            } @else if tally.accepted == 0 {
                p.lead { strong { "Every cycle was refused." } " This machine, as its file describes it, \
                    would never print: the reasons are listed under “Refused cycles”. With no cycle \
                    accepted there is no first-layer error to show." }
            } @else {
                p.lead { strong { (thousands(refused)) " of " (thousands(tally.runs)) " cycles were \
                    refused" } ", "
                    @if let Some(p) = tally.p_refused() { (share(p)) }
                    ": the machine said so, applied nothing and would have to try again. All errors below \
                        are those of the accepted cycles." }
            }
            @if let Some(none) = beyond.filter(|beyond| beyond.part == 0) {
                p.lead { "Of " (thousands(none.whole)) " accepted first layers, not one was off by more than \
                    ±" (within)
                    " µm: the share is below " (percent_of(none.unseen())) " % at 95 %." }
            } @else if let Some(outside) = beyond.map(|beyond| beyond.estimate()) {
                p.lead { "Of the accepted first layers, " strong { (share(outside)) } " were off by more \
                    than ±" (within)
                    " µm. " (judgement(outside.value)) }
            }
            (key_figures(&figures))
            @if let Some(budget) = advice { @for sentence in budget.advice.iter().take(1) { p.advice { (minus_free(sentence)) } } }
            p.note { "The figure after ± is one standard error: how far chance alone may have moved a \
                simulated number." }
        };
        Section { id: "in-short", title: "In short".into(), body }
    }

    fn refused(&self) -> Section {
        let tally = self.campaign.tally;
        let refused: Vec<_> = tally.refusals().collect();
        let mut table = Table::new(
            "Refused cycles by their first reason",
            &["reason", "cycles", "share of all cycles", "what was seen", "what to do"],
        );
        for (kind, count) in &refused {
            table.rows.push(vec![
                words(refusals::words(*kind)),
                figure_of(thousands(*count)),
                figure_of(
                    Share::of(*count, tally.runs).map_or_else(String::new, |part| share(part.estimate())),
                ),
                words(kind.text()),
                words(kind.advice()),
            ]);
        }
        let body = html! {
            @if refused.is_empty() {
                p.lead { "None of " (thousands(tally.runs)) " cycles was refused." }
            } @else {
                p.lead { "A cycle is refused when any check fails. A long bar is a reason that comes \
                    often: do what the \
                    table says about it first." }
                (figure(|width| refusals::picture(&refused, tally.runs, width),
                    &html! { "Share of all cycles that were refused, by their first reason. "
                        @if let Some(p) = tally.p_refused() { "Together: " (share(p)) "." } }, &table))
                @if let Some(sources) = self.refusal_sources() { (sources) }
            }
        };
        Section { id: "refused", title: "Refused cycles".into(), body }
    }

    /// In the middle of all ranges.
    fn heights(&self) -> StationHeights {
        let draft = self.machine.setup.draft();
        let (tip, drop, rise) =
            (middle(draft.datum_switch.tip_height), middle(draft.probe.drop), middle(draft.plates.rise));
        let depth = draft.probe.trip_depth.to_f64();
        let found = Explained::of(self.machine).expected.map(|expected| expected.landing);
        let coverage = draft.accept.coverage.percent();
        StationHeights {
            touched: [tip, tip + drop, tip + drop + rise + depth],
            touched_u: None,
            landing: tip + rise,
            landing_u: found.map(|landing| (landing.uncertainty.expanded.to_f64(), coverage)),
            drop,
            trip_depth: (depth, draft.probe.trip_depth_u.to_f64()),
            rise,
            corrections: 0.0,
        }
    }

    fn drawing(&self) -> Section {
        let heights = self.heights();
        let body = html! {
            p.lead { "Three touches find where the nozzle meets the plate: the tip on a switch fixed to the \
                frame, the probe’s shoulder on the same switch, the probe’s plunger on the plate. Only the \
                trip depth t must be known; a gauge check gives it." }
            (figure(|width| Some(stations::picture(&heights, width)),
                &html! { "This machine in the middle of the ranges that its file declares; heights to scale, \
                    corrections left out." },
                &heights_table(&heights)))
        };
        Section { id: "three-touches", title: "The three touches".into(), body }
    }

    fn errors(&self) -> Option<Section> {
        let campaign = self.campaign;
        let errors = &campaign.tally.errors;
        let bars = histogram::bars(errors, campaign.within);
        histogram::picture(errors, campaign.within, Width::Wide)?;
        let total = errors.total().max(1) as f64;
        let mut table =
            Table::new("Errors of accepted cycles", &["from, µm", "to, µm", "cycles", "share, %"]);
        for (from, to, count, _) in bars.iter().filter(|bar| bar.2 > 0) {
            table.rows.push(vec![
                figure_of(signed(from * 1e3, 2)),
                figure_of(signed(to * 1e3, 2)),
                figure_of(thousands(*count)),
                figure_of(pictures::percent(*count as f64 / total)),
            ]);
        }
        let within = number(campaign.within * 1e3, 1);
        let extremes = errors.extremes();
        let body = html! {
            p.lead { "How far off the first layer was, cycle by cycle. Bars to the left of zero: the tip is \
                too close to the plate and digs into the layer; to the right: too far, and the print may \
                come loose. Beyond the two tolerance lines (hatched) the first layer is spoilt." }
            (figure(|width| histogram::picture(errors, campaign.within, width), &html! {
                "Tolerance ±" (within) " µm. "
                @if let Some(outside) = campaign.tally.p_outside() { "Beyond it: " (share(outside)) " of \
                    accepted cycles. " }
                @if let Some((low, high)) = extremes {
                    "Smallest and largest error: " (signed(low * 1e3, 1)) " and " (signed(high * 1e3, 1)) " \
                        µm."
                }
            }, &table))
        };
        Some(Section { id: "error", title: "First-layer error".into(), body })
    }

    fn examined(&self) -> Option<&Budget> {
        self.further.examined.as_ref()?.budget.as_ref()
    }

    fn sources(&self) -> Vec<budget::BudgetBar> {
        if let Some(found) = self.examined() {
            return found.lines.iter().map(source).collect();
        }
        let expected = Explained::of(self.machine).expected;
        let shares = expected.map(|expected| expected.budget).unwrap_or_default();
        shares.iter().map(budget::BudgetBar::stated).collect()
    }

    fn budget(&self) -> Section {
        let sources = self.sources();
        let found = self.examined();
        let table = match found {
            Some(found) => examined_table(found),
            None => expected_table(self.machine),
        };
        let body = html! {
            p.lead { "What the uncertainty is made of. The longest bar is the one worth mending: halve a \
                source of 10 % and hardly anything is gained, halve one of 60 % and the error shrinks by a \
                quarter." }
            @if let Some(found) = found { @for sentence in found.advice.iter() { p.advice { (minus_free(sentence)) } } }
            @else { p.note { "There is no simulated budget: fewer than two cycles were accepted, or it was \
                interrupted. What is shown is \
                what the core expects of this machine." } }
            (figure(|width| budget::picture(&sources, width), &html! {
                @if let Some(found) = found {
                    "Share of the squared uncertainty. Full bars: what the core states, u = \
                        " (number(found.core_u * 1e3, 2))
                    " µm in all. Hatched bars: by how much the simulated variance falls when the source is \
                        switched off, standard deviation "
                    (um(found.simulated_sd, false)) " in all; whiskers: one standard error. Each from \
                        " (thousands(found.runs)) " cycles."
                } @else { "Share of the squared uncertainty, as the core expects it." }
            }, &table))
            @if let Some(found) = found { @for note in notes(&found.lines) { p.note { (shown(&note)) "." } } }
        };
        Section { id: "budget", title: "Uncertainty budget".into(), body }
    }
}

/// A share below one, in per cent, with two digits that tell something.
pub(super) fn percent_of(share: f64) -> String {
    let percent = share * 100.0;
    let decimals = if percent >= 10.0 {
        0
    } else if percent >= 1.0 {
        1
    } else if percent >= 0.1 {
        2
    } else {
        4
    };
    number(percent, decimals)
}

/// What a share beyond the tolerance means for somebody who prints.
fn judgement(outside: f64) -> String {
    let one_in = 1.0 / outside;
    if one_in < 2.0 {
        "More than every second one is spoilt.".into()
    } else {
        format!("That is about one in {}.", thousands(one_in.round() as u64))
    }
}

/// Sentences from the other pages, escaped, with the real minus sign between digits.
fn minus_free(sentence: &str) -> String {
    shown(sentence).replace(" -", " −")
}

fn source(line: &BudgetLine) -> budget::BudgetBar {
    budget::BudgetBar {
        name: shown(&line.source),
        core: line.core_share,
        simulated: Some((line.share.value, line.share.error)),
    }
}
