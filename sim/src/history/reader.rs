//! What can be asked of a history.

use std::path::Path;

use rusqlite::types::Type;
use rusqlite::{Connection, OptionalExtension, Row, params};
use zdatum::watch::{Observed, Reading};
use zdatum::{LastSpan, Length, Variance};

use super::touches::TouchCells;
use super::{Digest, Entry, EventKind, HistoryEvent, KeptCycle, Moment, What};
use crate::text::Problem;
use crate::text::name::shown_path;

/// Reads a history, all of it from one state of the file.
#[derive(Clone, Copy, Debug)]
pub struct Reader<'h> {
    connection: &'h Connection,
    path: &'h Path,
}

/// A cycle that is kept already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownCycle {
    /// Its number.
    pub number: i64,
    /// When it was kept.
    pub at: Moment,
    /// Which machine file it was judged by.
    pub setup: Digest,
}

/// A plate's last accepted span, and whose it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastAccepted {
    /// The cycle's number.
    pub number: i64,
    /// The span with its u².
    pub span: LastSpan,
}

const ENTRIES: &str = "SELECT entry.number, entry.at, entry.tool, entry.forgotten,
        cycle.run, cycle.plate, cycle.nozzle, setup.digest, cycle.digest, cycle.last_span, cycle.last_span_u2, cycle.verdict,
        cycle.tip, cycle.tip_u2, cycle.hang, cycle.hang_u2, cycle.span, cycle.span_u2, cycle.result,
        event.kind, event.plate, event.nozzle, event.text
    FROM entry LEFT JOIN cycle USING (number) LEFT JOIN event USING (number) LEFT JOIN setup ON setup.id = cycle.setup ";

impl<'h> Reader<'h> {
    pub(super) fn new(connection: &'h Connection, path: &'h Path) -> Self {
        Self { connection, path }
    }

    /// Every entry in order, the oldest first. Forgotten ones count for nothing: ask for them only to show or
    /// copy them.
    ///
    /// # Errors
    /// The file cannot be read, or holds what this tool never writes.
    pub fn entries(&self, with_forgotten: bool) -> Result<Vec<Entry>, Problem> {
        self.ask(|connection| {
            let filter = if with_forgotten { "" } else { "WHERE entry.forgotten IS NULL " };
            let mut statement = connection.prepare(&format!("{ENTRIES}{filter}ORDER BY entry.at"))?;
            let entries = statement.query_map([], entry)?;
            entries.collect()
        })
    }

    /// One entry, forgotten or not.
    ///
    /// # Errors
    /// There is none of that number, or as [`Reader::entries`].
    pub fn entry(&self, number: i64) -> Result<Entry, Problem> {
        let found = self.ask(|connection| {
            connection.query_row(&format!("{ENTRIES}WHERE entry.number = ?1"), [number], entry).optional()
        })?;
        found.ok_or_else(|| {
            Problem::new(format!("{}: no entry has the number {number}", shown_path(self.path)))
                .remedy("`zdatum history --all` lists every entry with its number")
        })
    }

    /// A kept cycle's touches, in their order.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn touches(&self, number: i64) -> Result<Vec<TouchCells>, Problem> {
        self.ask(|connection| {
            let mut statement = connection.prepare(
                "SELECT station, z, kind, counted, time_s, speed, tool_c, bed_c, chamber_c
                 FROM touch WHERE cycle = ?1 ORDER BY place",
            )?;
            let touches = statement.query_map([number], |row| {
                let mut touch = TouchCells::default();
                for (place, cell) in touch.cells.iter_mut().enumerate() {
                    *cell = row.get(place)?;
                }
                Ok(touch)
            })?;
            touches.collect()
        })
    }

    /// The text of the machine file that a cycle was judged by.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn setup(&self, digest: &Digest) -> Result<String, Problem> {
        self.ask(|connection| {
            let ask = "SELECT content FROM setup WHERE digest = ?1";
            connection.query_row(ask, [digest.text()], |row| row.get(0))
        })
    }

    /// The newest cycle with these touches that is not forgotten.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn known(&self, digest: &Digest) -> Result<Option<KnownCycle>, Problem> {
        self.ask(|connection| {
            let mut statement = connection.prepare(
                "SELECT number, at, setup.digest FROM cycle JOIN entry USING (number) JOIN setup ON setup.id = cycle.setup
                 WHERE cycle.digest = ?1 AND forgotten IS NULL ORDER BY at DESC LIMIT 1",
            )?;
            let found = statement.query_row([digest.text()], |row| {
                Ok(KnownCycle {
                    number: row.get(0)?,
                    at: Moment::of_micros(row.get(1)?),
                    setup: Digest(row.get(2)?),
                })
            });
            found.optional()
        })
    }

    /// Whether a cycle with these touches was ever kept, forgotten or not.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn holds(&self, digest: &Digest) -> Result<bool, Problem> {
        self.ask(|connection| {
            let ask = "SELECT EXISTS (SELECT 1 FROM cycle WHERE digest = ?1)";
            connection.query_row(ask, [digest.text()], |row| row.get(0))
        })
    }

    /// The plate's last accepted span, of all cycles or of those before a time. What was read before a plate
    /// was worked on or replaced says nothing any more.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn last_span(&self, plate: &str, before: Option<Moment>) -> Result<Option<LastAccepted>, Problem> {
        self.ask(|connection| {
            // A cross join is gone through in this order: backwards in time, to the first that will do.
            let mut statement = connection.prepare(
                "SELECT number, span, span_u2 FROM entry CROSS JOIN cycle USING (number)
                 WHERE plate = ?1 AND verdict = 'accept' AND forgotten IS NULL AND span IS NOT NULL AND at < ?2
                     AND at > (SELECT coalesce(max(at), -1) FROM event JOIN entry USING (number)
                               WHERE event.kind = 'plate' AND event.plate = ?1 AND forgotten IS NULL AND at < ?2)
                 ORDER BY at DESC LIMIT 1",
            )?;
            let before = before.map_or(i64::MAX, Moment::micros);
            let found = statement.query_row(params![plate, before], |row| {
                Ok(LastAccepted { number: row.get(0)?, span: last_span(length(row, 1)?, variance(row, 2)?) })
            });
            found.optional()
        })
    }

    /// The machine file of the newest cycle that is not forgotten, with that cycle's number.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn newest_setup(&self) -> Result<Option<(i64, Digest)>, Problem> {
        self.ask(|connection| {
            let ask = "SELECT number, setup.digest FROM cycle JOIN entry USING (number) JOIN setup ON setup.id = cycle.setup
                       WHERE forgotten IS NULL ORDER BY at DESC LIMIT 1";
            connection.query_row(ask, [], |row| Ok((row.get(0)?, Digest(row.get(1)?)))).optional()
        })
    }

    fn ask<T>(&self, ask: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, Problem> {
        ask(self.connection).map_err(|error| super::store::failed(self.path, &error))
    }
}

fn entry(row: &Row<'_>) -> rusqlite::Result<Entry> {
    let what = match row.get::<_, Option<String>>("kind")? {
        Some(word) => What::Event(HistoryEvent {
            kind: EventKind::of_word(&word).ok_or_else(|| unheard_of(19, "an event of an unknown kind"))?,
            plate: row.get(20)?,
            nozzle: row.get(21)?,
            text: row.get(22)?,
        }),
        None => What::Cycle(Box::new(cycle(row)?)),
    };
    Ok(Entry {
        number: row.get(0)?,
        at: Moment::of_micros(row.get(1)?),
        tool: row.get(2)?,
        forgotten: row.get::<_, Option<i64>>(3)?.map(Moment::of_micros),
        what,
    })
}

fn cycle(row: &Row<'_>) -> rusqlite::Result<KeptCycle> {
    let reading = |at: usize| -> rusqlite::Result<Option<Reading>> {
        Ok(match (length(row, at)?, variance(row, at + 1)?) {
            (Some(value), Some(variance)) => Some(Reading { value, variance }),
            _ => None,
        })
    };
    let observed = Observed { tip: reading(12)?, drop: reading(14)?, span: reading(16)? };
    Ok(KeptCycle {
        run: row.get(4)?,
        plate: row.get(5)?,
        nozzle: row.get(6)?,
        setup: Digest(row.get(7)?),
        digest: Digest(row.get(8)?),
        last: match (length(row, 9)?, variance(row, 10)?) {
            (span @ Some(_), variance) => Some(last_span(span, variance)),
            _ => None,
        },
        accepted: row.get::<_, String>(11)? == "accept",
        observed: (observed != Observed::default()).then_some(observed),
        result: row.get(18)?,
    })
}

fn last_span(span: Option<Length>, variance: Option<Variance>) -> LastSpan {
    LastSpan::new(span.unwrap_or(Length::ZERO), variance.unwrap_or(Variance::ZERO))
}

fn length(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<Length>> {
    checked(row, at, |bits| Length::from_bits(bits).ok())
}

fn variance(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<Variance>> {
    checked(row, at, |bits| u64::try_from(bits).ok().map(Variance::from_bits))
}

fn checked<T>(row: &Row<'_>, at: usize, of: fn(i64) -> Option<T>) -> rusqlite::Result<Option<T>> {
    match row.get::<_, Option<i64>>(at)? {
        Some(stored) => of(stored).map(Some).ok_or_else(|| unheard_of(at, "a value that cannot be held")),
        None => Ok(None),
    }
}

fn unheard_of(at: usize, what: &str) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(at, Type::Null, what.into())
}
