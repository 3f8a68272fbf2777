//! The history: whether an alarm is active, the charts, the plates side by side, all entries.

use maud::{Markup, html};

use super::Section;
use super::parts::{Table, figure, figure_of, minus, words};
use crate::history::replay::{PlateReplay, Watched};
use crate::history::{Entry, KeptCycle, What};
use crate::show::chart::{Picture, Width, number, signed};
use crate::show::history::{minute, said, words as event_words};
use crate::show::pictures::landings::{self, LandingMark, PlatePanel};
use crate::show::pictures::watch::{self, TrackPicture, WatchPoint};
use crate::text::name::{cut, shown};
use crate::text::number::{signed as exact, uncertainty};

/// Plates and charts that are drawn at most.
const MOST: usize = 12;
/// Newest readings of each that are drawn.
const NEWEST: usize = 60;

/// What a report of a history is made of.
#[derive(Clone, Copy, Debug)]
pub struct HistoryReport<'a> {
    /// The file's name.
    pub name: &'a str,
    /// Its entries, in order.
    pub entries: &'a [Entry],
    /// The plate book over them.
    pub plates: &'a PlateReplay,
    /// The watch over them.
    pub watched: &'a Watched,
    /// Whether each cycle has a button that shows it.
    pub buttons: bool,
}

impl HistoryReport<'_> {
    /// Its sections, without those that every report has.
    pub fn sections(&self) -> Vec<Section> {
        [Some(self.in_short()), self.watch(), self.side_by_side(), Some(self.all())]
            .into_iter()
            .flatten()
            .collect()
    }

    /// The active alarm, for the top of a page of more than the history; `None` where there is none.
    pub fn alarm(&self) -> Option<Markup> {
        let since = self.since()?;
        let diagnosis = self.watched.watch.diagnosis();
        Some(html! {
            p.caution { strong { "Alarm active since entry " (since) ". " }
                @match diagnosis.fits() {
                    [] => { "No single cause fits what has moved" },
                    fits => { @for (i, fit) in fits.iter().enumerate() {
                        @if i == 0 { "It fits that " } @else { "; or that " } (fit.cause.text())
                    } },
                }
                ": see " a href="#in-short-history" { "the history in short" } "." }
        })
    }

    /// The entry since which an alarm is active.
    fn since(&self) -> Option<i64> {
        self.watched.watch.alarmed().then(|| self.watched.alarms.last().map_or(0, |alarm| alarm.entry))
    }

    fn cycles(&self) -> impl Iterator<Item = (&Entry, &KeptCycle)> {
        self.entries.iter().filter_map(|entry| match &entry.what {
            What::Cycle(cycle) => Some((entry, &**cycle)),
            What::Event(_) => None,
        })
    }

    fn in_short(&self) -> Section {
        let (all, refused) =
            (self.cycles().count(), self.cycles().filter(|(_, cycle)| !cycle.accepted).count());
        let body = html! {
            @if all == 0 { p.lead { "No cycles are kept yet: use " code { "zdatum land … --keep" } " to \
                keep some." } }
            @else {
                @if let Some(since) = self.since() {
                    p.verdict.refuse { span aria-hidden="true" { "✕ " } "Alarm active since entry " (since) }
                    @match self.watched.watch.diagnosis().fits() {
                        [] => { p.lead { "No single cause fits what has moved." } },
                        fits => { @for (i, fit) in fits.iter().enumerate() {
                            p.lead { @if i == 0 { "It fits that " } @else { "Or that \
                                " } strong { (fit.cause.text()) }
                                " (" (minus(&exact(fit.shift))) " mm)." }
                            p.advice { (fit.cause.advice()) }
                        } },
                    }
                } @else {
                    p.verdict.accept { span aria-hidden="true" { "● " } "No alarm active" }
                }
                p.lead { (all) " cycles are kept, " (refused) " of them refused; \
                    " (self.plates.book.len()) " plates are known." }
            }
            @for note in self.watched.notes.iter().chain(&self.plates.notes) { p.note { (note) "." } }
        };
        Section { id: "in-short-history", title: "The history in short".into(), body }
    }

    fn tracks(&self) -> Vec<TrackPicture> {
        // The most recently seen ones stay: tip and drop are seen in every cycle.
        let last =
            |track: &crate::history::replay::WatchTrack| track.points.last().map_or(0, |point| point.number);
        let mut ends: Vec<i64> = self.watched.tracks.iter().map(last).collect();
        ends.sort_unstable();
        let first_kept = ends.get(ends.len().saturating_sub(MOST)).copied().unwrap_or(0);
        let newest = self.watched.tracks.iter().filter(|track| last(track) >= first_kept).take(MOST);
        let tracks = newest.map(|track| TrackPicture {
            name: track
                .plate
                .as_ref()
                .map_or_else(|| named(track.quantity).into(), |plate| format!("span of {}", cut(plate, 40))),
            points: track
                .points
                .iter()
                .skip(track.points.len().saturating_sub(NEWEST))
                .map(|point| WatchPoint {
                    number: point.number,
                    average: point
                        .charts
                        .score()
                        .map(|_| f64::from(point.charts.ewma().level().to_bits()) / 65_536.0),
                    alarm: point.charts.alarm().is_some(),
                    begins: point.begins,
                })
                .collect(),
        });
        tracks.collect()
    }

    fn limit(&self) -> f64 {
        self.watched.watch.design().ewma_limit().to_f64()
    }

    fn watch_picture(&self, width: Width) -> Option<Picture> {
        watch::picture(&self.tracks(), self.limit(), width)
    }

    fn watch(&self) -> Option<Section> {
        self.watch_picture(Width::Wide)?;
        let mut table = Table::new("What is charted", &["quantity", "level, mm", "s, mm", "cycles", "now"]);
        for track in &self.watched.tracks {
            let charts = &track.charts;
            let name = track
                .plate
                .as_ref()
                .map_or_else(|| named(track.quantity).into(), |plate| format!("span of {}", cut(plate, 40)));
            let level = charts.mean().ok().flatten().map_or_else(|| "–".into(), |mean| minus(&exact(mean)));
            let s = charts.s().ok().flatten().map_or_else(|| "–".into(), |(s, _)| uncertainty(s));
            let now = match (charts.alarm(), charts.score()) {
                (Some(_), _) => "in alarm",
                (None, Some(_)) => "steady",
                (None, None) => "still learning",
            };
            table.rows.push(vec![
                words(name),
                figure_of(level),
                figure_of(s),
                figure_of(track.points.len().to_string()),
                words(now),
            ]);
        }
        let body = html! {
            p.lead { "Each height from cycle to cycle, in its own standard deviations. Between the two \
                lines is the \
                machine’s usual scatter; a cross means that something has changed." }
            (figure(|width| self.watch_picture(width), &html! {
                "Moving average (EWMA), limits ±" (number(self.limit(), 2)) " s. A cross between the lines \
                    is an alarm of the cumulative \
                 sum (CUSUM). Dashed: an entered event starts a new level."
            }, &table))
        };
        Some(Section { id: "watch", title: "The watch".into(), body })
    }

    fn spans(&self) -> Vec<PlatePanel> {
        let mut plates: Vec<PlatePanel> = Vec::new();
        for (place, (_, cycle)) in self.cycles().enumerate() {
            let (Some(plate), Some(span)) = (&cycle.plate, cycle.observed.and_then(|observed| observed.span))
            else {
                continue;
            };
            let name = Some(shown(plate));
            let seen = LandingMark {
                number: place + 1,
                run: shown(&cycle.run),
                height: span.value.to_f64(),
                expanded: 2.0 * span.variance.root().to_f64(),
                accepted: cycle.accepted,
            };
            match plates.iter_mut().find(|plate| plate.name == name) {
                Some(plate) => plate.landings.push(seen),
                None => plates.push(PlatePanel { name, landings: vec![seen] }),
            }
        }
        for plate in &mut plates {
            let older = plate.landings.len().saturating_sub(NEWEST);
            plate.landings.drain(..older);
        }
        landings::keep_newest(&mut plates, MOST);
        plates
    }

    fn plates_picture(&self, width: Width) -> Option<Picture> {
        landings::labelled(&self.spans(), self.cycles().count(), &landings::SPANS, width)
    }

    fn side_by_side(&self) -> Option<Section> {
        self.plates_picture(Width::Wide)?;
        let mut table = Table::new(
            "Known plates; lengths in mm",
            &["plate", "span", "u", "s", "cycles", "above the lowest"],
        );
        let book = self.plates.book.plates();
        let lowest = book.iter().filter_map(|plate| plate.span().ok()).min();
        for plate in book {
            let span = plate.span().ok();
            let over = span.zip(lowest).and_then(|(span, lowest)| span.minus(lowest).ok());
            let s = plate.spread().ok().flatten().map_or_else(|| "–".into(), uncertainty);
            table.rows.push(vec![
                words(shown(plate.name())),
                figure_of(span.map_or_else(|| "–".into(), |span| minus(&exact(span)))),
                figure_of(plate.u().map_or_else(|_| "–".into(), uncertainty)),
                figure_of(s),
                figure_of(plate.count().to_string()),
                figure_of(over.map_or_else(|| "–".into(), |over| signed(over.to_f64(), 4))),
            ]);
        }
        let body = html! {
            p.lead { "Each plate’s span, its height minus the shoulder’s. Neither nozzle nor trim changes \
                it, so a \
                change here comes from the plate, or from something under it." }
            (table.markup())
            (figure(|width| self.plates_picture(width), &html! {
                "Spans with ± 2 u. All panels have the same scale, each centred on its own values."
            }, &self.spans_table()))
        };
        Some(Section { id: "plates", title: "Plates side by side".into(), body })
    }

    fn spans_table(&self) -> Table {
        let mut table = Table::new("Spans in mm", &["plate", "run", "span", "2 u", "verdict"]);
        for plate in self.spans() {
            for seen in plate.landings {
                table.rows.push(vec![
                    words(plate.name.clone().unwrap_or_default()),
                    words(seen.run),
                    figure_of(signed(seen.height, 4)),
                    figure_of(number(seen.expanded, 4)),
                    words(if seen.accepted { "accept" } else { "refuse" }),
                ]);
            }
        }
        table
    }

    fn all(&self) -> Section {
        let body = html! {
            div.scroll tabindex="0" role="group" aria-label="All entries, the newest first" {
                table {
                    caption { "All entries, the newest first; times are UTC, lengths mm" }
                    thead { tr {
                        @for head in ["entry", "kept", "what"] { th scope="col" { (head) } }
                        @for head in ["landing", "U"] { th.n scope="col" { (head) } }
                    } }
                    tbody { @for entry in self.entries.iter().rev() { (self.row(entry)) } }
                }
            }
        };
        Section { id: "entries", title: "Entries".into(), body }
    }

    fn row(&self, entry: &Entry) -> Markup {
        let said = match &entry.what {
            What::Cycle(cycle) => said(cycle),
            What::Event(_) => (None, None),
        };
        let what = match &entry.what {
            What::Cycle(cycle) => {
                let plate = cycle
                    .plate
                    .as_ref()
                    .map_or_else(String::new, |plate| format!(", plate {}", cut(plate, 40)));
                format!(
                    "run {}{plate}: {}",
                    cut(&cycle.run, 40),
                    if cycle.accepted { "accept" } else { "refuse" }
                )
            }
            What::Event(event) => shown(event_words(event).trim_start_matches("– ")),
        };
        html! { tr {
            th scope="row" {
                @if self.buttons && matches!(entry.what, What::Cycle(_)) {
                    button type="button" data-entry=(entry.number) aria-label={ "Show entry \
                        " (entry.number) } { (entry.number) }
                } @else { (entry.number) }
            }
            td.when { (minute(entry.at)) }
            td.what { (what) }
            td.n { (said.0.map_or_else(|| "–".into(), |landing| minus(&exact(landing)))) }
            td.n { (said.1.map_or_else(|| "–".into(), uncertainty)) }
        } }
    }
}

fn named(quantity: &str) -> &'static str {
    match quantity {
        "tip" => "tip height",
        "drop" => "drop",
        _ => "span",
    }
}
