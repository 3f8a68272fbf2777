//! `zdatum report`: landings, a study, a soak and the history as one page for a browser.

use std::path::PathBuf;

use zdatum::Uncertainty;
use zdatum_sim::files::log::Log;
use zdatum_sim::files::replace::write_own;
use zdatum_sim::files::{MachineFile, cycles};
use zdatum_sim::history::replay::{PlateReplay, Watched};
use zdatum_sim::judged::judge;
use zdatum_sim::show::report::{self, Section, whole};
use zdatum_sim::study::soak::soak;
use zdatum_sim::study::{Groups, Study};
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown_path;

use super::numbers::tolerance;
use super::pictures::{check_report, is_report};
use super::study::asked;
use super::{Answer, keeping, source};

/// Write one HTML report about this machine: landings, study, soak, history
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum report page.html --land touches.csv -m machine.toml
  zdatum report page.html --study study.csv --within 0.020 --soak soak.csv
  zdatum report page.html --history
  zdatum report page.html --history h.sqlite

Everything is in one file: no script, nothing loaded. An older report of that name is replaced. Exit \
code 1 if any landing is refused, the tolerance is missed, the soak cannot tell, or an alarm is active.")]
pub(crate) struct Args {
    /// File to write; an older report of that name is replaced
    out: PathBuf,
    /// Touch log (CSV) whose landings to show
    #[arg(long, value_name = "LOG", requires = "machine")]
    land: Option<PathBuf>,
    /// Machine file (TOML)
    #[arg(short, long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Touch log (CSV) of a study
    #[arg(long, value_name = "LOG")]
    study: Option<PathBuf>,
    /// Tolerance of the first layer for the study, ± mm
    #[arg(long, value_name = "MM", value_parser = tolerance, allow_hyphen_values = true, requires = "study")]
    within: Option<f64>,
    /// Touch log (CSV) of a soak
    #[arg(long, value_name = "LOG")]
    soak: Option<PathBuf>,
    /// Growth that the soak may leave to come, mm
    #[arg(
        long,
        value_name = "MM",
        value_parser = tolerance,
        allow_hyphen_values = true,
        default_value = "0.010"
    )]
    left: f64,
    /// History; without FILE the one in the platform's data folder
    #[arg(long, value_name = "FILE", num_args = 0..=1)]
    history: Option<Option<PathBuf>>,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    if args.land.is_none() && args.study.is_none() && args.soak.is_none() && args.history.is_none() {
        return Err(Problem::new("nothing to report")
            .remedy("give one or more of --land, --study, --soak, --history"));
    }
    check_report(&args.out)?;
    let machine = args.machine.as_deref().map(MachineFile::read).transpose()?;
    let (mut sections, mut from, mut good) = (Vec::new(), Vec::new(), true);
    if let (Some(path), Some(machine)) = (&args.land, &machine) {
        let log = Log::read(source(path)?)?;
        good &= landings(&log, machine, &mut sections)?;
        from.push(("Touches", log.source.name.clone()));
        from.push(("Machine", machine.source.name.clone()));
    }
    if let Some(path) = &args.study {
        let log = Log::read(source(path)?)?;
        good &= study(args, machine.as_ref(), &log, &mut sections)?;
        from.push(("Study", log.source.name));
    }
    if let Some(path) = &args.soak {
        let log = Log::read(source(path)?)?;
        let (soaks, groups) = (soak(&log, args.left)?, Groups::of(&log)?);
        good &= soaks.iter().any(|soak| soak.tells());
        let of =
            report::SoakReport { soaks: &soaks, groups: &groups, left: args.left, log: &log.source.name };
        sections.push(of.section());
        from.push(("Soak", log.source.name.clone()));
    }
    let mut alarm = None;
    if let Some(path) = &args.history {
        let mut history = keeping::open(path.as_deref())?;
        let entries = history.read(|reader| reader.entries(false))?;
        let (plates, watched) = (PlateReplay::of(&entries), Watched::of(&entries, Uncertainty::ZERO, true));
        good &= !watched.watch.alarmed();
        let name = history.name();
        let of = report::HistoryReport {
            name: &name,
            entries: &entries,
            plates: &plates,
            watched: &watched,
            buttons: false,
        };
        sections.extend(of.sections());
        alarm = of.alarm();
        from.push(("History", name.clone()));
    }
    write_own(&args.out, &whole(&from, sections, alarm.as_ref()), is_report)?;
    Ok(Answer { notes: format!("report in {}\n", shown_path(&args.out)), ..Answer::new(String::new(), good) })
}

/// Adds the landings' sections; whether all were accepted.
fn landings(log: &Log, machine: &MachineFile, sections: &mut Vec<Section>) -> Result<bool, Problem> {
    let all = cycles::cycles(log)?;
    let judged = judge(machine, all.clone(), None).map_err(|malformed| match all.get(malformed.cycle) {
        Some(cycle) => cycle.too_few(Some(log), malformed.few),
        None => Problem::new("a cycle has too few touches"),
    })?;
    let of = report::LandReport { machine, log: Some(log), judged: &judged };
    sections.extend(of.sections()?);
    Ok(judged.iter().all(|one| one.assessment.accepted()))
}

/// Adds the study's sections; whether it is good enough, where that was asked.
fn study(
    args: &Args,
    machine: Option<&MachineFile>,
    log: &Log,
    sections: &mut Vec<Section>,
) -> Result<bool, Problem> {
    let study = Study::of(Groups::of(log)?, &asked(args.within, None, machine));
    sections.extend(report::StudyReport { study: &study, log: &log.source.name }.sections());
    Ok(study.capability.as_ref().is_none_or(|capability| capability.good()))
}
