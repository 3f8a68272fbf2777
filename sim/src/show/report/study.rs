//! A study: how good each switch is, touch by touch.

use maud::html;

use super::Section;
use super::parts::{Table, figure, figure_of, key_figures, minus, words};
use crate::show::chart::number;
use crate::show::pictures::runs::{self, RunsPanel};
use crate::show::study::{enough, findings};
use crate::study::Study;
use crate::study::capability::MOST_SHARE;
use crate::study::heights::Height;
use crate::study::latency::SwitchLatency;
use crate::text::name::cut;
use crate::world::distributions::limits_of_s;

/// Runs that are drawn at most.
const MOST_RUNS: usize = 40;
/// Series that are listed at most.
const LISTED: usize = 200;

/// What a study's sections are made of.
#[derive(Clone, Copy, Debug)]
pub struct StudyReport<'a> {
    /// What was found.
    pub study: &'a Study,
    /// The log's name, as shown.
    pub log: &'a str,
}

impl StudyReport<'_> {
    /// Its sections.
    pub fn sections(&self) -> Vec<Section> {
        vec![self.switches(), self.touches()]
    }

    fn switches(&self) -> Section {
        let um = |mm: f64| number(mm * 1e3, 2);
        let mut table = Table::new(
            "Each station over all runs; lengths in µm if the log is in mm",
            &["station", "touches", "runs", "s of one touch", "ν", "95 % of s", "from run to run", "p"],
        );
        for one in &self.study.stations {
            let dash = || "–".to_owned();
            let limits = one.pooled.and_then(|(s, dof)| limits_of_s(s, dof));
            table.rows.push(vec![
                words(one.station.word()),
                figure_of(one.touches.to_string()),
                figure_of(one.runs.to_string()),
                figure_of(one.pooled.map_or_else(dash, |(s, _)| um(s))),
                figure_of(one.pooled.map_or_else(dash, |(_, dof)| dof.to_string())),
                figure_of(limits.map_or_else(dash, |(low, high)| format!("{} to {}", um(low), um(high)))),
                figure_of(one.anova.map_or_else(dash, |anova| um(anova.s_run))),
                figure_of(one.anova.and_then(|anova| anova.p).map_or_else(dash, |p| number(p, 3))),
            ]);
        }
        let mut figures = Vec::new();
        if let Some(drop) = &self.study.drop {
            let value = format!("{} µm", um(drop.beyond));
            figures.push(("probe seating, from fetch to fetch", value, "beyond what the switches explain"));
        }
        let switches: [(&str, &Option<SwitchLatency>); 2] = [
            ("latency of the datum switch", &self.study.datum),
            ("latency of the plate switch", &self.study.plate),
        ];
        for (name, switch) in switches {
            if let Some(switch) = switch {
                let value = format!("{} ± {} ms", number(switch.latency * 1e3, 3), number(switch.u * 1e3, 3));
                figures.push((name, value, "with its standard uncertainty"));
            }
        }
        let body = html! {
            p.made { "Touches: " (self.log) }
            @if let Some(capability) = &self.study.capability {
                @let within = number(capability.within * 1e3, 1);
                @if capability.good() {
                    p.verdict.accept { span aria-hidden="true" { "● " } "Good enough for ±" (within) " µm" }
                } @else {
                    p.verdict.refuse { span aria-hidden="true" { "✕ " } "Not good enough for ±" (within) " \
                        µm" }
                }
                p.lead { "With " (capability.touches) " touches per station, scatter alone gives U = \
                    " (um(capability.expanded))
                    " µm (k = 2), " (number(100.0 * capability.share, 0)) " % of the tolerance; the limit is "
                    (number(100.0 * MOST_SHARE, 0)) " %." }
                @if !capability.good() {
                    p.advice { (enough(capability, |mm| format!("{} µm", um(mm)))) "." }
                }
            }
            p.lead { "s is the standard deviation of one touch. Additional variation from run to run does \
                not come from \
                the switch, but from the plate, the probe’s seating or the temperature." }
            (table.markup())
            @if !figures.is_empty() { (key_figures(&figures)) }
            @for finding in findings(self.study) { p.advice { (minus(&finding)) "." } }
        };
        Section { id: "study", title: "The switches".into(), body }
    }

    /// Each station's touches from the mean of all.
    fn panels(&self) -> Vec<RunsPanel> {
        self.study
            .stations
            .iter()
            .map(|one| {
                let groups = || self.study.groups.at(one.station).take(MOST_RUNS);
                let all = || groups().flat_map(|group| group.z.iter().map(|z| Height::exact(*z)));
                let first = all().next().unwrap_or(Height::exact(Default::default()));
                let mean = all().map(|z| z.minus(&first)).sum::<f64>() / all().count().max(1) as f64;
                let runs = groups()
                    .map(|group| {
                        (
                            cut(&group.run, 40),
                            group.z.iter().map(|z| Height::exact(*z).minus(&first) - mean).collect(),
                        )
                    })
                    .collect();
                RunsPanel { name: one.station.word().into(), s: one.pooled.map(|(s, _)| s), runs }
            })
            .collect()
    }

    fn touches(&self) -> Section {
        let mut table = Table::new(
            "Series; lengths as in the log",
            &["run", "station", "touches", "mean", "s", "spread", "lag 1", "von Neumann"],
        );
        for (group, series) in self.study.groups.groups.iter().zip(&self.study.series).take(LISTED) {
            let or = |x: Option<f64>, places| x.map_or_else(|| "–".into(), |x| number(x, places));
            table.rows.push(vec![
                words(cut(&group.run, 40)),
                words(group.station.word()),
                figure_of(series.n.to_string()),
                figure_of(minus(&series.mean.rounded(4))),
                figure_of(or(series.s, 5)),
                figure_of(number(series.spread, 4)),
                figure_of(or(series.lag1, 2)),
                figure_of(or(series.von_neumann, 2)),
            ]);
        }
        let panels = self.panels();
        let body = html! {
            p.lead { "Each touch, and each run’s mean as a bar. If the bars differ by more than the touches \
                scatter, \
                something moves between runs. If touches climb or fall during a run, something moves, or \
                they were \
                taken at different speeds." }
            (figure(|width| runs::picture(&panels, width), &html! {
                "Heights from the mean of all runs; shaded: ± 2 s of one touch. At most " (MOST_RUNS) " \
                    runs are shown."
            }, &table))
        };
        Section { id: "study-touches", title: "The touches of the study".into(), body }
    }
}
