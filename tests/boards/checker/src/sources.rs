//! Which public functions of the core are called from the images, by reading both sources.
//!
//! Names are compared, not resolved: a function counts as called where its name stands in `src/calls`, if
//! only in a comment. That is enough to be told of a new function that nobody calls yet. A function that an
//! image cannot call is named in a comment there, with the reason.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::{fs, io};

/// What the comparison found.
pub struct Calls {
    /// Public functions of the core, by file and name.
    pub functions: usize,
    /// Those that nobody calls, as `file:line: name`.
    pub missing: Vec<String>,
}

/// Compares the core's public functions with the words of the calls.
pub fn compare(core: &Path, calls: &Path) -> io::Result<Calls> {
    let mut called = BTreeSet::new();
    for file in rust_files(calls)? {
        called.extend(words(&fs::read_to_string(file)?).map(str::to_owned));
    }
    let (mut functions, mut missing) = (0, Vec::new());
    let texts = rust_files(core)?.into_iter().map(|file| fs::read_to_string(&file).map(|text| (file, text)));
    let texts: Vec<(PathBuf, String)> = texts.collect::<io::Result<_>>()?;
    let sources: Vec<(&PathBuf, Source)> = texts.iter().map(|(file, text)| (file, scan(text))).collect();
    let left_out: BTreeSet<&str> =
        sources.iter().flat_map(|(_, source)| source.left_out.iter().copied()).collect();
    for (file, source) in &sources {
        let path = file.strip_prefix(core).unwrap_or(file);
        if path.with_extension("").iter().any(|part| left_out.contains(&*part.to_string_lossy())) {
            continue;
        }
        functions += source.functions.len();
        let uncalled = source.functions.iter().filter(|(_, name)| !called.contains(*name));
        missing.extend(uncalled.map(|(line, name)| format!("core/src/{}:{line}: {name}", path.display())));
    }
    Ok(Calls { functions, missing })
}

/// What one file says.
#[derive(Debug, Default, PartialEq, Eq)]
struct Source<'a> {
    /// Line and name of each `pub fn` that the default build has; `pub(crate)` and tests do not count.
    functions: Vec<(usize, &'a str)>,
    /// Modules in files of their own that the default build does not have.
    left_out: Vec<&'a str>,
}

fn scan(text: &str) -> Source<'_> {
    let mut source = Source::default();
    let mut left_out = false;
    for (index, line) in text.lines().enumerate() {
        let line = line.trim_start();
        if line.starts_with("#[") || line.starts_with("//") {
            left_out |= line.starts_with("#[cfg(feature") || line.starts_with("#[cfg(test)]");
            continue;
        }
        let (item, public) = line.strip_prefix("pub ").map_or((line, false), |item| (item, true));
        if left_out && item.starts_with("mod ") {
            // A module of tests stands last in its file.
            if item.ends_with('{') {
                break;
            }
            source.left_out.extend(words(item).nth(1));
        } else if public && !left_out {
            let function = item.strip_prefix("const ").unwrap_or(item).strip_prefix("fn ");
            source
                .functions
                .extend(function.and_then(|rest| words(rest).next()).map(|name| (index + 1, name)));
        }
        left_out = false;
    }
    source
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_ascii_alphanumeric() && c != '_').filter(|word| !word.is_empty())
}

/// All `.rs` files below a folder, in a steady order.
fn rust_files(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            files.extend(rust_files(&path)?);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn public_functions_of_the_default_build_are_listed() {
        let text = "
#[cfg(feature = \"float\")]
mod float;
pub mod units;
#[cfg(test)]
mod tests;
impl A {
    pub const fn new() -> Self {}
    /// pub fn in_a_comment()
    pub(crate) fn inner() {}
    #[cfg(feature = \"float\")]
    #[must_use]
    pub fn to_f64(self) {}
    pub fn read<const N: usize>(self) {}
    pub field: u8,
    fn private() {}
}
#[cfg(test)]
mod more_tests {
    pub fn helper() {}
}
";
        let expected = Source { functions: vec![(8, "new"), (14, "read")], left_out: vec!["float", "tests"] };
        assert_eq!(scan(text), expected);
    }
}
