//! The golden vectors: every board's digests against the committed table and the host's own.

use std::path::PathBuf;

use zdatum_boards_cases::{BLOCK, CASES, Sink, block, part_of_block, run};

use crate::boards::Board;
use crate::builds::{self, Place, Profile, Toolchain};
use crate::emulate::{self, Ended};
use crate::report::{Report, thousands};

/// The committed table.
pub fn file(place: &Place) -> PathBuf {
    place.boards.join("golden.txt")
}

/// How many digests there are.
const BLOCKS: u32 = CASES / BLOCK;

/// The host's digests as the table's text.
pub fn text() -> String {
    let mut text = format!(
        "# Digests of all result bits of {} cases, {BLOCK} a line; written by\n\
         #   tests/boards/run --write\n\
         # The cases are those of tests/boards/cases; the host's tests hold every one of them against exact rationals.\n",
        thousands(u64::from(CASES)),
    );
    for number in 0..BLOCKS {
        text += &format!("{number} {:08x}\n", block(number));
    }
    text
}

/// Reads the table: one digest a block.
pub fn golden(text: &str) -> Result<Vec<u32>, String> {
    let lines = text.lines().enumerate().filter(|(_, line)| !line.starts_with('#'));
    let digests: Result<Vec<u32>, String> = lines
        .enumerate()
        .map(|(number, (place, line))| {
            digest(number, line).ok_or_else(|| {
                format!(
                    "golden.txt, line {}: {line:?} is not `{number}` and eight hexadecimal digits",
                    place + 1
                )
            })
        })
        .collect();
    let digests = digests?;
    if digests.len() != BLOCKS as usize {
        return Err(format!("golden.txt has {} digests; {BLOCKS} are needed", digests.len()));
    }
    Ok(digests)
}

/// The digest of a line that begins with the number of its block.
fn digest(number: usize, line: &str) -> Option<u32> {
    let mut words = line.split(' ');
    if words.next()? != number.to_string() {
        return None;
    }
    u32::from_str_radix(words.next()?, 16).ok()
}

/// The host's turn; the digests that boards are compared with.
pub fn check_host(report: &mut Report, place: &Place) -> Option<Vec<u32>> {
    let read = std::fs::read_to_string(file(place)).map_err(|error| error.to_string());
    let golden = match read.and_then(|text| golden(&text)) {
        Ok(golden) => golden,
        Err(error) => {
            report.fail(&format!("{}: {error}; tests/boards/run --write makes it", file(place).display()));
            return None;
        }
    };
    match (0_u32..).zip(&golden).find(|(number, digest)| block(*number) != **digest) {
        None => report.pass(&format!(
            "host: {} cases, {BLOCKS} digests: the bits of golden.txt",
            thousands(u64::from(CASES))
        )),
        Some((number, _)) => report.fail(&format!(
            "host: the digest of block {number}, cases {} on, is not that of golden.txt; where results were meant to \
             change, tests/boards/run --write",
            number * BLOCK
        )),
    }
    Some(golden)
}

/// One board's turn. It makes the cases itself, all of them; fewer would be said.
pub fn check(report: &mut Report, place: &Place, board: &Board, toolchain: &Toolchain, golden: &[u32]) {
    let name = board.name;
    let part: Vec<u32> = (0..BLOCKS).map(part_of_block).collect();
    let (golden, cases) = match board.fault_with(&toolchain.name) {
        None => (golden, CASES),
        Some(fault) => {
            report.leave_out(
                &format!("{name}: landings and cycles, {} cases", thousands(u64::from(CASES / 2))),
                fault,
            );
            (part.as_slice(), CASES / 2)
        }
    };
    let image = builds::path(place, board, Profile::Release, "vectors");
    let run = match emulate::run(board, &image, &[]) {
        Ok(run) if run.ended == Ended::Finished => run,
        Ok(run) => {
            let last = run.lines.last().map_or("the start", String::as_str);
            return report.fail(&format!("{name}: the golden vectors' image stopped after {last:?}"));
        }
        Err(error) => return report.fail(&format!("{name}: golden vectors: {error}")),
    };
    let seen: Vec<Option<u32>> =
        run.lines.iter().enumerate().map(|(number, line)| digest(number, line)).collect();
    let differs = golden
        .iter()
        .enumerate()
        .find(|(number, digest)| seen.get(*number).copied().flatten() != Some(**digest));
    match differs {
        None if seen.len() == golden.len() => report.pass(&format!(
            "{name} ({}, {}): {} cases made on the board, {BLOCKS} digests: the same bits",
            toolchain.name,
            board.emulator.first().unwrap_or(&""),
            thousands(u64::from(cases)),
        )),
        None => report.fail(&format!("{name}: {} digests, {BLOCKS} expected", seen.len())),
        Some((number, _)) => {
            let first = first_difference(place, board, toolchain, number as u32);
            report.fail(&format!(
                "{name}: the first difference is in block {number}, cases {} on: {}",
                number as u32 * BLOCK,
                first.unwrap_or_else(|error| error),
            ));
        }
    }
}

/// Words as text, as the image prints them.
#[derive(Default)]
struct Lines(Vec<String>);

impl Sink for Lines {
    fn put(&mut self, what: &'static str, word: u32) {
        self.0.push(format!("{word:08x} {what}"));
    }
}

/// Runs one block word by word on board and host: the first word that differs, and of which case.
fn first_difference(
    place: &Place,
    board: &Board,
    toolchain: &Toolchain,
    number: u32,
) -> Result<String, String> {
    let block = number.to_string();
    builds::images(toolchain, place, board, Profile::Release, &["words"], &[("ZDATUM_BLOCK", &block)])?;
    let said = emulate::run(board, &builds::path(place, board, Profile::Release, "words"), &[])?;
    let mut host = Lines::default();
    for case in number * BLOCK..(number + 1) * BLOCK {
        host.0.push(format!("case {case}"));
        run(case, &mut host);
    }
    let mut case = "";
    let mut board_lines = said.lines.iter();
    for host in &host.0 {
        if host.starts_with("case ") {
            case = host;
        }
        let seen = board_lines.next().map_or("nothing", String::as_str);
        if seen != host {
            return Ok(format!("{case}: {host:?} on the host, {seen:?} on the board"));
        }
    }
    Ok("word by word board and host agree, so golden.txt is of other results".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_read_as_it_is_written() {
        let text = text();
        let read = golden(&text).expect("our own table");
        assert_eq!(read.len(), 240);
        assert_eq!(read.first(), Some(&block(0)));
        assert!(golden(&text.replacen("\n3 ", "\n4 ", 1)).expect_err("a gap").contains("line 7"));
        let short = text.rsplit_once("239 ").expect("the last line").0;
        assert!(golden(short).expect_err("one too few").contains("239 digests"));
    }
}
