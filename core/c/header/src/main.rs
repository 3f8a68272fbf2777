//! Generates `include/zdatum.h` from the library's source. Without an option it compares the file with the
//! source; `--write` writes it.

use std::path::Path;
use std::process::ExitCode;

/// In the order in which a reader of the header needs them.
const SOURCES: [&str; 10] =
    ["codes", "units", "refusal", "setup", "outcome", "cycle", "series", "trim", "plates", "watch"];

fn main() -> ExitCode {
    let write = match std::env::args().nth(1).as_deref() {
        None => false,
        Some("--write") => true,
        Some(other) => {
            eprintln!("unknown option {other:?}; known is --write");
            return ExitCode::from(2);
        }
    };
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap_or(Path::new("."));
    match run(here, write) {
        Ok(line) => {
            println!("{line}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("header: {error}");
            ExitCode::FAILURE
        }
    }
}

fn run(here: &Path, write: bool) -> Result<String, String> {
    let config = cbindgen::Config::from_file(here.join("cbindgen.toml"))?;
    let mut builder = cbindgen::Builder::new().with_config(config);
    for source in SOURCES {
        builder = builder.with_src(here.join("src").join(source).with_extension("rs"));
    }
    let mut made = Vec::new();
    builder.generate().map_err(|error| error.to_string())?.write(&mut made);
    let made = String::from_utf8(made).map_err(|error| error.to_string())?;
    unlisted(here)?;

    let path = here.join("include/zdatum.h");
    if write {
        std::fs::write(&path, &made).map_err(|error| format!("include/zdatum.h: {error}"))?;
    }
    let kept = std::fs::read_to_string(&path).map_err(|error| format!("include/zdatum.h: {error}"))?;
    if kept != made {
        let line = kept.lines().zip(made.lines()).take_while(|(kept, made)| kept == made).count() + 1;
        return Err(format!(
            "include/zdatum.h differs from the source from line {line} on; \
             write it again: cargo run --manifest-path core/c/Cargo.toml -p zdatum-c-header -- --write"
        ));
    }
    let declares =
        |line: &&str| line.starts_with(|c: char| c.is_ascii_lowercase()) && line.contains(" zdatum_");
    let functions = made.lines().filter(declares).filter(|line| line.contains('(')).count();
    Ok(format!("header: {} lines, {functions} functions, equal to the source", made.lines().count()))
}

/// Every exported function is in a file that the header is generated from.
fn unlisted(here: &Path) -> Result<(), String> {
    let entries = std::fs::read_dir(here.join("src")).map_err(|error| error.to_string())?;
    for entry in entries.flatten() {
        let path = entry.path();
        if path.extension().is_none_or(|extension| extension != "rs") {
            continue;
        }
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let text = std::fs::read_to_string(&path).map_err(|error| format!("{}: {error}", path.display()))?;
        if text.contains("unsafe(no_mangle)") && !SOURCES.contains(&name.as_str()) {
            return Err(format!("src/{name}.rs exports a function, but is not one of the header's sources"));
        }
    }
    Ok(())
}
