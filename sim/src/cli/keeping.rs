//! Which history a command means.

use std::path::Path;

use zdatum_sim::history::{History, name, place};
use zdatum_sim::text::Problem;

/// The history to write: it is begun where there is none.
pub(super) fn begin(given: Option<&Path>) -> Result<History, Problem> {
    History::begin(given)
}

/// Works on the history to write. What is refused begins none: where there is none yet, the work is done in
/// memory first.
pub(super) fn begin_with<T>(
    given: Option<&Path>,
    work: impl Fn(&mut History) -> Result<T, Problem>,
) -> Result<T, Problem> {
    if let Some(mut rehearsal) = History::rehearsal(&place(given)?)? {
        work(&mut rehearsal)?;
    }
    work(&mut begin(given)?)
}

/// The history to read: it must be there.
pub(super) fn open(given: Option<&Path>) -> Result<History, Problem> {
    History::open(&place(given)?)
}

/// A name given on the command line.
pub(super) fn named(text: &str) -> Result<String, String> {
    name(text)
}
