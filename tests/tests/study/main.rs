//! The desk's statistics against published cases and references computed elsewhere: one program, so that it
//! links once.
//!
//! `cargo test -p zdatum-tests --test study certified -- --nocapture` prints the log relative error of each
//! NIST set.

mod certified;
mod data;
mod distributions;
mod growth;
mod latency;
mod order;
mod outliers;
mod precision;
mod seating;
mod soak;

use zdatum_sim::files::log::Log;
use zdatum_sim::files::{FileText, MachineFile};
use zdatum_sim::study::whole::StudyOptions;
use zdatum_sim::study::{Groups, Study};

/// The demo's machine.
fn demo() -> MachineFile {
    let text = include_str!("../../../docs/demo/machine.toml");
    MachineFile::of(FileText::of("machine.toml", text)).unwrap_or_else(|problem| panic!("{problem:?}"))
}

/// The series of a log.
fn groups(log: &str) -> Groups {
    let log = Log::read(FileText::of("log.csv", log)).unwrap_or_else(|problem| panic!("{problem:?}"));
    Groups::of(&log).unwrap_or_else(|problem| panic!("{problem:?}"))
}

/// A study of a log.
fn study(log: &str) -> Study {
    Study::of(groups(log), &StudyOptions { within: None, touches: 5, floor: 0.0 })
}

/// A log of one station whose runs are these groups of heights.
fn log_of<T: std::fmt::Display>(station: &str, runs: &[Vec<T>]) -> String {
    let rows = runs
        .iter()
        .enumerate()
        .flat_map(|(run, heights)| heights.iter().map(move |z| format!("{},{station},{z}\n", run + 1)));
    format!("run,station,z\n{}", rows.collect::<String>())
}

/// Correct digits: −log₁₀ of the relative error, at most 15.
fn digits(found: f64, expected: f64) -> f64 {
    let error = if expected == 0.0 { found.abs() } else { ((found - expected) / expected).abs() };
    if error.is_nan() { 0.0 } else { (-error.log10()).clamp(0.0, 15.0) }
}

/// Agreement to so many digits.
#[track_caller]
fn agrees(what: &str, found: f64, expected: f64, least: f64) {
    let right = digits(found, expected);
    assert!(right >= least, "{what}: {found} is not {expected}: {right:.1} digits of {least}");
}
