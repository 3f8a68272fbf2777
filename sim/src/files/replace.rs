//! Files are replaced whole: a crash or a full disk leaves either the old one or the new one.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::source::Problem;
use crate::show::name::shown;

/// Replaces a file's content. A link stays a link: what it points to is replaced. Permissions stay.
///
/// # Errors
/// The file is not what it was when it was read, or the new one cannot be written; the old one is then as it was.
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
    let mut new = new_beside(&target, after).map_err(failed)?;
    new.as_file_mut().set_permissions(known.permissions()).map_err(failed)?;
    keep_owner(new.as_file(), &known);
    new.as_file().sync_all().map_err(failed)?;
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
        _ => cannot_write(path, &error),
    };
    if fs::symlink_metadata(path).is_ok() {
        return Err(failed(io::ErrorKind::AlreadyExists.into()));
    }
    let new = new_beside(path, text).map_err(failed)?;
    new.as_file().sync_all().map_err(failed)?;
    new.persist_noclobber(path).map_err(|error| failed(error.error))?;
    sync_folder(path).map_err(|error| unsynced(path, &error))
}

/// Whether [`write_own`] would find a place to write, told before long work: the folder is there, and nothing of somebody else's
/// would be lost.
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
    let known = fs::metadata(path).map_err(failed)?;
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

/// Writes a file, in the place of an older one of its kind: `is_own` tells from the first 4 KiB whether it is. A link stays a link.
///
/// # Errors
/// As [`check_own`], or it cannot be written; an older one is then as it was.
pub fn write_own(path: &Path, text: &str, is_own: impl Fn(&str) -> bool) -> Result<(), Problem> {
    check_own(path, is_own)?;
    let failed = |error: io::Error| cannot_write(path, &error);
    let Ok(target) = fs::canonicalize(path) else { return create(path, text) };
    let known = fs::metadata(&target).map_err(failed)?;
    let mut new = new_beside(&target, text).map_err(failed)?;
    new.as_file_mut().set_permissions(known.permissions()).map_err(failed)?;
    keep_owner(new.as_file(), &known);
    new.as_file().sync_all().map_err(failed)?;
    new.persist(&target).map_err(|error| failed(error.error))?;
    sync_folder(&target).map_err(|error| unsynced(path, &error))
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

fn new_beside(path: &Path, text: &str) -> io::Result<NamedTempFile> {
    let mut new = open_to_others(tempfile::Builder::new().prefix(".zdatum-")).tempfile_in(folder(path))?;
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

fn shown_path(path: &Path) -> String {
    shown(&path.to_string_lossy())
}
