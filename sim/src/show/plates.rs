//! The plate book, for people and for programs.

use anstyle::Style;
use zdatum::{Length, Plate, Variance};

use super::history::minute;
use crate::history::fit::{NearPlates, PlateFit, PlateGuess, misfit};
use crate::history::replay::PlateReplay;
use crate::history::{Entry, KeptCycle, What};
use crate::text::json::{Number, verdict};
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::{cut, padded, shown};
use crate::text::number::{degrees_of_freedom, signed, size, uncertainty};

/// What `plates --json` answers.
#[derive(Debug, serde::Serialize)]
pub struct PlatesJson<'a> {
    format: u8,
    history: &'a str,
    plates: Vec<KnownPlate<'a>>,
    scatter: Option<Number>,
    scatter_dof: Option<u32>,
    too_near: Vec<NearPlates>,
    misfits: Vec<OddCycle<'a>>,
    unnamed: Vec<OddCycle<'a>>,
    notes: &'a [String],
}

#[derive(Debug, serde::Serialize)]
struct KnownPlate<'a> {
    plate: &'a str,
    span: Option<Number>,
    u: Option<Number>,
    spread: Option<Number>,
    cycles: u32,
    last_span: Number,
    last_seen: Option<String>,
    last_entry: Option<i64>,
}

/// A cycle whose span did not fit the plate that it names, or that names none.
#[derive(Debug, Default, serde::Serialize)]
struct OddCycle<'a> {
    entry: i64,
    run: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    plate: Option<&'a str>,
    verdict: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    change: Option<Number>,
    #[serde(skip_serializing_if = "Option::is_none")]
    likelier: Option<&'a PlateGuess>,
    #[serde(skip_serializing_if = "Option::is_none")]
    recognised: Option<&'a PlateGuess>,
}

impl<'a> PlatesJson<'a> {
    /// The document.
    pub fn of(history: &'a str, entries: &'a [Entry], plates: &'a PlateReplay) -> Self {
        let scatter = plates.book.scatter().ok();
        let (mut misfits, mut unnamed) = (Vec::new(), Vec::new());
        for (entry, cycle, fit) in odd(entries, plates) {
            let (entry, run, plate) = (entry.number, cycle.run.as_str(), cycle.plate.as_deref());
            let odd = OddCycle { entry, run, plate, verdict: verdict(cycle.accepted), ..OddCycle::default() };
            match fit {
                PlateFit::Misfit { change, likelier } => {
                    misfits.push(OddCycle {
                        change: Some((*change).into()),
                        likelier: Some(likelier),
                        ..odd
                    });
                }
                PlateFit::Unnamed(guess) => unnamed.push(OddCycle { recognised: Some(guess), ..odd }),
                PlateFit::Fits => {}
            }
        }
        Self {
            format: 1,
            history,
            plates: plates.book.plates().iter().map(|plate| KnownPlate::of(plate, entries)).collect(),
            scatter: scatter.map(|(s, _)| s.into()),
            scatter_dof: scatter.and_then(|(_, dof)| dof.finite()),
            too_near: near(plates),
            misfits,
            unnamed,
            notes: &plates.notes,
        }
    }
}

impl<'a> KnownPlate<'a> {
    fn of(plate: &'a Plate<String>, entries: &[Entry]) -> Self {
        let seen = entries.get(plate.last_seen() as usize);
        Self {
            plate: plate.name(),
            span: plate.span().ok().map(Number::from),
            u: plate.u().ok().map(Number::from),
            spread: plate.spread().ok().flatten().map(Number::from),
            cycles: plate.count(),
            last_span: plate.last().span.into(),
            last_seen: seen.map(|entry| entry.at.text()),
            last_entry: seen.map(|entry| entry.number),
        }
    }
}

/// Odd cycles with their entries.
fn odd<'a>(
    entries: &'a [Entry],
    plates: &'a PlateReplay,
) -> impl Iterator<Item = (&'a Entry, &'a KeptCycle, &'a PlateFit)> {
    plates.odd.iter().filter_map(|(place, fit)| {
        let entry = entries.get(*place)?;
        match &entry.what {
            What::Cycle(cycle) => Some((entry, cycle.as_ref(), fit)),
            What::Event(_) => None,
        }
    })
}

/// Pairs of plates that a reading could mistake, with how far apart they stand and how far they would have
/// to.
fn near(plates: &PlateReplay) -> Vec<NearPlates> {
    let mut found = Vec::new();
    let all = plates.book.plates();
    for (place, one) in all.iter().enumerate() {
        for other in all.iter().skip(place + 1) {
            let reading: Variance = one.last().variance.max(other.last().variance);
            if let Ok(Some(apart)) = plates.book.apart(one.name(), other.name(), reading)
                && apart.apart <= apart.needed
            {
                let plates = [one.name().clone(), other.name().clone()];
                found.push(NearPlates { plates, apart: apart.apart, needed: apart.needed });
            }
        }
    }
    found
}

/// The text.
pub fn page(history: &str, entries: &[Entry], plates: &PlateReplay) -> String {
    let mut out = String::new();
    let book = &plates.book;
    line!(&mut out, "{BOLD}Plates{BOLD:#} of {history}");
    if book.is_empty() {
        line!(&mut out, "  none known: no accepted cycle names a plate");
    } else {
        line!(&mut out, "{FAINT}  plate              span       u       s  cycles  last seen (UTC){FAINT:#}");
    }
    for plate in book.plates() {
        let text = |length: Option<Length>| length.map_or_else(|| "-".into(), signed);
        let small = |u: Option<zdatum::Uncertainty>| u.map_or_else(|| "-".into(), uncertainty);
        let seen = entries.get(plate.last_seen() as usize).map(|entry| minute(entry.at));
        line!(
            &mut out,
            "  {}  {:>8}  {:>6}  {:>6}  {:>6}  {}",
            padded(&cut(plate.name(), 14), 14),
            text(plate.span().ok()),
            small(plate.u().ok()),
            small(plate.spread().ok().flatten()),
            plate.count(),
            seen.unwrap_or_default()
        );
    }
    if let (false, Ok((s, dof))) = (book.is_empty(), book.scatter()) {
        let dof = degrees_of_freedom(dof.finite());
        line!(&mut out, "  scatter of the spans over all plates: {} mm ({dof})", uncertainty(s));
    }
    for NearPlates { plates: [one, other], apart, needed } in near(plates) {
        let text = format!(
            "the spans of {} and {} are {} mm apart; they can be told apart without a name only from {} mm \
                on",
            shown(&one),
            shown(&other),
            size(apart),
            size(needed)
        );
        paragraph(&mut out, &text, 2, YELLOW);
    }
    said(&mut out, entries, plates);
    out
}

fn said(out: &mut String, entries: &[Entry], plates: &PlateReplay) {
    let (mut misfits, mut unnamed) = (Vec::new(), Vec::new());
    for (entry, cycle, fit) in odd(entries, plates) {
        let start = format!(
            "entry {}, run {} ({}ed): ",
            entry.number,
            cut(&cycle.run, 30),
            verdict(cycle.accepted).trim_end_matches('e')
        );
        match fit {
            PlateFit::Misfit { change, likelier } => {
                let plate = cycle.plate.as_deref().unwrap_or("");
                misfits.push(format!("{start}{}", misfit(plate, *change, likelier)));
            }
            PlateFit::Unnamed(found) => unnamed.push(format!("{start}{}", found.text())),
            PlateFit::Fits => {}
        }
    }
    if !misfits.is_empty() {
        line!(out, "{BOLD}Plates that do not fit their names{BOLD:#}");
        misfits.iter().for_each(|text| paragraph(out, text, 2, Style::new()));
        let text = "If the plate was named wrongly: `zdatum history forget` the entry and keep it again \
            under the right name. If it was replaced: `zdatum history note plate`.";
        paragraph(out, text, 2, FAINT);
    }
    if !unnamed.is_empty() {
        line!(out, "{BOLD}Cycles without a plate name{BOLD:#}");
        unnamed.iter().for_each(|text| paragraph(out, text, 2, Style::new()));
    }
    for note in &plates.notes {
        paragraph(out, &format!("Note: {note}."), 2, YELLOW);
    }
}
