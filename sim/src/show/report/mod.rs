//! Reports: one file of HTML with everything in it. No script, nothing fetched, every text escaped by `maud`.
//!
//! A report is a list of sections in a frame. Pictures come from [`pictures`](super::pictures), twice each:
//! for a phone and for a desk; the style sheet shows one of them.

mod beside;
mod history;
mod land;
mod parts;
mod plan;
mod rare;
mod refusal_sources;
mod simulate;
mod soak;
mod study;
mod tables;
mod words;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::chart::{self, Picture};

pub use history::HistoryReport;
pub use land::LandReport;
pub use simulate::SimulateReport;
pub use soak::SoakReport;
pub use study::StudyReport;

/// What stands in each report's head: what may be replaced without asking.
pub const MARK: &str = "<meta name=\"generator\" content=\"zdatum";

/// The style of a report, beside that of its charts.
pub const CSS: &str = include_str!("report.css");

/// Nothing may be fetched or run. Styles stand in the page itself.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/// A report, and its pictures one by one.
#[derive(Clone, Debug)]
pub struct Report {
    /// The page.
    pub html: String,
    /// The pictures for a desk; their names differ.
    pub pictures: Vec<Picture>,
}

/// A part of a report.
#[derive(Clone, Debug)]
pub struct Section {
    /// For links: lower-case letters and hyphens.
    pub id: &'static str,
    /// What it is.
    pub title: String,
    /// What it says.
    pub body: Markup,
}

impl Section {
    /// As it stands in a report, and wherever else [`CSS`] is.
    pub fn html(&self) -> String {
        together(&self.markup().into_string())
    }

    fn markup(&self) -> Markup {
        html! {
            section id=(self.id) aria-labelledby={ (self.id) "-title" } {
                h2 id={ (self.id) "-title" } { (self.title) }
                (self.body)
            }
        }
    }
}

/// The frame around sections. `made` says from what the report was made.
fn frame(title: &str, made: &Markup, sections: &[Section]) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content={ "zdatum " (env!("CARGO_PKG_VERSION")) };
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                title { (title) " – zdatum" }
                style { (PreEscaped(chart::CSS)) (PreEscaped(CSS)) }
            }
            body {
                header {
                    p.maker { "zdatum" }
                    h1 { (title) }
                    (made)
                }
                nav aria-label="Contents" {
                    ol { @for section in sections { li { a href={ "#" (section.id) } { (section.title) } } } }
                }
                main {
                    @for section in sections { (section.markup()) }
                }
                footer {
                    p { "Made by zdatum " (env!("CARGO_PKG_VERSION")) ". This page contains no script and \
                        loads \
                        nothing." }
                }
            }
        }
    };
    together(&page.into_string())
}

/// A page of sections from several sources, each named, as shown, with what it was made from; cautions and
/// words come last. An alarm is told where the page begins, before the landings that it casts a doubt on.
pub fn whole(from: &[(&str, String)], mut sections: Vec<Section>, alarm: Option<&Markup>) -> String {
    if let (Some(short), Some(alarm)) = (sections.iter_mut().find(|section| section.id == "in-short"), alarm)
    {
        short.body = html! { (alarm) (short.body) };
    }
    sections.extend([words::cautions(), words::glossary()]);
    let made = html! { @for (what, name) in from { p.made { (what) ": " (name) } } };
    frame("This machine", &made, &sections)
}

/// Keeps a number on one line with its unit and its uncertainty.
fn together(html: &str) -> String {
    let mut html = html.replace(" ± ", "\u{a0}±\u{a0}");
    for unit in ["%", "µm", "mm"] {
        for digit in '0'..='9' {
            html = html.replace(&format!("{digit} {unit}"), &format!("{digit}\u{a0}{unit}"));
        }
    }
    html
}
