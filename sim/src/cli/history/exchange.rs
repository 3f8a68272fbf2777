//! `history export` and `history import`.

use std::path::PathBuf;

use zdatum_sim::files::cycles::cycles;
use zdatum_sim::files::log::Log;
use zdatum_sim::files::replace::create;
use zdatum_sim::files::{FileText, MachineFile};
use zdatum_sim::history::exchange::{self, Imported};
use zdatum_sim::history::keep::{Given, KeepFailed, keep};
use zdatum_sim::history::touches::of_log;
use zdatum_sim::history::{Entry, Moment, Reader, Writing};
use zdatum_sim::judged::judge;
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown_path;

use super::Args;
use crate::cli::{Answer, json, keeping};

/// Largest file that an import reads: some hundred thousand cycles.
const MOST_MIB: u64 = 1024;

/// Write the whole history as JSON lines, or its cycles as a touch log
#[derive(clap::Args)]
pub(super) struct Export {
    /// Write a touch log (CSV) of the cycles that count, which land can read
    #[arg(long)]
    csv: bool,
    /// Only cycles of this plate
    #[arg(long, value_name = "NAME", requires = "csv")]
    plate: Option<String>,
    /// Write to a new file instead of standard output
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Import an export; entries already in the history are skipped
#[derive(clap::Args)]
pub(super) struct Import {
    /// JSON lines of an export, or a touch log (CSV); - for standard input
    file: PathBuf,
    /// Machine file used to judge the cycles of a touch log
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Nozzle that the touch log was recorded with
    #[arg(long, value_name = "NAME", value_parser = keeping::named, requires = "machine")]
    nozzle: Option<String>,
}

#[derive(serde::Serialize)]
struct ImportedJson<'a> {
    format: u8,
    history: &'a str,
    new: usize,
    known: usize,
}

#[derive(serde::Serialize)]
struct Exported<'a> {
    format: u8,
    history: &'a str,
    file: String,
}

/// One entry as a line of an export.
pub(super) fn line(reader: &Reader<'_>, entry: &Entry) -> Result<String, Problem> {
    exchange::line(reader, entry)
}

pub(super) fn export(args: &Args, export: &Export) -> Result<Answer, Problem> {
    if args.json && export.out.is_none() {
        return Err(Problem::new("--json needs --out: standard output carries the export itself")
            .remedy("leave out --json; without --csv the export is JSON lines"));
    }
    let mut history = keeping::open(args.history.as_deref())?;
    let text = history.read(|reader| {
        if export.csv {
            exchange::touch_log(reader, export.plate.as_deref())
        } else {
            exchange::lines(reader)
        }
    })?;
    let Some(path) = &export.out else { return Ok(Answer::new(text, true)) };
    create(path, &text)?;
    let file = shown_path(path);
    if args.json {
        return Ok(Answer::new(json(&Exported { format: 1, history: &history.name(), file })?, true));
    }
    Ok(Answer::new(format!("Written to {file}.\n"), true))
}

pub(super) fn import(args: &Args, import: &Import) -> Result<Answer, Problem> {
    let source = match import.file.as_os_str() {
        name if name == "-" => FileText::read_stdin()?,
        _ => FileText::read_within(&import.file, MOST_MIB)?,
    };
    let is_lines = source.text.trim_start().starts_with('{');
    if is_lines && import.machine.is_some() {
        return Err(Problem::new(
            "--machine does not apply to JSON lines, which contain their machine files",
        )
        .remedy("leave --machine out"));
    }
    let log = if is_lines { None } else { Some(touch_log(import, source.clone())?) };
    let (name, Imported { new, known }) = keeping::begin_with(args.history.as_deref(), |history| {
        let writing = history.write(Moment::now())?;
        let done = match &log {
            None => exchange::import(&writing, &source)?,
            Some((machine, log)) => of_touch_log(&writing, import, machine, log)?,
        };
        writing.commit()?;
        Ok((history.name(), done))
    })?;
    if args.json {
        return Ok(Answer::new(json(&ImportedJson { format: 1, history: &name, new, known })?, true));
    }
    let known = if known > 0 { format!("; {known} already there") } else { String::new() };
    Ok(Answer::new(format!("{name}: {new} new{known}\n"), true))
}

/// Read and judged before a history is begun for it.
fn touch_log(import: &Import, source: FileText) -> Result<(MachineFile, Log), Problem> {
    let Some(path) = &import.machine else {
        return Err(Problem::new(format!(
            "{}: not JSON lines, and a touch log needs a machine file",
            source.name
        ))
        .remedy("give the machine file that judges its cycles with --machine"));
    };
    let machine = MachineFile::read(path)?;
    let log = Log::read(source)?;
    let found = cycles(&log)?;
    judge(&machine, found.clone(), None).map_err(|malformed| match found.get(malformed.cycle) {
        Some(cycle) => cycle.too_few(Some(&log), malformed.few),
        None => Problem::new("a cycle has too few touches"),
    })?;
    Ok((machine, log))
}

fn of_touch_log(
    writing: &Writing<'_>,
    import: &Import,
    machine: &MachineFile,
    log: &Log,
) -> Result<Imported, Problem> {
    let given = Given {
        machine,
        cycles: cycles(log)?,
        touches: of_log(log),
        last: None,
        nozzle: import.nozzle.as_deref(),
        again: false,
    };
    let kept = keep(writing, given).map_err(|failed| match failed {
        KeepFailed::Problem(problem) => problem,
        KeepFailed::Malformed(_) => Problem::new("a cycle has too few touches"),
    })?;
    let new = kept.fates.iter().filter(|fate| fate.known.is_none()).count();
    Ok(Imported { new, known: kept.fates.len() - new })
}
