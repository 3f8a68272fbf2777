//! The sections of what is run beside a campaign: the stated interval, the methods, the sweeps.

use maud::{Markup, html};

use super::Section;
use super::parts::{Table, figure, figure_of, share, um, words};
use super::simulate::{SimulateReport, percent_of};
use super::tables::{methods_table, sweep_table};
use crate::show::budget::conclusion;
use crate::show::campaign::thousands;
use crate::show::chart::{Width, number, signed};
use crate::show::compare::MIND;
use crate::show::pictures::{methods, sweep};
use zdatum_world::questions::budget::agreement::{Agreement, Agrees};
use zdatum_world::questions::compare::{Comparison, HOLDS, REFUSES, RISKY, Situation};
use zdatum_world::questions::sweep::{Sweep, Swept};

impl SimulateReport<'_> {
    pub(super) fn agreement(&self) -> Option<Section> {
        let examined = self.further.examined.as_ref()?;
        let body = match &examined.agreement {
            Some(agreement) => html! {
                @if let Some(held) = self.campaign.tally.held().filter(|held| held.whole >= 2) {
                    p.lead { strong { (share(held.estimate())) } " of accepted landings lie within the \
                        interval stated with them; it claims " (number(100.0 * agreement.coverage, 0)) " %." (wider(agreement)) }
                }
                (agreed(agreement))
            },
            None => {
                html! { p.lead { @if self.campaign.tally.accepted == 0 { "No cycle was accepted. See the \
                refused cycles above." } @else { "Too few cycles to tell: it takes two blocks of cycles \
                with accepted ones among them; more cycles (" code { "--runs" } ") would tell." } } }
            }
        };
        Some(Section { id: "interval", title: "Does the stated interval agree?".into(), body })
    }

    pub(super) fn methods(&self) -> Option<Section> {
        let comparison = self.further.comparison.as_ref()?;
        methods::picture(comparison, Width::Wide)?;
        let within = number(comparison.within * 1e3, 1);
        let throughout: Vec<String> = comparison
            .rows
            .iter()
            .filter(|row| row.holds_throughout())
            .map(|row| row.method.name())
            .collect();
        let body = html! {
            p.lead { "The ways people set this height, on the same simulated machine: each column is \
                something that has changed since the height was last set by hand. Look for a row of discs: \
                that way survives everything." }
            p { (MIND) }
            @if comparison.complete() { p.advice {
                @if self.campaign.tally.accepted == 0 { "Every cycle of the machine as it is was refused: \
                    mend first what the refused cycles above name." }
                @else if throughout.is_empty() { "No method holds in every situation: mend first what leads \
                    the uncertainty budget." }
                @else { "These hold in every situation: " (throughout.join("; ")) "." }
            } } @else { p.note { "Interrupted: this is what was done so far." } }
            (figure(|width| methods::picture(comparison, width), &html! {
                "Per cent of first layers beyond ±" (within) " µm. Holds: at most " (number(100.0 * HOLDS, 0)) " \
                    %; risky: at most "
                (number(100.0 * RISKY, 0)) " %; fails: more. Refuses: more than " (number(100.0 * REFUSES, 0))
                " % of the cycles are refused, and the number is their share. " (thousands(comparison.runs)) " \
                    runs in each cell."
            }, &methods_table(comparison)))
            (changes(comparison))
            @for left in &comparison.left_out { p.note { "Left out, " (left.method.name()) ": \
                " (left.why) "." } }
        };
        Some(Section { id: "methods", title: "Methods compared".into(), body })
    }

    pub(super) fn sweep(&self, swept: Swept, id: &'static str, title: &str) -> Option<Section> {
        let found = self.further.sweeps.iter().flatten().find(|sweep| sweep.swept == swept)?;
        sweep::picture(found, Width::Wide)?;
        let (lead, head) = match swept {
            Swept::Touches => (
                "What more touches at each station would bring. Where the line runs flat, more touches only \
                    take time: what is left comes from elsewhere. Stop where it begins to.",
                "touches",
            ),
            Swept::Noise => (
                "What quieter or noisier switches would do. To the left of “this machine” lies what better \
                    switches would bring; where the line runs flat there, better ones bring nothing. Too \
                    much noise for the band shows as refused cycles, not as wrong landings: the table below \
                    has their share.",
                "times the noise",
            ),
        };
        let table = sweep_table(found, head);
        let body = html! {
            p.lead { (lead) }
            (figure(|width| sweep::picture(found, width), &html! {
                "One standard deviation of the first-layer error, simulated, and the core’s own u. \
                    " (thousands(found.runs))
                " cycles at each point, all on the same draws; all else as the machine file says. The \
                    core’s u trusts the study in the machine file, so it stays where the true noise grows \
                    beyond that study. "
                (most_refused(found))
            }, &table))
        };
        Some(Section { id, title: title.into(), body })
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
        " It is wider than it need be, by {} and {} µm at its ends.",
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
        p.lead { "The core states an interval with each landing. Here it is compared with the interval that \
            the simulated errors really filled (JCGM 101:2008, 8.1)."
            @if yes { " They agree, as JCGM 101 tests it." } @else if no { " They differ by more than \
                rounding." }
            " " (conclusion(agreement)) }
        (table.markup())
        ul { @for check in &agreement.checks { li {
            @let answer = match check.agrees { Agrees::Yes => "yes", Agrees::No => "no", Agrees::TooClose => "too \
                close to say" };
            "Within " (number(check.delta * 1e3, 3)) " µm (" (if check.digits == 1 { "one \
                digit" } else { "two digits" }) " of u)? "
            strong { (answer) } ": the lower ends differ by " (um(check.low, false)) ", the upper ends by \
                " (um(check.high, false)) "."
        } } }
        p.note { "From " (thousands(simulated.trials)) " cycles in " (simulated.blocks) " blocks, \
            " (thousands(simulated.accepted)) " accepted."
            @if !simulated.stable && agreement.checks.iter().any(|check| check.agrees == Agrees::TooClose) { " \
                The numbers have not settled to a fifth of the finer tolerance: more cycles (" code { "--runs" } ") would settle them." } }
    }
}

fn changes(comparison: &Comparison) -> Markup {
    let sizes = &comparison.sizes;
    let mm = |x: f64| number(x, 3);
    let says = |situation: Situation| match situation {
        Situation::Nothing => "homed anew, good to one motor step".to_owned(),
        Situation::PlateSwap => format!("another plate, up to ±{} mm thicker", mm(sizes.plate)),
        Situation::NozzleChange => format!("another nozzle, up to ±{} mm longer", mm(sizes.nozzle)),
        Situation::Reseated => {
            format!("the probe off and on again; it seats to ±{} mm, one standard deviation", mm(sizes.seat))
        }
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
