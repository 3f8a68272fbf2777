//! Files are replaced whole: a crash or a full disk leaves either the old one or the new one.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::text::Problem;
use crate::text::name::shown_path;

/// Replaces a file's content. A link stays a link: what it points to is replaced. Permissions stay.
///
/// # Errors
/// The file is not what it was when it was read, or the new one cannot be written; the old one is then as it
/// was.
pub fn replace(path: &Path, before: &str, after: &str) -> Result<(), Problem> {
    let failed = |error: io::Error| cannot_write(path, &error).remedy("the file is as it was");
    let target = fs::canonicalize(path).map_err(failed)?;
    let known = fs::metadata(&target).map_err(failed)?;
    if !known.is_file() {
        return Err(failed(io::Error::other("not a regular file")));
    }
    // A new file beside it could take its place; whoever forbade writing meant more than that.
    if known.permissions().readonly() {
        return Err(failed(io::Error::other("it is read-only")));
    }
    let new = staged(&target, after, Some(&known)).map_err(failed)?;
    if fs::read(&target).map_err(failed)? != before.as_bytes() {
        return Err(Problem::new(format!(
            "{}: has been changed meanwhile; nothing was written",
            shown_path(path)
        ))
        .remedy("run the command again"));
    }
    new.persist(&target).map_err(|error| failed(error.error))?;
    sync_folder(&target).map_err(|error| unsynced(path, &error))
}

/// Writes a file that must not exist yet.
///
/// # Errors
/// It exists, or cannot be written.
pub fn create(path: &Path, text: &str) -> Result<(), Problem> {
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::AlreadyExists => {
            Problem::new(format!("{}: exists already; nothing was written", shown_path(path)))
                .remedy("give another name, or move the old file away")
        }
        io::ErrorKind::NotFound => {
            cannot_write(path, &error).remedy("make its folder first, or give another place")
        }
        _ => cannot_write(path, &error).remedy("give another place"),
    };
    if fs::symlink_metadata(path).is_ok() {
        return Err(failed(io::ErrorKind::AlreadyExists.into()));
    }
    let new = staged(path, text, None).map_err(failed)?;
    new.persist_noclobber(path).map_err(|error| failed(error.error))?;
    sync_folder(path).map_err(|error| unsynced(path, &error))
}

/// Whether [`stage_own`] would find a place to write, told before long work: the folder is there, and nothing
/// of somebody else's would be lost.
///
/// # Errors
/// Something else has the name, or its folder is missing.
pub fn check_own(path: &Path, is_own: impl Fn(&str) -> bool) -> Result<(), Problem> {
    let failed = |error: io::Error| cannot_write(path, &error);
    if fs::symlink_metadata(path).is_err() {
        let folder = folder(path);
        return match fs::metadata(&folder) {
            Ok(found) if found.is_dir() => Ok(()),
            Ok(_) => Err(failed(io::Error::other(format!("{} is not a folder", shown_path(&folder))))),
            Err(error) => Err(failed(error).remedy("make its folder first, or give another place")),
        };
    }
    let known = fs::metadata(path).map_err(|error| {
        // The name is there, what it points to is not.
        failed(error).remedy("it is a link that leads nowhere: remove it, or give another name")
    })?;
    if !known.is_file() {
        return Err(failed(io::Error::other("not a regular file")).remedy("give another name"));
    }
    if known.permissions().readonly() {
        return Err(failed(io::Error::other("it is read-only")).remedy("give another name"));
    }
    let mut start = Vec::new();
    File::open(path).and_then(|file| file.take(4_096).read_to_end(&mut start)).map_err(failed)?;
    if start.is_empty() || is_own(&String::from_utf8_lossy(&start)) {
        return Ok(());
    }
    Err(Problem::new(format!(
        "{}: exists already and was not made by this command; nothing was written",
        shown_path(path)
    ))
    .remedy("give another name, or move the old file away"))
}

/// A file that stands written under another name, ready to take its own.
#[derive(Debug)]
pub struct Staged {
    new: NamedTempFile,
    path: PathBuf,
    /// The older one, where there is one.
    target: Option<PathBuf>,
}

/// Writes a file beside where it will be, in the place of an older one of its kind: `is_own` tells from the
/// first 4 KiB whether it is. A link stays a link. Nothing is replaced until [`Staged::keep`]; dropped
/// before, nothing is left.
///
/// # Errors
/// As [`check_own`], or it cannot be written.
pub fn stage_own(path: &Path, text: &str, is_own: impl Fn(&str) -> bool) -> Result<Staged, Problem> {
    check_own(path, is_own)?;
    let failed = |error: io::Error| cannot_write(path, &error).remedy("give another place");
    let target = fs::canonicalize(path).ok();
    let known = target.as_ref().map(fs::metadata).transpose().map_err(failed)?;
    let new = staged(target.as_deref().unwrap_or(path), text, known.as_ref()).map_err(failed)?;
    Ok(Staged { new, path: path.to_owned(), target })
}

impl Staged {
    /// Gives it its name.
    ///
    /// # Errors
    /// It cannot be named so; an older one is then as it was.
    pub fn keep(self) -> Result<(), Problem> {
        let Self { new, path, target } = self;
        let done = match &target {
            Some(target) => new.persist(target),
            None => new.persist_noclobber(&path),
        };
        done.map_err(|error| cannot_write(&path, &error.error).remedy("give another place"))?;
        sync_folder(target.as_deref().unwrap_or(&path)).map_err(|error| unsynced(&path, &error))
    }
}

/// Writes one such file at once.
///
/// # Errors
/// As [`stage_own`] and [`Staged::keep`].
pub fn write_own(path: &Path, text: &str, is_own: impl Fn(&str) -> bool) -> Result<(), Problem> {
    stage_own(path, text, is_own)?.keep()
}

/// Whether a file can be made beside this one's place: tried with one that is gone at once.
///
/// # Errors
/// It cannot.
pub fn check_room(path: &Path) -> Result<(), Problem> {
    let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    new_beside(&place, "").map(drop).map_err(|error| cannot_write(path, &error).remedy("give another place"))
}

/// Whether files can be made in a folder, or the folder itself in the nearest one above it that is there.
///
/// # Errors
/// They cannot, or something else has the name.
pub fn check_folder(path: &Path) -> Result<(), Problem> {
    let there = path.ancestors().find(|above| above.exists() && !above.as_os_str().is_empty());
    let there = there.map_or_else(|| PathBuf::from("."), Path::to_owned);
    if there.is_dir() {
        return check_room(&there.join("new")).map_err(|problem| Problem {
            title: problem.title.replace(&shown_path(&there.join("new")), &shown_path(path)),
            ..problem
        });
    }
    make_folder(path)
}

/// Makes a folder, and those above it, where there is none.
///
/// # Errors
/// Something else has the name, or it cannot be made.
pub fn make_folder(path: &Path) -> Result<(), Problem> {
    fs::create_dir_all(path).map_err(|error| {
        let error =
            if path.is_dir() || !path.exists() { error } else { io::Error::other("it is not a folder") };
        Problem::new(format!("{}: cannot be made: {error}", shown_path(path))).remedy("give another folder")
    })
}

/// A file beside that place, on the disk, as open to others as the `known` one.
fn staged(path: &Path, text: &str, known: Option<&fs::Metadata>) -> io::Result<NamedTempFile> {
    let mut new = new_beside(path, text)?;
    if let Some(known) = known {
        new.as_file_mut().set_permissions(known.permissions())?;
        keep_owner(new.as_file(), known);
    }
    new.as_file().sync_all()?;
    Ok(new)
}

fn new_beside(path: &Path, text: &str) -> io::Result<NamedTempFile> {
    // Its message would name the temporary file.
    let mut new = open_to_others(tempfile::Builder::new().prefix(".zdatum-"))
        .tempfile_in(folder(path))
        .map_err(|error| io::Error::from(error.kind()))?;
    new.write_all(text.as_bytes())?;
    Ok(new)
}

fn folder(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Makes the new name as lasting as the new content.
fn sync_folder(path: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder(path))?.sync_all() } else { Ok(()) }
}

#[cfg(unix)]
fn keep_owner(file: &File, known: &fs::Metadata) {
    use std::os::unix::fs::{MetadataExt, fchown};
    // Only root may give files away; for anybody else the file is their own as before.
    let _ = fchown(file, Some(known.uid()), Some(known.gid()));
}

#[cfg(not(unix))]
fn keep_owner(_: &File, _: &fs::Metadata) {}

/// A temporary file is its maker's alone; a machine file is as open as the user's other files.
#[cfg(unix)]
fn open_to_others<'b, 'n, 's>(
    builder: &'b mut tempfile::Builder<'n, 's>,
) -> &'b mut tempfile::Builder<'n, 's> {
    use std::os::unix::fs::PermissionsExt;
    builder.permissions(fs::Permissions::from_mode(0o666))
}

#[cfg(not(unix))]
fn open_to_others<'b, 'n, 's>(
    builder: &'b mut tempfile::Builder<'n, 's>,
) -> &'b mut tempfile::Builder<'n, 's> {
    builder
}

fn unsynced(path: &Path, error: &io::Error) -> Problem {
    Problem::new(format!("{}: written, but a power cut now might undo it: {error}", shown_path(path)))
}

fn cannot_write(path: &Path, error: &io::Error) -> Problem {
    Problem::new(format!("{}: cannot be written: {error}", shown_path(path)))
}
