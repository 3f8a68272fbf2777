//! Writes the demo's logs for `study` and `soak`, made by the simulated world: always the same ones.
//!
//! ```text
//! cargo run -p zdatum-sim --example demo_logs -- study > docs/demo/study.csv
//! cargo run -p zdatum-sim --example demo_logs -- soak > docs/demo/soak.csv
//! cargo run -p zdatum-sim --example demo_logs -- truth
//! ```

use std::process::ExitCode;

use zdatum_sim::demo;
use zdatum_sim::files::{FileText, MachineFile};

fn main() -> ExitCode {
    let machine = match MachineFile::of(FileText::of("docs/demo/machine.toml", demo::MACHINE)) {
        Ok(machine) => machine,
        Err(problem) => {
            eprintln!("{}", problem.title);
            return ExitCode::FAILURE;
        }
    };
    match std::env::args().nth(1).as_deref() {
        Some("study") => print!("{}", demo::study(&machine)),
        Some("soak") => print!("{}", demo::soak(&machine)),
        Some("truth") => print!("{}", demo::truth(&machine)),
        _ => {
            eprintln!("say which: study, soak or truth");
            return ExitCode::FAILURE;
        }
    }
    ExitCode::SUCCESS
}
