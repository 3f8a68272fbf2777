//! Commands: arguments as typed, then what they mean, then the run. One file each.

mod completions;
mod faults;
mod guide;
mod history;
mod keeping;
mod land;
mod machine;
mod numbers;
mod page;
mod pictures;
mod plan;
mod plates;
mod progress;
mod report;
mod setup;
mod simulate;
mod soak;
mod study;
mod trim;
mod watch;

use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use zdatum_sim::files::FileText;
use zdatum_sim::text::Problem;
use zdatum_sim::text::problem::render;

/// What a command has to say, and its exit code. Nothing is printed before all is known.
pub(crate) struct Answer {
    /// Standard output, with colours that a stream without them strips.
    pub(crate) text: String,
    /// Standard error.
    pub(crate) notes: String,
    /// 0 or 1.
    pub(crate) code: u8,
}

impl Answer {
    /// An answer: 0 where `good`, else 1.
    pub(crate) fn new(text: String, good: bool) -> Self {
        Self { text, notes: String::new(), code: u8::from(!good) }
    }
}

/// The height at which the nozzle meets the plate, from three switch touches: how certain it is, and whether
/// to trust it.
#[derive(Parser)]
#[command(
    name = "zdatum",
    version,
    max_term_width = 100,
    after_help = "\
Exit codes: 0 done and accepted, 1 done and refused, 2 nothing done (bad input), \
130 interrupted (what was done so far is reported).

Start here:
  zdatum guide machine.toml                setup question by question; add --practice to try it
  zdatum setup --new machine.toml          write a machine file to fill in
  zdatum setup machine.toml                check and explain it
  zdatum land touches.csv -m machine.toml  compute the landing from recorded touches"
)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Land(land::Args),
    Trim(trim::Args),
    Setup(setup::Args),
    Simulate(simulate::Args),
    Faults(faults::Args),
    Plan(plan::Args),
    Study(study::Args),
    Soak(soak::Args),
    History(history::Args),
    Plates(plates::Args),
    Watch(watch::Args),
    Page(page::Args),
    Report(report::Args),
    Guide(guide::Args),
    Completions(completions::Args),
}

/// Commands as `--help` lists them, by when they are wanted.
const GROUPS: [(&str, &[(&str, &str)]); 4] = [
    (
        "Every day",
        &[
            ("land", "the landing from recorded or typed touches, with its uncertainty and verdict"),
            ("history", "kept cycles and changes to the machine; correct, export, import"),
            ("plates", "what is known of each plate"),
            ("watch", "drift charts: has something changed?"),
            ("report", "one page to read or print"),
            ("page", "the same in a browser on this computer"),
        ],
    ),
    (
        "Setting up",
        &[
            ("guide", "question by question to a checked machine file and a first landing"),
            ("setup", "write, check and explain a machine file"),
            ("trim", "enter a gauge check or a nudge: it corrects the trip depth"),
            ("study", "how good the switches are"),
            ("soak", "how long to let the machine warm up"),
        ],
    ),
    (
        "What if",
        &[
            ("simulate", "the first-layer error of many simulated cycles"),
            ("plan", "the quickest touching that keeps a tolerance"),
            ("faults", "what is caught when something is wrong"),
        ],
    ),
    ("Shell", &[("completions", "completions for a shell")]),
];

/// With its commands in groups.
fn grouped(command: clap::Command) -> clap::Command {
    let mut list = String::new();
    for (group, commands) in GROUPS {
        list.push_str(&format!("{group}:\n"));
        for (name, what) in commands {
            list.push_str(&format!("  {name:<12} {what}\n"));
        }
        list.push('\n');
    }
    command.before_help(list.trim_end().to_owned()).help_template(
        "{about-section}\n{usage-heading} {usage}\n\n{before-help}Options:\n{options}{after-help}",
    )
}

/// Runs the command line.
pub(crate) fn main() -> ExitCode {
    let parsed = grouped(Cli::command()).try_get_matches().and_then(|found| Cli::from_arg_matches(&found));
    let cli = match parsed {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version come this way too; a stream that is closed early is no error.
            let _ = error.print();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    let answer = match cli.command {
        Command::Land(args) => land::run(&args),
        Command::Trim(args) => trim::run(&args),
        Command::Setup(args) => setup::run(&args),
        Command::Simulate(args) => simulate::run_command(&args),
        Command::Faults(args) => faults::run(&args),
        Command::Plan(args) => plan::run(&args),
        Command::Study(args) => study::run(&args),
        Command::Soak(args) => soak::run(&args),
        Command::History(args) => history::run(&args),
        Command::Plates(args) => plates::run(&args),
        Command::Watch(args) => watch::run(&args),
        Command::Page(args) => page::run(&args),
        Command::Report(args) => report::run(&args),
        Command::Completions(args) => completions::run(&args),
        // It answers as it goes.
        Command::Guide(args) => return guide::run(&args),
    };
    match answer {
        Ok(answer) => print(&answer),
        Err(problem) => {
            tell(&render(&problem));
            ExitCode::from(2)
        }
    }
}

/// Tells a person something beside the answer. Whoever has closed the stream does not want to know.
pub(crate) fn tell(text: &str) {
    let _ = anstream::stderr().lock().write_all(text.as_bytes());
}

/// Prints an answer. A reader that went away has had what it wanted; any other failure to write is an error.
fn print(answer: &Answer) -> ExitCode {
    tell(&answer.notes);
    let mut out = anstream::stdout().lock();
    match out.write_all(answer.text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            let problem = Problem::new(format!("cannot write to standard output: {error}"));
            tell(&render(&problem));
            ExitCode::from(2)
        }
        _ => ExitCode::from(answer.code),
    }
}

/// A document of JSON, or why there is none.
pub(crate) fn json(document: &impl serde::Serialize) -> Result<String, Problem> {
    zdatum_sim::text::json::document(document)
}

/// A log's source: a file, or standard input for `-`.
pub(crate) fn source(path: &Path) -> Result<FileText, Problem> {
    if path.as_os_str() == "-" { FileText::read_stdin() } else { FileText::read(path) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_is_in_one_group() {
        let mut listed: Vec<&str> =
            GROUPS.iter().flat_map(|(_, all)| all.iter().map(|(name, _)| *name)).collect();
        listed.sort_unstable();
        let command = Cli::command();
        let mut all: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
        all.sort_unstable();
        assert_eq!(listed, all);
    }
}
