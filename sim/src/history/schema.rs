//! What stands in the file, and how older files become today's.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use rusqlite::{Connection, TransactionBehavior};

use crate::text::Problem;
use crate::text::name::shown_path;

/// The mark of a history in an SQLite file's header: "zdat".
pub(super) const APPLICATION: i32 = 0x7a64_6174;

/// What brings a file from one version of the schema to the next; an empty file is version 0. Steps are added
/// at the end and never changed, since files that took them are about.
pub(super) const STEPS: &[&str] = &["
    CREATE TABLE setup (
        id INTEGER PRIMARY KEY,
        digest TEXT NOT NULL UNIQUE,        -- SHA-256 of the text
        content TEXT NOT NULL               -- the machine file
    ) STRICT;
    CREATE TABLE entry (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        at INTEGER NOT NULL UNIQUE,         -- microseconds since 1970, UTC; the order
        tool TEXT NOT NULL,
        forgotten INTEGER                   -- since when
    ) STRICT;
    CREATE TABLE cycle (
        number INTEGER PRIMARY KEY REFERENCES entry (number),
        run TEXT NOT NULL,
        plate TEXT,
        nozzle TEXT,
        setup INTEGER NOT NULL REFERENCES setup (id),
        digest TEXT NOT NULL,               -- of the touches' values
        last_span INTEGER,                  -- lengths in 1/65536 mm
        last_span_u2 INTEGER,               -- variances in 1/2^44 mm^2
        verdict TEXT NOT NULL CHECK (verdict IN ('accept', 'refuse')),
        tip INTEGER, tip_u2 INTEGER,
        hang INTEGER, hang_u2 INTEGER,      -- the drop, which is a word of SQL
        span INTEGER, span_u2 INTEGER,
        result TEXT NOT NULL                -- JSON, as `land` gave it
    ) STRICT;
    CREATE INDEX cycle_by_digest ON cycle (digest);
    CREATE INDEX cycle_by_plate ON cycle (plate, verdict);
    CREATE TABLE touch (
        cycle INTEGER NOT NULL REFERENCES cycle (number),
        place INTEGER NOT NULL,             -- in the order taken, from 0
        station TEXT NOT NULL,
        z TEXT NOT NULL,                    -- every cell as it was read
        kind TEXT, counted TEXT, time_s TEXT, speed TEXT, tool_c TEXT, bed_c TEXT, chamber_c TEXT,
        PRIMARY KEY (cycle, place)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE event (
        number INTEGER PRIMARY KEY REFERENCES entry (number),
        kind TEXT NOT NULL,
        plate TEXT,
        nozzle TEXT,
        text TEXT
    ) STRICT;
"];

/// What a file turned out to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum FoundFile {
    Nothing,
    Empty,
    History,
}

/// Looks at a file without changing it.
///
/// # Errors
/// It cannot be read, is none of ours, or was made by a newer version.
pub(super) fn look(path: &Path) -> Result<FoundFile, Problem> {
    let name = shown_path(path);
    let failed = |error: std::io::Error| Problem::new(format!("{name}: cannot be read: {error}"));
    let kind = match std::fs::metadata(path) {
        Ok(data) => data,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(FoundFile::Nothing),
        Err(error) => return Err(failed(error)),
    };
    // A pipe would be waited for.
    if !kind.is_file() {
        return Err(Problem::new(format!("{name}: not a regular file, so it cannot be a history"))
            .remedy("give the name of a file; `land --keep` begins one that does not exist yet"));
    }
    let mut header = Vec::new();
    File::open(path).and_then(|file| file.take(100).read_to_end(&mut header)).map_err(failed)?;
    if header.is_empty() {
        return Ok(FoundFile::Empty);
    }
    // SQLite's file format, section 1.3: the magic, the user version at 60, the application at 68, both
    // big-endian.
    let number =
        |at: usize| header.get(at..at + 4).and_then(|bytes| bytes.try_into().ok()).map(i32::from_be_bytes);
    if !header.starts_with(b"SQLite format 3\0") || number(68) != Some(APPLICATION) {
        return Err(Problem::new(format!("{name}: not a history of this tool; it was not touched"))
            .remedy("give another name, or move that file away"));
    }
    match number(60) {
        Some(version) if version as i64 > STEPS.len() as i64 => Err(newer(&name, version.into())),
        _ => Ok(FoundFile::History),
    }
}

fn newer(name: &str, version: i64) -> Problem {
    Problem::new(format!(
        "{name}: made by a newer version of this tool (schema {version}; this one knows up to {})",
        STEPS.len()
    ))
    .remedy("use the newer version; it was not touched")
}

/// Why a file could not be brought to today's schema.
#[derive(Debug)]
pub(super) enum Failed {
    Newer(i64),
    Sql(rusqlite::Error),
}

impl Failed {
    pub(super) fn problem(self, path: &Path) -> Problem {
        match self {
            Failed::Newer(version) => newer(&shown_path(path), version),
            Failed::Sql(error) => super::store::failed(path, &error),
        }
    }
}

impl From<rusqlite::Error> for Failed {
    fn from(error: rusqlite::Error) -> Self {
        Failed::Sql(error)
    }
}

/// Takes the steps that a file has not taken yet, all or none.
pub(super) fn bring_up(connection: &mut Connection, steps: &[&str]) -> Result<(), Failed> {
    let version = |connection: &Connection| {
        connection.pragma_query_value(None, "user_version", |row| row.get::<_, i64>(0))
    };
    let today = steps.len() as i64;
    if version(connection)? == today {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Somebody else may have been faster.
    let version = version(&transaction)?;
    if version > today {
        return Err(Failed::Newer(version));
    }
    for step in steps.iter().skip(usize::try_from(version).unwrap_or(0)) {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION)?;
    transaction.pragma_update(None, "user_version", today)?;
    transaction.commit()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn version(connection: &Connection) -> i64 {
        connection.pragma_query_value(None, "user_version", |row| row.get(0)).expect("a version")
    }

    #[test]
    fn steps_are_taken_once_and_in_order() {
        let steps = [
            "CREATE TABLE a (x)",
            "ALTER TABLE a ADD COLUMN y; INSERT INTO a VALUES (1, 2)",
            "UPDATE a SET x = x + 1",
        ];
        let mut connection = Connection::open_in_memory().expect("memory");
        for known in [1, 2, 2, 3, 3] {
            bring_up(&mut connection, &steps[..known]).expect("brought up");
            assert_eq!(version(&connection), known as i64);
        }
        let x: i64 = connection.query_row("SELECT sum(x) FROM a", [], |row| row.get(0)).expect("a row");
        assert_eq!(x, 2);
        assert!(matches!(bring_up(&mut connection, &steps[..2]), Err(Failed::Newer(3))));
    }

    #[test]
    fn a_step_that_fails_leaves_the_file_as_it_was() {
        let mut connection = Connection::open_in_memory().expect("memory");
        bring_up(&mut connection, &["CREATE TABLE a (x)"]).expect("brought up");
        let bad = ["CREATE TABLE a (x)", "CREATE TABLE b (x)", "CREATE TABLE a (x)"];
        assert!(bring_up(&mut connection, &bad).is_err());
        let tables: i64 = connection
            .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
            .expect("a count");
        assert_eq!((version(&connection), tables), (1, 1));
    }

    #[test]
    fn an_empty_file_becomes_todays() {
        let mut connection = Connection::open_in_memory().expect("memory");
        bring_up(&mut connection, STEPS).expect("brought up");
        let application: i32 =
            connection.pragma_query_value(None, "application_id", |row| row.get(0)).expect("an id");
        assert_eq!((version(&connection), application), (STEPS.len() as i64, APPLICATION));
    }
}
