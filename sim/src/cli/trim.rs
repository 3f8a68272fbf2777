//! `zdatum trim`: a gauge check in, a trip depth out.

use std::path::PathBuf;

use zdatum::trim::{self, Check, Depth, Trimmed, Weighing};
use zdatum::units::Quantity;
use zdatum::{Length, OutOfRange, Setup, Speed, Uncertainty};
use zdatum_sim::files::MachineFile;
use zdatum_sim::files::checks::{self, CountedCheck, Reading, set_trim, warmed, with_trim};
use zdatum_sim::files::file_text::BOM;
use zdatum_sim::files::replace::replace;
use zdatum_sim::history::{HistoryEvent, Moment};
use zdatum_sim::show::trim::{TrimDone, TrimJson, TrimOutcome, page};
use zdatum_sim::text::Problem;
use zdatum_sim::text::written::Written;

use super::{Answer, json, keeping};

/// Correct the trip depth from a gauge check, or from a nudge during a first layer
#[derive(clap::Args)]
#[command(
    group = clap::ArgGroup::new("reading").required(true).args(["gauge", "nudge"]),
    after_help = "\
Examples:
  zdatum trim -m machine.toml --gauge 0.150 --felt 0.115          show what would change
  zdatum trim -m machine.toml --gauge 0.150 --felt 0.115 --write  change it
  zdatum trim -m machine.toml --nudge=-0.020 --write              the layer was lowered by hand

With the landing applied, at print temperatures, lay a gauge of known thickness under the tip at the \
point that the plunger touched. Come down in ever smaller steps; --felt is the commanded height at \
which you first feel drag. Exit code 1 if the check is refused."
)]
pub(crate) struct Args {
    /// Machine file (TOML)
    #[arg(short, long, value_name = "FILE")]
    machine: PathBuf,
    /// Thickness of the gauge
    #[arg(
        long,
        value_name = "MM",
        value_parser = Length::read,
        allow_hyphen_values = true,
        requires = "felt"
    )]
    gauge: Option<Length>,
    /// Commanded height at which drag was first felt
    #[arg(
        long,
        value_name = "MM",
        value_parser = Length::read,
        allow_hyphen_values = true,
        requires = "gauge"
    )]
    felt: Option<Length>,
    /// By how much the first layer was moved; down is negative
    #[arg(
        long,
        value_name = "MM",
        value_parser = Length::read,
        allow_hyphen_values = true,
        conflicts_with_all = ["gauge", "felt"]
    )]
    nudge: Option<Length>,
    /// Standard uncertainty of the gauge [default: 0.002; 0 for a nudge]
    #[arg(long, value_name = "MM", value_parser = Uncertainty::read, allow_hyphen_values = true)]
    gauge_u: Option<Uncertainty>,
    /// Standard uncertainty of the feel [default: 0.010; 0.015 for a nudge]
    #[arg(long, value_name = "MM", value_parser = Uncertainty::read, allow_hyphen_values = true)]
    feel_u: Option<Uncertainty>,
    /// Standard uncertainty of the landing without its trip depth and growth [default: from the machine file]
    #[arg(
        long,
        value_name = "MM",
        value_parser = Uncertainty::read,
        allow_hyphen_values = true
    )]
    landing_u: Option<Uncertainty>,
    /// Trip depth the landing was computed with [default: the file's]
    #[arg(long, value_name = "MM", value_parser = Length::read, allow_hyphen_values = true)]
    made_with: Option<Length>,
    /// Approach speed of the landing's plate touches [default: the file's fine speed]
    #[arg(long, value_name = "MM/S", value_parser = Speed::read, allow_hyphen_values = true)]
    speed: Option<Speed>,
    /// Discard the old trip depth, after work on the switch, its mount or the shoulder
    #[arg(long)]
    fresh: bool,
    /// Count the check as new even if one with the same numbers is already counted
    #[arg(long)]
    again: bool,
    /// Write the new trip depth into the machine file
    #[arg(long)]
    write: bool,
    /// Also enter the trim in the history in the platform's data folder
    #[arg(long, requires = "write")]
    keep: bool,
    /// Enter the trim in this history
    #[arg(long, value_name = "FILE", requires = "write")]
    history: Option<PathBuf>,
    /// Print one JSON document instead of text
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let machine = MachineFile::read(&args.machine)?;
    let probe = &machine.setup.draft().probe;
    let known = known(&machine);
    let reading = reading(args)?;
    let check = check(args, &machine, reading)?;
    let weighing = if args.fresh { Weighing::Afresh } else { Weighing::Weighed };
    let weigh = |check: &Check| trim::trim(&known, &warmed(&machine.setup), &probe.delay, check, weighing);
    let trimmed = weigh(&check).map_err(|error| cannot(&error))?;

    let counted =
        CountedCheck { reading, made_with: check.made_with, speed: check.speed, before: Some(known.t) };
    let mut noted: TrimNoted = None;
    let is_known = machine.counted.iter().any(|old| old.is_same(reading, args.made_with, check.speed));
    let outcome = if is_known && !args.again {
        TrimOutcome::Counted
    } else if !trimmed.accepted {
        TrimOutcome::Disagrees
    } else {
        still_sound(&machine, &trimmed)?;
        if args.write {
            noted = write(args, &machine, &trimmed, &counted)?;
            TrimOutcome::Written
        } else {
            TrimOutcome::Shown
        }
    };

    let done = TrimDone {
        known: &known,
        check: &check,
        trimmed: &trimmed,
        weighing,
        outcome,
        lower: lower(&machine, &known, &trimmed),
        older: older(args, &machine),
        file: &machine.source.name,
        noted: noted.as_ref().map(|noted| noted.as_ref().map(|(file, number)| (file.as_str(), *number))),
    };
    let text = if args.json { json(&TrimJson::of(&done))? } else { page(&done) };
    Ok(Answer::new(text, outcome.is_accepted()))
}

/// By how much lower the next landing will be: the change of the trip depth, and of the correction for the speed at
/// which it holds.
fn lower(machine: &MachineFile, known: &Depth, trimmed: &Trimmed) -> Option<Length> {
    let latency = machine.setup.draft().probe.delay.latency;
    let late = (trimmed.depth.speed.to_f64() - known.speed.to_f64()) * latency.to_f64();
    Length::from_f64(late).and_then(|late| trimmed.change.plus(late)).ok()
}

/// The trip depth of older coordinates, where it was left open which landing was checked and the last check
/// changed it.
fn older(args: &Args, machine: &MachineFile) -> Option<Length> {
    let before = machine.counted.last().and_then(|check| check.before);
    before.filter(|before| args.made_with.is_none() && *before != machine.setup.draft().probe.trip_depth)
}

fn reading(args: &Args) -> Result<Reading, Problem> {
    match (args.gauge, args.felt, args.nudge) {
        (Some(gauge), Some(felt), None) if gauge > Length::ZERO => Ok(Reading::Gauge { gauge, felt }),
        (Some(gauge), Some(_), None) => {
            Err(Problem::new(format!("--gauge {gauge}: a gauge is thicker than 0"))
                .remedy("give its thickness in mm"))
        }
        (_, _, Some(nudge)) => Ok(Reading::Nudge(nudge)),
        _ => Err(Problem::new("give --gauge and --felt, or --nudge")),
    }
}

/// The trip depth as the file has it.
fn known(machine: &MachineFile) -> Depth {
    let probe = &machine.setup.draft().probe;
    Depth { t: probe.trip_depth, u: probe.trip_depth_u, speed: probe.trimmed_at_speed }
}

fn check(args: &Args, machine: &MachineFile, reading: Reading) -> Result<Check, Problem> {
    let draft = machine.setup.draft();
    let default = |given: Option<Uncertainty>, text: &str| match given {
        Some(u) => Ok(u),
        None => Uncertainty::read(text).map_err(Problem::new),
    };
    let (too_high, gauge_u, feel_u) = match reading {
        Reading::Gauge { gauge, felt } => (gauge.minus(felt), "0.002", "0.010"),
        Reading::Nudge(nudge) => (Length::ZERO.minus(nudge), "0", "0.015"),
    };
    let speed = args.speed.unwrap_or(draft.touch.fine_speed);
    if speed == Speed::ZERO {
        return Err(Problem::new("--speed: must be above zero")
            .remedy("give the speed of the landing's touches in mm/s"));
    }
    Ok(Check {
        too_high: too_high.map_err(|error| cannot(&error))?,
        wish: Length::ZERO,
        made_with: args.made_with.unwrap_or(draft.probe.trip_depth),
        speed,
        gauge_u: default(args.gauge_u, gauge_u)?,
        feel_u: default(args.feel_u, feel_u)?,
        landing_u: args.landing_u.unwrap_or_else(|| checks::landing_u(&machine.setup)),
    })
}

fn cannot(error: &OutOfRange) -> Problem {
    match error.quantity {
        // A trip depth known exactly is a bad setup, so there is always something to weigh.
        Quantity::Ratio => {
            Problem::new("the check disagrees by 65536 standard deviations or more, which cannot be held")
                .remedy("check the unit, millimetres, and the uncertainties given")
        }
        Quantity::Variance => {
            Problem::new("an uncertainty is 4 mm or more").remedy("check the unit: give millimetres")
        }
        _ => Problem::new(format!("the check is out of range: {error}"))
            .remedy("check the unit: give millimetres"),
    }
}

/// Refuses a trip depth with which the machine file would be a bad setup, whether it is to be written or not.
fn still_sound(machine: &MachineFile, trimmed: &Trimmed) -> Result<(), Problem> {
    let mut draft = machine.setup.draft().clone();
    set_trim(&mut draft, trimmed);
    Setup::check(draft).map(|_| ()).map_err(|bad| {
        let name = &machine.source.name;
        Problem::new(format!("{name}: a trip depth of {} mm would be a bad setup: {bad}", trimmed.depth.t))
            .remedy("check the readings and their sign; nothing was written")
    })
}

fn write(
    args: &Args,
    machine: &MachineFile,
    trimmed: &Trimmed,
    counted: &CountedCheck,
) -> Result<TrimNoted, Problem> {
    let after = with_trim(machine, trimmed, counted)?;
    let mark = if machine.source.has_bom { BOM } else { "" };
    let replace = || replace(&args.machine, &format!("{mark}{}", machine.source.text), &after);
    if !args.keep && args.history.is_none() {
        replace()?;
        return Ok(None);
    }
    // A history that cannot be written stops the trim. The machine file comes before its last step, which a
    // full disk can still refuse: a trim that is not entered can be entered by hand, while one that was
    // entered and never made would be a lie.
    let mut history = keeping::begin(args.history.as_deref())?;
    let name = history.name();
    let writing = history.write(Moment::now())?;
    let number = writing
        .enter(&writing.stamp()?.0, &HistoryEvent::trim(&known(machine), &trimmed.depth, args.fresh))?;
    replace()?;
    Ok(Some(writing.commit().map(|()| (name, number))))
}

/// Number of the entry in the history of that name, or why there is none; `None` where it was not to be
/// entered.
type TrimNoted = Option<Result<(String, i64), Problem>>;
