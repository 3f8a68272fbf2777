//! The report of recorded touches: what was refused first, then the newest landing, then all of them.

use maud::{Markup, html};
use zdatum::refusal::Refusal;
use zdatum::{Landing, Length, Speed, Station};

use super::parts::{Table, figure, figure_of, key_figures, minus, words};
use super::tables::heights_table;
use super::words::{cautions, glossary, short_caution};
use super::{Report, Section, frame};
use crate::files::MachineFile;
use crate::files::log::{Column, Log, TouchKind};
use crate::judged::Judged;
use crate::judged::explained::dominates;
use crate::show::chart::{Picture, Width, number, signed};
use crate::show::land::{closed_by_doubt, moved_in, words as in_words};
use crate::show::pictures::budget;
use crate::show::pictures::landings::{self, PlatePanel};
use crate::show::pictures::series::{self, DrawnSeries, Role};
use crate::show::pictures::stations::{self, StationHeights};
use crate::show::suggestion;
use crate::text::Problem;
use crate::text::name::{cut, shown};
use crate::text::number::{amount, percent, plain, ratio, signed as exact, uncertainty};

/// Cycles whose touches are drawn at most.
const MOST_DRAWN: usize = 12;
/// Plates that are drawn at most.
const MOST_PLATES: usize = 12;

/// What a report of recorded touches is made of.
#[derive(Clone, Copy, Debug)]
pub struct LandReport<'a> {
    /// The machine file.
    pub machine: &'a MachineFile,
    /// The log, where the touches come from one.
    pub log: Option<&'a Log>,
    /// Its cycles, in their order; at least one.
    pub judged: &'a [Judged],
}

impl<'a> LandReport<'a> {
    /// The report.
    ///
    /// # Errors
    /// A height of the log that cannot be read, which its cycles would have told before.
    pub fn report(&self) -> Result<Report, Problem> {
        let drawn = self.drawn()?;
        let mut sections = self.of_drawn(&drawn);
        sections.extend([cautions(), glossary()]);
        let made = html! {
            p.made { "Touches: " (self.log.map_or("heights given as arguments", |log| &log.source.name)) }
            p.made { "Machine: " (self.machine.source.name) }
        };
        let pictures = [
            self.heights().map(|heights| stations::picture(&heights, Width::Wide)),
            landings::picture(&self.plates().0, self.judged.len(), Width::Wide),
            budget::picture(&self.sources(), Width::Wide),
        ];
        let touched = drawn.iter().map(|cycle| self.series_picture(cycle, Width::Wide));
        let pictures = pictures.into_iter().flatten().chain(touched).collect();
        Ok(Report { html: frame("Where the nozzle lands", &made, &sections), pictures })
    }

    /// Its sections, in their order, without those that every report has.
    ///
    /// # Errors
    /// As [`LandReport::report`].
    pub fn sections(&self) -> Result<Vec<Section>, Problem> {
        Ok(self.of_drawn(&self.drawn()?))
    }

    fn of_drawn(&self, drawn: &[DrawnCycle<'_>]) -> Vec<Section> {
        [
            Some(self.in_short()),
            self.refused(),
            self.apply(),
            self.landings(),
            Some(self.touches(drawn)),
            self.drawing(),
            self.budget(),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn newest(&self) -> Option<&'a Judged> {
        self.judged.last()
    }

    /// The cycle that is drawn and whose budget is shown: the newest accepted, else the newest with anything
    /// to show.
    fn shown_cycle(&self) -> Option<(&'a Judged, &'a Landing)> {
        let accepted = self.judged.iter().rev().find_map(|one| Some((one, one.assessment.landing()?)));
        accepted.or_else(|| self.judged.iter().rev().find_map(|one| Some((one, one.seen()?))))
    }

    fn in_short(&self) -> Section {
        let refused = self.judged.iter().filter(|one| !one.assessment.accepted()).count();
        let cycles = self.judged.len();
        let body = html! {
            @match (refused, cycles) {
                (0, 1) => {},
                (0, _) => { p.lead { "None of the " (cycles) " cycles was refused." } },
                (1, 1) => {},
                (n, all) if n == all => { p.lead { strong { "All " (all) " cycles were refused." } " No \
                    landing may be \
                    applied; the reasons follow." } },
                (n, all) => { p.lead { strong { (n) " of " (all) " cycles were refused" } "; the reasons \
                    follow \
                    below." } },
            }
            @if let Some(newest) = self.newest() { (self.newest_in_short(newest)) }
        };
        Section { id: "in-short", title: "In short".into(), body }
    }

    fn newest_in_short(&self, newest: &Judged) -> Markup {
        let draft = self.machine.setup.draft();
        let percent = draft.accept.coverage.percent();
        let name = name_of(newest);
        html! {
            @match (newest.assessment.landing(), newest.seen()) {
                (Some(landing), _) => {
                    p.verdict.accept { span aria-hidden="true" { "● " } "Accept: " (name) }
                    p.lead { "The nozzle meets the plate at carriage height " strong { "L = \
                        " (minus(&exact(landing.height))) " ± "
                        (uncertainty(landing.uncertainty.expanded)) " mm" } ". The ± value is U: in \
                            " (percent)
                        " of 100 such cycles the true landing lies in this range. Every check passed." }
                    (self.figures(newest, landing))
                }
                (None, Some(landing)) => {
                    p.verdict.refuse { span aria-hidden="true" { "✕ " } "Refuse: " (name) }
                    p.lead { strong { "Do not apply it." } " The landing seen is " (minus(&exact(landing.height)))
                        @match newest.uncertainty() {
                            Some(found) => { " ± " (uncertainty(found.expanded)) " mm (U at " (percent) " %)" }
                            None => { " mm; the touches disprove any U" }
                        }
                        ", but the cycle is refused: the reasons are below." }
                    (self.figures(newest, landing))
                }
                (None, None) => {
                    p.verdict.refuse { span aria-hidden="true" { "✕ " } "Refuse: " (name) }
                    p.lead { "There is no landing: a value is out of range." }
                }
            }
            @if draft.probe.trimmed_at_speed == Speed::ZERO {
                p.caution { strong { "Never trimmed. " } "Until a gauge check is made, the uncertainty of \
                    the trip \
                    depth in the machine file outweighs everything else." }
            }
            @if let Some(earlier) = self.judged.iter().rev().find(|one| one.assessment.accepted()).filter(|_| !newest.assessment.accepted()) {
                p.note { "The last accepted one is " (name_of(earlier)) "; first find out what has changed \
                    since." }
            }
        }
    }

    fn figures(&self, judged: &Judged, landing: &Landing) -> Markup {
        let (u, says) = match judged.uncertainty() {
            Some(found) => {
                let dof = found.dof.finite().map_or_else(|| "∞".into(), |nu| nu.to_string());
                (format!("{} mm", uncertainty(found.u)), format!("k {}, ν {dof}", ratio(found.factor, 2)))
            }
            None => ("–".into(), "the touches disprove it".into()),
        };
        let last = judged.last.and_then(|last| landing.span.minus(last.span).ok());
        let span_u = uncertainty(landing.span_u());
        let moved = last.map_or_else(
            || format!("u {span_u} mm"),
            |change| {
                format!("u {span_u} mm; changed by {} mm since the last accepted one", minus(&exact(change)))
            },
        );
        let counted =
            Station::ALL.map(|station| judged.cycle.station(station).series.len().to_string()).join(" + ");
        let made = &landing.corrections;
        let corrections = [("growth", made.growth), ("speed", made.speed), ("soak", made.soak)]
            .map(|(what, length)| format!("{what} {}", minus(&exact(length))))
            .join(", ")
            + " mm";
        let mm = |length: Length| format!("{} mm", minus(&exact(length)));
        key_figures(&[
            ("standard uncertainty u", u, &says),
            ("drop d", mm(landing.drop), "how far the shoulder hangs below the tip"),
            ("rise r", mm(landing.rise), "plate over the datum switch"),
            ("span", mm(landing.span), &moved),
            ("corrections", corrections, "added to L"),
            ("counted touches", counted, "tip, shoulder, plate"),
        ])
    }

    fn refused(&self) -> Option<Section> {
        let refused: Vec<&Judged> = self.judged.iter().filter(|one| !one.assessment.accepted()).collect();
        if refused.is_empty() {
            return None;
        }
        let body = html! {
            p.lead { "A cycle is refused if any check fails. Each reason gives what was seen, the limit, \
                and what to \
                do. Do not apply a refused landing." }
            @for one in refused {
                section.cycle {
                    h3 { "Run " (cut(&one.cycle.run, 60)) @if let Some(plate) = &one.cycle.plate { ", plate \
                        " (cut(plate, 40)) } }
                    ul { @for refusal in one.refusals() { (self.reason(refusal)) } }
                    @if one.assessment.for_gauge_check() {
                        p.note { "This is the only reason, so the landing seen may be used for a gauge \
                            check (zdatum trim)." }
                    }
                    @if let Some(seen) = one.seen().filter(|seen| closed_by_doubt(self.machine, one, seen)) {
                        p.note { "The landing seen, " (minus(&exact(seen.height))) " mm, is inside the \
                            window in the \
                            file; only the guard band of U excludes it. With a wider accept.landing it \
                            could be used \
                            for the first gauge check (zdatum trim), which lowers U." }
                    }
                }
            }
        };
        Some(Section { id: "refused", title: "Refused cycles".into(), body })
    }

    fn reason(&self, refusal: &Refusal) -> Markup {
        let station =
            refusal.station.map_or_else(String::new, |station| format!(" at the {}", station.word()));
        html! {
            li {
                strong { (in_words(refusal.kind)) (station) } ": " (refusal.kind.text()) ". "
                @if let (Some(seen), Some(limit)) = (refusal.seen(), refusal.limit()) {
                    "Seen " (minus(&amount(seen))) ", limit " (minus(&amount(limit)))
                    (minus(&moved_in(self.machine, refusal).unwrap_or_default())) ". "
                }
                "What to do: " (refusal.kind.advice())
            }
        }
    }

    fn apply(&self) -> Option<Section> {
        let newest = self.newest()?;
        let landing = newest.assessment.landing()?;
        let body = html! {
            p.lead { "Suggested lines in RS-274 for " (name_of(newest)) " that make the landing the zero of \
                Z. The \
                tool sends nothing." }
            (short_caution())
            @for way in suggestion::ways(self.machine, landing, newest.wish) {
                p { (way.when) }
                dl.code { @for (code, what) in way.lines { div { dt { code { (code) } } dd { (what) } } } }
            }
            p.note { (suggestion::HOLDS_FOR) }
        };
        Some(Section { id: "apply", title: "To apply it".into(), body })
    }

    /// Plates in the order in which they first appear, and how many are left out.
    fn plates(&self) -> (Vec<PlatePanel>, usize) {
        let mut plates: Vec<PlatePanel> = Vec::new();
        for (i, one) in self.judged.iter().enumerate() {
            let Some(seen) = one.seen() else { continue };
            let name = one.cycle.plate.as_deref().map(shown);
            let landing = landings::LandingMark {
                number: i + 1,
                run: shown(&one.cycle.run),
                height: seen.height.to_f64(),
                expanded: one.uncertainty().map_or(0.0, |found| found.expanded.to_f64()),
                accepted: one.assessment.accepted(),
            };
            match plates.iter_mut().find(|plate| plate.name == name) {
                Some(plate) => plate.landings.push(landing),
                None => plates.push(PlatePanel { name, landings: vec![landing] }),
            }
        }
        let left_out = landings::keep_newest(&mut plates, MOST_PLATES);
        (plates, left_out)
    }

    fn landings(&self) -> Option<Section> {
        let (plates, left_out) = self.plates();
        landings::picture(&plates, self.judged.len(), Width::Wide)?;
        let mut table = Table::new(
            "All cycles in the log’s order; lengths in mm",
            &["run", "plate", "verdict", "landing", "U", "drop", "rise", "span", "reasons"],
        );
        for one in self.judged {
            let verdict = if one.assessment.accepted() { "accept" } else { "refuse" };
            let seen = |show: &dyn Fn(&Landing) -> String| {
                figure_of(one.seen().map_or_else(|| "–".into(), |landing| minus(&show(landing))))
            };
            let reasons: Vec<_> = one.refusals().iter().map(|refusal| in_words(refusal.kind)).collect();
            table.rows.push(vec![
                words(shown(&one.cycle.run)),
                words(one.cycle.plate.as_deref().map_or_else(|| "–".into(), shown)),
                words(verdict),
                seen(&|landing| exact(landing.height)),
                figure_of(one.uncertainty().map_or_else(|| "–".into(), |found| uncertainty(found.expanded))),
                seen(&|landing| exact(landing.drop)),
                seen(&|landing| exact(landing.rise)),
                seen(&|landing| exact(landing.span)),
                words(if reasons.is_empty() { "–".into() } else { reasons.join(", ") }),
            ]);
        }
        let percent = self.machine.setup.draft().accept.coverage.percent();
        let body = html! {
            p.lead { "Each plate’s landings in the order they were made. A step on all plates at once comes \
                from the \
                machine or the nozzle; if only one plate shows a step, that plate has changed or has \
                something under \
                it." }
            (figure(|width| landings::picture(&plates, self.judged.len(), width), &html! {
                "Landing L with ± U (" (percent) " %). All panels have the same scale, each centred on its \
                    own values."
                @if left_out > 0 { " " (left_out) " plates used longer ago appear only in the table." }
            }, &table))
        };
        Some(Section { id: "landings", title: "Landings for each plate".into(), body })
    }

    /// The cycles whose touches are drawn, newest first: all, or the refused ones and the newest.
    fn drawn(&self) -> Result<Vec<DrawnCycle<'a>>, Problem> {
        let all = self.judged.len() <= MOST_DRAWN;
        let last = self.judged.len().saturating_sub(1);
        let mut drawn = Vec::new();
        for (i, one) in self.judged.iter().enumerate().rev() {
            if drawn.len() < MOST_DRAWN && (all || i == last || !one.assessment.accepted()) {
                drawn.push(DrawnCycle { number: i + 1, judged: one, series: self.series(one)? });
            }
        }
        Ok(drawn)
    }

    /// A cycle's touches at each station, counted or not, where the log tells.
    fn series(&self, judged: &Judged) -> Result<Vec<DrawnSeries>, Problem> {
        let mut all = Vec::new();
        for (station, summary) in Station::ALL.into_iter().zip(&judged.summaries) {
            let mut touches = Vec::new();
            match self.log {
                Some(log) => {
                    for row in
                        log.rows.iter().filter(|row| row.run == judged.cycle.run && row.station == station)
                    {
                        let role = match (row.counted, row.kind) {
                            (true, _) => Role::Counted,
                            (false, TouchKind::First) => Role::First,
                            (false, TouchKind::Settle) => Role::Settle,
                            (false, TouchKind::Fine) => Role::Dropped,
                        };
                        if let Some(z) = log.value::<Length>(row, Column::Z)? {
                            touches.push((role, z.to_f64()));
                        }
                    }
                }
                None => {
                    let counted = judged.cycle.station(station).series.touches();
                    touches.extend(counted.iter().map(|z| (Role::Counted, z.to_f64())));
                }
            }
            let first = touches.first().map_or(0.0, |(_, z)| *z);
            let centre = summary.as_ref().map_or(first, centre);
            all.push(DrawnSeries { station, touches, centre });
        }
        Ok(all)
    }

    fn series_picture(&self, drawn: &DrawnCycle<'_>, width: Width) -> Picture {
        let band = self.machine.setup.draft().touch.band.to_f64();
        let name = format!("touches-{:03}", drawn.number);
        series::picture(name, &cut(&drawn.judged.cycle.run, 60), &drawn.series, band, width)
    }

    fn touches(&self, drawn: &[DrawnCycle<'_>]) -> Section {
        let left_out = self.judged.len() - drawn.len();
        let body = html! {
            p.lead { "Every recorded touch, measured from the centre of its series. The counted touches \
                (discs) must \
                fit in the shaded band; otherwise the cycle is refused. Discs that steadily climb or fall \
                from left \
                to right are walking: clean the tip, or let the machine warm up." }
            @if left_out > 0 { p.note { "Shown are the newest cycle and refused ones, " (drawn.len()) " in \
                all; \
                " (left_out) " others are left out." } }
            @for one in drawn {
                section.cycle {
                    h3 { "Run " (cut(&one.judged.cycle.run, 60))
                        @if let Some(plate) = &one.judged.cycle.plate { ", plate " (cut(plate, 40)) }
                        @if one.judged.assessment.accepted() { " – accepted" } @else { " – refused" } }
                    (figure(|width| Some(self.series_picture(one, width)), &html! {
                        "Heights in µm from the centre; shaded: the band of \
                            " (plain(self.machine.setup.draft().touch.band)) " mm."
                    }, &series_table(one)))
                }
            }
        };
        Section { id: "touches", title: "The touches".into(), body }
    }

    fn heights(&self) -> Option<StationHeights> {
        let (judged, landing) = self.shown_cycle()?;
        let draft = self.machine.setup.draft();
        let of = |i: usize| judged.summaries.get(i)?.as_ref();
        let (tip, shoulder, plate) = (of(0)?, of(1)?, of(2)?);
        let u = |summary: &zdatum::Summary| summary.variance().root().to_f64();
        let made = &landing.corrections;
        Some(StationHeights {
            touched: [centre(tip), centre(shoulder), centre(plate)],
            touched_u: Some([u(tip), u(shoulder), u(plate)]),
            landing: landing.height.to_f64(),
            landing_u: judged
                .uncertainty()
                .map(|found| (found.expanded.to_f64(), draft.accept.coverage.percent())),
            drop: landing.drop.to_f64(),
            trip_depth: (draft.probe.trip_depth.to_f64(), draft.probe.trip_depth_u.to_f64()),
            rise: landing.rise.to_f64(),
            corrections: [made.speed, made.growth, made.soak].iter().map(|made| made.to_f64()).sum(),
        })
    }

    fn drawing(&self) -> Option<Section> {
        let (judged, _) = self.shown_cycle()?;
        let heights = self.heights()?;
        let refused = if judged.assessment.accepted() { "" } else { ", which is refused" };
        let body = html! {
            p.lead { "Three touches find where the nozzle meets the plate: the tip on a switch fixed to the \
                frame, the \
                probe’s shoulder on the same switch, and the probe’s plunger on the plate. Only the trip \
                depth t must \
                be known; a gauge check gives it." }
            (figure(|width| Some(stations::picture(&heights, width)), &html! {
                "The heights of " (name_of(judged)) (refused) ", to scale." }, &heights_table(&heights)))
        };
        Some(Section { id: "three-touches", title: "The three touches".into(), body })
    }

    fn sources(&self) -> Vec<budget::BudgetBar> {
        let Some((judged, _)) = self.shown_cycle() else { return Vec::new() };
        judged.budget.iter().map(budget::BudgetBar::stated).collect()
    }

    fn budget(&self) -> Option<Section> {
        let (judged, landing) = self.shown_cycle()?;
        let sources = self.sources();
        let largest = judged.budget.first()?;
        let mut table = Table::new(
            "Uncertainty budget",
            &[
                "source",
                "u, mm",
                "share of u²",
                "what reduces \
            it",
            ],
        );
        for share in &judged.budget {
            table.rows.push(vec![
                words(shown(&share.source)),
                figure_of(uncertainty(share.u)),
                figure_of(format!("{} %", percent(share.share))),
                words(share.reduced_by),
            ]);
        }
        let body = html! {
            p.lead { "What U is made of. Work on the source with the longest bar; the short ones hardly \
                matter." }
            @if dominates(largest) {
                p.advice { "The dominant source is " (shown(&largest.source)) ". What reduces it: \
                    " (largest.reduced_by) "." }
            }
            @if let Some(few) = judged.rests_on_few(&self.machine.setup) {
                p.advice { "Careful: " (few.text()) "." }
            }
            (figure(|width| budget::picture(&sources, width), &html! {
                "Each source’s share of u² for " (name_of(judged)) "; u = \
                    " (uncertainty(landing.uncertainty.u)) " mm \
                    in all." }, &table))
        };
        Some(Section { id: "budget", title: "Uncertainty budget".into(), body })
    }
}

/// A cycle whose touches are drawn.
struct DrawnCycle<'a> {
    /// Place in the log, from 1.
    number: usize,
    judged: &'a Judged,
    series: Vec<DrawnSeries>,
}

fn name_of(judged: &Judged) -> String {
    format!("run {}", cut(&judged.cycle.run, 60))
}

/// What stands for a series, in mm.
fn centre(summary: &zdatum::Summary) -> f64 {
    summary.centre().to_bits() as f64 / 4_294_967_296.0
}

fn series_table(drawn: &DrawnCycle<'_>) -> Table {
    let mut table = Table::new(
        "Touches in the order in which they were taken",
        &["station and touch", "height, mm", "from the centre, µm", "what it is"],
    );
    for series in &drawn.series {
        for (i, (role, z)) in series.touches.iter().enumerate() {
            table.rows.push(vec![
                words(format!("{} {}", series.station.word(), i + 1)),
                figure_of(signed(*z, 4)),
                figure_of(signed((z - series.centre) * 1000.0, 1)),
                words(role.words()),
            ]);
        }
        let spread = number(series.spread_um(), 1);
        table.rows.push(vec![
            words(format!("{} in all", series.station.word())),
            figure_of(signed(series.centre, 4)),
            figure_of(format!("spread {spread}")),
            words("centre of the counted"),
        ]);
    }
    table
}
