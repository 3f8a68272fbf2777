//! The machine file: TOML text to a checked setup, with the place of whatever is wrong.

use std::num::NonZeroU32;
use std::ops::Range;
use std::path::Path;

use toml_edit::Document;
use zdatum::setup::{
    Accept, DatumSwitch, Delay, Follows, Grows, LengthRange, MOST_GROWTH, Place, Places, Plates, Probe,
    Studied, Touch, Travel,
};
use zdatum::{
    BadSetup, Centre, Coverage, Draft, Growth, Latency, Length, Pooled, Ratio, Setup, Step, Temperature,
    Uncertainty,
};

use super::checks::{self, CountedCheck};
use super::file_text::FileText;
use super::keys::{TomlSection, locate};
use super::remedies::remedy;
use super::wish::{self, Wish};
use crate::text::Problem;
use crate::world::{Noise, Shape};

/// Most slow touches thrown away; the core refuses more.
const MOST_SETTLE: u32 = 16;
const MOST_TOUCHES: u32 = zdatum::series::MOST_TOUCHES as u32;

/// A machine as its file describes it, checked.
#[derive(Clone, Debug)]
pub struct MachineFile {
    /// The file.
    pub source: FileText,
    /// What the core takes.
    pub setup: Setup,
    /// Names of the growing parts, in the setup's order.
    pub growth_names: Vec<String>,
    /// What the simulator takes; defaults where the file has none.
    pub noise: Noise,
    /// Whether the file says anything about noise.
    pub has_noise: bool,
    /// Gauge checks that the trip depth already holds.
    pub counted: Vec<CountedCheck>,
    /// What is wanted on top of a landing.
    pub wishes: Vec<Wish>,
    /// The filament of this job, which chooses among them.
    pub filament: Option<String>,
}

impl MachineFile {
    /// What comes on top of a landing on a plate, with this job's filament.
    pub fn wish(&self, plate: Option<&str>) -> Length {
        wish::wish_for(&self.wishes, plate, self.filament.as_deref())
    }

    /// The same machine with other print temperatures of what follows tool, bed and chamber, for one job.
    ///
    /// # Errors
    /// No part follows one that is given.
    pub fn printing_at(&mut self, temperatures: &[(Follows, Temperature)]) -> Result<(), Problem> {
        let mut draft = self.setup.draft().clone();
        for (follows, print) in temperatures {
            let mut parts = draft.growth.iter_mut().filter(|part| part.follows == *follows).peekable();
            if parts.peek().is_none() {
                return Err(Problem::new(format!("--print-c: no [[growth]] follows the {}", follows.word()))
                    .remedy("leave it out: it changes no landing of this machine"));
            }
            parts.for_each(|part| part.print = *print);
        }
        self.setup = Setup::check(draft).map_err(|bad| Problem::new(format!("--print-c: {bad}")))?;
        Ok(())
    }

    /// Reads and checks a machine file.
    ///
    /// # Errors
    /// Cannot be read, is no TOML, has a key that is unknown, missing or wrong, or is a bad setup.
    pub fn read(path: &Path) -> Result<Self, Problem> {
        Self::of(FileText::read(path)?)
    }

    /// The same for text already read.
    ///
    /// # Errors
    /// As [`MachineFile::read`].
    pub fn of(source: FileText) -> Result<Self, Problem> {
        Self::checked(source).map_err(|(problem, _)| *problem)
    }

    /// The same; a bad setup comes with what the core says of it.
    ///
    /// # Errors
    /// As [`MachineFile::read`].
    pub fn checked(source: FileText) -> Result<Self, (Box<Problem>, Option<BadSetup>)> {
        let mut bad = None;
        Self::read_source(source, &mut bad).map_err(|problem| (Box::new(problem), bad))
    }

    fn read_source(source: FileText, fault: &mut Option<BadSetup>) -> Result<Self, Problem> {
        let document = parse(&source)?;
        let table = document.as_table();
        let root = TomlSection::new(&source, String::new(), table, 0..0, ROOT)?;
        if root.has("format") && root.whole("format", 0, u32::MAX)? != 1 {
            return Err(root
                .wrong_value("format", "must be 1", "seen here")
                .remedy("this version reads format 1 only; a later version may read this file"));
        }
        let (growth, growth_names) = growth(&root)?;
        let draft = Draft {
            travel: travel(&root)?,
            stations: stations(&root)?,
            datum_switch: datum_switch(&root)?,
            probe: probe(&root)?,
            plates: plates(&root)?,
            touch: touch(&root)?,
            growth,
            soak_left: match root.optional_section("soak", &["left"])? {
                Some(soak) => soak.optional_number("left")?.unwrap_or_default(),
                None => Length::ZERO,
            },
            unseen: match root.optional_section("unseen", &["u"])? {
                Some(unseen) => unseen.optional_number("u")?.unwrap_or_default(),
                None => Uncertainty::ZERO,
            },
            accept: accept(&root)?,
            pooled: pooled(&root)?,
        };
        let noise = noise(&root)?;
        let counted = checks::counted(&root)?;
        let wishes = wish::wishes(&root)?;
        let has_noise = root.has("noise");
        let setup = Setup::check(draft).map_err(|bad| {
            *fault = Some(bad);
            bad_setup(&source, &bad, locate(table, bad.key.text()))
        })?;
        Ok(Self { setup, growth_names, noise, has_noise, counted, wishes, filament: None, source })
    }
}

/// The file as TOML with places.
pub(super) fn parse(source: &FileText) -> Result<Document<&str>, Problem> {
    Document::parse(source.text.as_str()).map_err(|error| {
        let place = error.span().unwrap_or(0..0);
        let message = error.message().split_whitespace().collect::<Vec<_>>().join(" ");
        source
            .problem(place, format!("not valid TOML: {message}"), "here")
            .remedy("`zdatum setup --new` prints a file to compare with")
    })
}

/// A bad setup at its key.
pub(super) fn bad_setup(source: &FileText, bad: &BadSetup, place: Range<usize>) -> Problem {
    let label = match (bad.seen, bad.limit) {
        (Some(seen), Some(limit)) => format!("seen {seen} mm, limit {limit} mm"),
        (Some(seen), None) => format!("seen {seen} mm"),
        _ => "seen here".into(),
    };
    let title = format!("bad setup: `{}`: {}", bad.key.text(), bad.fault.text());
    source.problem(place, title, label).remedy(remedy(bad.fault))
}

const ROOT: &[&str] = &[
    "format",
    "travel",
    "stations",
    "datum_switch",
    "plate_switch",
    "probe",
    "plates",
    "touch",
    "growth",
    "soak",
    "unseen",
    "accept",
    "pooled",
    "noise",
    "gauge_check",
    "wish",
];

fn span((low, high): (Length, Length)) -> LengthRange {
    LengthRange { low, high }
}

fn travel(root: &TomlSection<'_>) -> Result<Travel, Problem> {
    let section = root.section("travel", &["x", "y", "z", "steps"])?;
    Ok(Travel {
        x: span(section.pair("x")?),
        y: span(section.pair("y")?),
        z: span(section.pair("z")?),
        steps: section.whole_pair("steps", Step::MAX)?,
    })
}

fn stations(root: &TomlSection<'_>) -> Result<Places, Problem> {
    let section = root.section("stations", &["tip", "shoulder", "plate"])?;
    let place = |key| section.pair(key).map(|(x, y)| Place { x, y });
    Ok(Places { tip: place("tip")?, shoulder: place("shoulder")?, plate: place("plate")? })
}

fn delay(section: &TomlSection<'_>) -> Result<Delay, Problem> {
    Ok(Delay {
        latency: section.number::<Latency>("latency_s")?,
        latency_u: section.number::<Latency>("latency_u_s")?,
    })
}

fn datum_switch(root: &TomlSection<'_>) -> Result<DatumSwitch, Problem> {
    let section = root.section("datum_switch", &["tip_height", "overtravel", "latency_s", "latency_u_s"])?;
    Ok(DatumSwitch {
        tip_height: span(section.pair("tip_height")?),
        overtravel: section.number("overtravel")?,
        delay: delay(&section)?,
    })
}

fn probe(root: &TomlSection<'_>) -> Result<Probe, Problem> {
    let switch = root.section("plate_switch", &["latency_s", "latency_u_s"])?;
    let section =
        root.section("probe", &["trip_depth", "trip_depth_u", "trimmed_at_speed", "drop", "free_height"])?;
    Ok(Probe {
        trip_depth: section.number("trip_depth")?,
        trip_depth_u: section.number("trip_depth_u")?,
        trimmed_at_speed: section.number("trimmed_at_speed")?,
        drop: span(section.pair("drop")?),
        free_height: section.number("free_height")?,
        delay: delay(&switch)?,
    })
}

fn plates(root: &TomlSection<'_>) -> Result<Plates, Problem> {
    let section = root.section("plates", &["rise", "margin"])?;
    Ok(Plates { rise: span(section.pair("rise")?), margin: section.number("margin")? })
}

fn touch(root: &TomlSection<'_>) -> Result<Touch, Problem> {
    let section = root.section(
        "touch",
        &[
            "first_speed",
            "fine_speed",
            "lift",
            "stop",
            "settle",
            "least",
            "most",
            "band",
            "centre",
            "target_u",
            "tip_again",
        ],
    )?;
    // Limits are those of the core, which could only say that a byte is too many.
    let count = |key, least, most| section.whole(key, least, most).map(|count| count as u8);
    Ok(Touch {
        first_speed: section.number("first_speed")?,
        fine_speed: section.number("fine_speed")?,
        lift: section.number("lift")?,
        stop: section.number("stop")?,
        settle: count("settle", 0, MOST_SETTLE)?,
        least: count("least", 1, MOST_TOUCHES)?,
        most: count("most", 1, MOST_TOUCHES)?,
        band: section.number("band")?,
        centre: match section.word("centre", &["mean", "median", "hodges-lehmann"])? {
            Some(1) => Centre::Median,
            Some(2) => Centre::HodgesLehmann,
            _ => Centre::Mean,
        },
        target_u: section.optional_number("target_u")?.unwrap_or_default(),
        tip_again: section.flag("tip_again")?,
    })
}

type GrowthParts = (heapless::Vec<Grows, MOST_GROWTH>, Vec<String>);

fn growth(root: &TomlSection<'_>) -> Result<GrowthParts, Problem> {
    const KNOWN: &[&str] =
        &["name", "follows", "um_per_c", "um_per_c_u", "delta_u_c", "trimmed_k", "touch_c", "print_c"];
    let mut parts = heapless::Vec::new();
    let mut names = Vec::new();
    for section in root.sections("growth", KNOWN)? {
        let rate_u: Growth = section.number("um_per_c_u")?;
        if rate_u < Growth::ZERO {
            return Err(section.wrong_value("um_per_c_u", "must not be below zero", "seen here"));
        }
        let part = Grows {
            follows: section
                .word("follows", &Follows::ALL.map(Follows::word))?
                .and_then(|index| Follows::ALL.get(index).copied())
                .ok_or_else(|| section.missing("follows"))?,
            rate: section.number("um_per_c")?,
            rate_u,
            touch: section.number("touch_c")?,
            print: section.number("print_c")?,
            delta_u: section.optional_number("delta_u_c")?.unwrap_or_default(),
            trimmed: section.optional_number("trimmed_k")?.unwrap_or_default(),
        };
        names.push(section.text("name")?.to_owned());
        if parts.push(part).is_err() {
            let title = format!("is the ninth [[growth]]: at most {MOST_GROWTH} parts can be held");
            return Err(section
                .wrong_value("name", &title, "one too many")
                .remedy("add parts up that follow the same temperature: their growths add"));
        }
    }
    Ok((parts, names))
}

fn accept(root: &TomlSection<'_>) -> Result<Accept, Problem> {
    let section = root.section("accept", &["landing", "shift", "expanded_u", "coverage"])?;
    let asked: Ratio = section.number("coverage")?;
    let coverage = Coverage::ALL.into_iter().find(|coverage| {
        Ratio::parse(&format!("0.{}", coverage.percent())).is_ok_and(|offered| offered == asked)
    });
    Ok(Accept {
        landing: span(section.pair("landing")?),
        shift: section.number("shift")?,
        expanded_u: section.number("expanded_u")?,
        coverage: coverage
            .ok_or_else(|| section.wrong_value("coverage", "must be 0.90, 0.95 or 0.99", "seen here"))?,
    })
}

fn pooled(root: &TomlSection<'_>) -> Result<Studied, Problem> {
    let Some(section) =
        root.optional_section("pooled", &["tip", "shoulder", "plate", "tip_between", "span_between"])?
    else {
        return Ok(Studied::default());
    };
    let study = |key| -> Result<Option<Pooled>, Problem> {
        let Some(study) = section.optional_section(key, &["s", "dof"])? else { return Ok(None) };
        // The highest number stands for infinite.
        let dof = NonZeroU32::new(study.whole("dof", 1, u32::MAX - 1)?);
        Ok(Some(Pooled { s: study.number("s")?, dof: dof.ok_or_else(|| study.missing("dof"))? }))
    };
    Ok(Studied {
        tip: study("tip")?,
        shoulder: study("shoulder")?,
        plate: study("plate")?,
        tip_between: study("tip_between")?,
        span_between: study("span_between")?,
    })
}

fn noise(root: &TomlSection<'_>) -> Result<Noise, Problem> {
    let mut noise = Noise::default();
    const KNOWN: &[&str] = &[
        "shape",
        "tip_switch",
        "shoulder_switch",
        "plate_switch",
        "reseat",
        "latency_jitter_s",
        "datum_differential",
        "plate_differential",
        "bounce_s",
        "drift",
        "drift_tau_s",
        "print_delay_s",
        "outlier_rate",
        "outlier_size",
        "tip_filament",
        "tip_squash",
        "station_shift",
        "unseen",
        "cyclic",
        "cyclic_period",
        "temperature_error_c",
    ];
    let Some(section) = root.optional_section("noise", KNOWN)? else { return Ok(noise) };
    let read = |key, slot: &mut f64, limits: Range<f64>, what: &str| -> Result<(), Problem> {
        if let Some(value) = section.optional_number::<f64>(key)? {
            if value < limits.start || value > limits.end {
                return Err(section.wrong_value(key, what, "seen here"));
            }
            *slot = value;
        }
        Ok(())
    };
    // Sizes beyond a metre or a day are slips of the unit.
    const MM: (Range<f64>, &str) = (0.0..1e3, "must be from 0 to 1000 mm");
    const SECONDS: (Range<f64>, &str) = (0.0..86_400.0, "must be from 0 to 86400 s");
    const SHARE: (Range<f64>, &str) = (0.0..1.0, "must be from 0 to 1");
    if let Some(shape) = section.word("shape", &Shape::WORDS)?.and_then(|index| Shape::ALL.get(index)) {
        noise.shape = *shape;
    }
    read("tip_switch", &mut noise.tip_switch, MM.0, MM.1)?;
    read("shoulder_switch", &mut noise.shoulder_switch, MM.0, MM.1)?;
    read("plate_switch", &mut noise.plate_switch, MM.0, MM.1)?;
    read("reseat", &mut noise.reseat, MM.0, MM.1)?;
    read("latency_jitter_s", &mut noise.latency_jitter_s, 0.0..0.1, "must be from 0 to 0.1 s")?;
    read("datum_differential", &mut noise.datum_differential, MM.0, MM.1)?;
    read("plate_differential", &mut noise.plate_differential, MM.0, MM.1)?;
    read("bounce_s", &mut noise.bounce_s, 0.0..1.0, "must be from 0 to 1 s")?;
    read("drift", &mut noise.drift, -1e3..1e3, "must be from -1000 to 1000 mm")?;
    read("drift_tau_s", &mut noise.drift_tau_s, 1e-3..1e9, "must be from 0.001 to 1e9 s")?;
    read("print_delay_s", &mut noise.print_delay_s, SECONDS.0, SECONDS.1)?;
    read("outlier_rate", &mut noise.outlier_rate, SHARE.0, SHARE.1)?;
    read("outlier_size", &mut noise.outlier_size, MM.0, MM.1)?;
    read("tip_filament", &mut noise.tip_filament, MM.0, MM.1)?;
    read("tip_squash", &mut noise.tip_squash, SHARE.0, SHARE.1)?;
    read("station_shift", &mut noise.station_shift, MM.0, MM.1)?;
    read("unseen", &mut noise.unseen, MM.0, MM.1)?;
    read("cyclic", &mut noise.cyclic, MM.0, MM.1)?;
    read("cyclic_period", &mut noise.cyclic_period, 1e-6..1e3, "must be from 0.000001 to 1000 mm")?;
    read("temperature_error_c", &mut noise.temperature_error_c, 0.0..1e3, "must be from 0 to 1000 K")?;
    Ok(noise)
}

#[cfg(test)]
mod tests;
