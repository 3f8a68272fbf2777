//! The lines of an export: one JSON object each (`docs/json.md`).

use serde::de::{DeserializeOwned, Error as _};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::value::RawValue;
use zdatum::watch::{Observed, Reading};
use zdatum::{LastSpan, Length, Variance};

use super::touches::{COLUMNS, TouchCells, digest};
use super::writing::{Stamp, of_setup};
use super::{Digest, Entry, EventKind, HistoryEvent, KeptCycle, Moment, name};
use crate::text::json::{Number, verdict};
use crate::text::written::Written;

const FORMAT: u32 = 1;

/// What every line has.
#[derive(Deserialize)]
struct Head {
    format: u32,
    entry: String,
}

/// A machine file.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SetupLine {
    format: u32,
    entry: String,
    setup: String,
    text: String,
}

/// A cycle.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CycleLine {
    format: u32,
    entry: String,
    number: i64,
    kept: String,
    tool: String,
    forgotten: Option<String>,
    run: String,
    plate: Option<String>,
    nozzle: Option<String>,
    setup: String,
    held_against: Option<SpanLine>,
    verdict: String,
    tip: Option<SpanLine>,
    drop: Option<SpanLine>,
    span: Option<SpanLine>,
    result: Box<RawValue>,
    touches: Vec<TouchLine>,
}

/// A length with its u².
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SpanLine {
    mm: ExactLength,
    /// In 2⁻⁴⁴ mm².
    u2: u64,
}

/// The cells of a touch.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TouchLine {
    station: Option<String>,
    z: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    kind: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    counted: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    time_s: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    speed: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tool_c: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bed_c: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    chamber_c: Option<String>,
}

/// An event.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct EventLine {
    format: u32,
    entry: String,
    number: i64,
    kept: String,
    tool: String,
    forgotten: Option<String>,
    what: String,
    plate: Option<String>,
    nozzle: Option<String>,
    text: Option<String>,
}

/// A length as the shortest decimal that reads back as the same.
struct ExactLength(Length);

impl Serialize for ExactLength {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Number::as_written(&self.0.text()).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for ExactLength {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Box::<RawValue>::deserialize(deserializer)?;
        Length::read(text.get()).map(Self).map_err(D::Error::custom)
    }
}

/// One line of an export, read and checked.
pub(super) enum ExportLine {
    Setup { digest: Digest, text: String },
    Cycle { stamp: Stamp, cycle: Box<KeptCycle>, touches: Vec<TouchCells> },
    Event { stamp: Stamp, event: HistoryEvent },
}

impl SetupLine {
    pub(super) fn of(digest: &Digest, text: &str) -> Self {
        Self { format: FORMAT, entry: "setup".into(), setup: digest.text().into(), text: text.into() }
    }

    fn read(self) -> Result<ExportLine, String> {
        let digest = of_setup(&self.text);
        if digest.text() != self.setup {
            return Err(format!("`setup` is not the SHA-256 of `text`, which is {}", digest.text()));
        }
        Ok(ExportLine::Setup { digest, text: self.text })
    }
}

impl CycleLine {
    /// Of an entry that is a cycle.
    pub(super) fn of(entry: &Entry, cycle: &KeptCycle, touches: &[TouchCells]) -> Result<Self, String> {
        let observed = cycle.observed.unwrap_or_default();
        let reading = |reading: Option<Reading>| reading.map(|r| SpanLine::of(r.value, r.variance));
        Ok(Self {
            format: FORMAT,
            entry: "cycle".into(),
            number: entry.number,
            kept: entry.at.text(),
            tool: entry.tool.clone(),
            forgotten: entry.forgotten.map(Moment::text),
            run: cycle.run.clone(),
            plate: cycle.plate.clone(),
            nozzle: cycle.nozzle.clone(),
            setup: cycle.setup.text().into(),
            held_against: cycle.last.map(|last| SpanLine::of(last.span, last.variance)),
            verdict: verdict(cycle.accepted).into(),
            tip: reading(observed.tip),
            drop: reading(observed.drop),
            span: reading(observed.span),
            result: RawValue::from_string(cycle.result.clone()).map_err(|error| error.to_string())?,
            touches: touches.iter().map(TouchLine::of).collect(),
        })
    }

    fn read(self) -> Result<ExportLine, String> {
        let stamp = stamp(self.number, &self.kept, self.tool, self.forgotten.as_deref())?;
        let touches: Vec<TouchCells> = self.touches.into_iter().map(TouchLine::read).collect();
        let reading = |line: Option<SpanLine>| -> Result<Option<Reading>, String> {
            line.map(|line| Ok(Reading { value: line.mm.0, variance: line.variance()? })).transpose()
        };
        let observed =
            Observed { tip: reading(self.tip)?, drop: reading(self.drop)?, span: reading(self.span)? };
        if !self.result.get().starts_with('{') {
            return Err("`result` is no object".into());
        }
        let cycle = KeptCycle {
            run: name(&self.run)?,
            plate: self.plate.as_deref().map(name).transpose()?,
            nozzle: self.nozzle.as_deref().map(name).transpose()?,
            setup: Digest(self.setup),
            digest: digest(&touches),
            last: match self.held_against {
                Some(line) => Some(LastSpan::new(line.mm.0, line.variance()?)),
                None => None,
            },
            accepted: match self.verdict.as_str() {
                "accept" => true,
                "refuse" => false,
                other => return Err(format!("`verdict` is `{other}`, not accept or refuse")),
            },
            observed: (observed != Observed::default()).then_some(observed),
            result: self.result.get().to_owned(),
        };
        Ok(ExportLine::Cycle { stamp, cycle: Box::new(cycle), touches })
    }
}

impl EventLine {
    /// Of an entry that is an event.
    pub(super) fn of(entry: &Entry, event: &HistoryEvent) -> Self {
        Self {
            format: FORMAT,
            entry: "event".into(),
            number: entry.number,
            kept: entry.at.text(),
            tool: entry.tool.clone(),
            forgotten: entry.forgotten.map(Moment::text),
            what: event.kind.word().into(),
            plate: event.plate.clone(),
            nozzle: event.nozzle.clone(),
            text: event.text.clone(),
        }
    }

    fn read(self) -> Result<ExportLine, String> {
        let kind = EventKind::of_word(&self.what).ok_or_else(|| {
            let known: Vec<_> = EventKind::ALL.iter().map(|kind| kind.word()).collect();
            format!("`what` is `{}`, not one of {}", self.what, known.join(", "))
        })?;
        let event = HistoryEvent {
            kind,
            plate: self.plate.as_deref().map(name).transpose()?,
            nozzle: self.nozzle.as_deref().map(name).transpose()?,
            text: self.text.as_deref().map(name).transpose()?,
        };
        Ok(ExportLine::Event {
            stamp: stamp(self.number, &self.kept, self.tool, self.forgotten.as_deref())?,
            event,
        })
    }
}

impl SpanLine {
    fn of(mm: Length, variance: Variance) -> Self {
        Self { mm: ExactLength(mm), u2: variance.to_bits() }
    }

    fn variance(&self) -> Result<Variance, String> {
        // The file holds it with a sign.
        if i64::try_from(self.u2).is_ok() {
            Ok(Variance::from_bits(self.u2))
        } else {
            Err(format!("`u2` is {}: beyond what can be held", self.u2))
        }
    }
}

impl TouchLine {
    fn of(touch: &TouchCells) -> Self {
        let [station, z, kind, counted, time_s, speed, tool_c, bed_c, chamber_c] = touch.cells.clone();
        Self { station, z, kind, counted, time_s, speed, tool_c, bed_c, chamber_c }
    }

    fn read(self) -> TouchCells {
        let Self { station, z, kind, counted, time_s, speed, tool_c, bed_c, chamber_c } = self;
        let cells: [Option<String>; COLUMNS.len()] =
            [station, z, kind, counted, time_s, speed, tool_c, bed_c, chamber_c];
        TouchCells { cells }
    }
}

/// Reads one line.
pub(super) fn read(text: &str) -> Result<ExportLine, String> {
    fn of<T: DeserializeOwned>(text: &str) -> Result<T, String> {
        serde_json::from_str(text).map_err(|error| {
            // Its own place counts lines of this one line.
            let words = error.to_string();
            words.split(" at line ").next().unwrap_or_default().to_owned()
        })
    }
    let head: Head = of(text)?;
    if head.format != FORMAT {
        return Err(format!("`format` is {}; this version reads format {FORMAT} only", head.format));
    }
    match head.entry.as_str() {
        "setup" => of::<SetupLine>(text)?.read(),
        "cycle" => of::<CycleLine>(text)?.read(),
        "event" => of::<EventLine>(text)?.read(),
        other => Err(format!("`entry` is `{other}`, not setup, cycle or event")),
    }
}

fn stamp(number: i64, kept: &str, tool: String, forgotten: Option<&str>) -> Result<Stamp, String> {
    if number < 1 {
        return Err(format!("`number` is {number}; numbers begin at 1"));
    }
    Ok(Stamp {
        number: Some(number),
        at: Moment::read(kept).map_err(|error| format!("`kept`: {error}"))?,
        tool: name(&tool).map_err(|error| format!("`tool`: {error}"))?,
        forgotten: match forgotten {
            Some(text) => Some(Moment::read(text).map_err(|error| format!("`forgotten`: {error}"))?),
            None => None,
        },
    })
}
