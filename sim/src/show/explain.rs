//! A machine file explained, for people and for programs.

use anstyle::Style;
use zdatum::{Length, Station};

use super::land::budget;
use crate::files::MachineFile;
use crate::judged::BudgetShare;
use crate::judged::explained::{Expected, Explained, Warning};
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::number::{plain, ratio, signed, uncertainty};

/// The text.
pub fn page(machine: &MachineFile, explained: &Explained) -> String {
    let mut text = String::new();
    let out = &mut text;
    let count = match explained.warnings.len() {
        0 => "nothing to warn of".into(),
        1 => "one warning, below".into(),
        n => format!("{n} warnings, below"),
    };
    line!(out, "{BOLD}{}: passes the checks{BOLD:#}, {count}", machine.source.name);
    line!(out);
    floors(out, machine);
    if let Some(press) = &explained.press {
        let past = plain(press.past_trip);
        line!(out, "  A dead plunger over the highest plate: pressed {past} mm past its trip.");
    }
    line!(out);
    if let Some(expected) = &explained.expected {
        uncertainties(out, machine, expected);
    }
    for warning in &explained.warnings {
        line!(out);
        line!(out, "{YELLOW}Warning{YELLOW:#} {BOLD}{}{BOLD:#}", warning.key);
        paragraph(out, &warning.text, 2, Style::new());
    }
    text
}

fn floors(out: &mut String, machine: &MachineFile) {
    let floors = machine.setup.floors();
    let relative = Relative::of(machine);
    line!(
        out,
        "{BOLD}Floors{BOLD:#}: the lowest heights that an approach or a move may reach (carriage, mm)"
    );
    let row = |out: &mut String, what: &str, height: String, why: &str| {
        line!(out, "  {what:<22}{height:>12}   {FAINT}{why}{FAINT:#}");
    };
    row(out, "tip", signed(floors.tip), "lowest T - run past the trip");
    row(out, "shoulder", with("T", relative.shoulder), "T + lowest drop - run past the trip");
    row(out, "plate", with("S", relative.plate), "S + lowest rise + t - run past the trip");
    row(out, "sideways", signed(floors.clear), "highest T and plate, and the margin");
    row(out, "sideways with probe", signed(floors.clear_with_probe), "the same with the longest probe");
    line!(
        out,
        "  Run past a trip: at most {} mm at the datum switch, {} mm at the plate",
        plain(floors.datum_overrun),
        plain(floors.plate_overrun)
    );
}

fn with(station: &str, offset: Option<Length>) -> String {
    offset.map_or_else(|| "-".into(), |offset| format!("{station} {}", signed(offset)))
}

fn uncertainties(out: &mut String, machine: &MachineFile, expected: &Expected) {
    let accept = &machine.setup.draft().accept;
    let found = &expected.landing.uncertainty;
    line!(
        out,
        "{BOLD}Expected U {} mm{BOLD:#} with {} touches; accepted to {} mm  ({} %, k {})",
        uncertainty(found.expanded),
        expected.touches,
        uncertainty(accept.expanded_u),
        accept.coverage.percent(),
        ratio(found.factor, 2)
    );
    for (station, s) in &expected.assumed {
        let from = if machine.has_noise { "the file's [noise]" } else { "common practice" };
        line!(out, "  assumed: s = {} mm at the {}, from {from}", uncertainty(*s), station.word());
    }
    budget(out, &expected.budget);
}

/// Floors that hang on what is measured.
struct Relative {
    /// Above T.
    shoulder: Option<Length>,
    /// Above S = T + d.
    plate: Option<Length>,
}

impl Relative {
    fn of(machine: &MachineFile) -> Self {
        let floors = machine.setup.floors();
        Self {
            shoulder: floors.shoulder(Length::ZERO).ok(),
            plate: floors.plate(Length::ZERO, Length::ZERO).ok(),
        }
    }
}

/// What `setup --json` answers.
#[derive(Debug, serde::Serialize)]
pub struct SetupJson<'a> {
    format: u8,
    verdict: &'static str,
    floors: FloorsJson,
    dead_plunger: Option<DeadPlunger>,
    expected: Option<Uncertainties<'a>>,
    warnings: Vec<OneWarning<'a>>,
}

#[derive(Debug, serde::Serialize)]
struct FloorsJson {
    tip: Number,
    shoulder_above_tip: Option<Number>,
    plate_above_shoulder: Option<Number>,
    clear: Number,
    clear_with_probe: Number,
    datum_overrun: Number,
    plate_overrun: Number,
}

#[derive(Debug, serde::Serialize)]
struct DeadPlunger {
    past_trip: Number,
    shoulder_into_plate: Number,
}

#[derive(Debug, serde::Serialize)]
struct Uncertainties<'a> {
    touches: u8,
    assumed: Vec<Assumed>,
    u: Number,
    expanded_u: Number,
    limit: Number,
    coverage_factor: Number,
    dof: Option<u32>,
    budget: &'a [BudgetShare],
}

#[derive(Debug, serde::Serialize)]
struct Assumed {
    station: &'static str,
    s: Number,
}

#[derive(Debug, serde::Serialize)]
struct OneWarning<'a> {
    key: &'static str,
    text: &'a str,
}

impl<'a> SetupJson<'a> {
    /// The document.
    pub fn of(machine: &MachineFile, explained: &'a Explained) -> Self {
        let floors = machine.setup.floors();
        let relative = Relative::of(machine);
        Self {
            format: 1,
            verdict: crate::text::json::verdict(true),
            floors: FloorsJson {
                tip: floors.tip.into(),
                shoulder_above_tip: relative.shoulder.map(Number::from),
                plate_above_shoulder: relative.plate.map(Number::from),
                clear: floors.clear.into(),
                clear_with_probe: floors.clear_with_probe.into(),
                datum_overrun: floors.datum_overrun.into(),
                plate_overrun: floors.plate_overrun.into(),
            },
            dead_plunger: explained.press.map(|press| DeadPlunger {
                past_trip: press.past_trip.into(),
                shoulder_into_plate: press.shoulder_into_plate.into(),
            }),
            expected: explained.expected.as_ref().map(|expected| Uncertainties::of(machine, expected)),
            warnings: explained
                .warnings
                .iter()
                .map(|Warning { key, text }| OneWarning { key, text })
                .collect(),
        }
    }
}

impl<'a> Uncertainties<'a> {
    fn of(machine: &MachineFile, expected: &'a Expected) -> Self {
        let found = &expected.landing.uncertainty;
        let assumed = |(station, s): &(Station, zdatum::Uncertainty)| Assumed {
            station: station.word(),
            s: (*s).into(),
        };
        Self {
            touches: expected.touches,
            assumed: expected.assumed.iter().map(assumed).collect(),
            u: found.u.into(),
            expanded_u: found.expanded.into(),
            limit: Number::as_written(&machine.setup.draft().accept.expanded_u.text()),
            coverage_factor: found.factor.into(),
            dof: found.dof.finite(),
            budget: &expected.budget,
        }
    }
}
