//! Any text as a history's export: taken in whole or not at all, and the same again when written out.

use zdatum_sim::files::FileText;
use zdatum_sim::history::{History, Moment, exchange};

/// A history of its own in the system's folder for such.
fn history() -> (tempfile::TempDir, History) {
    let folder = tempfile::tempdir().expect("a folder");
    let history = History::open_or_begin(&folder.path().join("history.db")).expect("a history");
    (folder, history)
}

fn taken(history: &mut History, text: &str) -> bool {
    let writing = history.write(Moment::of_micros(1_700_000_000_000_000)).expect("it can be written");
    let is_taken = exchange::import(&writing, &FileText::of("history.jsonl", text)).is_ok();
    if is_taken {
        writing.commit().expect("it is kept");
    }
    is_taken
}

pub(crate) fn take(text: &str) {
    let (_folder, mut one) = history();
    if !taken(&mut one, text) {
        assert_eq!(
            one.read(|reader| reader.entries(true)).expect("entries").len(),
            0,
            "nothing of it is kept"
        );
        return;
    }
    let first = one.read(exchange::lines).expect("lines");
    let (_folder, mut other) = history();
    assert!(taken(&mut other, &first), "{first}");
    assert_eq!(other.read(exchange::lines).expect("lines"), first);
}
