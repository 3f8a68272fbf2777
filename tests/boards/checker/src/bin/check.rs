//! Builds the boards' images and fails on what must not be in them.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::ExitCode;

use zdatum_boards_check::boards::{BOARDS, Board};
use zdatum_boards_check::builds::{self, Place, Toolchain};
use zdatum_boards_check::emulate::{self, Ended};
use zdatum_boards_check::families::{Family, Finding};
use zdatum_boards_check::report::{Report, thousands};
use zdatum_boards_check::{ir, side_by_side, sources, symbols};

const HELP: &str = "\
Proves what is not in a firmware: links images that call every public function of the core,
and fails where they hold panic machinery, floating point, allocation or arithmetic wider than 64 bits.

usage: tests/boards/check [--require-all] [--only BOARD]...

  --require-all   fail, too, where something could not be run because it is not installed
  --only BOARD    that board alone (may be repeated)

With CI set in the environment, lock files must fit (--locked).
";

/// Features that break the image on purpose, and the one family that must then be seen.
const BROKEN: &[(&str, Family)] = &[
    ("broken-overflow", Family::Panic),
    ("broken-index", Family::Panic),
    ("broken-unwrap", Family::Panic),
    ("broken-float", Family::Float),
    ("broken-allocation", Family::Allocation),
    ("broken-wide-multiply", Family::Wide),
    ("broken-wide-divide", Family::Wide),
];

/// The broken image that goes wrong when it runs.
const BROKEN_RUN: &str = "broken-index";

fn main() -> ExitCode {
    let mut require_all = false;
    let mut only = Vec::new();
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--require-all" => require_all = true,
            "--only" => match arguments.next().as_deref().and_then(Board::named) {
                Some(board) => only.push(board.name),
                None => {
                    eprintln!("--only needs a board's name; see tests/boards/run --help");
                    return ExitCode::from(2);
                }
            },
            "-h" | "--help" => {
                print!("{HELP}");
                return ExitCode::SUCCESS;
            }
            other => {
                eprintln!("unknown option {other:?}; known are --require-all, --only and --help");
                return ExitCode::from(2);
            }
        }
    }

    let boards = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap_or(Path::new("."));
    let place = Place { boards: boards.to_owned(), target: boards.join("target") };
    let mut report = Report::default();
    check_calls(&mut report, &place);
    let boards: Vec<&'static Board> =
        BOARDS.iter().filter(|board| only.is_empty() || only.contains(&board.name)).collect();
    side_by_side::for_each(&mut report, &boards, |report, board| check_board(report, &place, board));
    report.close(require_all)
}

/// Every public function of the core is called.
fn check_calls(report: &mut Report, place: &Place) {
    match sources::compare(&place.boards.join("../../core/src"), &place.boards.join("src/calls")) {
        Err(error) => report.fail(&format!("calls: cannot read the sources: {error}")),
        Ok(calls) if calls.functions == 0 => report.fail("calls: no public function found in core/src"),
        Ok(calls) if calls.missing.is_empty() => {
            report.pass(&format!("calls: {} public functions of the core, all called", calls.functions));
        }
        Ok(calls) => report.fail(&format!(
            "calls: {} of {} public functions of the core are not called; call them in tests/boards/src/calls, or say \
             there why not:\n  {}",
            calls.missing.len(),
            calls.functions,
            calls.missing.join("\n  "),
        )),
    }
}

/// An image holds nothing forbidden, the check sees what it looks for, and the image runs to its end.
fn check_board(report: &mut Report, place: &Place, board: &Board) {
    let name = board.name;
    let toolchain = match builds::toolchain(board) {
        Ok(toolchain) => toolchain,
        Err(missing) => return report.not_run(&format!("{name} image"), &missing),
    };
    let findings = match read(&toolchain, place, board, "") {
        Err(error) => return report.fail(&format!("{name} image: {error}")),
        Ok(contents) if contents.findings.is_empty() => {
            report.pass(&format!(
                "{name} image ({}): {} symbols, text {} bytes: no panic, no float, no allocation, no 128-bit",
                toolchain.name,
                contents.symbols,
                thousands(contents.text),
            ));
            contents.findings
        }
        Ok(contents) => {
            let complaint = complaint(&toolchain, place, board, &contents.findings);
            report.fail(&format!("{name} image ({}) holds{complaint}", toolchain.name));
            contents.findings
        }
    };
    check_broken(report, place, board, &toolchain, &findings);
    check_run(report, place, board, &toolchain);
}

/// Each forbidden thing, put in on purpose, is seen for what it is, beside what is there anyway.
fn check_broken(
    report: &mut Report,
    place: &Place,
    board: &Board,
    toolchain: &Toolchain,
    anyway: &[Finding],
) {
    let name = board.name;
    let mut failures = Vec::new();
    for (feature, family) in BROKEN {
        let found = match read(toolchain, place, board, feature) {
            Ok(contents) => families(&contents.findings),
            Err(error) => return report.fail(&format!("{name} image with {feature}: {error}")),
        };
        let mut expected = families(anyway);
        expected.insert(*family);
        if found != expected {
            failures.push(format!("{feature}: {} expected, {} seen", list(&expected), list(&found)));
        }
    }
    if failures.is_empty() {
        let seen = list(&BROKEN.iter().map(|(_, family)| *family).collect());
        report.pass(&format!("{name} image broken on purpose in {} ways: each seen ({seen})", BROKEN.len()));
    } else {
        report.fail(&format!("{name} image broken on purpose:\n  {}", failures.join("\n  ")));
    }
}

fn families(findings: &[Finding]) -> BTreeSet<Family> {
    findings.iter().map(|finding| finding.family).collect()
}

fn list(families: &BTreeSet<Family>) -> String {
    if families.is_empty() {
        return "nothing".to_owned();
    }
    families.iter().map(Family::to_string).collect::<Vec<_>>().join(", ")
}

/// The image runs to its end, and one that panics does not.
fn check_run(report: &mut Report, place: &Place, board: &Board, toolchain: &Toolchain) {
    let what = format!("{} image in emulation", board.name);
    if let Some(fault) = board.fault_with(&toolchain.name) {
        return report.leave_out(&what, fault);
    }
    if !emulate::available(board) {
        let program = board.emulator.first().unwrap_or(&"");
        return report.not_run(&what, &format!("{program}: apt-get install {}", board.package));
    }
    for (feature, expected) in [(BROKEN_RUN, Ended::Stopped), ("", Ended::Finished)] {
        let ended = builds::proof(toolchain, place, board, feature)
            .and_then(|built| emulate::run(board, &built.image, &[]));
        match ended {
            Ok(run) if run.ended == expected => {}
            Ok(run) if run.ended == Ended::Finished => {
                return report.fail(&format!("{what}: with {feature} it must stop, but ran to its end"));
            }
            Ok(_) => return report.fail(&format!("{what}: it panicked or faulted")),
            Err(error) => return report.fail(&format!("{what}: {error}")),
        }
    }
    report.pass(&format!("{what}: ran every call to its end; with {BROKEN_RUN} it stopped"));
}

/// Builds an image and reads its symbols and its program.
fn read(
    toolchain: &Toolchain,
    place: &Place,
    board: &Board,
    features: &str,
) -> Result<symbols::Contents, String> {
    let built = builds::proof(toolchain, place, board, features)?;
    let mut contents =
        symbols::image(&built.image).map_err(|error| format!("{}: {error}", built.image.display()))?;
    let program = std::fs::read_to_string(&built.ir).map_err(|error| {
        format!("{}: {error}; remove tests/boards/target and try again", built.ir.display())
    })?;
    if ir::functions(&program) == 0 {
        return Err(format!("{}: no functions in it, so nothing can be read from it", built.ir.display()));
    }
    // What a code generator calls of its own accord; the program before it, read next, must still be free of
    // such a thing.
    contents.findings.retain(|finding| !board.own_routines.contains(&finding.what.as_str()));
    contents.findings.extend(ir::findings(&program));
    Ok(contents)
}

/// What was found, and for panics the places in the source that they come from.
fn complaint(toolchain: &Toolchain, place: &Place, board: &Board, findings: &[Finding]) -> String {
    let mut text: String =
        findings.iter().map(|Finding { family, what }| format!("\n  {family}: {what}")).collect();
    if !families(findings).contains(&Family::Panic) {
        return text;
    }
    let program = builds::proof(toolchain, place, board, "locate-panics")
        .and_then(|built| std::fs::read_to_string(built.ir).map_err(|error| error.to_string()));
    match program {
        Ok(program) => {
            for (file, line) in ir::panic_places(&program) {
                text += &format!("\n  a panic is left at {}:{line}", shorter(&file));
            }
        }
        Err(error) => text += &format!("\n  the places could not be found: {error}"),
    }
    text
}

/// A source file without what differs from machine to machine.
fn shorter(file: &str) -> &str {
    let after = |mark: &str| file.split_once(mark).map(|(_, rest)| rest);
    let crates = after("/registry/src/").and_then(|rest| rest.split_once('/')).map(|(_, rest)| rest);
    let library = file.find("/library/").map(|at| &file[at + 1..]);
    let own = file.rfind("/core/src/").map(|at| &file[at + 1..]);
    crates.or(library).or(own).unwrap_or(file)
}
