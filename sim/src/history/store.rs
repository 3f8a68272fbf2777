//! The file itself: opening it, and what can go wrong with it.
//!
//! SQLite with a rollback journal, not a write-ahead log: whenever no command is writing, all of the history
//! is in the one file, so that copying it copies everything, and it works on a network share too. What is
//! written goes in whole or not at all, and is on the disk (`synchronous = EXTRA`) before a command says so.

use std::fs::DirBuilder;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

use super::reader::Reader;
use super::schema::{self, FoundFile, STEPS};
use super::writing::Writing;
use super::{Moment, place};
use crate::text::Problem;
use crate::text::name::shown_path;

/// How long a command waits for another that is writing.
pub const PATIENCE: Duration = Duration::from_secs(10);

/// A history that is open.
#[derive(Debug)]
pub struct History {
    connection: Connection,
    path: PathBuf,
}

impl History {
    /// Opens a history that exists.
    ///
    /// # Errors
    /// It does not exist, cannot be opened, is none of ours (it is then untouched), or is a newer version's.
    pub fn open(path: &Path) -> Result<Self, Problem> {
        match schema::look(path)? {
            FoundFile::History => Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE, PATIENCE),
            FoundFile::Nothing | FoundFile::Empty => {
                Err(Problem::new(format!("{}: no history yet", shown_path(path)))
                    .remedy("`zdatum land LOG --machine FILE --keep` begins one"))
            }
        }
    }

    /// The history to write: the file given, or the usual place, whose folder may have to be made, for its
    /// owner alone (XDG Base Directory Specification, *Referencing this specification*). It is begun where
    /// there is none.
    ///
    /// # Errors
    /// As [`History::open_or_begin`], or the folder cannot be made.
    pub fn begin(given: Option<&Path>) -> Result<Self, Problem> {
        let path = place(given)?;
        if let (None, Some(folder)) = (given, path.parent()) {
            let mut builder = DirBuilder::new();
            builder.recursive(true);
            #[cfg(unix)]
            std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
            builder.create(folder).map_err(|error| {
                Problem::new(format!("{}: cannot be made: {error}", shown_path(folder)))
                    .remedy("choose a file with --history FILE")
            })?;
        }
        Self::open_or_begin(&path)
    }

    /// Opens a history, and begins one where the file does not exist or is empty.
    ///
    /// # Errors
    /// As [`History::open`], or it cannot be made.
    pub fn open_or_begin(path: &Path) -> Result<Self, Problem> {
        let flags = match schema::look(path)? {
            FoundFile::History => OpenFlags::SQLITE_OPEN_READ_WRITE,
            FoundFile::Nothing | FoundFile::Empty => {
                OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE
            }
        };
        Self::connect(path, flags, PATIENCE)
    }

    pub(super) fn connect(path: &Path, flags: OpenFlags, patience: Duration) -> Result<Self, Problem> {
        // An absolute name is never taken for a URI.
        let whole = std::path::absolute(path)
            .map_err(|error| Problem::new(format!("{}: cannot be opened: {error}", shown_path(path))))?;
        let open = || -> Result<Connection, schema::Failed> {
            let mut connection =
                Connection::open_with_flags(&whole, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
            connection.busy_timeout(patience)?;
            connection.execute_batch(
                "PRAGMA trusted_schema = OFF; PRAGMA foreign_keys = ON; PRAGMA synchronous = EXTRA;
                 PRAGMA temp_store = MEMORY; PRAGMA cell_size_check = ON;",
            )?;
            // Whoever looked at it with another program may have left it with a write-ahead log.
            connection.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(()))?;
            schema::bring_up(&mut connection, STEPS)?;
            Ok(connection)
        };
        let connection = open().map_err(|failed| failed.problem(path))?;
        Ok(Self { connection, path: path.to_owned() })
    }

    /// A history in memory that stands for one which is still to be begun: what is refused here begins none.
    /// `None` where there is one already.
    ///
    /// # Errors
    /// The file is none of ours, or a newer version's.
    pub fn rehearsal(path: &Path) -> Result<Option<Self>, Problem> {
        if schema::look(path)? == FoundFile::History {
            return Ok(None);
        }
        let open = || -> Result<Connection, schema::Failed> {
            let mut connection = Connection::open_in_memory()?;
            schema::bring_up(&mut connection, STEPS)?;
            Ok(connection)
        };
        let connection = open().map_err(|failed| failed.problem(path))?;
        Ok(Some(Self { connection, path: path.to_owned() }))
    }

    /// The file's name as it is shown.
    pub fn name(&self) -> String {
        shown_path(&self.path)
    }

    /// Reads all that is asked of the reader from one state of the file.
    ///
    /// # Errors
    /// The closure's, or the file cannot be read.
    pub fn read<T>(&mut self, ask: impl FnOnce(&Reader<'_>) -> Result<T, Problem>) -> Result<T, Problem> {
        let path = &self.path;
        let transaction = self.connection.transaction().map_err(|error| failed(path, &error))?;
        ask(&Reader::new(&transaction, path))
    }

    /// Begins to write: from now until it commits or is dropped nobody else does.
    ///
    /// # Errors
    /// Another command is writing and does not end, or the file cannot be written.
    pub fn write(&mut self, now: Moment) -> Result<Writing<'_>, Problem> {
        let path = &self.path;
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|error| failed(path, &error))?;
        Ok(Writing::new(transaction, path, now))
    }

    #[cfg(test)]
    pub(super) fn raw(&self) -> &Connection {
        &self.connection
    }
}

/// What SQLite said, with what to do about it.
pub(super) fn failed(path: &Path, error: &rusqlite::Error) -> Problem {
    let name = shown_path(path);
    let (what, remedy) = match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => (
            format!("another program is using it, and did not end within {} s", PATIENCE.as_secs()),
            "run the command again when the other has ended; nothing was kept",
        ),
        Some(ErrorCode::DiskFull) => {
            ("the disk is full".into(), "make room and run the command again; nothing was kept")
        }
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
            (format!("cannot be written: {error}"), "check who may write the file and its folder")
        }
        Some(ErrorCode::CannotOpen) => (
            format!("cannot be opened: {error}"),
            "check that its folder exists, and who may read and write it",
        ),
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => (
            format!("damaged: {error}"),
            "go back to a copy of it, or begin a new one and import the last export",
        ),
        Some(ErrorCode::SystemIoFailure) => (
            format!("cannot be read or written: {error}"),
            "check the disk and its room, then run the command again; nothing was kept",
        ),
        _ => (
            format!("cannot be used: {error}"),
            "go back to a copy of it, or choose another file with --history",
        ),
    };
    Problem::new(format!("{name}: {what}")).remedy(remedy)
}

#[cfg(test)]
mod tests {
    use super::super::{EventKind, HistoryEvent};
    use super::*;

    const FLAGS: OpenFlags = OpenFlags::SQLITE_OPEN_READ_WRITE.union(OpenFlags::SQLITE_OPEN_CREATE);

    fn event(text: &str) -> HistoryEvent {
        HistoryEvent { kind: EventKind::Remark, plate: None, nozzle: None, text: Some(text.into()) }
    }

    fn enter(history: &mut History, text: &str) -> Result<i64, Problem> {
        let writing = history.write(Moment::of_micros(5_000_000))?;
        let number = writing.enter(&writing.stamp()?.0, &event(text))?;
        writing.commit()?;
        Ok(number)
    }

    fn count(history: &mut History) -> usize {
        history.read(|reader| reader.entries(true)).expect("entries").len()
    }

    #[test]
    fn a_full_disk_is_told_and_what_was_there_stays() {
        let folder = tempfile::tempdir().expect("a folder");
        let mut history = History::open_or_begin(&folder.path().join("h")).expect("begun");
        enter(&mut history, "one").expect("entered");
        let pages: i64 =
            history.raw().pragma_query_value(None, "page_count", |row| row.get(0)).expect("a count");
        history.raw().pragma_update_and_check(None, "max_page_count", pages, |_| Ok(())).expect("a limit");
        let problem = enter(&mut history, &"x".repeat(100_000)).expect_err("no room");
        assert!(problem.title.ends_with("h: the disk is full"), "{}", problem.title);
        assert_eq!(count(&mut history), 1);
        assert_eq!(enter(&mut history, "two"), Ok(2));
    }

    #[test]
    fn who_waits_too_long_is_told_and_readers_do_not_wait() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("h");
        let mut first = History::open_or_begin(&path).expect("begun");
        enter(&mut first, "one").expect("entered");
        let mut second = History::connect(&path, FLAGS, Duration::from_millis(30)).expect("opened");
        let writing = first.write(Moment::of_micros(0)).expect("a change");
        writing.enter(&writing.stamp().expect("a stamp").0, &event("two")).expect("entered");
        let problem = enter(&mut second, "three").expect_err("busy");
        assert!(problem.title.contains("another program is using it"), "{}", problem.title);
        assert_eq!(count(&mut second), 1);
        writing.commit().expect("done");
        assert_eq!((count(&mut second), enter(&mut second, "three")), (2, Ok(3)));
    }

    #[test]
    fn what_is_dropped_never_was() {
        let folder = tempfile::tempdir().expect("a folder");
        let mut history = History::open_or_begin(&folder.path().join("h")).expect("begun");
        let writing = history.write(Moment::of_micros(0)).expect("a change");
        writing.enter(&writing.stamp().expect("a stamp").0, &event("one")).expect("entered");
        drop(writing);
        assert_eq!(count(&mut history), 0);
    }

    #[test]
    fn a_clock_that_goes_back_changes_no_order() {
        let folder = tempfile::tempdir().expect("a folder");
        let mut history = History::open_or_begin(&folder.path().join("h")).expect("begun");
        let mut at = |clock: i64| {
            let writing = history.write(Moment::of_micros(clock)).expect("a change");
            let (stamp, is_late) = writing.stamp().expect("a stamp");
            writing.enter(&stamp, &event("x")).expect("entered");
            writing.commit().expect("done");
            (stamp.at.micros(), is_late)
        };
        assert_eq!(at(5_000_000), (5_000_000, false));
        assert_eq!(at(5_000_000), (5_001_000, false));
        assert_eq!(at(1_000), (5_002_000, true));
        assert_eq!(at(9_000_000), (9_000_000, false));
    }

    #[test]
    fn nothing_lies_beside_the_file_and_a_write_ahead_log_is_put_away() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("h");
        enter(&mut History::open_or_begin(&path).expect("begun"), "one").expect("entered");
        let other = Connection::open(&path).expect("opened");
        other.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(())).expect("a write-ahead log");
        drop(other);
        enter(&mut History::open(&path).expect("opened"), "two").expect("entered");
        let names: Vec<_> = std::fs::read_dir(folder.path()).expect("a folder").collect();
        assert_eq!(names.len(), 1);
        // The file's header says which: 1 for a rollback journal (SQLite's file format, section 1.3.3).
        assert_eq!(std::fs::read(&path).expect("a file").get(18..20), Some(&[1, 1][..]));
    }
}
