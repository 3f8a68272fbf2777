//! Which history a command means.

use std::fs::DirBuilder;
use std::path::{Path, PathBuf};

use zdatum_sim::files::Problem;
use zdatum_sim::files::history::{History, name, usual_place};
use zdatum_sim::show::name::shown;

/// The history to write: it is begun where there is none.
pub(super) fn begin(given: Option<&Path>) -> Result<History, Problem> {
    match given {
        Some(path) => History::open_or_begin(path),
        None => {
            let path = usual_place()?;
            make_folder(&path)?;
            History::open_or_begin(&path)
        }
    }
}

/// Works on the history to write. What is refused begins none: where there is none yet, the work is done in memory first.
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

fn place(given: Option<&Path>) -> Result<PathBuf, Problem> {
    given.map_or_else(usual_place, |path| Ok(path.to_owned()))
}

/// The folder of the usual place may have to be made, for its owner alone (XDG Base Directory Specification, *Referencing this
/// specification*).
fn make_folder(path: &Path) -> Result<(), Problem> {
    let Some(folder) = path.parent() else { return Ok(()) };
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder).map_err(|error| {
        Problem::new(format!("{}: cannot be made: {error}", shown(&folder.to_string_lossy())))
            .remedy("choose a file with --history FILE")
    })
}

/// A name given on the command line.
pub(super) fn named(text: &str) -> Result<String, String> {
    name(text)
}
