//! Random faulty cycles anywhere in the declared ranges: whether anything collides.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use zdatum::RefusalKind;
use zdatum::cycle::{Cycle, Do};

use super::catalogue::{FaultKind, KINDS};
use crate::distributions::unseen;
use crate::engine::cycle::{ROOM, SMALL, is_large, judge, to_its_end};
use crate::engine::reasons::Reasons;
use crate::engine::{Bench, Progress, Ran};
use crate::random::Random;
use crate::truth::{middle, width};
use crate::{Fault, Faults, Harm, Machine, Room, World};

/// Cycles with the same fault of the same size; all else differs.
const ALIKE: u64 = 64;
/// Keeps what is drawn of faults and places apart from the cycles' own draws.
const PLACES: u64 = 0x1F83_D9AB_FB41_BD6B;
const PAIRS: u64 = 0x5BE0_CD19_137E_2179;

/// What many faulty cycles came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Crashes {
    /// Cycles.
    pub cycles: u64,
    /// Accepted ones.
    pub accepted: u64,
    /// What was harmed, by what was wrong; a cycle counts under the first harm of the nozzle, else under the
    /// first of the probe.
    pub crashes: Vec<Crash>,
    /// What became of each fault, or pair of them.
    pub outcomes: Vec<Outcome>,
}

/// What became of the cycles with the same faults, of whatever size.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// What was wrong.
    pub faults: Vec<&'static FaultKind>,
    /// Cycles.
    pub cycles: u64,
    /// Accepted ones.
    pub accepted: u64,
    /// The others by first reason, the most frequent first.
    pub reasons: Vec<(RefusalKind, u64)>,
    /// Smallest and largest first-layer error of what was accepted, mm.
    pub ends: Option<(f64, f64)>,
}

impl Outcome {
    /// Share of cycles refused.
    pub fn caught(&self) -> f64 {
        (self.cycles - self.accepted) as f64 / self.cycles.max(1) as f64
    }
}

/// What was harmed by what.
#[derive(Clone, Debug, PartialEq)]
pub struct Crash {
    /// What was wrong.
    pub faults: Vec<&'static FaultKind>,
    /// What happened.
    pub harm: Harm,
    /// Cycles.
    pub cycles: u64,
    /// Of so many with these faults.
    pub of: u64,
    /// What would prevent it.
    pub prevented_by: Vec<&'static str>,
}

impl Crashes {
    /// Cycles in which the nozzle collided with something.
    pub fn of_the_nozzle(&self) -> u64 {
        self.crashes.iter().filter(|crash| crash.harm.is_of_the_nozzle()).map(|crash| crash.cycles).sum()
    }

    /// What the chance of a crash of the nozzle stays below at 95 %, where none was seen.
    pub fn bound(&self) -> Option<f64> {
        (self.cycles > 0 && self.of_the_nozzle() == 0).then(|| unseen(self.cycles))
    }
}

/// Counts of one combination of faults.
#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    cycles: u64,
    accepted: u64,
    harms: [u64; Harm::ALL.len()],
    refused: Reasons,
    /// Smallest and largest error of what was accepted.
    ends: Option<(f64, f64)>,
}

impl Counts {
    fn add(&mut self, ran: &Ran) {
        self.cycles += 1;
        if let Some(error) = ran.error {
            self.accepted += 1;
            self.reach(error, error);
        } else {
            self.refused.add(ran.refused);
        }
    }

    fn reach(&mut self, low: f64, high: f64) {
        self.ends = Some(self.ends.map_or((low, high), |ends| (ends.0.min(low), ends.1.max(high))));
    }

    fn merge(&mut self, other: &Self) {
        self.cycles += other.cycles;
        self.accepted += other.accepted;
        self.harms.iter_mut().zip(other.harms).for_each(|(mine, theirs)| *mine += theirs);
        self.refused.merge(&other.refused);
        if let Some((low, high)) = other.ends {
            self.reach(low, high);
        }
    }

    fn outcome(&self, faults: &[&'static FaultKind]) -> Outcome {
        Outcome {
            faults: faults.to_vec(),
            cycles: self.cycles,
            accepted: self.accepted,
            reasons: self.refused.by_count(),
            ends: self.ends,
        }
    }

    fn crashes(&self, faults: &[&'static FaultKind]) -> Vec<Crash> {
        let mut prevented_by: Vec<&str> = faults.iter().map(|kind| kind.prevented_by).collect();
        prevented_by.dedup();
        let found = Harm::ALL.into_iter().zip(self.harms).filter(|(_, count)| *count > 0);
        found
            .map(|(harm, cycles)| Crash {
                faults: faults.to_vec(),
                harm,
                cycles,
                of: self.cycles,
                prevented_by: prevented_by.clone(),
            })
            .collect()
    }
}

/// One fault a cycle: which, and how large, is drawn anew for every few cycles.
pub(super) fn single(bench: &Bench, cycles: u64, stop: &AtomicBool, progress: &Progress<'_>) -> Crashes {
    let groups = groups(bench, cycles, KINDS.len(), stop, progress, |group| {
        // Each kind comes as often as any other.
        let at = (group % KINDS.len() as u64) as usize;
        (at, KINDS.get(at).map(|kind| vec![kind]).unwrap_or_default())
    });
    collected(groups, |at| KINDS.get(at).map(|kind| vec![kind]).unwrap_or_default())
}

/// Two different faults a cycle, so many cycles for each pair.
pub(super) fn double(bench: &Bench, each: u64, stop: &AtomicBool, progress: &Progress<'_>) -> Crashes {
    let pairs: Vec<Vec<&'static FaultKind>> = KINDS
        .iter()
        .enumerate()
        .flat_map(|(at, a)| KINDS.iter().skip(at + 1).map(move |b| vec![a, b]))
        .collect();
    let bench = Bench { seed: bench.seed ^ PAIRS, ..bench.clone() };
    let count = pairs.len() as u64;
    // Whole groups, so that each pair has as many as any other.
    let each = each.div_ceil(ALIKE) * ALIKE;
    let groups = groups(&bench, each * count, pairs.len(), stop, progress, |group| {
        let at = (group % count) as usize;
        (at, pairs.get(at).cloned().unwrap_or_default())
    });
    collected(groups, |at| pairs.get(at).cloned().unwrap_or_default())
}

fn collected(all: Vec<Counts>, faults: impl Fn(usize) -> Vec<&'static FaultKind>) -> Crashes {
    let mut found = Crashes::default();
    for (at, counts) in all.iter().enumerate() {
        found.cycles += counts.cycles;
        found.accepted += counts.accepted;
        let faults = faults(at);
        found.crashes.extend(counts.crashes(&faults));
        if counts.cycles > 0 {
            found.outcomes.push(counts.outcome(&faults));
        }
    }
    found
}

/// Groups of cycles that share their faults, handed out to the pool; counts by what `faults` says of each
/// group.
fn groups(
    bench: &Bench,
    cycles: u64,
    places: usize,
    stop: &AtomicBool,
    progress: &Progress<'_>,
    faults: impl Fn(u64) -> (usize, Vec<&'static FaultKind>) + Sync,
) -> Vec<Counts> {
    let next = AtomicU64::new(0);
    let parts = rayon::broadcast(|_| {
        let mut counts = vec![Counts::default(); places];
        while !stop.load(Ordering::Relaxed) {
            let group = next.fetch_add(1, Ordering::Relaxed);
            let from = group.saturating_mul(ALIKE);
            if from >= cycles {
                break;
            }
            let to = (from + ALIKE).min(cycles);
            let (at, kinds) = faults(group);
            let found = Group::new(bench, group, &kinds).run(from, to);
            if let Some(mine) = counts.get_mut(at) {
                mine.merge(&found);
            }
            progress(to - from);
        }
        counts
    });
    // Whole numbers: the order of adding cannot show.
    let mut all = vec![Counts::default(); places];
    for part in parts {
        all.iter_mut().zip(part).for_each(|(mine, theirs)| mine.merge(&theirs));
    }
    all
}

/// Cycles that share their faults.
struct Group<'b> {
    bench: &'b Bench,
    machine: Machine,
    faults: Faults,
    room: Room,
}

impl<'b> Group<'b> {
    fn new(bench: &'b Bench, group: u64, kinds: &[&FaultKind]) -> Self {
        let mut random = Random::of_run(bench.seed ^ PLACES, group);
        let mut noise = bench.machine.noise;
        let mut faults: Vec<Fault> = Vec::new();
        for kind in kinds {
            kind.add(kind.largest * (1.0 - random.uniform()), &mut faults, &mut noise);
        }
        let draft = bench.setup.draft();
        let room = Room {
            overtravel: draft.datum_switch.overtravel.to_f64(),
            free_height: draft.probe.free_height.to_f64(),
        };
        Self { bench, machine: Machine::new(&bench.setup, &noise), faults: Faults::new(faults), room }
    }

    fn run(&self, from: u64, to: u64) -> Counts {
        if is_large(&self.bench.setup) {
            self.run_in(&mut Cycle::<ROOM>::idle(), from, to)
        } else {
            self.run_in(&mut Cycle::<SMALL>::idle(), from, to)
        }
    }

    fn run_in<'a, const N: usize>(&'a self, cycle: &mut Cycle<'a, N>, from: u64, to: u64) -> Counts {
        let mut counts = Counts::default();
        for run in from..to {
            let mut world = World::new(&self.machine, &self.faults, self.bench.seed, run);
            let [rise, tip, drop_by] = self.places(run);
            let rise_by = rise - self.sound_rise(&world);
            world.place(tip, rise_by);
            // A checked setup always finds room.
            if cycle.start(&self.bench.setup, self.bench.job).is_err() {
                continue;
            }
            let mut first: Option<Harm> = None;
            to_its_end(cycle, &mut world, |world, request, _| {
                let harm = match request {
                    Do::Fetch { .. } => {
                        let sideways = world.harm_sideways(&self.room);
                        world.truth.drop += drop_by;
                        sideways
                    }
                    Do::Move { .. } | Do::PutBack { .. } => world.harm_sideways(&self.room),
                    Do::Approach { .. } => world.harm(&self.room),
                    _ => None,
                };
                if let Some(harm) = harm {
                    first = Some(first.map_or(harm, |before| before.min(harm)));
                }
            });
            counts.add(&judge(&world, cycle.outcome().as_ref()));
            let place = first.and_then(|harm| Harm::ALL.iter().position(|one| *one == harm));
            if let Some(count) = place.and_then(|place| counts.harms.get_mut(place)) {
                *count += 1;
            }
        }
        counts
    }

    /// A rise and a tip height anywhere in their declared ranges, and by how much the drop is moved within
    /// its own.
    fn places(&self, run: u64) -> [f64; 3] {
        let draft = self.bench.setup.draft();
        let mut places = Random::of_run(self.bench.seed ^ PLACES.rotate_left(32), run);
        let (rises, tips) = (draft.plates.rise, draft.datum_switch.tip_height);
        let rise = middle(rises) + width(rises) * places.centred();
        let tip = middle(tips) + width(tips) * places.centred();
        [rise, tip, width(draft.probe.drop) * places.centred()]
    }

    /// The rise that was drawn, without what lies under the plate.
    fn sound_rise(&self, world: &World<'_>) -> f64 {
        world.truth.rise - self.faults.plate_raised()
    }
}

#[cfg(test)]
mod tests;
