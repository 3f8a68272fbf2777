//! `zdatum study`: how good the switches are.

use std::path::PathBuf;

use zdatum_sim::files::MachineFile;
use zdatum_sim::files::file_text::BOM;
use zdatum_sim::files::log::Log;
use zdatum_sim::files::pooled::with_pooled;
use zdatum_sim::files::replace::replace;
use zdatum_sim::show::study::{StudyJson, StudyShown, entries, page};
use zdatum_sim::study::whole::StudyOptions;
use zdatum_sim::study::{Groups, Study};
use zdatum_sim::text::Problem;

use super::numbers::{tolerance, whole};
use super::{Answer, json, source};

/// Touches per station where no machine file says how many.
const TOUCHES: u8 = 5;

/// Study recorded touches: repeatability of the switches, seating of the probe, latency
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum study docs/demo/study.csv
  zdatum study touches.csv --within 0.020           good enough for this tolerance?
  zdatum study touches.csv -m machine.toml --write  write [pooled] to the machine file

Any touch log will do: one station or all, any number of touches, any unit. Several runs, each with \
its own fetch, show how the probe seats; touches at alternating speeds show the latency. Exit code 1 \
if the tolerance of --within is missed.")]
pub(crate) struct Args {
    /// Touch log (CSV), or - for standard input
    log: PathBuf,
    /// Tolerance of the first layer, ± mm: is the probe good enough?
    #[arg(long, value_name = "MM", value_parser = tolerance, allow_hyphen_values = true)]
    within: Option<f64>,
    /// Touches per station that a landing is made with [default: the machine file's least, else 5]
    #[arg(long, value_name = "N", value_parser = whole::<u8>(1..=64))]
    touches: Option<u8>,
    /// Machine file (TOML) whose steps and touches --within uses and --write writes to
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Write [pooled] into the machine file
    #[arg(long, requires = "machine")]
    write: bool,
    /// Print one JSON document instead of text
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let machine = args.machine.as_deref().map(MachineFile::read).transpose()?;
    let log = Log::read(source(&args.log)?)?;
    let groups = Groups::of(&log)?;
    let study = Study::of(groups, &asked(args.within, args.touches, machine.as_ref()));
    let good = study.capability.as_ref().is_none_or(|capability| capability.good());

    let written = match (&machine, &args.machine) {
        (Some(machine), Some(path)) if args.write => {
            write(machine, path, &study)?;
            true
        }
        _ => false,
    };
    let text = if args.json {
        json(&StudyJson::of(&study, written))?
    } else {
        let name = machine.as_ref().map(|machine| machine.source.name.as_str());
        page(&StudyShown { study: &study, log: &log.source.name, machine: name, written })
    };
    Ok(Answer::new(text, good))
}

/// The question after the tolerance: the machine's step and least number of touches, where there is a machine
/// file.
pub(super) fn asked(within: Option<f64>, touches: Option<u8>, machine: Option<&MachineFile>) -> StudyOptions {
    let step = machine.map_or(0.0, |machine| {
        let step = machine.setup.step();
        f64::from(step.mm()) / f64::from(step.steps())
    });
    let least = machine.map_or(TOUCHES, |machine| machine.setup.draft().touch.least);
    StudyOptions { within, touches: usize::from(touches.unwrap_or(least)), floor: step * step / 12.0 }
}

fn write(machine: &MachineFile, path: &std::path::Path, study: &Study) -> Result<(), Problem> {
    let entries = entries(study);
    if let Some(lost) =
        study.stations.iter().find(|one| !entries.iter().any(|entry| entry.station == one.station))
    {
        let station = lost.station.word();
        let problem = match lost.pooled {
            None => Problem::new(format!("station `{station}`: a single touch per run says nothing of s"))
                .remedy("take two touches or more per run; nothing was written"),
            Some((s, _)) => {
                Problem::new(format!("station `{station}`: s is {s}, a machine file holds less than 4 mm"))
                    .remedy("check the unit: heights are in mm; nothing was written")
            }
        };
        return Err(problem);
    }
    let after = with_pooled(machine, &entries)?;
    let mark = if machine.source.has_bom { BOM } else { "" };
    replace(path, &format!("{mark}{}", machine.source.text), &after)
}
