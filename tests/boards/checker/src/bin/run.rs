//! Runs the boards: the golden vectors on every one, then what the core costs there.

use std::path::Path;
use std::process::ExitCode;

use zdatum_boards_check::boards::{BOARDS, Board};
use zdatum_boards_check::budget::{self, Budget, Figures};
use zdatum_boards_check::builds::{self, Place, Profile, Toolchain};
use zdatum_boards_check::profile::Marks;
use zdatum_boards_check::report::{Report, thousands};
use zdatum_boards_check::table::{self, Column, USES};
use zdatum_boards_check::{counts, emulate, side_by_side, symbols, vectors};

const HELP: &str = "\
Builds one set of images for each board and runs them in emulation: the golden vectors, which must give the
same bits everywhere, and the counted jobs, whose figures are compared with benches/boards.toml.

usage: tests/boards/run [--require-all] [--write] [--only BOARD]...
       tests/boards/run --profile BOARD JOB

  --require-all   fail, too, where a board could not be run because something is not installed
  --write         write golden.txt, benches/boards.toml, the tables of docs/boards.md and
                  docs/tables/boards.md; needs every board
  --only BOARD    that board alone (may be repeated): cortex-m0, cortex-m3, cortex-m4f, rv32imac, atmega2560, wasm32
  --profile       where the instructions of a counted job go, function by function

It installs nothing. With CI set in the environment, lock files must fit (--locked).
";

#[derive(Debug, Default)]
struct Asked {
    require_all: bool,
    write: bool,
    only: Vec<&'static Board>,
    profile: Option<(&'static Board, String)>,
}

fn main() -> ExitCode {
    let asked = match asked() {
        Ok(Some(asked)) => asked,
        Ok(None) => {
            print!("{HELP}");
            return ExitCode::SUCCESS;
        }
        Err(message) => {
            eprintln!("{message}; see --help");
            return ExitCode::from(2);
        }
    };
    let boards = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap_or(Path::new("."));
    let place = Place { boards: boards.to_owned(), target: boards.join("target") };
    if let Some((board, job)) = &asked.profile {
        return match profile(&place, board, job) {
            Ok(()) => ExitCode::SUCCESS,
            Err(message) => {
                eprintln!("{}: {message}", board.name);
                ExitCode::from(2)
            }
        };
    }
    let mut report = Report::default();
    run(&asked, &mut report, &place);
    report.close(asked.require_all)
}

/// The arguments; `None` where help is asked for.
fn asked() -> Result<Option<Asked>, String> {
    let mut asked = Asked::default();
    let mut arguments = std::env::args().skip(1);
    let board = |name: Option<String>| {
        let name = name.ok_or("a board's name is missing")?;
        Board::named(&name).ok_or_else(|| format!("{name:?} is no board"))
    };
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--require-all" => asked.require_all = true,
            "--write" => asked.write = true,
            "--only" => asked.only.push(board(arguments.next())?),
            "--profile" => {
                let board = board(arguments.next())?;
                asked.profile = Some((board, arguments.next().ok_or("a job's name is missing")?));
            }
            "-h" | "--help" => return Ok(None),
            other => return Err(format!("unknown option {other:?}")),
        }
    }
    if asked.write && !asked.only.is_empty() {
        return Err("--write writes all boards' figures, so it does not go with --only".to_owned());
    }
    Ok(Some(asked))
}

fn run(asked: &Asked, report: &mut Report, place: &Place) {
    if asked.write
        && let Err(error) = replace(&vectors::file(place), &vectors::text())
    {
        return report.fail(&error);
    }
    let Some(golden) = vectors::check_host(report, place) else { return };
    let budget = if asked.write { Ok(Budget::new()) } else { budget::read(&budget::file(place)) };
    let budget = match budget {
        Ok(budget) => budget,
        Err(error) => return report.fail(&error),
    };
    let boards: Vec<&'static Board> = BOARDS
        .iter()
        .filter(|board| asked.only.is_empty() || asked.only.iter().any(|only| only.name == board.name))
        .collect();
    let columns = side_by_side::for_each(report, &boards, |report, board| {
        let toolchain = toolchain(board).map_err(|missing| report.not_run(board.name, &missing)).ok()?;
        let column = column(report, place, board, &toolchain, &golden)
            .map_err(|error| report.fail(&format!("{}: {error}", board.name)))
            .ok()?;
        say(report, &column);
        if !asked.write {
            budget::hold(report, board.name, &column.figures, &budget);
        }
        Some(column)
    });
    let columns: Vec<Column> = columns.into_iter().flatten().collect();
    if asked.write {
        write(report, place, &columns);
    }
}

/// What is needed to build for a board and to run it, or what is missing.
fn toolchain(board: &Board) -> Result<Toolchain, String> {
    let toolchain = builds::toolchain(board)?;
    if !emulate::available(board) {
        let program = board.emulator.first().unwrap_or(&"");
        return Err(format!("{program}: apt-get install {}", board.package));
    }
    Ok(toolchain)
}

/// Builds a board's images, runs its golden vectors and counts.
fn column(
    report: &mut Report,
    place: &Place,
    board: &'static Board,
    toolchain: &Toolchain,
    golden: &[u32],
) -> Result<Column, String> {
    let uses: Vec<String> = ["nothing"]
        .into_iter()
        .chain(USES.iter().map(|(name, _)| *name))
        .map(|name| format!("use-{name}"))
        .collect();
    let uses: Vec<&str> = uses.iter().map(String::as_str).collect();
    let release: Vec<&str> = ["vectors", "counts"].into_iter().chain(uses.iter().copied()).collect();
    // Always set, so that an image of the other kind is never taken for this one.
    let part = if board.fault_with(&toolchain.name).is_some() { "part" } else { "whole" };
    builds::images(toolchain, place, board, Profile::Release, &release, &[("ZDATUM_VECTORS", part)])?;
    builds::images(toolchain, place, board, Profile::Small, &uses, &[])?;
    vectors::check(report, place, board, toolchain, golden);
    let counts = counts::count(board, &builds::path(place, board, Profile::Release, "counts"))
        .map_err(|error| format!("counted jobs: {error}"))?;
    let mut figures = Figures::of(&toolchain.name, &counts);
    for (group, profile) in [("flash", Profile::Release), ("flash-small", Profile::Small)] {
        let weigh = |name: &str| {
            let path = builds::path(place, board, profile, &format!("use-{name}"));
            symbols::flash(&path).map_err(|error| format!("{}: {error}", path.display()))
        };
        let nothing = weigh("nothing")?;
        for (name, _) in USES {
            figures.put(group, name, weigh(name)?.saturating_sub(nothing));
        }
    }
    Ok(Column { board, counts, figures })
}

/// The figures that matter most, in one line.
fn say(report: &Report, Column { board, counts, figures }: &Column) {
    let shown = |figure: Option<u64>| figure.map_or_else(|| "–".to_owned(), thousands);
    report.say(&format!(
        "{}: verdict {} instructions ({}), in f32 {}, in f64 {}; cycle {}; state {} bytes, stack {}; flash {} landing, \
         {} cycle ({} and {} optimised for size)",
        board.name,
        shown(counts.instructions("verdict")),
        counts.how,
        shown(counts.instructions("verdict_f32")),
        shown(counts.instructions("verdict_f64")),
        shown(counts.instructions("cycle")),
        shown(counts.sizes.get("cycle").copied()),
        shown(counts.cost("cycle").and_then(|cost| cost.stack)),
        shown(figures.get("flash", "landing")),
        shown(figures.get("flash", "cycle")),
        shown(figures.get("flash-small", "landing")),
        shown(figures.get("flash-small", "cycle")),
    ));
}

fn write(report: &mut Report, place: &Place, columns: &[Column]) {
    if columns.len() != BOARDS.len() || !report.complete() {
        return report
            .fail("not written: figures and tables are of all boards, and one is missing or failed");
    }
    let budget: Budget =
        columns.iter().map(|column| (column.board.name.to_owned(), column.figures.clone())).collect();
    let rewrite = |path: &Path, made: fn(&str, &[Column]) -> Result<String, String>| {
        let old = std::fs::read_to_string(path).map_err(|error| format!("{}: {error}", path.display()))?;
        replace(path, &made(&old, columns).map_err(|error| format!("{}: {error}", path.display()))?)
    };
    let written = rewrite(&table::full_file(place), table::full_page)
        .and_then(|()| rewrite(&table::short_file(place), table::short_page))
        .and_then(|()| replace(&budget::file(place), &budget::text(&budget)));
    match written {
        Ok(()) => {
            report.pass("written: golden.txt, benches/boards.toml, docs/boards.md, docs/tables/boards.md")
        }
        Err(error) => report.fail(&error),
    }
}

/// Beside the file and renamed over it: a crash leaves the old one whole.
fn replace(path: &Path, text: &str) -> Result<(), String> {
    let beside = path.with_extension("new");
    std::fs::write(&beside, text)
        .and_then(|()| std::fs::rename(&beside, path))
        .map_err(|error| format!("{}: {error}", path.display()))
}

/// Functions below this part of a job's instructions are summed up.
const SMALL: u64 = 200;

fn profile(place: &Place, board: &'static Board, job: &str) -> Result<(), String> {
    if board.tracing.is_none() {
        return Err("its emulator tells no instructions".to_owned());
    }
    let toolchain = toolchain(board).map_err(|missing| format!("missing {missing}"))?;
    builds::images(&toolchain, place, board, Profile::Release, &["counts"], &[])?;
    let image = builds::path(place, board, Profile::Release, "counts");
    let mut marks = Marks::of(&image)?;
    let said = emulate::trace(board, &image, &mut |line| marks.told(line))?;
    let names: Vec<&str> =
        said.lines.iter().filter_map(|line| line.strip_prefix("count ")?.split(' ').next()).collect();
    let number = names.iter().position(|name| *name == job);
    let number = number.ok_or_else(|| format!("{job:?} is no job; there are {}", names.join(", ")))?;
    let functions = marks.of_job(number);
    let total: u64 = functions.iter().map(|(count, _)| count).sum();
    println!("{}: {job}, {} instructions", board.name, thousands(total));
    let mut rest = 0;
    for (count, name) in functions {
        if count * SMALL < total {
            rest += count;
        } else {
            println!("{:>8} {:>5.1} %  {name}", thousands(count), 100.0 * count as f64 / total as f64);
        }
    }
    println!("{:>8} {:>5.1} %  all others", thousands(rest), 100.0 * rest as f64 / total.max(1) as f64);
    Ok(())
}
