//! Landings for people: the number with its U first, then the verdict and what to do, then what it rests on.

use anstyle::{AnsiColor, Style};
use zdatum::refusal::{Amount, Refusal, RefusalKind};
use zdatum::setup::LengthRange;
use zdatum::{Landing, Length, Ratio, Source, Speed, Station};

use super::charts::bar;
use super::history::Consulted;
use super::suggestion;
use crate::files::MachineFile;
use crate::judged::explained::dominates;
use crate::judged::json::CycleJson;
use crate::judged::{BudgetShare, Judged};
use crate::text::lines::{BOLD, FAINT, PARAGRAPH, YELLOW, line, paragraph};
use crate::text::name::{cut, padded, wrapped};
use crate::text::number::{
    amount, degrees_of_freedom, percent, plain, ratio, signed, signed_wide, uncertainty,
};

/// What `land` answers.
#[derive(Debug, serde::Serialize)]
pub struct LandJson<'a> {
    format: u8,
    cycles: Vec<CycleJson<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    history: Option<Consulted>,
}

impl<'a> LandJson<'a> {
    /// The document of judged cycles; `percent` is the coverage at which U is stated.
    pub fn of(judged: &'a [Judged], percent: u8) -> Self {
        let cycles = judged.iter().map(|judged| CycleJson::of(judged, percent).with_wish(judged)).collect();
        Self { format: 1, cycles, history: None }
    }

    /// With what the history had to do with it.
    #[must_use]
    pub fn with_history(self, history: Option<Consulted>) -> Self {
        Self { history, ..self }
    }
}

const GREEN: Style = AnsiColor::Green.on_default().bold();
const RED: Style = AnsiColor::Red.on_default().bold();

/// All cycles: an overview where there are several, then one after the other, the newest last, then how to
/// apply it. Colours are for the stream to keep or strip.
pub fn page(machine: &MachineFile, judged: &[Judged]) -> String {
    let mut out = String::new();
    if judged.len() > 1 {
        overview(&mut out, judged);
    }
    for one in judged {
        cycle(&mut out, machine, one);
        out.push('\n');
    }
    if let Some(newest) = judged.last() {
        match newest.assessment.landing() {
            Some(landing) => suggestion::lines(&mut out, machine, &name_of(newest), landing, newest.wish),
            None => refused_newest(&mut out, judged, newest),
        }
    }
    out
}

fn name_of(judged: &Judged) -> String {
    format!("run {}", cut(&judged.cycle.run, 40))
}

fn overview(out: &mut String, judged: &[Judged]) {
    let width = |most: usize, texts: &mut dyn Iterator<Item = String>| {
        texts
            .map(|text| unicode_width::UnicodeWidthStr::width(text.as_str()))
            .max()
            .unwrap_or(0)
            .clamp(5, most)
    };
    let run = |one: &Judged| cut(&one.cycle.run, 20);
    let plate = |one: &Judged| one.cycle.plate.as_deref().map_or_else(|| "-".into(), |plate| cut(plate, 14));
    let runs = width(20, &mut judged.iter().map(run));
    let plates = width(14, &mut judged.iter().map(plate));
    let head = format!("{}  {}  verdict    landing       U", padded("run", runs), padded("plate", plates));
    line!(out, "{FAINT}{head}{FAINT:#}");
    for one in judged {
        let (style, verdict) = if one.assessment.accepted() { (GREEN, "accept ") } else { (RED, "refuse ") };
        let numbers = match one.seen() {
            Some(landing) => {
                let expanded =
                    one.uncertainty().map_or_else(|| "-".into(), |found| uncertainty(found.expanded));
                format!("{:>10}  {expanded:>6}", signed(landing.height))
            }
            None => format!("{:>10}  {:>6}", "-", "-"),
        };
        let reason = match one.refusals() {
            [] => String::new(),
            [only] => format!("  {}", words(only.kind)),
            [first, others @ ..] => format!("  {} and {} more", words(first.kind), others.len()),
        };
        let (run, plate) = (padded(&run(one), runs), padded(&plate(one), plates));
        line!(out, "{run}  {plate}  {style}{verdict}{style:#} {numbers}{reason}");
    }
    line!(out);
}

/// A refusal's word for people.
pub(crate) fn words(kind: RefusalKind) -> String {
    kind.word().replace('-', " ")
}

pub(super) fn cycle(out: &mut String, machine: &MachineFile, judged: &Judged) {
    let plate = judged.cycle.plate.as_deref().map(|plate| format!(" · plate {}", cut(plate, 30)));
    line!(out, "{BOLD}Run {}{}{BOLD:#}", cut(&judged.cycle.run, 40), plate.unwrap_or_default());
    match (judged.assessment.landing(), judged.seen()) {
        (Some(landing), _) => headline(out, machine, "Landing", judged, landing, BOLD),
        (None, Some(seen)) => headline(out, machine, "Landing seen, refused:", judged, seen, Style::new()),
        (None, None) => line!(out, "  No landing: a value is out of range"),
    }
    if let Some(apply) = judged.apply().filter(|_| judged.wish != Length::ZERO) {
        line!(
            out,
            "  {BOLD}Apply {} mm{BOLD:#}: the landing and a wish of {} mm",
            signed(apply),
            signed(judged.wish)
        );
    }
    verdict(out, machine, judged);
    stations(out, judged);
    if let Some(landing) = judged.seen() {
        figures(out, machine, judged, landing);
        budget(out, &judged.budget);
        if let Some(few) = judged.rests_on_few(&machine.setup) {
            paragraph(out, &format!("Careful: {}.", few.text()), 2, YELLOW);
        }
    }
}

fn headline(
    out: &mut String,
    machine: &MachineFile,
    what: &str,
    judged: &Judged,
    landing: &Landing,
    style: Style,
) {
    let Some(found) = judged.uncertainty() else {
        line!(out, "  {style}{what} {} mm{style:#}  (the touches disprove any U)", signed(landing.height));
        return;
    };
    line!(
        out,
        "  {style}{what} {} mm, U {} mm{style:#}  ({} %, k {}, {})",
        signed(landing.height),
        uncertainty(found.expanded),
        machine.setup.draft().accept.coverage.percent(),
        ratio(found.factor, 2),
        degrees_of_freedom(found.dof.finite()),
    );
}

fn verdict(out: &mut String, machine: &MachineFile, judged: &Judged) {
    if judged.assessment.accepted() {
        line!(out, "  {GREEN}Accept{GREEN:#}: every check passed");
    } else {
        line!(out, "  {RED}Refuse{RED:#}: do not apply it");
        for refusal in judged.refusals() {
            reason(out, machine, refusal);
        }
        if judged.assessment.for_gauge_check() {
            let text = "This is the only reason, so the landing seen may serve a gauge check (zdatum trim).";
            paragraph(out, text, 4, Style::new());
        }
    }
    if let Some(seen) = judged.seen().filter(|seen| closed_by_doubt(machine, judged, seen)) {
        let text = format!(
            "The landing seen, {} mm, is inside the window in the machine file, but not once U is kept \
                clear on both sides. With a wider accept.landing it would serve the first gauge check \
                (zdatum trim), which lowers U.",
            signed(seen.height)
        );
        paragraph(out, &text, 4, Style::new());
    }
    if machine.setup.draft().probe.trimmed_at_speed == Speed::ZERO {
        let text = "The trip depth was never trimmed (trimmed_at_speed is 0): until a gauge check is made, \
            every landing is only as good as the value in the machine file.";
        paragraph(out, text, 2, YELLOW);
    }
}

/// Whether a landing is refused for its U alone: too uncertain, and for that out of the window, but inside it
/// as written.
pub(super) fn closed_by_doubt(machine: &MachineFile, judged: &Judged, seen: &Landing) -> bool {
    let window = machine.setup.draft().accept.landing;
    let kinds: Vec<RefusalKind> = judged.refusals().iter().map(|refusal| refusal.kind).collect();
    kinds == [RefusalKind::LandingOutOfWindow, RefusalKind::TooUncertain]
        && window.low <= seen.height
        && seen.height <= window.high
}

/// A limit that was moved in by a guard band, with what it was before.
pub(super) fn moved_in(machine: &MachineFile, refusal: &Refusal) -> Option<String> {
    let (Some(Amount::Length(seen)), Some(Amount::Length(limit))) = (refusal.seen(), refusal.limit()) else {
        return None;
    };
    let accept = &machine.setup.draft().accept;
    let (written, guard_band, word) = match refusal.kind {
        RefusalKind::MovedTooFar => (accept.shift, accept.shift.minus(limit).ok()?, "minus"),
        RefusalKind::LandingOutOfWindow if seen < limit => {
            (accept.landing.low, limit.minus(accept.landing.low).ok()?, "plus")
        }
        RefusalKind::LandingOutOfWindow => {
            (accept.landing.high, accept.landing.high.minus(limit).ok()?, "minus")
        }
        _ => return None,
    };
    Some(format!(" ({} {word} guard band {})", plain(written), plain(guard_band)))
}

fn reason(out: &mut String, machine: &MachineFile, refusal: &Refusal) {
    let station = refusal.station.map_or_else(String::new, |station| format!(" at the {}", station.word()));
    let mut lines =
        wrapped(&format!("{}{station}: {}", words(refusal.kind), refusal.kind.text()), PARAGRAPH - 4)
            .into_iter();
    line!(out, "  - {}", lines.next().unwrap_or_default());
    for text in lines {
        line!(out, "    {text}");
    }
    if let (Some(seen), Some(limit)) = (refusal.seen(), refusal.limit()) {
        let guarded = moved_in(machine, refusal).unwrap_or_default();
        line!(out, "    seen {}, limit {}{guarded}", amount(seen), amount(limit));
    }
    paragraph(out, refusal.kind.advice(), 4, FAINT);
}

fn stations(out: &mut String, judged: &Judged) {
    line!(out, "  {FAINT}station    n      height   spread        s        u   (mm){FAINT:#}");
    for (station, summary) in Station::ALL.into_iter().zip(&judged.summaries) {
        let series = &judged.cycle.station(station).series;
        let spread = series.spread().map_or_else(|_| "-".into(), plain);
        let (height, s, u) = match summary {
            Some(summary) => (
                signed_wide(summary.centre()),
                summary.s().ok().flatten().map_or_else(|| "-".into(), uncertainty),
                uncertainty(summary.variance().root()),
            ),
            None => ("-".into(), "-".into(), "-".into()),
        };
        line!(out, "  {:<8} {:>3} {height:>11} {spread:>8} {s:>8} {u:>8}", station.word(), series.len());
    }
}

fn figures(out: &mut String, machine: &MachineFile, judged: &Judged, landing: &Landing) {
    let draft = machine.setup.draft();
    let range = |span: LengthRange| format!("expected {} to {}", plain(span.low), plain(span.high));
    line!(out, "  drop {:>11}   {}", signed(landing.drop), range(draft.probe.drop));
    line!(out, "  rise {:>11}   {}", signed(landing.rise), range(draft.plates.rise));
    let last = judged.last.and_then(|last| {
        let change = landing.span.minus(last.span).ok()?;
        Some(format!(", last accepted {}: changed by {}", signed(last.span), signed(change)))
    });
    line!(
        out,
        "  span {:>11}   u {}{}",
        signed(landing.span),
        uncertainty(landing.span_u()),
        last.unwrap_or_default()
    );
    let made = &landing.corrections;
    if made.speed == Length::ZERO && made.growth == Length::ZERO {
        line!(out, "  no corrections");
    } else {
        let soak =
            if made.soak == Length::ZERO { String::new() } else { format!(", soak {}", signed(made.soak)) };
        line!(out, "  corrections: speed {}, growth {}{soak}", signed(made.speed), signed(made.growth));
    }
}

/// The uncertainty budget as a bar chart.
pub(super) fn budget(out: &mut String, shares: &[BudgetShare]) {
    let Some(largest) = shares.first() else { return };
    line!(out, "  {FAINT}{} {:>8}  share of u²{FAINT:#}", padded("uncertainty budget", 24), "u/mm");
    for share in shares {
        let source = padded(&cut(&share.source, 24), 24);
        let part = match percent(share.share).as_str() {
            "0" => "<1".into(),
            whole => whole.to_owned(),
        };
        let bar = bar(share.share.to_bits(), Ratio::ONE.to_bits(), 30);
        line!(out, "{}", format!("  {source} {:>8}  {part:>3} %  {bar}", uncertainty(share.u)).trim_end());
    }
    if dominates(largest) {
        let source = cut(&largest.source, 24);
        let most = if largest.kind == Source::TripDepth {
            "The trip depth dominates".to_owned()
        } else {
            format!("Largest source: {source}")
        };
        line!(out, "  {most}; what reduces it: {}.", largest.reduced_by);
    }
}

fn refused_newest(out: &mut String, judged: &[Judged], newest: &Judged) {
    line!(out, "{BOLD}Nothing to apply:{BOLD:#} {}, the newest, is refused.", name_of(newest));
    if let Some(last) = judged.iter().rev().find(|one| one.assessment.accepted()) {
        let text =
            format!("The last accepted one is {}; first find out what has changed since.", name_of(last));
        paragraph(out, &text, 0, Style::new());
    }
}
