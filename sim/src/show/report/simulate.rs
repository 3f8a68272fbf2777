//! The report of a campaign: what trigger noise does to the first layer, and what would help.

use maud::{Markup, html};
use zdatum::setup::Span;

use super::parts::{Table, figure, figure_of, key_figures, share, um, words};
use super::tables::{examined_table, expected_table, heights_table, methods_table, sweep_table};
use super::words::{cautions, glossary};
use super::{Report, Section, frame};
use crate::explained::Explained;
use crate::files::Machine;
use crate::run::agreement::{Agreement, Agrees};
use crate::run::compare::{Comparison, HOLDS, REFUSES, RISKY};
use crate::run::shares::Line;
use crate::run::{Budget, Estimate, Situation, Sweep, Swept};
use crate::show::budget::{conclusion, notes};
use crate::show::campaign::{Beside, Result as Campaign, thousands};
use crate::show::chart::{Picture, Width, number, signed};
use crate::show::compare::MIND;
use crate::show::name::shown;
use crate::show::pictures::stations::Heights;
use crate::show::pictures::{self, budget, histogram, methods, refusals, stations, sweep};

/// What a report of a campaign is made of.
#[derive(Clone, Copy, Debug)]
pub struct Simulate<'a> {
    /// The machine file.
    pub machine: &'a Machine,
    /// The campaign.
    pub campaign: &'a Campaign<'a>,
    /// What was run beside it.
    pub beside: &'a Beside,
}

impl Simulate<'_> {
    /// The report.
    pub fn report(&self) -> Report {
        let sections = self.sections();
        let campaign = self.campaign;
        let made = html! {
            p.made { "Machine: " (shown(campaign.machine)) }
            p.made { (thousands(campaign.tally.runs)) " simulated cycles, seed " (campaign.seed) ", tolerance ±"
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
        let sweeps = self.beside.sweeps.iter().flatten().filter_map(|one| sweep::picture(one, width));
        let refused: Vec<_> = campaign.tally.refusals().collect();
        [
            Some(stations::picture(&self.heights(), width)),
            histogram::picture(&campaign.tally.errors, campaign.within, width),
            budget::picture(&self.sources(), width),
            self.beside.comparison.as_ref().and_then(|comparison| methods::picture(comparison, width)),
            refusals::picture(&refused, campaign.tally.runs, width),
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
        let advice = self.beside.examined.as_ref().and_then(|examined| examined.budget.as_ref());
        let body = html! {
            @if tally.runs < campaign.asked {
                p.caution { strong { "Interrupted. " } (thousands(campaign.asked)) " cycles were asked for; this is \
                    what was done so far." }
            }
            @if refused == 0 {
                p.lead { "No cycle was refused." }
            } @else if tally.accepted == 0 {
                p.lead { strong { "Every cycle was refused." } " This machine, as its file describes it, would never \
                    print: the reasons \
                    are listed under “Refused cycles”. There is no first-layer error to speak of." }
            } @else {
                p.lead { strong { (thousands(refused)) " of " (thousands(tally.runs)) " cycles were refused" } ", "
                    @if let Some(p) = tally.p_refused() { (share(p)) }
                    ": the machine said so, applied nothing and would have to try again. All errors below are those of \
                        the \
                     accepted cycles." }
            }
            @if let Some(none) = beyond.filter(|beyond| beyond.part == 0) {
                p.lead { "Of " (thousands(none.whole)) " accepted first layers not one was off by more than ±" (within)
                    " µm: the share is below " (percent_of(none.unseen())) " % at 95 %." }
            } @else if let Some(outside) = beyond.map(|beyond| beyond.estimate()) {
                p.lead { "Of the accepted first layers " strong { (share(outside)) } " were off by more than ±" (within)
                    " µm. " (judgement(outside.value)) }
            }
            (key_figures(&figures))
            @if let Some(budget) = advice { @for sentence in budget.advice.iter().take(1) { p.advice { (minus_free(sentence)) } } }
            p.note { "What stands behind ± is one standard error: how far chance alone may have moved a simulated \
                number." }
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
                figure_of(share(crate::run::tally::share(*count, tally.runs).unwrap_or(NOTHING))),
                words(kind.text()),
                words(kind.advice()),
            ]);
        }
        let body = html! {
            @if refused.is_empty() {
                p.lead { "None of " (thousands(tally.runs)) " cycles was refused." }
            } @else {
                p.lead { "A cycle is refused when anything speaks against it. A long bar is a reason that comes \
                    often: do what the \
                    table says about it first." }
                (figure(|width| refusals::picture(&refused, tally.runs, width),
                    &html! { "Share of all cycles that were refused, by their first reason. "
                        @if let Some(p) = tally.p_refused() { "Together: " (share(p)) "." } }, &table))
            }
        };
        Section { id: "refused", title: "Refused cycles".into(), body }
    }

    /// In the middle of all ranges.
    fn heights(&self) -> Heights {
        let draft = self.machine.setup.draft();
        let middle = |span: Span| (span.low.to_f64() + span.high.to_f64()) / 2.0;
        let (tip, drop, rise) =
            (middle(draft.datum_switch.tip_height), middle(draft.probe.drop), middle(draft.plates.rise));
        let depth = draft.probe.trip_depth.to_f64();
        let found = Explained::of(self.machine).expected.map(|expected| expected.landing);
        let coverage = draft.accept.coverage.percent();
        Heights {
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
            p.lead { "Three touches find where the nozzle meets the plate: the tip on a switch fixed to the frame, the \
                probe’s shoulder on \
                the same switch, the probe’s plunger on the plate. Only the trip depth t must be known; a gauge check \
                gives it." }
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
            p.lead { "How far off the first layer was, cycle by cycle. Bars to the left of zero: the tip is too near \
                the plate and ploughs; \
                to the right: too far, and the print lets go. What lies beyond the two lines of tolerance (hatched) is \
                a spoilt first layer." }
            (figure(|width| histogram::picture(errors, campaign.within, width), &html! {
                "Tolerance ±" (within) " µm. "
                @if let Some(outside) = campaign.tally.p_outside() { "Beyond it: " (share(outside)) " of accepted \
                    cycles. " }
                @if let Some((low, high)) = extremes {
                    "Smallest and largest error: " (signed(low * 1e3, 1)) " and " (signed(high * 1e3, 1)) " µm."
                }
            }, &table))
        };
        Some(Section { id: "error", title: "First-layer error".into(), body })
    }

    fn examined(&self) -> Option<&Budget> {
        self.beside.examined.as_ref()?.budget.as_ref()
    }

    fn sources(&self) -> Vec<budget::Source> {
        if let Some(found) = self.examined() {
            return found.lines.iter().map(source).collect();
        }
        let expected = Explained::of(self.machine).expected;
        let shares = expected.map(|expected| expected.budget).unwrap_or_default();
        shares
            .iter()
            .map(|share| budget::Source {
                name: shown(&share.source),
                core: Some(share.share.to_f64()),
                simulated: None,
            })
            .collect()
    }

    fn budget(&self) -> Section {
        let sources = self.sources();
        let found = self.examined();
        let table = match found {
            Some(found) => examined_table(found),
            None => expected_table(self.machine),
        };
        let body = html! {
            p.lead { "What the uncertainty is made of. The longest bar is the one worth mending: halve a source of 10 \
                % and hardly anything is gained, \
                halve one of 60 % and the error shrinks by a quarter." }
            @if let Some(found) = found { @for sentence in found.advice.iter() { p.advice { (minus_free(sentence)) } } }
            @else { p.note { "There is no simulated budget: fewer than two cycles were accepted, or it was \
                interrupted. What is shown is \
                what the core expects of this machine." } }
            (figure(|width| budget::picture(&sources, width), &html! {
                @if let Some(found) = found {
                    "Share of the squared uncertainty. Full bars: what the core states, u = \
                        " (number(found.core_u * 1e3, 2))
                    " µm in all. Hatched bars: by how much the simulated variance falls when the source is switched \
                        off, standard deviation "
                    (um(found.simulated_sd, false)) " in all; whiskers: one standard error. Each from \
                        " (thousands(found.runs)) " cycles."
                } @else { "Share of the squared uncertainty, as the core expects it." }
            }, &table))
            @if let Some(found) = found { @for note in notes(&found.lines) { p.note { (note) "." } } }
        };
        Section { id: "budget", title: "Error budget".into(), body }
    }

    fn agreement(&self) -> Option<Section> {
        let examined = self.beside.examined.as_ref()?;
        let body = match &examined.agreement {
            Some(agreement) => html! {
                @if let Some(held) = self.campaign.tally.held().filter(|held| held.whole >= 2) {
                    p.lead { strong { (share(held.estimate())) } " of accepted landings lie within the interval stated with them; it \
                        claims " (number(100.0 * agreement.coverage, 0)) " %." (wider(agreement)) }
                }
                (agreed(agreement))
            },
            None => {
                html! { p.lead { @if self.campaign.tally.accepted == 0 { "That cannot be said: no cycle was accepted. \
                See the refused cycles above." } @else { "That cannot be said: it takes two blocks of cycles with accepted ones among them; \
                more cycles (" code { "--runs" } ") would tell." } } }
            }
        };
        Some(Section { id: "interval", title: "Does the stated interval agree?".into(), body })
    }

    fn methods(&self) -> Option<Section> {
        let comparison = self.beside.comparison.as_ref()?;
        methods::picture(comparison, Width::Wide)?;
        let within = number(comparison.within * 1e3, 1);
        let throughout: Vec<String> = comparison
            .rows
            .iter()
            .filter(|row| row.holds_throughout())
            .map(|row| row.method.name())
            .collect();
        let body = html! {
            p.lead { "The ways people set this height, on the same simulated machine: each column is something that \
                has changed since the \
                height was last set by hand. Look for a row of discs: that way survives everything." }
            @if comparison.complete() { p.advice {
                @if self.campaign.tally.accepted == 0 { "Every cycle of the machine as it is was refused: mend first \
                    what the refused cycles above name." }
                @else if throughout.is_empty() { "Nothing holds in every situation: mend first what leads the error \
                    budget." }
                @else { "In every situation hold: " (throughout.join("; ")) "." }
            } } @else { p.note { "Interrupted: this is what was done so far." } }
            (figure(|width| methods::picture(comparison, width), &html! {
                "Per cent of first layers beyond ±" (within) " µm. Holds: at most " (number(100.0 * HOLDS, 0)) " %; \
                    risky: at most "
                (number(100.0 * RISKY, 0)) " %; fails: more. Refuses: more than " (number(100.0 * REFUSES, 0))
                " % of the cycles are refused, and the number is their share. " (thousands(comparison.runs)) " runs in \
                    each cell."
            }, &methods_table(comparison)))
            (changes(comparison))
            @for left in &comparison.left_out { p.note { "Left out, " (left.method.name()) ": \
                " (shown(&left.why)) "." } }
            p.note { (MIND) }
        };
        Some(Section { id: "methods", title: "Methods compared".into(), body })
    }

    fn sweep(&self, swept: Swept, id: &'static str, title: &str) -> Option<Section> {
        let found = self.beside.sweeps.iter().flatten().find(|sweep| sweep.swept == swept)?;
        sweep::picture(found, Width::Wide)?;
        let (lead, head) = match swept {
            Swept::Touches => (
                "What more touches at each station would bring. Where the line runs flat, more touches only take time: \
                    what is left \
                 comes from elsewhere. Stop where it begins to.",
                "touches",
            ),
            Swept::Noise => (
                "What quieter or noisier switches would do. To the left of “this machine” lies what better switches \
                    would bring; where \
                 the line runs flat there, better ones bring nothing. Too much noise for the band shows as refused \
                 cycles, not as wrong landings: the table below has their share.",
                "times the noise",
            ),
        };
        let table = sweep_table(found, head);
        let body = html! {
            p.lead { (lead) }
            (figure(|width| sweep::picture(found, width), &html! {
                "One standard deviation of the first-layer error, simulated, and the core’s own u. \
                    " (thousands(found.runs))
                " cycles at each point, all on the same draws; all else as the machine file says. The core’s u trusts the \
                study in the machine file, so it stays where the true noise grows beyond that study. "
                (most_refused(found))
            }, &table))
        };
        Some(Section { id, title: title.into(), body })
    }
}

const NOTHING: Estimate = Estimate { value: 0.0, error: 0.0 };

/// A share below one, in per cent, with two digits that tell something.
fn percent_of(share: f64) -> String {
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

/// Sentences from the other pages, with the real minus sign between digits.
fn minus_free(sentence: &str) -> String {
    sentence.replace(" -", " −")
}

fn source(line: &Line) -> budget::Source {
    budget::Source {
        name: shown(&line.source),
        core: line.core_share,
        simulated: Some((line.share.value, line.share.error)),
    }
}

/// By how much the stated interval is the wider one, where it is at both ends.
fn wider(agreement: &Agreement) -> String {
    let (stated, simulated) = (&agreement.stated, &agreement.simulated);
    let low = simulated.low.value - (stated.y - stated.expanded);
    let high = stated.y + stated.expanded - simulated.high.value;
    let error = 2.0 * simulated.low.error.max(simulated.high.error);
    if low.min(high) <= error {
        return String::new();
    }
    format!(
        " It is wider than need be, by {} and {} µm at its ends.",
        number(low * 1e3, 2),
        number(high * 1e3, 2)
    )
}

/// Where most cycles are refused, where more than one in a hundred are anywhere.
fn most_refused(sweep: &Sweep) -> String {
    let most = sweep.points.iter().max_by(|a, b| a.figures.refused.value.total_cmp(&b.figures.refused.value));
    let most = most.filter(|point| point.figures.refused.value > 0.01);
    most.map_or_else(String::new, |point| {
        format!(
            "Refused: up to {} % of the cycles, at {}; what is drawn are the accepted ones alone.",
            percent_of(point.figures.refused.value),
            sweep::short(point.at)
        )
    })
}

fn agreed(agreement: &Agreement) -> Markup {
    let (stated, simulated) = (&agreement.stated, &agreement.simulated);
    let mut table = Table::new(
        format!("{} % intervals of the first-layer error", number(100.0 * agreement.coverage, 0)),
        &["whose", "from, µm", "to, µm", "u, µm"],
    );
    let low = (stated.y - stated.expanded) * 1e3;
    let high = (stated.y + stated.expanded) * 1e3;
    table.rows.push(vec![
        words("the core’s"),
        figure_of(signed(low, 3)),
        figure_of(signed(high, 3)),
        figure_of(number(stated.u * 1e3, 3)),
    ]);
    table.rows.push(vec![
        words("simulated"),
        figure_of(um(simulated.low, true)),
        figure_of(um(simulated.high, true)),
        figure_of(um(simulated.u, false)),
    ]);
    let yes = agreement.checks.iter().all(|check| check.agrees == Agrees::Yes);
    let no = agreement.checks.iter().all(|check| check.agrees == Agrees::No);
    html! {
        p.lead { "The core states an interval with each landing. Here it is held against the interval that the \
            simulated errors really \
            filled (JCGM 101:2008, 8.1)."
            @if yes { " They agree, as JCGM 101 tests it." } @else if no { " They differ by more than rounding." }
            " " (conclusion(agreement)) }
        (table.markup())
        ul { @for check in &agreement.checks { li {
            @let answer = match check.agrees { Agrees::Yes => "yes", Agrees::No => "no", Agrees::TooClose => "too \
                close to say" };
            "Within " (number(check.delta * 1e3, 3)) " µm (" (if check.digits == 1 { "one digit" } else { "two \
                digits" }) " of u)? "
            strong { (answer) } ": the lower ends differ by " (um(check.low, false)) ", the upper ends by \
                " (um(check.high, false)) "."
        } } }
        p.note { "From " (thousands(simulated.trials)) " cycles in " (simulated.blocks) " blocks, \
            " (thousands(simulated.accepted)) " accepted."
            @if !simulated.stable && agreement.checks.iter().any(|check| check.agrees == Agrees::TooClose) { " The numbers have not settled to a fifth of the finer tolerance: more cycles \
                (" code { "--runs" } ") would settle them." } }
    }
}

fn changes(comparison: &Comparison) -> Markup {
    let sizes = &comparison.sizes;
    let mm = |x: f64| number(x, 3);
    let says = |situation: Situation| match situation {
        Situation::Nothing => "homed anew, good to one motor step".to_owned(),
        Situation::PlateSwap => format!("another plate, up to ±{} mm thicker", mm(sizes.plate)),
        Situation::NozzleChange => format!("another nozzle, up to ±{} mm longer", mm(sizes.nozzle)),
        Situation::Reseated => format!(
            "the probe off and on again; it seats within {} mm, one standard deviation",
            mm(sizes.seat)
        ),
        Situation::WarmUp => format!(
            "set cold; since then the frame has grown {} mm and has {} mm to come, the bed {} mm",
            signed(sizes.frame_grown, 3),
            signed(sizes.frame_to_come, 3),
            signed(sizes.bed_grown, 3)
        ),
    };
    html! {
        p { "What has changed since the height was set by hand, with a gauge felt to \
            " (number(comparison.feel * 1e3, 0)) " µm:" }
        dl.words { @for situation in Situation::ALL { div { dt { (situation.name()) } dd { (says(situation)) } } } }
    }
}
