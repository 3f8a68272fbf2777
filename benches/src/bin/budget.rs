//! Instructions of the core's main jobs, counted by callgrind and compared with `benches/budget.toml`.
//!
//! ```text
//! cargo run --profile counted -p zdatum-benches --bin budget              compares; exit 1 where a count is more than 5 % over
//! cargo run --profile counted -p zdatum-benches --bin budget -- --write   counts and rewrites the file
//! ```
//!
//! It needs `valgrind` (Debian and Ubuntu: package `valgrind`; without it: exit 2). It builds nothing: it
//! runs itself under valgrind once for each entry, counting inside that entry's function alone. Counts are
//! exact and do not depend on how busy the machine is, but on the compiler and the processor family: the file
//! names both, and with others the counts are only reported. They are counts of the host and show what a
//! change costs; a board's counts come from an image for that board.
//!
//! Where the instructions of one entry go, line by line:
//!
//! ```text
//! cargo build --profile bench -p zdatum-benches --bin budget
//! valgrind --tool=callgrind --callgrind-out-file=out --toggle-collect='*entry::landing_whole' \
//!     target/release/budget --run landing_whole
//! callgrind_annotate out
//! ```

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use serde::Deserialize;

use zdatum_benches::counted::{ENTRIES, Prepared};

/// How far a count may be off before it is said, in per cent.
const ALLOWED: u64 = 5;

/// The compiler of this very program, and so of the core in it.
const COMPILER: &str = env!("COMPILED_BY");
const TARGET: &str = env!("COMPILED_FOR");

const NO_VALGRIND: &str = "valgrind was not found, so no instruction was counted; \
    install it (Debian and Ubuntu: apt-get install valgrind) and run this again";

/// The budget file.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Budget {
    /// What the counts were made with.
    rustc: String,
    /// For which processor family and system.
    target: String,
    /// Instructions of each entry.
    instructions: BTreeMap<String, u64>,
}

/// How a count stands to its budget.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Held {
    Within,
    Over,
    Under,
    NotInFile,
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let result = match arguments.as_slice() {
        [] => compare(&file()),
        ["--write"] => write(&file()),
        ["--run", name] => run(name),
        ["--help" | "-h"] => {
            println!("budget            compare instruction counts with benches/budget.toml");
            println!("budget --write    count and rewrite that file");
            println!("budget --run NAME run one entry, for a profile; callgrind does the counting");
            return ExitCode::SUCCESS;
        }
        other => Err(format!("`{}` is not understood; see --help", other.join(" "))),
    };
    match result {
        Ok(code) => code,
        Err(message) => {
            eprintln!("budget: {message}");
            ExitCode::from(2)
        }
    }
}

fn file() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("budget.toml")
}

/// The part under valgrind: one entry, once.
fn run(name: &str) -> Result<ExitCode, String> {
    let entry = ENTRIES.iter().find(|entry| entry.name == name);
    let entry = entry.ok_or_else(|| format!("no entry is called `{name}`"))?;
    let prepared = Prepared::default();
    (entry.run)(&prepared);
    Ok(ExitCode::SUCCESS)
}

/// Counts every entry, in their order.
fn count_all() -> Result<Vec<u64>, String> {
    let program = std::env::current_exe().map_err(|e| format!("cannot find this program's own file: {e}"))?;
    ENTRIES.iter().map(|entry| count(&program, entry.name)).collect()
}

/// Instructions inside one entry's function, whatever it calls included.
fn count(program: &Path, name: &str) -> Result<u64, String> {
    let out = Command::new("valgrind")
        .args(["--tool=callgrind", "--callgrind-out-file=/dev/null"])
        .arg(format!("--toggle-collect=*entry::{name}"))
        .arg(program)
        .args(["--run", name])
        // The C library picks its copying routine by processor; without these extensions it is always the
        // same one.
        .env("GLIBC_TUNABLES", "glibc.cpu.hwcaps=-AVX512F,-AVX512VL,-AVX2,-AVX,-ERMS,-FSRM")
        .output()
        .map_err(|e| match e.kind() {
            io::ErrorKind::NotFound => NO_VALGRIND.to_owned(),
            _ => format!("valgrind could not be started: {e}"),
        })?;
    let said = String::from_utf8_lossy(&out.stderr);
    if !out.status.success() {
        return Err(format!("valgrind failed on `{name}` ({}):\n{said}", out.status));
    }
    let counted = said.lines().find_map(|line| line.split_once("Collected :")?.1.trim().parse().ok());
    match counted {
        Some(0) => {
            Err(format!("valgrind counted nothing for `{name}`: its function was not found in this build"))
        }
        Some(counted) => Ok(counted),
        None => Err(format!("valgrind's report on `{name}` holds no count:\n{said}")),
    }
}

fn compare(path: &Path) -> Result<ExitCode, String> {
    let budget = read(path)?;
    let counts = count_all()?;
    let comparable = budget.rustc == COMPILER && budget.target == TARGET;

    println!("{:>9} {:>9} {:>8}", "counted", "budget", "");
    let (mut over, mut under, mut missing) = (Vec::new(), Vec::new(), Vec::new());
    for (entry, counted) in ENTRIES.iter().zip(counts) {
        let limit = budget.instructions.get(entry.name).copied();
        let note = match hold(counted, limit) {
            Held::Within => "",
            Held::Over => {
                over.push(entry.name);
                "  OVER"
            }
            Held::Under => {
                under.push(entry.name);
                "  under"
            }
            Held::NotInFile => {
                missing.push(entry.name);
                "  not in the file"
            }
        };
        let (limit, change) = match limit {
            Some(limit) if limit > 0 => {
                (limit.to_string(), format!("{:+.1} %", 100.0 * (counted as f64 / limit as f64 - 1.0)))
            }
            _ => ("-".to_owned(), String::new()),
        };
        println!("{counted:>9} {limit:>9} {change:>8}  {:<22} {}{note}", entry.name, entry.what);
    }
    let known = |name: &str| ENTRIES.iter().any(|entry| entry.name == name);
    let gone: Vec<&str> =
        budget.instructions.keys().map(String::as_str).filter(|name| !known(name)).collect();

    println!();
    if !comparable {
        println!("reported only, nothing failed: the budgets are of {} for {},", budget.rustc, budget.target);
        println!("these counts of {COMPILER} for {TARGET}; with --write they become the budgets");
        return Ok(ExitCode::SUCCESS);
    }
    for (names, what) in [
        (&under, "more than 5 % under its budget: run with --write and keep what was won"),
        (&gone, "no entry any more: run with --write"),
        (&missing, "without a budget: run with --write"),
        (&over, "more than 5 % over its budget: make the code shorter, or run with --write and say why"),
    ] {
        for name in names {
            println!("{name}: {what}");
        }
    }
    if !over.is_empty() || !missing.is_empty() || !gone.is_empty() {
        return Ok(ExitCode::FAILURE);
    }
    println!("none more than {ALLOWED} % over its budget ({COMPILER}, {TARGET})");
    Ok(ExitCode::SUCCESS)
}

fn hold(counted: u64, limit: Option<u64>) -> Held {
    let Some(limit) = limit else { return Held::NotInFile };
    let (seen, limit) = (u128::from(counted) * 100, u128::from(limit));
    if seen > limit * u128::from(100 + ALLOWED) {
        Held::Over
    } else if seen < limit * u128::from(100 - ALLOWED) {
        Held::Under
    } else {
        Held::Within
    }
}

fn read(path: &Path) -> Result<Budget, String> {
    let text = std::fs::read_to_string(path)
        .map_err(|e| format!("{}: {e}; --write makes the file", path.display()))?;
    // The parser's message names line, column and key.
    toml::from_str(&text).map_err(|e| format!("{}: {e}", path.display()))
}

fn write(path: &Path) -> Result<ExitCode, String> {
    let counts = count_all()?;
    let mut text = String::from(
        "# Instructions of the core's main jobs on the host, written by\n\
         #   cargo run --profile counted -p zdatum-benches --bin budget -- --write\n\
         # Without --write the same command compares, and fails where a count is more than 5 % over.\n\n",
    );
    // Writing to a string cannot fail.
    let _ = writeln!(text, "rustc = {COMPILER:?}\ntarget = {TARGET:?}\n\n[instructions]");
    for (entry, counted) in ENTRIES.iter().zip(counts) {
        let _ = writeln!(text, "# {}\n{} = {counted}", entry.what, entry.name);
        println!("{counted:>9}  {:<22} {}", entry.name, entry.what);
    }
    // Beside the file and renamed over it: a crash leaves the old one whole.
    let beside = path.with_extension("toml.new");
    std::fs::write(&beside, text)
        .and_then(|()| std::fs::rename(&beside, path))
        .map_err(|e| format!("{}: {e}", path.display()))?;
    println!("\nwritten to {}", path.display());
    Ok(ExitCode::SUCCESS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_per_cent_either_way_is_within() {
        assert_eq!(hold(1_050, Some(1_000)), Held::Within);
        assert_eq!(hold(1_051, Some(1_000)), Held::Over);
        assert_eq!(hold(950, Some(1_000)), Held::Within);
        assert_eq!(hold(949, Some(1_000)), Held::Under);
        assert_eq!(hold(1, Some(0)), Held::Over);
        assert_eq!(hold(1_000, None), Held::NotInFile);
    }

    #[test]
    fn every_entry_runs_and_has_a_name_of_its_own() {
        let prepared = Prepared::default();
        for (i, entry) in ENTRIES.iter().enumerate() {
            (entry.run)(&prepared);
            assert!(ENTRIES.iter().skip(i + 1).all(|other| other.name != entry.name), "{} twice", entry.name);
        }
    }
}
