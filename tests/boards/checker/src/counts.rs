//! Instructions, stack and sizes of one board, from its own counter or from a trace.

use std::collections::BTreeMap;
use std::path::Path;

use crate::boards::Board;
use crate::emulate::{self, Ended};
use crate::profile::Marks;

/// What one job costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cost {
    /// Instructions; `None` where nothing counts them.
    pub instructions: Option<u64>,
    /// Deepest stack in bytes below the caller; `None` where there is none to be painted.
    pub stack: Option<u64>,
}

/// What a board's image of counted jobs said.
#[derive(Clone, Debug, Default)]
pub struct Counts {
    /// By job, in the image's own order.
    pub jobs: Vec<(String, Cost)>,
    /// Bytes of the core's types.
    pub sizes: BTreeMap<String, u64>,
    /// How instructions were counted.
    pub how: &'static str,
}

impl Counts {
    /// One job's cost.
    pub fn cost(&self, job: &str) -> Option<Cost> {
        self.jobs.iter().find(|(name, _)| name == job).map(|(_, cost)| *cost)
    }

    /// One job's instructions.
    pub fn instructions(&self, job: &str) -> Option<u64> {
        self.cost(job)?.instructions
    }
}

/// Runs the image and counts: by the board's counter where it has one, else by a trace.
pub fn count(board: &Board, image: &Path) -> Result<Counts, String> {
    if board.uncounted.is_some() {
        return Ok(Counts { how: "not counted", ..Counts::default() });
    }
    if let Some(more) = board.counting {
        let said = emulate::run(board, image, more)?;
        let mut counts = read(&said.lines, said.ended)?;
        calibrate(&mut counts)?;
        counts.how = "own counter, -icount";
        return Ok(counts);
    }
    if board.tracing.is_none() {
        let said = emulate::run(board, image, &[])?;
        let mut counts = read(&said.lines, said.ended)?;
        for (_, cost) in &mut counts.jobs {
            *cost = Cost { instructions: None, stack: None };
        }
        counts.jobs.retain(|(name, _)| !name.starts_with("nops"));
        counts.how = "not counted";
        return Ok(counts);
    }
    let mut marks = Marks::of(image)?;
    let said = emulate::trace(board, image, &mut |line| marks.told(line))?;
    let mut counts = read(&said.lines, said.ended)?;
    let counted = marks.counted();
    if counted.len() != counts.jobs.len() {
        return Err(format!("{} jobs were traced and {} said", counted.len(), counts.jobs.len()));
    }
    for ((_, cost), instructions) in counts.jobs.iter_mut().zip(counted) {
        cost.instructions = Some(instructions);
    }
    calibrate(&mut counts)?;
    counts.how = "trace";
    Ok(counts)
}

/// `count NAME TICKS stack BYTES` and `size NAME BYTES`.
fn read(lines: &[String], ended: Ended) -> Result<Counts, String> {
    if ended != Ended::Finished {
        return Err(format!("it stopped after {:?}", lines.last()));
    }
    let mut counts = Counts::default();
    for line in lines {
        let words: Vec<&str> = line.split(' ').collect();
        let number = |text: &str| text.parse::<u64>().map_err(|_| format!("{line:?} holds no number"));
        match words.as_slice() {
            ["count", name, ticks, "stack", bytes] => {
                let cost = Cost { instructions: Some(number(ticks)?), stack: Some(number(bytes)?) };
                counts.jobs.push(((*name).to_owned(), cost));
            }
            ["size", name, bytes] => {
                counts.sizes.insert((*name).to_owned(), number(bytes)?);
            }
            _ => return Err(format!("{line:?} was not expected")),
        }
    }
    Ok(counts)
}

/// Ticks become instructions by what 0, 100 and 10,000 `nop`s took; 100 must come out as 100.
fn calibrate(counts: &mut Counts) -> Result<(), String> {
    let ticks = |name: &str| counts.instructions(name).ok_or_else(|| format!("no {name} was counted"));
    let (none, hundred, many) = (ticks("nops0")?, ticks("nops100")?, ticks("nops10000")?);
    let per_instruction = many.saturating_sub(none) as f64 / 10_000.0;
    if per_instruction <= 0.0 {
        return Err("10,000 nops took no time: the counter stands".to_owned());
    }
    let instructions = |ticks: u64| (ticks.saturating_sub(none) as f64 / per_instruction).round() as u64;
    if instructions(hundred) != 100 {
        return Err(format!("100 nops were counted as {}: the counter is not exact", instructions(hundred)));
    }
    for (_, cost) in &mut counts.jobs {
        cost.instructions = cost.instructions.map(instructions);
    }
    counts.jobs.retain(|(name, _)| !name.starts_with("nops"));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(ticks: [u64; 4]) -> Result<Counts, String> {
        let names = ["nops0", "nops100", "nops10000", "job"];
        let lines: Vec<String> =
            names.iter().zip(ticks).map(|(name, ticks)| format!("count {name} {ticks} stack 8")).collect();
        let mut counts = read(&lines, Ended::Finished)?;
        calibrate(&mut counts).map(|()| counts)
    }

    #[test]
    fn ticks_become_instructions() {
        let counts = said([230, 1_510, 128_230, 1_510 + 64]).expect("12.8 ticks an instruction");
        assert_eq!(counts.jobs.len(), 1);
        assert_eq!(counts.instructions("job"), Some(105));
        assert_eq!(counts.cost("job").and_then(|cost| cost.stack), Some(8));
    }

    #[test]
    fn a_counter_that_is_not_exact_is_told() {
        assert!(said([0, 113, 10_000, 50]).expect_err("113").contains("100 nops were counted as 113"));
        assert!(said([5, 5, 5, 5]).expect_err("stands").contains("stands"));
    }
}
