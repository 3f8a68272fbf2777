//! The history, for people and for programs.

use anstyle::Style;
use serde::Deserialize;
use serde_json::value::RawValue;
use zdatum::{Length, Uncertainty};

use super::land;
use crate::files::MachineFile;
use crate::history::keep::{Fate, KeptCycles};
use crate::history::{Entry, EventKind, HistoryEvent, KeptCycle, Moment, What};
use crate::judged::Judged;
use crate::text::json::{Number, verdict};
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::{cut, padded};
use crate::text::number::{signed, uncertainty};
use crate::text::written::Written;

/// What the history had to do with landings, in `land`'s document.
#[derive(Debug, serde::Serialize)]
pub struct Consulted {
    file: String,
    cycles: Vec<ConsultedCycle>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    notes: Vec<String>,
}

#[derive(Debug, serde::Serialize)]
struct ConsultedCycle {
    run: String,
    number: Option<i64>,
    kept: Option<&'static str>,
    held_against: Option<i64>,
}

impl Consulted {
    /// As it went; `keeping` says whether anything was to be kept.
    pub fn of(file: &str, kept: &KeptCycles, keeping: bool) -> Self {
        let cycles = kept.judged.iter().zip(&kept.fates).map(|(judged, fate)| ConsultedCycle {
            run: judged.cycle.run.clone(),
            number: fate.number,
            kept: match fate {
                _ if is_new(fate, keeping) => Some("now"),
                Fate { number: Some(_), .. } => Some("before"),
                _ => None,
            },
            held_against: fate.held_against,
        });
        Self { file: file.into(), cycles: cycles.collect(), notes: kept.notes.clone() }
    }
}

/// Whether a cycle was kept just now.
fn is_new(fate: &Fate, keeping: bool) -> bool {
    keeping && fate.number.is_some() && fate.number != fate.known.as_ref().map(|known| known.number)
}

/// What the history had to do with landings.
pub fn consulted(file: &str, kept: &KeptCycles, keeping: bool) -> String {
    let mut out = String::new();
    line!(&mut out, "{BOLD}History{BOLD:#} {file}");
    for (judged, fate) in kept.judged.iter().zip(&kept.fates) {
        let mut text = format!("run {}: ", cut(&judged.cycle.run, 40));
        text.push_str(&match (fate.number, &fate.known) {
            (Some(number), _) if is_new(fate, keeping) => format!("kept as entry {number}"),
            (Some(number), Some(known)) => {
                let mut text = format!("known, kept as entry {number} before");
                if known.setup != kept.setup {
                    text.push_str(", then judged by another machine file");
                }
                if keeping {
                    text.push_str("; not kept twice");
                }
                text
            }
            _ => "not kept".into(),
        });
        if let Some(number) = fate.held_against {
            text.push_str(&format!("; its span was compared with that of entry {number}"));
        }
        paragraph(&mut out, &text, 2, Style::new());
    }
    if keeping && kept.fates.iter().any(|fate| fate.number.is_some() && !is_new(fate, keeping)) {
        let text = "Cycles with the same touches count once; --again keeps one that is new nevertheless.";
        paragraph(&mut out, text, 2, Style::new());
    }
    for note in &kept.notes {
        paragraph(&mut out, &format!("Note: {note}."), 2, YELLOW);
    }
    out
}

/// The parts of a kept result that a list shows.
#[derive(Deserialize, Default)]
struct Said {
    #[serde(default)]
    landing_seen: Option<Box<RawValue>>,
    #[serde(default)]
    expanded_u: Option<Box<RawValue>>,
    #[serde(default)]
    reasons: Vec<SaidRefusal>,
}

#[derive(Deserialize)]
struct SaidRefusal {
    refusal: String,
}

impl Said {
    fn of(cycle: &KeptCycle) -> Self {
        serde_json::from_str(&cycle.result).unwrap_or_default()
    }

    fn landing(&self) -> Option<Length> {
        self.landing_seen.as_ref().and_then(|text| Length::read(text.get()).ok())
    }

    fn expanded(&self) -> Option<Uncertainty> {
        self.expanded_u.as_ref().and_then(|text| Uncertainty::read(text.get()).ok())
    }
}

/// The landing seen and its U, as they were said when the cycle was kept.
pub fn said(cycle: &KeptCycle) -> (Option<Length>, Option<Uncertainty>) {
    let said = Said::of(cycle);
    (said.landing(), said.expanded())
}

/// What `history --json` answers.
#[derive(Debug, serde::Serialize)]
pub struct HistoryJson<'a> {
    format: u8,
    history: &'a str,
    entries: Vec<Listed<'a>>,
}

#[derive(Debug, serde::Serialize)]
struct Listed<'a> {
    entry: &'static str,
    number: i64,
    kept: String,
    tool: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    forgotten: Option<String>,
    #[serde(flatten)]
    what: ListedWhat<'a>,
}

#[derive(Debug, serde::Serialize)]
#[serde(untagged)]
enum ListedWhat<'a> {
    Cycle(Box<ListedCycle<'a>>),
    Event(&'a HistoryEvent),
}

#[derive(Debug, serde::Serialize)]
struct ListedCycle<'a> {
    run: &'a str,
    plate: Option<&'a str>,
    nozzle: Option<&'a str>,
    setup: &'a str,
    verdict: &'static str,
    reasons: Vec<String>,
    landing: Option<Number>,
    landing_seen: Option<Number>,
    expanded_u: Option<Number>,
    tip: Option<Number>,
    drop: Option<Number>,
    span: Option<Number>,
    span_u: Option<Number>,
}

impl<'a> HistoryJson<'a> {
    /// The document.
    pub fn of(history: &'a str, entries: &'a [Entry]) -> Self {
        Self { format: 1, history, entries: entries.iter().map(Listed::of).collect() }
    }
}

impl<'a> Listed<'a> {
    fn of(entry: &'a Entry) -> Self {
        let (kind, what) = match &entry.what {
            What::Cycle(cycle) => ("cycle", ListedWhat::Cycle(Box::new(ListedCycle::of(cycle)))),
            What::Event(event) => ("event", ListedWhat::Event(event)),
        };
        Self {
            entry: kind,
            number: entry.number,
            kept: entry.at.text(),
            tool: &entry.tool,
            forgotten: entry.forgotten.map(Moment::text),
            what,
        }
    }
}

impl<'a> ListedCycle<'a> {
    fn of(cycle: &'a KeptCycle) -> Self {
        let result = Said::of(cycle);
        let observed = cycle.observed.unwrap_or_default();
        Self {
            run: &cycle.run,
            plate: cycle.plate.as_deref(),
            nozzle: cycle.nozzle.as_deref(),
            setup: cycle.setup.text(),
            verdict: verdict(cycle.accepted),
            reasons: result.reasons.iter().map(|reason| reason.refusal.clone()).collect(),
            landing: result.landing().filter(|_| cycle.accepted).map(Number::from),
            landing_seen: result.landing().map(Number::from),
            expanded_u: result.expanded().map(Number::from),
            tip: observed.tip.map(|reading| reading.value.into()),
            drop: observed.drop.map(|reading| reading.value.into()),
            span: observed.span.map(|reading| reading.value.into()),
            span_u: observed.span.map(|reading| reading.variance.root().into()),
        }
    }
}

/// Date and minute, UTC.
pub fn minute(at: Moment) -> String {
    at.text().get(..16).unwrap_or_default().replace('T', " ")
}

/// Columns before what an entry says, and those it has.
const INDENT: usize = 24;
const COLUMNS: usize = 80 - INDENT;

/// All entries, the newest last: at most 80 columns.
pub fn list(history: &str, entries: &[Entry]) -> String {
    let mut out = String::new();
    line!(&mut out, "{BOLD}History{BOLD:#} {history}");
    if entries.is_empty() {
        line!(&mut out, "  nothing to show");
        return out;
    }
    let head = "  no  kept (UTC)        run       plate       verdict  landing       U      span";
    line!(&mut out, "{FAINT}{head}{FAINT:#}");
    // A nozzle is named where it is another than before.
    let mut fitted: Option<&str> = None;
    for entry in entries {
        let start = format!("{:>4}  {}", entry.number, minute(entry.at));
        let (row, mut beside) = match &entry.what {
            What::Cycle(cycle) => {
                let nozzle = cycle.nozzle.as_deref();
                let other = nozzle.filter(|nozzle| fitted != Some(*nozzle));
                fitted = nozzle.or(fitted);
                (cycle_row(cycle), cycle_beside(cycle, other))
            }
            What::Event(event) => {
                // Whatever was done to it, the next cycle names its own.
                fitted =
                    event.nozzle.as_deref().or_else(|| fitted.filter(|_| event.kind != EventKind::Nozzle));
                (cut(&words(event), COLUMNS), Vec::new())
            }
        };
        if entry.forgotten.is_some() {
            beside.push("forgotten".into());
        }
        let style = if entry.forgotten.is_some() { FAINT } else { Style::new() };
        line!(&mut out, "{style}{}{style:#}", format!("{start}  {row}").trim_end());
        if !beside.is_empty() {
            line!(&mut out, "{:INDENT$}{FAINT}{}{FAINT:#}", "", beside.join("; "));
        }
    }
    out
}

fn cycle_row(cycle: &KeptCycle) -> String {
    let result = Said::of(cycle);
    let named = |name: Option<&str>, columns| {
        padded(&name.map_or_else(|| "-".into(), |name| cut(name, columns)), columns)
    };
    let span = cycle.observed.and_then(|observed| observed.span);
    format!(
        "{}  {}  {}  {:>8}  {:>6}  {:>8}",
        named(Some(&cycle.run), 8),
        named(cycle.plate.as_deref(), 10),
        verdict(cycle.accepted),
        result.landing().map_or_else(|| "-".into(), signed),
        result.expanded().map_or_else(|| "-".into(), uncertainty),
        span.map_or_else(|| "-".into(), |reading| signed(reading.value)),
    )
}

/// What is told of a cycle below its row.
fn cycle_beside(cycle: &KeptCycle, nozzle: Option<&str>) -> Vec<String> {
    let result = Said::of(cycle);
    let reason = result.reasons.first().map(|first| {
        let more = if result.reasons.len() > 1 { ", …" } else { "" };
        format!("{}{more}", cut(&first.refusal.replace('-', " "), 24))
    });
    nozzle.map(|nozzle| format!("nozzle {}", cut(nozzle, 16))).into_iter().chain(reason).collect()
}

/// An event in a few words.
pub fn words(event: &HistoryEvent) -> String {
    let mut text = format!("– {}", event.kind.text());
    for name in [&event.plate, &event.nozzle].into_iter().flatten() {
        text.push_str(&format!(": {name}"));
    }
    if let Some(words) = &event.text {
        text.push_str(&format!(" ({words})"));
    }
    text
}

/// A kept cycle judged again by today's tool.
#[derive(Clone, Debug)]
pub struct Again {
    /// By the machine file of then.
    pub machine: MachineFile,
    /// Today's verdict.
    pub judged: Judged,
    /// Whether it says just what was said then.
    pub is_same: bool,
}

/// Whether two results say the same of a cycle; later versions may say more.
pub fn say_the_same(then: &str, now: &str) -> bool {
    const FIGURES: [&str; 8] =
        ["verdict", "landing", "landing_seen", "u", "expanded_u", "drop", "rise", "span"];
    let read = |text: &str| serde_json::from_str::<serde_json::Value>(text).ok();
    let (Some(then), Some(now)) = (read(then), read(now)) else { return false };
    let words = |result: &serde_json::Value| -> Vec<serde_json::Value> {
        let reasons = result.get("reasons").and_then(|reasons| reasons.as_array());
        reasons.into_iter().flatten().filter_map(|reason| reason.get("refusal").cloned()).collect()
    };
    FIGURES.iter().all(|key| then.get(key) == now.get(key)) && words(&then) == words(&now)
}

/// One entry in full; `again` where it is a cycle whose machine file is still read.
pub fn one(entry: &Entry, again: Option<&Again>) -> String {
    let mut out = String::new();
    line!(
        &mut out,
        "{BOLD}Entry {}{BOLD:#}, kept {} by version {}",
        entry.number,
        entry.at.text(),
        cut(&entry.tool, 20)
    );
    if let Some(since) = entry.forgotten {
        line!(&mut out, "  {YELLOW}forgotten{YELLOW:#} since {}: it is not counted", minute(since));
    }
    match &entry.what {
        What::Event(event) => paragraph(&mut out, &crate::text::name::shown(&words(event)), 2, Style::new()),
        What::Cycle(cycle) => {
            if let Some(nozzle) = &cycle.nozzle {
                line!(&mut out, "  nozzle {}", cut(nozzle, 60));
            }
            line!(&mut out, "  machine file {} (first digits of its SHA-256)", cycle.setup.short());
            match again {
                Some(again) => {
                    land::cycle(&mut out, &again.machine, &again.judged);
                    if !again.is_same {
                        let text = "This version judges the touches differently from the one that kept \
                            them. The result then:";
                        paragraph(&mut out, text, 2, YELLOW);
                        line!(&mut out, "  {}", crate::text::name::shown(&cycle.result));
                    }
                }
                None => {
                    let text = "This version cannot read the machine file of that time. The result then:";
                    paragraph(&mut out, text, 2, YELLOW);
                    line!(&mut out, "  {}", crate::text::name::shown(&cycle.result));
                }
            }
        }
    }
    out
}
