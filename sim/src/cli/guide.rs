//! `zdatum guide`: a first setup, a cycle, a gauge check and the history, with a person as the machine.

use std::io::{self, BufRead, IsTerminal, Read, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use zdatum_sim::guide::terminal::{HELP, SessionEnd, end, not_taken, prompt, say};
use zdatum_sim::guide::{Guide, GuideReply, SessionPaths};
use zdatum_sim::text::Problem;
use zdatum_sim::text::name::{cut, shown, shown_path};
use zdatum_sim::text::problem::render;

use super::numbers::counted;
use super::tell;

/// Longer lines are no answer.
const MOST_BYTES: u64 = 64 << 10;
/// Left before the end.
const LEFT: u8 = 130;

/// Walk through a first setup, a cycle and a gauge check, question by question
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum guide machine.toml                start, or resume where you left off
  zdatum guide practice.toml --practice    the same with an invented machine

The tool sends nothing to the machine: it shows suggested lines, and you type or paste what the \
machine printed. Each answer is saved in a session file at once; `back` goes back one step, `quit` \
leaves. A machine file that already exists is used unchanged. Answers may come from a pipe. Exit \
code 0 if the gauge check (without one, the landing) is accepted, 1 if refused, 130 if you left \
before the end.")]
pub(crate) struct Args {
    /// Machine file (TOML) to create or to use
    #[arg(value_name = "MACHINE")]
    machine: PathBuf,
    /// Session file [default: the machine file's name with .guide.json]
    #[arg(long, value_name = "FILE")]
    state: Option<PathBuf>,
    /// Touch log to suggest [default: the machine file's name with -touches.csv]
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
    /// History to keep the cycle in [default: the platform's data folder; with --practice the machine file's
    /// name with
    /// -history.sqlite]
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Practise with an invented machine, always the same one; SEED selects its cycle
    #[arg(
        long,
        value_name = "SEED",
        num_args = 0..=1,
        default_missing_value = "1",
        require_equals = true,
        value_parser = counted()
    )]
    practice: Option<u64>,
}

pub(crate) fn run(args: &Args) -> ExitCode {
    match talk(args) {
        Ok(code) => ExitCode::from(code),
        Err(Stop::Closed) => ExitCode::from(LEFT),
        Err(Stop::Problem(problem)) => {
            tell(&render(&problem));
            ExitCode::from(2)
        }
    }
}

/// Why a session stops.
enum Stop {
    /// Nobody reads any more.
    Closed,
    /// A file is at fault.
    Problem(Box<Problem>),
}

impl From<Problem> for Stop {
    fn from(problem: Problem) -> Self {
        Stop::Problem(Box::new(problem))
    }
}

impl From<io::Error> for Stop {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::BrokenPipe => Stop::Closed,
            _ => Stop::Problem(Box::new(Problem::new(format!("the terminal: {error}")))),
        }
    }
}

/// Where a session's files lie: beside the machine file unless they are named.
fn places(args: &Args) -> Result<(SessionPaths, PathBuf), Problem> {
    if args.machine.file_name().is_none() || args.machine.is_dir() {
        let name = shown_path(&args.machine);
        return Err(
            Problem::new(format!("{name}: is not a file name")).remedy("give one, such as machine.toml")
        );
    }
    let beside = |ending: &str| {
        let stem =
            args.machine.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        args.machine.with_file_name(format!("{stem}{ending}"))
    };
    let state = args.state.clone().unwrap_or_else(|| beside(".guide.json"));
    let log = args.log.clone().unwrap_or_else(|| beside("-touches.csv"));
    // An invented machine's cycles have no place among the owner's own.
    let history = args.history.clone().or_else(|| args.practice.map(|_| beside("-history.sqlite")));
    Ok((SessionPaths { machine: args.machine.clone(), log, history }, state))
}

fn greet(out: &mut impl Write, guide: &Guide, resumed: bool) -> io::Result<()> {
    writeln!(out, "{HELP}")?;
    if resumed {
        let note = format!("Resumed after {} answers, from {}.", guide.answers().len(), guide.state_name());
        write!(out, "{}", say(&note))?;
        if guide.in_cycle() {
            let text = "If the machine has since been switched off or homed, or the probe taken off, type \
                again: all touches of a cycle must be made without a break.";
            write!(out, "{}", say(text))?;
        }
    }
    Ok(())
}

fn talk(args: &Args) -> Result<u8, Stop> {
    let (paths, state) = places(args)?;
    let history = paths.history.clone();
    let (mut guide, resumed) = Guide::open(paths, &state, args.practice)?;
    guide.save()?;

    let mut out = anstream::stdout().lock();
    let mut input = io::stdin().lock();
    let echoes = !input.is_terminal();
    greet(&mut out, &guide, resumed)?;
    let mut ask = true;
    loop {
        if let Some(good) = guide.over() {
            let history = history.as_ref().map(|path| shown_path(path));
            let (machine, log) = (shown_path(&args.machine), guide.log());
            let (kept, practice) = (guide.kept(), guide.practice());
            let ended =
                SessionEnd { good, machine: &machine, log, history: history.as_deref(), kept, practice };
            write!(out, "{}", end(&ended))?;
            out.flush()?;
            guide.close();
            return Ok(u8::from(!good));
        }
        if ask {
            write!(out, "{}", prompt(&guide.prompt()))?;
        } else {
            write!(out, "> ")?;
        }
        out.flush()?;
        let typed = line(&mut input)?;
        let Some(typed) = typed else { return left(&mut out, &guide) };
        if echoes {
            writeln!(out, "{}", cut(typed.trim(), 70))?;
        }
        let mut words = typed.split_whitespace();
        let command = words.next().unwrap_or("").to_lowercase();
        let rest = words.next();
        ask = true;
        match (command.as_str(), rest) {
            ("quit", None) => return left(&mut out, &guide),
            ("help" | "?", None) => {
                writeln!(out, "{HELP}")?;
                ask = false;
            }
            ("show", None) => {
                for answer in guide.answers() {
                    writeln!(out, "  {:<16} {}", shown(&answer.step), shown(&answer.text))?;
                }
                ask = false;
            }
            ("back", to) => match guide.back(to) {
                Ok(()) => guide.save()?,
                Err(why) => {
                    write!(out, "{}", not_taken(&why))?;
                    ask = false;
                }
            },
            ("again", None) if guide.again().is_ok() => {
                guide.save()?;
                write!(out, "{}", say("The cycle restarts."))?;
            }
            _ => match guide.take(&typed)? {
                GuideReply::Taken(said) => {
                    guide.save()?;
                    for text in said {
                        write!(out, "{}", say(&text))?;
                    }
                }
                GuideReply::Again(why) => {
                    write!(out, "{}", not_taken(&why))?;
                    ask = false;
                }
            },
        }
    }
}

fn left(out: &mut impl Write, guide: &Guide) -> Result<u8, Stop> {
    writeln!(out)?;
    let note = format!("All answers are saved in {}. Run the same command to resume.", guide.state_name());
    write!(out, "{}", say(&note))?;
    out.flush()?;
    Ok(LEFT)
}

/// A line; `None` at the end of input. What stands behind the last newline is no answer: nobody pressed
/// Enter.
fn line(input: &mut impl BufRead) -> Result<Option<String>, Stop> {
    let mut bytes = Vec::new();
    input.take(MOST_BYTES).read_until(b'\n', &mut bytes)?;
    if bytes.last() == Some(&b'\n') {
        return Ok(Some(String::from_utf8_lossy(&bytes).trim_end().to_owned()));
    }
    if (bytes.len() as u64) < MOST_BYTES {
        return Ok(None);
    }
    // The rest of a line that is too long to be an answer.
    loop {
        let (used, ends) = {
            let buffer = input.fill_buf()?;
            match buffer.iter().position(|byte| *byte == b'\n') {
                Some(at) => (at + 1, true),
                None => (buffer.len(), buffer.is_empty()),
            }
        };
        input.consume(used);
        if ends {
            return Ok(Some(String::from_utf8_lossy(&bytes).into_owned()));
        }
    }
}
