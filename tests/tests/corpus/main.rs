//! What fuzzing has kept, each input once more: the bodies of the fuzz targets on `tests/fuzz/corpus`.
//! `tests/fuzz/run` looks for more.

use std::path::Path;

mod cycle;
mod decimal;
mod guide;
mod import;
mod log;
mod machine;
mod request;
mod saved;
mod session;

/// Takes every input of a target's corpus.
fn all(target: &str, take: impl Fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus").join(target);
    let files: Vec<_> =
        std::fs::read_dir(&folder).expect("a corpus").map(|file| file.expect("a file").path()).collect();
    assert!(!files.is_empty(), "{}", folder.display());
    for file in files {
        // Told by the test where it fails.
        println!("{}", file.display());
        take(&std::fs::read(&file).expect("an input"));
    }
}

/// The same for text; what is none is no input.
fn all_text(target: &str, take: impl Fn(&str)) {
    all(target, |bytes| std::str::from_utf8(bytes).map_or((), &take));
}

#[test]
fn cycles() {
    all("cycle", cycle::take);
}

#[test]
fn decimals() {
    all_text("decimal", decimal::take);
}

#[test]
fn logs() {
    all_text("log", log::take);
}

#[test]
fn machines() {
    all_text("machine", machine::take);
}

#[test]
fn imports() {
    all_text("import", import::take);
}

#[test]
fn sessions() {
    all_text("guide", guide::take);
}

#[test]
fn saved_states() {
    all("saved", saved::take);
}

#[test]
fn requests() {
    all("request", request::take);
}

#[test]
fn session_files() {
    all_text("session", session::take);
}
