//! The history: every kept cycle and every change that the owner entered, in one SQLite file
//! (`docs/history.md`).
//!
//! Entries have a number for people and a time that orders them. Nothing is ever deleted: a forgotten entry
//! is marked, and counts no more.

pub mod exchange;
pub mod fit;
pub mod keep;
mod lines;
mod reader;
pub mod replay;
mod schema;
pub mod store;
pub mod touches;
mod writing;

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use etcetera::BaseStrategy;
use sha2::{Digest as _, Sha256};
use zdatum::LastSpan;
use zdatum::trim::Depth;
use zdatum::watch::Observed;

use crate::text::Problem;

pub use reader::{KnownCycle, LastAccepted, Reader};
pub use store::History;
pub use touches::TouchCells;
pub use writing::Writing;

/// A time of the system's clock: whole microseconds since 1970 began, UTC, up to the end of the year 9999.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(i64);

impl Moment {
    /// The last: the end of the year 9999.
    pub const MOST: Self = Self(253_402_300_799_999_999);

    /// Of so many microseconds; beyond the ends it stops there.
    pub fn of_micros(micros: i64) -> Self {
        Self(micros.clamp(0, Self::MOST.0))
    }

    /// The clock's.
    pub fn now() -> Self {
        let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
        Self::of_micros(i64::try_from(since.as_micros()).unwrap_or(i64::MAX))
    }

    /// From text such as `2026-11-25T16:33:38.123456Z`.
    ///
    /// # Errors
    /// Anything else.
    pub fn read(text: &str) -> Result<Self, String> {
        let wrong = || "not a time such as 2026-11-25T16:33:38.123456Z".to_owned();
        let time = humantime::parse_rfc3339(text).map_err(|_| wrong())?;
        let since = time.duration_since(SystemTime::UNIX_EPOCH).map_err(|_| wrong())?;
        i64::try_from(since.as_micros()).map(Self::of_micros).map_err(|_| wrong())
    }

    /// Microseconds since 1970 began.
    pub fn micros(self) -> i64 {
        self.0
    }

    /// RFC 3339 in UTC with all six decimals: what [`Moment::read`] takes back.
    pub fn text(self) -> String {
        let since = Duration::from_micros(self.0.unsigned_abs());
        humantime::format_rfc3339_micros(SystemTime::UNIX_EPOCH + since).to_string()
    }
}

/// SHA-256 in hexadecimal.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Digest(String);

impl Digest {
    /// Of some bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect())
    }

    /// All 64 digits.
    pub fn text(&self) -> &str {
        &self.0
    }

    /// The first twelve, for people.
    pub fn short(&self) -> &str {
        self.0.get(..12).unwrap_or(&self.0)
    }
}

/// One entry.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Its number, from 1; given once, never again.
    pub number: i64,
    /// When it was kept; no two are the same, and entries are ordered by it.
    pub at: Moment,
    /// The version of this tool that kept it.
    pub tool: String,
    /// Since when it is forgotten, where it is.
    pub forgotten: Option<Moment>,
    /// What it is.
    pub what: What,
}

/// What an entry is.
#[derive(Clone, Debug)]
pub enum What {
    /// A cycle.
    Cycle(Box<KeptCycle>),
    /// Something that the owner did.
    Event(HistoryEvent),
}

/// A kept cycle, without its touches.
#[derive(Clone, Debug)]
pub struct KeptCycle {
    /// Its name in the log.
    pub run: String,
    /// The plate that was named.
    pub plate: Option<String>,
    /// The nozzle that was named.
    pub nozzle: Option<String>,
    /// Which machine file it was judged by.
    pub setup: Digest,
    /// What its touches come to, so that they are known again.
    pub digest: Digest,
    /// The span it was compared with, where there was one.
    pub last: Option<LastSpan>,
    /// The verdict then.
    pub accepted: bool,
    /// T, d and span with their u²; `None` where a height could not be held.
    pub observed: Option<Observed>,
    /// What `land --json` said of it then, one object.
    pub result: String,
}

/// Something that the owner did, or says.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct HistoryEvent {
    /// What.
    #[serde(rename = "what")]
    pub kind: EventKind,
    /// Which plate, where one is concerned.
    pub plate: Option<String>,
    /// The nozzle that is fitted now, where it is named.
    pub nozzle: Option<String>,
    /// In the owner's words.
    pub text: Option<String>,
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $variant:ident = $word:literal, $text:literal;)*) => {
        /// What an event is.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum EventKind { $($(#[$doc])* $variant,)* }

        impl EventKind {
            /// All of them.
            pub const ALL: &'static [EventKind] = &[$(EventKind::$variant,)*];

            /// Its word.
            pub const fn word(self) -> &'static str {
                match self { $(EventKind::$variant => $word,)* }
            }

            /// What was done, for people.
            pub const fn text(self) -> &'static str {
                match self { $(EventKind::$variant => $text,)* }
            }
        }
    };
}

kinds! {
    /// Another nozzle, or the same one taken out and put back.
    Nozzle = "nozzle", "nozzle changed, or taken out and put back";
    /// The machine's heights begin elsewhere.
    Homing = "homing", "work on the homing switch: heights begin elsewhere";
    /// Work on the probe, its mount, its shoulder or its switch.
    Probe = "probe", "work on the probe, its mount or its switch";
    /// The datum switch was moved or cleaned.
    DatumSwitch = "datum-switch", "datum switch moved or cleaned";
    /// Another fine speed.
    Speed = "speed", "another fine speed";
    /// A gauge check and trim.
    Trim = "trim", "gauge check and trim";
    /// A plate was worked on, or replaced by another of the same name.
    Plate = "plate", "plate worked on or replaced";
    /// The answer to an alarm that was none.
    Nothing = "nothing", "looked at after an alarm; nothing was done";
    /// Words alone.
    Remark = "remark", "remark";
}

impl serde::Serialize for EventKind {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.word().serialize(serializer)
    }
}

impl EventKind {
    /// The kind of that word.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.word() == word)
    }
}

impl HistoryEvent {
    /// A trim, as it is entered.
    pub fn trim(before: &Depth, now: &Depth, afresh: bool) -> Self {
        let text = format!(
            "trip depth {} mm, u {}; it was {}, u {}{}",
            now.t.text(),
            now.u.text(),
            before.t.text(),
            before.u.text(),
            if afresh { "; started afresh" } else { "" },
        );
        Self { kind: EventKind::Trim, plate: None, nozzle: None, text: Some(text) }
    }
}

/// Which file is meant: the one given, or where the platform keeps such data.
///
/// # Errors
/// As [`usual_place`].
pub fn place(given: Option<&Path>) -> Result<PathBuf, Problem> {
    given.map_or_else(usual_place, |path| Ok(path.to_owned()))
}

/// Where the platform keeps such data.
///
/// # Errors
/// No home folder is known.
pub fn usual_place() -> Result<PathBuf, Problem> {
    let folders = etcetera::base_strategy::choose_native_strategy().map_err(|_| {
        Problem::new("no home folder is known, so there is no usual place for the history")
            .remedy("choose a file with --history FILE")
    })?;
    Ok(folders.data_dir().join("zdatum").join("history.sqlite"))
}

/// A name as the history takes it: of a run, a plate or a nozzle.
///
/// # Errors
/// Empty, blank at an end, or with control characters.
pub fn name(text: &str) -> Result<String, String> {
    if text.is_empty() || text.trim() != text {
        return Err("a name is not empty and has no blank at its ends".into());
    }
    if text.chars().any(char::is_control) {
        return Err("a name has no control characters".into());
    }
    Ok(text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_read_back() {
        for text in
            ["2026-11-25T16:33:38.123456Z", "1970-01-01T00:00:00.000000Z", "9999-12-31T23:59:59.999999Z"]
        {
            assert_eq!(Moment::read(text).expect("a time").text(), text);
        }
        assert_eq!(Moment::of_micros(i64::MAX).text(), "9999-12-31T23:59:59.999999Z");
        assert_eq!(Moment::of_micros(-1).micros(), 0);
        for text in ["", "yesterday", "2026-11-25", "2026-13-01T00:00:00Z", "1969-12-31T23:59:59Z"] {
            assert!(Moment::read(text).is_err(), "{text}");
        }
    }

    #[test]
    fn the_digest_is_the_published_one() {
        // FIPS 180-2, appendix B.1 (from memory).
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(Digest::of(b"abc").text(), abc);
        assert_eq!(Digest::of(b"abc").short(), "ba7816bf8f01");
    }

    #[test]
    fn words_of_events_are_their_own() {
        for kind in EventKind::ALL {
            assert_eq!(EventKind::of_word(kind.word()), Some(*kind));
        }
    }
}
