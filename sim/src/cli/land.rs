//! `zdatum land`: touches in, landing out.

use std::path::PathBuf;

use zdatum::setup::Follows;
use zdatum::{LastSpan, Length, Station, Temperature, Uncertainty};
use zdatum_sim::files::cycles::{self, MOST};
use zdatum_sim::files::log::Log;
use zdatum_sim::files::wish::known_filament;
use zdatum_sim::files::{LoggedCycle, MachineFile};
use zdatum_sim::history::keep::{Given, KeepFailed, KeptCycles, consult, keep};
use zdatum_sim::history::touches::of_log;
use zdatum_sim::history::{Moment, TouchCells};
use zdatum_sim::judged::{Judged, Malformed, judge};
use zdatum_sim::show::history::{Consulted, consulted};
use zdatum_sim::show::land::LandJson;
use zdatum_sim::show::land::page;
use zdatum_sim::show::report;
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::shown;
use zdatum_sim::text::written::Written;

use super::pictures::Wanted;
use super::{Answer, json, keeping, source};

/// Compute the landing from recorded touches
#[derive(clap::Args)]
#[command(
    override_usage = "zdatum land [OPTIONS] -m <FILE> <LOG>\n       \
                      zdatum land -m <FILE> --tip <Z,…> --shoulder <Z,…> --plate <Z,…>",
    after_help = "\
Examples:
  zdatum land docs/demo/touches.csv --machine docs/demo/machine.toml
  zdatum land touches.csv -m machine.toml --json
  zdatum land touches.csv -m machine.toml --report landings.html
  zdatum land -m machine.toml --tip 0.498 --shoulder 7.131,7.133 --plate 7.214
  … | zdatum land - -m machine.toml               read the log from standard input
  zdatum land touches.csv -m machine.toml --keep  keep the cycles (see zdatum history)

A log is a CSV file. The columns `station` (tip, shoulder or plate) and `z` are required; run, kind, \
counted, time_s, speed, tool_c, bed_c, chamber_c and plate are optional. Exit code 1 if any cycle is \
refused."
)]
pub(crate) struct Args {
    /// Touch log (CSV), or - for standard input
    #[arg(required_unless_present = "tip", conflicts_with_all = ["tip", "shoulder", "plate"])]
    log: Option<PathBuf>,
    /// Machine file (TOML)
    #[arg(short, long, value_name = "FILE")]
    machine: PathBuf,
    /// Heights of the tip's touches, separated by commas, instead of a log
    #[arg(long, value_name = "Z,…", allow_hyphen_values = true, requires_all = ["shoulder", "plate"])]
    tip: Option<String>,
    /// Heights of the shoulder's touches
    #[arg(long, value_name = "Z,…", allow_hyphen_values = true, requires = "tip")]
    shoulder: Option<String>,
    /// Heights of the plate's touches
    #[arg(long, value_name = "Z,…", allow_hyphen_values = true, requires = "tip")]
    plate: Option<String>,
    /// Name of the fitted plate, for a log or heights without names
    #[arg(long, value_name = "NAME", value_parser = keeping::named)]
    plate_name: Option<String>,
    /// Filament of this job, which chooses the wish
    #[arg(long, value_name = "NAME", value_parser = keeping::named)]
    filament: Option<String>,
    /// Print temperatures of this job, such as tool=250,bed=90, instead of the machine file's
    #[arg(long, value_name = "SENSOR=°C,…", value_parser = print_temperatures, allow_hyphen_values = true)]
    print_c: Option<PrintTemperatures>,
    /// Print only what is to be applied, in mm; nothing where the newest cycle is refused
    #[arg(long, conflicts_with = "json")]
    apply_only: bool,
    /// The plate's last accepted span; one cycle only
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = Length::read)]
    last_span: Option<Length>,
    /// Its standard uncertainty [default: 0]
    #[arg(
        long,
        value_name = "MM",
        allow_hyphen_values = true,
        value_parser = Uncertainty::read,
        requires = "last_span"
    )]
    last_u: Option<Uncertainty>,
    #[command(flatten)]
    wanted: Wanted,
    /// Keep the cycles in the history, accepted or not
    #[arg(long)]
    keep: bool,
    /// History [default with --keep: the platform's data folder]; each named plate is compared with its last
    /// accepted span there
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Name of the fitted nozzle, kept with the cycles
    #[arg(long, value_name = "NAME", value_parser = keeping::named, requires = "keep")]
    nozzle: Option<String>,
    /// Keep a cycle as new even if one with the same touches is already kept
    #[arg(long, requires = "keep")]
    again: bool,
    /// Print one JSON document instead of text
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    args.wanted.check(&[])?;
    let mut machine = MachineFile::read(&args.machine)?;
    if let Some(PrintTemperatures(temperatures)) = &args.print_c {
        machine.printing_at(temperatures)?;
    }
    if let Some(filament) = &args.filament {
        known_filament(&machine.wishes, filament)?;
        machine.filament = Some(filament.clone());
    }
    let (log, mut cycles) = match &args.log {
        Some(path) => {
            let log = Log::read(source(path)?)?;
            let cycles = cycles::cycles(&log)?;
            (Some(log), cycles)
        }
        None => (None, vec![typed(args)?]),
    };
    name_plate(args, &mut cycles)?;
    let last = last(args, cycles.len())?;
    let too_few = |malformed: Malformed| match cycles.get(malformed.cycle) {
        Some(cycle) => cycle.too_few(log.as_ref(), malformed.few),
        None => Problem::new("a cycle has too few touches"),
    };
    // Before a history is begun: nothing is written for a log that cannot be judged.
    let alone = judge(&machine, cycles.clone(), last).map_err(too_few)?;
    let given = || Given {
        machine: &machine,
        cycles: cycles.clone(),
        touches: log.as_ref().map_or_else(|| vec![typed_touches(args)], of_log),
        last,
        nozzle: args.nozzle.as_deref(),
        again: args.again,
    };
    let kept = remembered(args, given).map_err(|failed| match failed {
        KeepFailed::Malformed(malformed) => too_few(malformed),
        KeepFailed::Problem(problem) => problem,
    })?;

    let judged = kept.as_ref().map_or(&alone, |(_, kept)| &kept.judged);
    let mut accepted = judged.iter().all(|one| one.assessment.accepted());
    let text = if args.apply_only {
        let apply = judged.last().and_then(Judged::apply);
        accepted = apply.is_some();
        apply.map_or_else(String::new, |apply| format!("{:.6}\n", apply.to_f64()))
    } else if args.json {
        let history = kept.as_ref().map(|(file, kept)| Consulted::of(file, kept, args.keep));
        json(&LandJson::of(judged, machine.setup.draft().accept.coverage.percent()).with_history(history))?
    } else {
        let history = kept.as_ref().map(|(file, kept)| format!("\n{}", consulted(file, kept, args.keep)));
        page(&machine, judged) + &history.unwrap_or_default()
    };
    let mut answer = Answer::new(text, accepted);
    if args.wanted.any() {
        let of = report::LandReport { machine: &machine, log: log.as_ref(), judged };
        answer.notes = args.wanted.write(&of.report()?)?;
    }
    Ok(answer)
}

/// Names the plate of cycles that have none.
fn name_plate(args: &Args, cycles: &mut [LoggedCycle]) -> Result<(), Problem> {
    let Some(name) = &args.plate_name else { return Ok(()) };
    if let Some(other) = cycles.iter().find_map(|cycle| cycle.plate.as_deref()) {
        return Err(Problem::new(format!(
            "--plate-name {}: the log names its plates, such as `{}`",
            shown(name),
            shown(other)
        ))
        .remedy("leave --plate-name out, or the column `plate`"));
    }
    for cycle in cycles {
        cycle.plate = Some(name.clone());
    }
    Ok(())
}

/// What follows which sensor, and its temperature at print.
#[derive(Clone, Debug)]
struct PrintTemperatures(Vec<(Follows, Temperature)>);

fn print_temperatures(text: &str) -> Result<PrintTemperatures, String> {
    let one = |part: &str| {
        let (word, celsius) =
            part.split_once('=').ok_or_else(|| format!("`{}` is not sensor=temperature", shown(part)))?;
        let word = word.trim();
        let follows = Follows::ALL
            .into_iter()
            .find(|follows| follows.word() == word)
            .ok_or_else(|| format!("`{}` is none of tool, bed and chamber", shown(word)))?;
        Ok((follows, Temperature::read(celsius.trim())?))
    };
    text.split(',').map(one).collect::<Result<_, _>>().map(PrintTemperatures)
}

/// What a history makes of the cycles, with its name, where one is meant; with `--keep` they are in it now.
fn remembered<'a>(
    args: &Args,
    given: impl Fn() -> Given<'a>,
) -> Result<Option<(String, KeptCycles)>, KeepFailed> {
    if args.keep {
        let mut history = keeping::begin(args.history.as_deref())?;
        let writing = history.write(Moment::now())?;
        let kept = keep(&writing, given())?;
        writing.commit()?;
        return Ok(Some((history.name(), kept)));
    }
    let Some(path) = &args.history else { return Ok(None) };
    let mut history = keeping::open(Some(path))?;
    let kept = history.read(|reader| Ok(consult(reader, given())))??;
    Ok(Some((history.name(), kept)))
}

/// The touches of [`typed`].
fn typed_touches(args: &Args) -> Vec<TouchCells> {
    let lists = Station::ALL.into_iter().zip([&args.tip, &args.shoulder, &args.plate]);
    lists
        .flat_map(|(station, list)| {
            let list = list.as_deref().unwrap_or("");
            list.split(',').map(move |text| TouchCells::bare(station, text.trim()))
        })
        .collect()
}

/// The one cycle of heights given as arguments.
fn typed(args: &Args) -> Result<LoggedCycle, Problem> {
    let mut cycle = LoggedCycle::new("1");
    for (station, list) in Station::ALL.into_iter().zip([&args.tip, &args.shoulder, &args.plate]) {
        let list = list.as_deref().unwrap_or("");
        for (number, text) in list.split(',').enumerate() {
            let at = |what: &str| {
                let place = format!("--{}: touch {}", station.word(), number + 1);
                Problem::new(format!("{place}, `{}`: {what}", shown(text)))
                    .remedy("give heights in mm, separated by commas, such as 0.498,0.499,0.497")
            };
            let z = Length::read(text.trim()).map_err(|error| at(&error))?;
            if cycle.station_mut(station).series.push(z).is_err() {
                return Err(at(&format!("more than {MOST} touches at one station")));
            }
        }
    }
    Ok(cycle)
}

fn last(args: &Args, cycles: usize) -> Result<Option<LastSpan>, Problem> {
    let Some(span) = args.last_span else { return Ok(None) };
    if cycles > 1 {
        return Err(Problem::new(format!("--last-span works for one cycle only; the log has {cycles}"))
            .remedy(
                "name the plates in the log: each is then compared with its own last accepted span, in order",
            ));
    }
    let variance = args.last_u.unwrap_or_default().variance();
    let variance = variance.map_err(|_| Problem::new("--last-u: must be below 4 mm"))?;
    Ok(Some(LastSpan::new(span, variance)))
}
