//! The rounds of the search: running ways on common draws, and which of them stay.

use std::sync::atomic::{self, AtomicBool, AtomicU64};

use rayon::prelude::*;
use zdatum::Setup;

use super::Asked;
use super::select::{self, Figures, Wanted};
use super::shared::{Apart, Shared};
use super::way::Way;
use crate::Machine;
use crate::run::Progress;
use crate::run::campaign::{Campaign, campaign};
use crate::run::cycle::{Bench, run_block};
use crate::run::tally::Tally;

/// Runs between two looks at whether to stop.
const BLOCK: u64 = 2_048;
/// What is searched, and all that its steps need.
pub(super) struct Search<'a> {
    pub(super) asked: &'a Asked<'a>,
    stop: &'a AtomicBool,
    progress: &'a Progress<'a>,
    done: AtomicU64,
    shared: Shared,
}

impl<'a> Search<'a> {
    /// Begins with what all ways share; `None` once stopped.
    pub(super) fn begun(
        asked: &'a Asked<'a>,
        stop: &'a AtomicBool,
        progress: &'a Progress<'a>,
    ) -> Option<Self> {
        let shared = Shared::of(asked.bench, stop)?;
        Some(Self { asked, stop, progress, done: AtomicU64::new(0), shared })
    }

    /// Ways on the same draws, a way to a thread.
    pub(super) fn all(&self, setups: &[Setup], runs: u64) -> Option<Vec<Way>> {
        setups.par_iter().map(|setup| self.one(setup, runs)).collect()
    }

    fn one(&self, setup: &Setup, runs: u64) -> Option<Way> {
        let bench = self.bench(setup);
        let (mut tally, mut apart) = (Tally::new(self.asked.within), Apart::default());
        let mut from = 0;
        while from < runs {
            if self.stop.load(atomic::Ordering::Relaxed) {
                return None;
            }
            let to = (from + BLOCK).min(runs);
            let mut shared = self.shared.of_runs(from..to);
            run_block(&bench, from..to, |ran| {
                tally.add(ran);
                if let (Some(Some(shared)), Some(error)) = (shared.next(), ran.error) {
                    apart.add(shared, error);
                }
            })
            .ok()?;
            self.tell(to - from);
            from = to;
        }
        Some(Way::of(setup, &tally, self.asked, apart.moments(&self.shared)))
    }

    /// A machine on all threads, on the search's own draws; `None` once stopped.
    pub(super) fn counted(&self, bench: &Bench, runs: u64) -> Option<Way> {
        self.campaign(bench, runs, self.asked.within)
    }

    /// A machine on draws that no choice has seen.
    pub(super) fn fresh(&self, bench: &Bench, runs: u64, within: f64, apart: u64) -> Option<Way> {
        let bench = Bench { seed: bench.seed ^ apart, ..bench.clone() };
        self.campaign(&bench, runs, within)
    }

    fn campaign(&self, bench: &Bench, runs: u64, within: f64) -> Option<Way> {
        let tally = campaign(&Campaign { bench, first: 0, runs, within }, self.stop, &|done| self.tell(done));
        (tally.runs == runs).then(|| Way::of(&bench.setup, &tally, self.asked, None))
    }

    fn tell(&self, done: u64) {
        self.done.fetch_add(done, atomic::Ordering::Relaxed);
        (self.progress)(done);
    }

    /// Runs so far.
    pub(super) fn done(&self) -> u64 {
        self.done.load(atomic::Ordering::Relaxed)
    }

    /// The world keeps the file's truth: only what the carriage does follows the way.
    pub(super) fn bench(&self, setup: &Setup) -> Bench {
        let machine = Machine::new(setup, &self.asked.bench.machine.noise);
        Bench { setup: setup.clone(), machine, ..self.asked.bench.clone() }
    }

    /// What is asked for, then what is stricter.
    pub(super) fn promises(&self) -> [Wanted; 4] {
        let within = self.asked.within;
        [(within, false), (within, true), (within / 2.0, false), (within / 2.0, true)]
            .map(|(within, tenth)| Wanted { within, tenth })
    }

    /// What ways are told apart by.
    pub(super) fn figures(&self, way: &Way) -> Figures {
        Figures::of(way, &self.asked.bench.setup.draft().touch)
    }

    /// So many of the ways that may be the best.
    pub(super) fn kept<'w>(&self, ways: &'w [Way], count: usize) -> Vec<&'w Way> {
        let figures: Vec<Figures> = ways.iter().map(|way| self.figures(way)).collect();
        select::kept(&figures, &self.promises(), count)
            .into_iter()
            .filter_map(|index| ways.get(index))
            .collect()
    }

    /// Ways that no other beats in both time and error, the quickest first; each reaches clearly less far than the one before.
    pub(super) fn front(&self, ways: &[Way]) -> Vec<Way> {
        let figures: Vec<Figures> = ways.iter().map(|way| self.figures(way)).collect();
        select::front(&figures).into_iter().filter_map(|index| ways.get(index).cloned()).collect()
    }

    /// Ways in order, the quickest first.
    pub(super) fn in_order<'w>(&self, ways: &'w [Way]) -> Vec<&'w Way> {
        let mut order: Vec<&Way> = ways.iter().collect();
        order.sort_by(|a, b| self.figures(a).order(&self.figures(b)));
        order
    }
}

#[cfg(test)]
pub(super) mod tests;
