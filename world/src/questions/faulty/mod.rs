//! Faults on purpose: which are caught, by which refusal, what gets through, and whether anything collides.

pub mod catalogue;
mod crashes;
mod power;

use std::sync::atomic::{AtomicBool, Ordering};

pub use catalogue::{FaultKind, KINDS, Unit};
pub use crashes::{Crash, Crashes, Outcome};
pub use power::{Least, OFTEN, Power, PowerPoint};

use crate::engine::{Bench, Progress};

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct FaultQuestion<'a> {
    /// The machine without faults.
    pub bench: &'a Bench,
    /// Cycles at each size of each fault.
    pub each: u64,
    /// Random cycles with one fault each.
    pub cycles: u64,
    /// Random cycles for each pair of faults.
    pub pairs: u64,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Each kind's power, in the order of [`KINDS`].
    pub powers: Vec<Power>,
    /// Cycles with one fault.
    pub single: Crashes,
    /// Cycles with two.
    pub double: Crashes,
    /// Whether everything asked for was done.
    pub complete: bool,
}

impl Found {
    /// What two faults harm that neither does by itself.
    pub fn harm_of_two(&self) -> impl Iterator<Item = &Crash> {
        let alone = |kind: &FaultKind, crash: &Crash| {
            self.single.crashes.iter().any(|one| one.harm == crash.harm && one.faults.contains(&kind))
        };
        self.double.crashes.iter().filter(move |crash| !crash.faults.iter().any(|kind| alone(kind, crash)))
    }
}

/// Runs it on the current `rayon` pool; the same bits with any number of threads. `progress` and `stop` as
/// for [`campaign`](crate::engine::campaign()).
pub fn find(what: &FaultQuestion<'_>, stop: &AtomicBool, progress: &Progress<'_>) -> Found {
    let powers = power::of_all(what.bench, what.each, stop, progress);
    let single = crashes::single(what.bench, what.cycles, stop, progress);
    let double = crashes::double(what.bench, what.pairs, stop, progress);
    Found { powers, single, double, complete: !stop.load(Ordering::Relaxed) }
}

/// Cycles that a question takes, about.
pub fn cycles_of(what: &FaultQuestion<'_>) -> u64 {
    let kinds = KINDS.len() as u64;
    power::cycles_of(what.each) + what.cycles + kinds * (kinds - 1) / 2 * what.pairs
}

#[cfg(test)]
mod tests;
