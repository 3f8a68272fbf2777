//! A soak: how the machine grows while it warms, and how long to wait.

use maud::{Markup, html};

use super::Section;
use super::parts::{Table, figure, figure_of, words};
use crate::show::chart::{number, signed};
use crate::show::pictures::soak::{self, SoakCurve};
use crate::show::soak::{at_least, minutes, straight};
use crate::study::Groups;
use crate::study::heights::Height;
use crate::study::soak::{SoakResult, StationSoak};

/// What a soak's section is made of.
#[derive(Clone, Copy, Debug)]
pub struct SoakReport<'a> {
    /// What was found, station by station.
    pub soaks: &'a [StationSoak],
    /// The touches.
    pub groups: &'a Groups,
    /// Growth that may still be to come, mm.
    pub left: f64,
    /// The log's name, as shown.
    pub log: &'a str,
}

impl SoakReport<'_> {
    /// Its section.
    pub fn section(&self) -> Section {
        let body = html! {
            p.made { "Touches: " (self.log) }
            p.lead { "The height while the machine warms up. Where the curve is flat, the machine has \
                stopped growing; a landing taken earlier is wrong by the growth still to come." }
            @for found in self.soaks { (self.one(found)) }
        };
        Section { id: "soak", title: "How long to let it warm".into(), body }
    }

    fn curve(&self, found: &StationSoak) -> SoakCurve {
        let touches = || {
            self.groups
                .at(found.station)
                .flat_map(|group| group.times.iter().zip(&group.z).map(|(t, z)| (*t, Height::exact(*z))))
        };
        let first = touches().next();
        let from = |z: Height| first.as_ref().map_or(0.0, |(_, first)| z.minus(first));
        let fit = match &found.told {
            SoakResult::Grows(growing) => {
                Some((from(growing.end) - growing.fit.b, growing.fit.b, growing.fit.tau))
            }
            _ => None,
        };
        SoakCurve {
            station: found.station.word().into(),
            touches: touches().map(|(t, z)| (t - found.times.0, from(z))).collect(),
            fit,
            wait: found.wait().filter(|wait| *wait > 0.0),
        }
    }

    fn one(&self, found: &StationSoak) -> Markup {
        let left = number(self.left * 1e3, 1);
        let mut table = Table::new("What the touches tell", &["what", "value", "standard uncertainty"]);
        let mut row = |what: &str, value: String, u: String| {
            table.rows.push(vec![words(what), figure_of(value), figure_of(u)])
        };
        row("touches", found.n.to_string(), "–".into());
        row("from the first to the last", minutes(found.times.1 - found.times.0), "–".into());
        let says = match &found.told {
            SoakResult::Grows(growing) => {
                let um = |mm: f64| format!("{} µm", number(mm * 1e3, 1));
                row("growth in all", format!("{} µm", signed(growing.fit.b * 1e3, 1)), um(growing.fit.b_sd));
                row("time constant", minutes(growing.fit.tau), minutes(growing.fit.tau_sd));
                row("scatter of one touch", um(growing.fit.s()), "–".into());
                row(
                    "still to come at the end",
                    format!("{} µm", signed(growing.left.0 * 1e3, 1)),
                    um(growing.left.1),
                );
                row("wait, most likely", minutes(growing.wait), minutes(growing.wait_u));
                row("wait, to be sure", at_least(growing.waits.1), "–".into());
                if growing.waits.1 > 0.0 {
                    format!(
                        "Wait {}: then less than {left} µm is still to come, at 97.5 %.",
                        at_least(growing.waits.1)
                    )
                } else {
                    format!("No need to wait: less than {left} µm was to come from the first touch on.")
                }
            }
            SoakResult::TooShort { per_hour, tau_low, .. } => format!(
                "The log is too short to tell: it moves by {} µm an hour and no end is in sight. {}",
                signed(per_hour * 1e3, 1),
                tau_low.map_or_else(
                    || straight(found.times.1 - found.times.0),
                    |tau_low| format!("The time constant is {} or more.", minutes(tau_low))
                )
            ),
            SoakResult::Still { most } => {
                format!("It does not move: by {} µm at most, within {left} µm.", number(most * 1e3, 1))
            }
            SoakResult::TooNoisy { most } => format!(
                "It cannot be told: {} µm may hide in the scatter, more than {left} µm.",
                number(most * 1e3, 1)
            ),
        };
        let curve = self.curve(found);
        html! {
            section.cycle {
                h3 { "At the " (found.station.word()) }
                p.advice { (says) }
                (figure(|width| soak::picture(&curve, width), &html! { "Rings: touches. Dashed curve: a + \
                    b·(1 − exp(−t/τ)), \
                    where one fits. Upright line: the wait, to be sure." }, &table))
            }
        }
    }
}
