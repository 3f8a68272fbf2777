//! The watch: drift charts over past cycles, in constant memory.
//!
//! Charted are the tip's height T, the drop d and the span of each plate, every one against what was learnt
//! of it on this very machine (`docs/history.md`). Each reading becomes a [score](Score) that is as good as a
//! normal deviate though mean and scatter are only estimated, from the fifth or sixth cycle on; on the scores
//! run a moving average and a cumulative sum ([`Design`]).
//!
//! # Contract
//!
//! - Hand every **accepted** cycle to [`Watch::see`], in order. A refused one has had its reason told
//!   already.
//! - An alarm stays active until it is answered. Meanwhile nothing is learnt: further cycles make
//!   [`Watch::diagnosis`] surer.
//! - [`Watch::tell`] says what the owner did, before or after the alarm: what that moves begins a new level,
//!   and scatters as before, so one cycle is enough to learn it. [`Watch::dismiss`] says that nothing was
//!   done: the charts begin again with what they knew.
//! - Where Z is homed by the tip on the datum switch itself T is the same every time: hand no tip over. A new
//!   nozzle then shows in the drop alone, like a probe that seats elsewhere.
//!
//! # Example
//!
//! ```
//! use zdatum::watch::{Cause, Change, Design, Observed, Reading, Watch};
//! use zdatum::{Length, Uncertainty};
//!
//! let mut watch = Watch::<u8, 4>::new(Design::STANDARD, Uncertainty::ZERO);
//! let reading = |micrometres: i64| -> Result<Reading, Box<dyn std::error::Error>> {
//!     let value = Length::from_bits(micrometres * 65_536 / 1_000)?;
//!     Ok(Reading { value, variance: Uncertainty::parse("0.001")?.variance()? })
//! };
//! let mut cycle = |watch: &mut Watch<u8, 4>, tip, drop, span| -> Result<bool, Box<dyn std::error::Error>> {
//!     let (tip, drop, span) = (Some(reading(tip)?), Some(reading(drop)?), Some(reading(span)?));
//!     let observed = Observed { tip, drop, span };
//!     Ok(watch.see(Some(7), &observed)?)
//! };
//! // Twelve cycles with plate 7. The probe seats a little differently at each fetch, so the drop
//! // scatters most.
//! for n in 0..12 {
//!     let alarm = cycle(&mut watch, 500 + n % 3, 5_100 + 9 * (n % 5), 700 + n * n % 4)?;
//!     assert!(!alarm);
//! }
//! // A nozzle that stands 137 µm further out, and nobody said so: T up, drop down, span where it was.
//! assert!(cycle(&mut watch, 638, 4_981, 701)?);
//! let diagnosis = watch.diagnosis();
//! assert_eq!(diagnosis.only().map(|fit| fit.cause), Some(Cause::Nozzle));
//!
//! // Now the owner says so, and all is well at the new level.
//! watch.tell(Change::Nozzle);
//! for n in 0..12 {
//!     assert!(!cycle(&mut watch, 637 + n % 3, 4_963 + 9 * (n % 5), 700 + n * n % 4)?);
//! }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod cause;
mod chart;
mod charts;
mod saved;
mod score;
#[cfg(test)]
mod tests;

pub use cause::{Cause, Diagnosis, Fit};
pub use chart::{Cusum, Design, Ewma, Score, Side};
pub use charts::{Alarm, Chart, Charts};
pub use saved::WORDS;
pub use score::LEAST_DOF;

use crate::landing::Touches;
use crate::units::{Length, OutOfRange, Uncertainty, Variance};
use cause::{Moved, Quantity};

/// One quantity of one cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// What was read.
    pub value: Length,
    /// Its own u².
    pub variance: Variance,
}

/// What the watch sees of an accepted cycle; `None` for what is not to be charted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Observed {
    /// T.
    pub tip: Option<Reading>,
    /// d = S − T.
    pub drop: Option<Reading>,
    /// P − S.
    pub span: Option<Reading>,
}

impl Observed {
    /// All three, from a cycle's closed series.
    ///
    /// # Errors
    /// *Out of range* where a value cannot be held.
    pub fn of(touches: &Touches) -> Result<Self, OutOfRange> {
        let (tip, shoulder, plate) = (&touches.tip, &touches.shoulder, &touches.plate);
        let between = |upper: &crate::series::Summary, lower: &crate::series::Summary| {
            let value = upper.centre().minus(lower.centre()).round()?;
            Ok(Reading { value, variance: upper.variance().plus(lower.variance())? })
        };
        Ok(Self {
            tip: Some(Reading { value: tip.centre().round()?, variance: tip.variance() }),
            drop: Some(between(shoulder, tip)?),
            span: Some(between(plate, shoulder)?),
        })
    }
}

/// What the owner did, or what is known to have changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change<K> {
    /// Another nozzle, or the same one taken out: T and d.
    Nozzle,
    /// The machine's heights begin elsewhere, such as after work on its homing switch: T.
    Homing,
    /// Work on the probe, its mount, its shoulder or its switch: d and every span.
    Probe,
    /// The datum switch was moved or cleaned: T and every span.
    DatumSwitch,
    /// Another fine speed, at which trips are seen earlier or later: T and every span.
    Speed,
    /// A gauge check and trim. It moves no reading, since none holds t. Where a span stands in alarm it is
    /// the answer to that: every span begins a new level.
    Trim,
    /// This plate was worked on or replaced: its span.
    Plate(K),
}

/// Why a cycle was not taken in; then nothing has changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WatchError {
    /// There is no place for the charts of another plate: forget one, or hand the cycle over without its
    /// plate.
    Full,
    /// A reading 4 mm or more from the first of its level, or a value that the arithmetic cannot hold.
    OutOfRange(OutOfRange),
}

/// The charts of a machine with at most `N` plates, 1 to 64. `K` names a plate, as in the plate book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Watch<K, const N: usize> {
    design: Design,
    steadiest: Uncertainty,
    tip: Charts,
    drop: Charts,
    spans: heapless::Vec<(K, Charts), N>,
}

impl<K, const N: usize> Watch<K, N> {
    const FITS: () = assert!(N >= 1 && N <= 64, "a watch holds 1 to 64 plates");

    /// A watch that knows nothing yet. No quantity is taken to scatter less than `steadiest` (below 4 mm), so
    /// that changes too small to matter stay quiet; zero for none.
    pub const fn new(design: Design, steadiest: Uncertainty) -> Self {
        let () = Self::FITS;
        Self { design, steadiest, tip: Charts::new(), drop: Charts::new(), spans: heapless::Vec::new() }
    }

    /// The nothing-was-done answer to all alarms: the charts in alarm begin again with what they had learnt
    /// before.
    pub fn dismiss(&mut self) {
        self.for_each(&mut |_, charts| {
            if charts.alarm().is_some() { charts.settle() } else { charts.let_go() }
        });
    }

    /// The charts' λ, L, k and h.
    pub const fn design(&self) -> &Design {
        &self.design
    }

    /// The charts of T.
    pub const fn tip(&self) -> &Charts {
        &self.tip
    }

    /// The charts of d.
    pub const fn drop(&self) -> &Charts {
        &self.drop
    }

    /// The plates with the charts of their spans, in the order in which they came.
    pub fn spans(&self) -> &[(K, Charts)] {
        &self.spans
    }

    /// Whether an alarm stands.
    pub fn alarmed(&self) -> bool {
        self.all().any(|charts| charts.alarm().is_some())
    }

    /// Which causes fit what has moved since the alarm; nothing fits where none stands.
    ///
    /// Work: a few passes over the charts for each of the six causes.
    pub fn diagnosis(&self) -> Diagnosis {
        if !self.alarmed() {
            return Diagnosis::default();
        }
        let mut moved = heapless::Vec::<Moved, 66>::new();
        let alarmed = |charts: &Charts| charts.alarm().is_some();
        for (quantity, charts) in [(Quantity::Tip, &self.tip), (Quantity::Drop, &self.drop)] {
            if let Some((by, variance)) = charts.moved() {
                let _ = moved.push(Moved { quantity, by, variance, alarmed: alarmed(charts) });
            }
        }
        // The plate that has moved most, in its own u.
        let far = |m: &Moved| cause::significance(m.by, m.variance);
        let quantity = Quantity::Span { most: false };
        let spans = self.spans.iter().filter_map(|(_, charts)| {
            let (by, variance) = charts.moved()?;
            Some(Moved { quantity, by, variance, alarmed: alarmed(charts) })
        });
        let most = spans.clone().map(|m| far(&m)).max();
        let mut found = false;
        for span in spans {
            let most = !found && Some(far(&span)) == most;
            found |= most;
            let _ = moved.push(Moved { quantity: Quantity::Span { most }, ..span });
        }
        Diagnosis::of(moved.iter())
    }

    fn all(&self) -> impl Iterator<Item = &Charts> {
        [&self.tip, &self.drop].into_iter().chain(self.spans.iter().map(|(_, charts)| charts))
    }

    /// Every chart, with the plate it belongs to.
    fn for_each(&mut self, work: &mut dyn FnMut(Option<&K>, &mut Charts)) {
        work(None, &mut self.tip);
        work(None, &mut self.drop);
        for (plate, charts) in &mut self.spans {
            work(Some(plate), charts);
        }
    }
}

impl<K: PartialEq, const N: usize> Watch<K, N> {
    /// Takes an accepted cycle in and says whether an alarm is active. A plate not seen before gets charts of
    /// its own; without a plate the span is left out.
    ///
    /// # Errors
    /// [`WatchError`]; then nothing has changed.
    pub fn see(&mut self, plate: Option<K>, observed: &Observed) -> Result<bool, WatchError> {
        let least = self.steadiest.variance().map_err(WatchError::OutOfRange)?;
        let place = plate.as_ref().and_then(|plate| self.spans.iter().position(|(known, _)| known == plate));
        let new = place.is_none() && plate.is_some() && observed.span.is_some();
        if new && self.spans.is_full() {
            return Err(WatchError::Full);
        }
        // What could be refused is worked out before anything changes.
        let offset = |charts: Option<&Charts>, reading: &Option<Reading>| match (charts, reading) {
            (Some(charts), Some(reading)) => charts.offset(reading).map_err(WatchError::OutOfRange),
            _ => Ok(None),
        };
        let tip = offset(Some(&self.tip), &observed.tip)?;
        let drop = offset(Some(&self.drop), &observed.drop)?;
        let known = place.and_then(|place| self.spans.get(place)).map(|(_, charts)| charts);
        let span = offset(known, &observed.span)?;

        let stood = self.alarmed();
        if let (true, Some(plate)) = (new, plate) {
            let _ = self.spans.push((plate, Charts::new()));
        }
        let place = if new { self.spans.len().checked_sub(1) } else { place };
        let design = self.design;
        let charts = place.and_then(|place| self.spans.get_mut(place)).map(|(_, charts)| charts);
        let mut seen = [
            (Some(&mut self.tip), tip, observed.tip),
            (Some(&mut self.drop), drop, observed.drop),
            (charts, span, observed.span),
        ];
        let mut alarm = stood;
        for (charts, offset, reading) in &mut seen {
            if let (Some(charts), Some(reading)) = (charts, reading) {
                alarm |= charts.chart(&design, *offset, reading.variance.max(least));
            }
        }
        for (charts, offset, reading) in &mut seen {
            match (charts, reading) {
                (Some(charts), Some(reading)) if alarm => charts.hold(*offset, reading.value),
                (Some(charts), Some(reading)) => charts.learn(*offset, reading.value),
                _ => {}
            }
        }
        Ok(alarm)
    }

    /// Takes in what the owner did. What it moves begins a new level; alarms elsewhere stand.
    pub fn tell(&mut self, change: Change<K>) {
        let spans_alarmed = self.spans.iter().any(|(_, charts)| charts.alarm().is_some());
        let (tip, drop, spans) = match &change {
            Change::Nozzle => (true, true, false),
            Change::Homing => (true, false, false),
            Change::Probe => (false, true, true),
            Change::DatumSwitch | Change::Speed => (true, false, true),
            Change::Trim => (false, false, spans_alarmed),
            Change::Plate(_) => (false, false, false),
        };
        let one = match &change {
            Change::Plate(plate) => Some(plate),
            _ => None,
        };
        if tip {
            self.tip.begin_level();
        }
        if drop {
            self.drop.begin_level();
        }
        for (plate, charts) in &mut self.spans {
            if spans || one == Some(&*plate) {
                charts.begin_level();
            }
        }
        if !self.alarmed() {
            self.for_each(&mut |_, charts| charts.let_go());
        }
    }

    /// Forgets the charts of a plate. Says whether there were any.
    pub fn forget(&mut self, plate: &K) -> bool {
        let mut from = self.spans.iter_mut().skip_while(|(known, _)| known != plate);
        let Some(mut hole) = from.next() else { return false };
        // Those behind move up by one; what is to go comes last.
        for pair in from {
            core::mem::swap(hole, pair);
            hole = pair;
        }
        self.spans.pop().is_some()
    }

    /// The charts of a plate's span.
    pub fn span(&self, plate: &K) -> Option<&Charts> {
        self.spans.iter().find(|(known, _)| known == plate).map(|(_, charts)| charts)
    }
}

impl core::fmt::Display for WatchError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            WatchError::Full => {
                "the watch has no room for another plate; forget one, or pass the cycle without its plate"
            }
            WatchError::OutOfRange(_) => {
                "a reading is 4 mm or more from its level's first, or out of range; enter what was changed"
            }
        })
    }
}

impl core::error::Error for WatchError {}
