//! Changes to a history: all of a command's, or none.

use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Transaction, params, params_from_iter};
use zdatum::Variance;
use zdatum::watch::Reading;

use super::reader::Reader;
use super::touches::TouchCells;
use super::{Digest, HistoryEvent, KeptCycle, Moment};
use crate::text::Problem;
use crate::text::name::shown_path;

/// How far apart the entries of one moment are put, so that others find a place between.
const APART: i64 = 1_000;

/// A change under way. Dropped without [`Writing::commit`], it never was.
#[derive(Debug)]
pub struct Writing<'h> {
    transaction: Transaction<'h>,
    path: &'h Path,
    now: Moment,
}

/// How an entry is put down.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// Its number; the next one where there is none.
    pub number: Option<i64>,
    /// Its place in the order.
    pub at: Moment,
    /// The version of the tool that kept it.
    pub tool: String,
    /// Since when it is forgotten.
    pub forgotten: Option<Moment>,
}

impl<'h> Writing<'h> {
    pub(super) fn new(transaction: Transaction<'h>, path: &'h Path, now: Moment) -> Self {
        Self { transaction, path, now }
    }

    /// Keeps a cycle and gives its number. The setup's text is stored once.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn keep(
        &self,
        stamp: &Stamp,
        cycle: &KeptCycle,
        setup: &str,
        touches: &[TouchCells],
    ) -> Result<i64, Problem> {
        self.ask(|transaction| {
            transaction.execute(
                "INSERT OR IGNORE INTO setup (digest, content) VALUES (?1, ?2)",
                [cycle.setup.text(), setup],
            )?;
            let setup: i64 = transaction.query_row(
                "SELECT id FROM setup WHERE digest = ?1",
                [cycle.setup.text()],
                |row| row.get(0),
            )?;
            let number = stamped(transaction, stamp)?;
            let observed = cycle.observed.unwrap_or_default();
            let ([tip, tip_u2], [hang, hang_u2], [span, span_u2]) =
                (parts(observed.tip), parts(observed.drop), parts(observed.span));
            transaction.execute(
                "INSERT INTO cycle (number, run, plate, nozzle, setup, digest, last_span, last_span_u2, verdict,
                                    tip, tip_u2, hang, hang_u2, span, span_u2, result)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)",
                params![
                    number,
                    cycle.run,
                    cycle.plate,
                    cycle.nozzle,
                    setup,
                    cycle.digest.text(),
                    cycle.last.map(|last| last.span.to_bits()),
                    cycle.last.map(|last| signed(last.variance)),
                    if cycle.accepted { "accept" } else { "refuse" },
                    tip,
                    tip_u2,
                    hang,
                    hang_u2,
                    span,
                    span_u2,
                    cycle.result,
                ],
            )?;
            let mut insert = transaction.prepare(
                "INSERT INTO touch (cycle, place, station, z, kind, counted, time_s, speed, tool_c, bed_c, chamber_c)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
            )?;
            for (place, touch) in touches.iter().enumerate() {
                let place = i64::try_from(place).unwrap_or(i64::MAX);
                let cells = touch.cells.iter().map(|cell| Value::from(cell.clone()));
                insert.execute(params_from_iter([number, place].map(Value::from).into_iter().chain(cells)))?;
            }
            Ok(number)
        })
    }

    /// Enters an event and gives its number.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn enter(&self, stamp: &Stamp, event: &HistoryEvent) -> Result<i64, Problem> {
        self.ask(|transaction| {
            let number = stamped(transaction, stamp)?;
            transaction.execute(
                "INSERT INTO event (number, kind, plate, nozzle, text) VALUES (?1, ?2, ?3, ?4, ?5)",
                params![number, event.kind.word(), event.plate, event.nozzle, event.text],
            )?;
            Ok(number)
        })
    }

    /// Forgets entries, or undoes that. Gives those that were so already.
    ///
    /// # Errors
    /// There is no entry of a number; then nothing is changed once this is dropped.
    pub fn forget(&self, numbers: &[i64], undo: bool) -> Result<Vec<i64>, Problem> {
        let mut already = Vec::new();
        for number in numbers {
            if self.reader().entry(*number)?.forgotten.is_some() != undo {
                already.push(*number);
                continue;
            }
            let since = (!undo).then_some(self.now.micros());
            self.ask(|transaction| {
                transaction
                    .execute("UPDATE entry SET forgotten = ?2 WHERE number = ?1", params![number, since])
            })?;
        }
        Ok(already)
    }

    /// Makes it last.
    ///
    /// # Errors
    /// The file cannot be written; then nothing has changed.
    pub fn commit(self) -> Result<(), Problem> {
        self.transaction.commit().map_err(|error| super::store::failed(self.path, &error))
    }

    /// What stands in the file, this change included.
    pub fn reader(&self) -> Reader<'_> {
        Reader::new(&self.transaction, self.path)
    }

    /// The clock when the change began.
    pub fn now(&self) -> Moment {
        self.now
    }

    /// A stamp of now, behind all other entries; also whether the clock stands before one of them.
    ///
    /// # Errors
    /// The file cannot be read, or an entry stands at the end of time.
    pub fn stamp(&self) -> Result<(Stamp, bool), Problem> {
        let newest: Option<i64> = self.ask(|transaction| {
            // By the index, unlike max(at).
            let ask = "SELECT at FROM entry WHERE forgotten IS NULL ORDER BY at DESC LIMIT 1";
            transaction.query_row(ask, [], |row| row.get(0)).optional()
        })?;
        // At the end of time there is less room.
        let most = Moment::MOST.micros();
        let behind =
            newest.map_or(0, |newest| if newest + APART < most { newest + APART } else { newest + 1 });
        let late = newest.is_some_and(|newest| newest > self.now.micros().saturating_add(APART * APART));
        if behind > most {
            return Err(self.time_ends());
        }
        Ok((self.stamp_at(Moment::of_micros(self.now.micros().max(behind)))?, late))
    }

    /// A stamp just before an entry.
    ///
    /// # Errors
    /// There is no such entry, or no place left before it.
    pub fn stamp_before(&self, number: i64) -> Result<Stamp, Problem> {
        let next = self.reader().entry(number)?.at.micros();
        let previous: Option<i64> = self.ask(|transaction| {
            transaction.query_row("SELECT max(at) FROM entry WHERE at < ?1", [next], |row| row.get(0))
        })?;
        // Nothing stands before 1970.
        let gap = next - previous.unwrap_or(-1).max(next - 2 * APART);
        if gap < 2 {
            return Err(Problem::new(format!(
                "{}: no place is left before entry {number}",
                shown_path(self.path)
            ))
            .remedy("put it before the entry before that one"));
        }
        Ok(own(Moment::of_micros(next - gap / 2)))
    }

    /// A stamp at a time, or as soon after it as none has.
    ///
    /// # Errors
    /// The file cannot be read, or none is left.
    pub fn stamp_at(&self, at: Moment) -> Result<Stamp, Problem> {
        // One question however many stand there: nobody else writes meanwhile.
        let free: i64 = self.ask(|transaction| {
            let ask = "SELECT ?1 WHERE NOT EXISTS (SELECT 1 FROM entry WHERE at = ?1)
                       UNION ALL
                       SELECT * FROM (SELECT at + 1 FROM entry AS one WHERE at >= ?1
                           AND NOT EXISTS (SELECT 1 FROM entry WHERE entry.at = one.at + 1) ORDER BY at LIMIT 1)
                       LIMIT 1";
            transaction.query_row(ask, [at.micros()], |row| row.get(0))
        })?;
        if free > Moment::MOST.micros() { Err(self.time_ends()) } else { Ok(own(Moment::of_micros(free))) }
    }

    /// Whether nothing was ever kept.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn is_empty(&self) -> Result<bool, Problem> {
        let none: bool = self.ask(|transaction| {
            transaction.query_row("SELECT NOT EXISTS (SELECT 1 FROM entry)", [], |row| row.get(0))
        })?;
        Ok(none)
    }

    /// Whether this very event is entered at that time already.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn has_event(&self, at: Moment, event: &HistoryEvent) -> Result<bool, Problem> {
        let found: Option<i64> = self.ask(|transaction| {
            let ask = "SELECT number FROM event JOIN entry USING (number)
                       WHERE at = ?1 AND kind = ?2 AND plate IS ?3 AND nozzle IS ?4 AND text IS ?5";
            let (plate, nozzle, text) = (&event.plate, &event.nozzle, &event.text);
            let with = params![at.micros(), event.kind.word(), plate, nozzle, text];
            transaction.query_row(ask, with, |row| row.get(0)).optional()
        })?;
        Ok(found.is_some())
    }

    fn time_ends(&self) -> Problem {
        let (name, last) = (shown_path(self.path), Moment::MOST.text());
        Problem::new(format!("{name}: an entry is kept at {last}, and nothing can stand behind that")).remedy(
            "it came by an import of a changed export, or from a wrong clock: `zdatum history forget` it",
        )
    }

    fn ask<T>(&self, ask: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>) -> Result<T, Problem> {
        ask(&self.transaction).map_err(|error| super::store::failed(self.path, &error))
    }
}

fn own(at: Moment) -> Stamp {
    Stamp { number: None, at, tool: env!("CARGO_PKG_VERSION").into(), forgotten: None }
}

fn stamped(transaction: &Transaction<'_>, stamp: &Stamp) -> rusqlite::Result<i64> {
    transaction.execute(
        "INSERT INTO entry (number, at, tool, forgotten) VALUES (?1, ?2, ?3, ?4)",
        params![stamp.number, stamp.at.micros(), stamp.tool, stamp.forgotten.map(Moment::micros)],
    )?;
    Ok(transaction.last_insert_rowid())
}

fn parts(reading: Option<Reading>) -> [Option<i64>; 2] {
    let value = reading.map(|reading| i64::from(reading.value.to_bits()));
    [value, reading.map(|reading| signed(reading.variance))]
}

/// Variances stay below 16 mm², 2⁴⁸ in bits.
fn signed(variance: Variance) -> i64 {
    i64::try_from(variance.to_bits()).unwrap_or(i64::MAX)
}

/// The digest of a machine file's text.
pub(super) fn of_setup(text: &str) -> Digest {
    Digest::of(text.as_bytes())
}
