//! The history gone through in order: the plate book and the watch of the core, as a firmware would have
//! filled them.

use serde::ser::{SerializeMap as _, Serializer};
use zdatum::plates::{BookError, PlateBook, SEATING};
use zdatum::watch::{Alarm, Change, Chart, Charts, Design, Observed, Reading, Side, Watch};
use zdatum::{Length, Uncertainty};

use super::fit::{PlateFit, fit};
use super::{Entry, EventKind, HistoryEvent, KeptCycle, What};
use crate::text::json::{Keyed, Number, number};
use crate::text::name::shown;

/// Most plates that are held.
pub const MOST_PLATES: usize = 64;

/// The plate book of a history.
pub type SpanBook = PlateBook<String, MOST_PLATES>;

/// The plates of a history, gone through.
#[derive(Clone, Debug)]
pub struct PlateReplay {
    /// The book as it stands at the end. A plate's *last seen* is the place of the cycle among the entries,
    /// from 0.
    pub book: SpanBook,
    /// Cycles that did not fit their names or had none, by their places among the entries, against the book
    /// as it stood then.
    pub odd: Vec<(usize, PlateFit)>,
    /// What to mind, in words.
    pub notes: Vec<String>,
}

impl PlateReplay {
    /// Goes through entries in order.
    pub fn of(entries: &[Entry]) -> Self {
        let mut plates = Self { book: SpanBook::new(SEATING), odd: Vec::new(), notes: Vec::new() };
        for (place, entry) in entries.iter().enumerate() {
            match &entry.what {
                What::Event(HistoryEvent { kind: EventKind::Plate, plate: Some(plate), .. }) => {
                    let _ = plates.book.remove(plate);
                }
                What::Event(_) => {}
                What::Cycle(cycle) => plates.cycle(place, entry.number, cycle),
            }
        }
        plates
    }

    fn cycle(&mut self, place: usize, number: i64, cycle: &KeptCycle) {
        let Some(span) = cycle.observed.and_then(|observed| observed.span) else { return };
        match fit(&self.book, cycle.plate.as_ref(), span) {
            Some(PlateFit::Fits) | None => {}
            Some(odd) => self.odd.push((place, odd)),
        }
        let (Some(plate), true) = (&cycle.plate, cycle.accepted) else { return };
        if let Err(error) = record(&mut self.book, plate, span, place) {
            let shown = shown(plate);
            self.notes.push(match error {
                BookError::Full => {
                    format!("entry {number}: more than {MOST_PLATES} plates; {shown} is left out")
                }
                _ => format!(
                    "entry {number}: the span of {shown} is 4 mm or more from its first, so it is left out; enter a \
                     replaced plate with `zdatum history note plate`"
                ),
            });
        }
    }
}

/// Takes an accepted span in.
///
/// # Errors
/// The book's.
pub fn record(book: &mut SpanBook, plate: &str, span: Reading, seen: usize) -> Result<(), BookError> {
    let seen = u32::try_from(seen).unwrap_or(u32::MAX);
    book.record(plate.to_owned(), span.value, span.variance, seen)
}

/// What one chart showed at one cycle.
#[derive(Clone, Debug, serde::Serialize)]
pub struct ChartPoint {
    /// The entry's number.
    #[serde(rename = "entry")]
    pub number: i64,
    /// The reading.
    #[serde(serialize_with = "number")]
    pub value: Length,
    /// Whether what this quantity does was begun anew since its point before.
    #[serde(rename = "new_level")]
    pub begins: bool,
    /// The charts after it.
    #[serde(flatten, serialize_with = "charts_at_a_point")]
    pub charts: Charts,
}

/// One quantity over all cycles.
#[derive(Clone, Debug, serde::Serialize)]
pub struct WatchTrack {
    /// `tip`, `drop` or `span`.
    pub quantity: &'static str,
    /// The plate, for a span.
    pub plate: Option<String>,
    /// Its charts at the end.
    #[serde(flatten, serialize_with = "charts_at_the_end")]
    pub charts: Charts,
    /// Its points, the oldest first.
    pub points: Vec<ChartPoint>,
    #[serde(skip)]
    begins: bool,
}

fn charts_at_a_point<S: Serializer>(charts: &Charts, serializer: S) -> Result<S::Ok, S::Error> {
    let (up, down) = charts.cusum().sums();
    let mut map = serializer.serialize_map(Some(5))?;
    map.serialize_entry("score", &charts.score().map(Number::from))?;
    map.serialize_entry("ewma", &Number::from(charts.ewma().level()))?;
    map.serialize_entry("cusum_up", &Number::from(up))?;
    map.serialize_entry("cusum_down", &Number::from(down))?;
    map.serialize_entry("alarm", &charts.alarm().is_some())?;
    map.end()
}

fn charts_at_the_end<S: Serializer>(charts: &Charts, serializer: S) -> Result<S::Ok, S::Error> {
    let s = charts.s().ok().flatten();
    let alarm = charts.alarm();
    let mut map = serializer.serialize_map(Some(5))?;
    map.serialize_entry("level", &charts.mean().ok().flatten().map(Number::from))?;
    map.serialize_entry("s", &s.map(|(s, _)| Number::from(s)))?;
    map.serialize_entry("dof", &s.and_then(|(_, dof)| dof.finite()))?;
    map.serialize_entry("learnt", &charts.learnt())?;
    let keyed = |alarm| Keyed::from_iter([("side", side(alarm)), ("chart", chart(alarm))]);
    map.serialize_entry("alarm", &alarm.map(keyed))?;
    map.end()
}

/// `up` or `down`.
pub const fn side(alarm: Alarm) -> &'static str {
    match alarm.side {
        Side::Up => "up",
        Side::Down => "down",
    }
}

const fn chart(alarm: Alarm) -> &'static str {
    match alarm.chart {
        Chart::Ewma => "ewma",
        Chart::Cusum => "cusum",
    }
}

/// An alarm of the watch.
#[derive(Clone, Copy, Debug, serde::Serialize)]
pub struct WatchAlarm {
    /// Number of the entry at which it began.
    pub entry: i64,
    /// Number of the entry that answered it.
    pub answered_by: Option<i64>,
}

/// The watch of a history, gone through.
#[derive(Clone, Debug)]
pub struct Watched {
    /// The charts at the end.
    pub watch: Watch<String, MOST_PLATES>,
    /// Tip, drop, then the spans as they came.
    pub tracks: Vec<WatchTrack>,
    /// How many accepted cycles there were.
    pub cycles: usize,
    /// Its alarms, the oldest first.
    pub alarms: Vec<WatchAlarm>,
    /// What to mind, in words.
    pub notes: Vec<String>,
    nozzle: Option<String>,
}

impl Watched {
    /// Goes through entries in order. `steadiest` is what no quantity is taken to scatter less than. Without
    /// `with_tip` the tip's height is left out.
    pub fn of(entries: &[Entry], steadiest: Uncertainty, with_tip: bool) -> Self {
        let track = |quantity| WatchTrack::new(quantity, None);
        let mut watched = Self {
            watch: Watch::new(Design::STANDARD, steadiest),
            tracks: vec![track("tip"), track("drop")],
            cycles: 0,
            alarms: Vec::new(),
            notes: Vec::new(),
            nozzle: None,
        };
        for entry in entries {
            match &entry.what {
                What::Event(event) => watched.event(entry.number, event),
                What::Cycle(cycle) if cycle.accepted => watched.cycle(entry.number, cycle, with_tip),
                What::Cycle(_) => {}
            }
        }
        for track in &mut watched.tracks {
            let charts = match (track.quantity, &track.plate) {
                ("tip", _) => Some(watched.watch.tip()),
                ("drop", _) => Some(watched.watch.drop()),
                (_, Some(plate)) => watched.watch.span(plate),
                _ => None,
            };
            track.charts = charts.copied().unwrap_or_default();
        }
        watched.tracks.retain(|track| !track.points.is_empty());
        watched
    }

    fn event(&mut self, number: i64, event: &HistoryEvent) {
        let change = match event.kind {
            EventKind::Nozzle => {
                self.nozzle.clone_from(&event.nozzle);
                Change::Nozzle
            }
            EventKind::Homing => Change::Homing,
            EventKind::Probe => Change::Probe,
            EventKind::DatumSwitch => Change::DatumSwitch,
            EventKind::Speed => Change::Speed,
            EventKind::Trim => Change::Trim,
            EventKind::Plate => match &event.plate {
                Some(plate) => Change::Plate(plate.clone()),
                None => return,
            },
            EventKind::Nothing => {
                self.watch.dismiss();
                self.answered(number);
                return;
            }
            EventKind::Remark => return,
        };
        self.tell(number, change);
    }

    fn tell(&mut self, number: i64, change: Change<String>) {
        for track in &mut self.tracks {
            track.begins |= match (&change, track.quantity) {
                (Change::Nozzle, "tip" | "drop") | (Change::Homing, "tip") => true,
                (Change::Probe, quantity) => quantity != "tip",
                (Change::DatumSwitch | Change::Speed, quantity) => quantity != "drop",
                (Change::Plate(plate), _) => track.plate.as_ref() == Some(plate),
                _ => false,
            };
        }
        self.watch.tell(change);
        self.answered(number);
    }

    /// Remembers that the alarm is active no longer.
    fn answered(&mut self, number: i64) {
        if let (false, Some(alarm)) = (self.watch.alarmed(), self.alarms.last_mut()) {
            alarm.answered_by.get_or_insert(number);
        }
    }

    fn cycle(&mut self, number: i64, cycle: &KeptCycle, with_tip: bool) {
        // Another nozzle than before, and nobody had to say so twice.
        if let Some(fitted) = &cycle.nozzle {
            if self.nozzle.as_ref().is_some_and(|before| before != fitted) {
                self.tell(number, Change::Nozzle);
            }
            self.nozzle = Some(fitted.clone());
        }
        let Some(mut observed) = cycle.observed else { return };
        if !with_tip {
            observed.tip = None;
        }
        let stood = self.watch.alarmed();
        match self.watch.see(cycle.plate.clone(), &observed) {
            Ok(alarm) => {
                self.cycles += 1;
                if alarm && !stood {
                    self.alarms.push(WatchAlarm { entry: number, answered_by: None });
                }
                self.chart(number, cycle.plate.as_ref(), &observed);
            }
            Err(error) => self.notes.push(format!("entry {number} is not charted: {error}")),
        }
    }

    fn chart(&mut self, number: i64, plate: Option<&String>, observed: &Observed) {
        let watch = &self.watch;
        let span = plate.and_then(|plate| Some((watch.span(plate)?, observed.span?)));
        if let Some(plate) = plate
            && span.is_some()
            && !self.tracks.iter().any(|track| track.plate.as_ref() == Some(plate))
        {
            self.tracks.push(WatchTrack::new("span", Some(plate.clone())));
        }
        for track in &mut self.tracks {
            let seen = match (track.quantity, &track.plate) {
                ("tip", _) => observed.tip.map(|reading| (watch.tip(), reading)),
                ("drop", _) => observed.drop.map(|reading| (watch.drop(), reading)),
                (_, own) if own.as_ref() == plate => span,
                _ => None,
            };
            if let Some((charts, reading)) = seen {
                let begins = std::mem::take(&mut track.begins);
                track.points.push(ChartPoint { number, value: reading.value, charts: *charts, begins });
            }
        }
    }
}

impl WatchTrack {
    fn new(quantity: &'static str, plate: Option<String>) -> Self {
        Self { quantity, plate, points: Vec::new(), charts: Charts::new(), begins: false }
    }
}
