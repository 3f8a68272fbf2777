//! Every script of events with at most two wrong ones, depth first: cycle and world are cloned at every
//! request.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use zdatum::cycle::{Cycle, Do, Ending, Job};
use zdatum::{Length, Setup, Station};

use super::tight::length;
use super::world::{Harm, World};
use super::wrong::{Group, Wrong};

/// Fine touches per station that the cycle has room for.
const ROOM: usize = 3;

/// How far each floor is lowered below what the cycle asks, in bits: to show that none is loose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Loosen {
    /// Of the tip's approach.
    pub tip: i64,
    /// Of the shoulder's.
    pub shoulder: i64,
    /// Of the plate's.
    pub plate: i64,
    /// Of every move sideways, and of every lift clear of a station.
    pub clear: i64,
}

impl Loosen {
    /// The request as the loosened cycle would make it.
    fn request(self, request: Do) -> Do {
        let lower = |height: Length, by: i64| length(i64::from(height.to_bits()) - by);
        match request {
            Do::Approach { station, floor, speed, within } => {
                let by = match station {
                    Station::Tip => self.tip,
                    Station::Shoulder => self.shoulder,
                    Station::Plate => self.plate,
                };
                Do::Approach { station, floor: lower(floor, by), speed, within }
            }
            Do::Move { to, lowest, within } => Do::Move { to, lowest: lower(lowest, self.clear), within },
            Do::Fetch { lowest, within } => Do::Fetch { lowest: lower(lowest, self.clear), within },
            Do::Level { lowest, within } => Do::Level { lowest: lower(lowest, self.clear), within },
            Do::PutBack { lowest: Some(lowest), within } => {
                Do::PutBack { lowest: Some(lower(lowest, self.clear)), within }
            }
            Do::Lift { to, within } => Do::Lift { to: lower(to, self.clear), within },
            other => other,
        }
    }
}

/// How often and how badly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Count {
    /// Scripts.
    pub scripts: u64,
    /// The deepest, in bits.
    pub deepest: i64,
}

/// Error of accepted landings against the one that nothing wrong would give, in bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Errors {
    /// Furthest below: the tip would plough.
    pub below: i64,
    /// Furthest above.
    pub above: i64,
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Tally {
    /// Scripts run to their end or to their harm, by how many events were wrong.
    pub scripts: [u64; 3],
    /// Requests answered in all.
    pub requests: u64,
    /// Most requests of one script.
    pub longest: u32,
    /// Harm done with one wrong event.
    pub single: BTreeMap<(Group, Harm), Count>,
    /// Harm done with two.
    pub double: BTreeMap<(Group, Group, Harm), Count>,
    /// What one wrong event does to a landing that is accepted all the same.
    pub errors: BTreeMap<Group, Errors>,
    /// Cycles that ended *put back* with the probe elsewhere, one wrong event.
    pub misplaced: BTreeMap<Group, u64>,
    /// What must never be, as scripts; the first few.
    pub broken: Vec<String>,
}

impl Tally {
    /// Adds another's findings.
    pub fn add(&mut self, other: Tally) {
        for (sum, more) in self.scripts.iter_mut().zip(other.scripts) {
            *sum += more;
        }
        self.requests += other.requests;
        self.longest = self.longest.max(other.longest);
        let add = |sum: &mut Count, more: Count| {
            sum.scripts += more.scripts;
            sum.deepest = sum.deepest.max(more.deepest);
        };
        other.single.into_iter().for_each(|(class, count)| add(self.single.entry(class).or_default(), count));
        other.double.into_iter().for_each(|(class, count)| add(self.double.entry(class).or_default(), count));
        for (group, errors) in other.errors {
            let sum = self.errors.entry(group).or_default();
            sum.below = sum.below.min(errors.below);
            sum.above = sum.above.max(errors.above);
        }
        for (group, count) in other.misplaced {
            *self.misplaced.entry(group).or_default() += count;
        }
        self.broken.extend(other.broken);
        self.broken.truncate(20);
    }
}

/// One thing that went wrong, and at which request.
#[derive(Clone, Copy, Debug)]
struct Mishap {
    step: u32,
    request: Do,
    wrong: Wrong,
}

impl Mishap {
    fn group(&self) -> Group {
        self.wrong.group(&self.request)
    }
}

/// A search through all scripts from one beginning.
pub struct Search<'s> {
    setup: &'s Setup,
    loosen: Loosen,
    /// Wrong events that a script may hold.
    allowed: usize,
    /// The landing that nothing wrong gives.
    honest: Option<i64>,
    /// Most requests that a cycle may make.
    bound: u32,
    tally: Tally,
}

impl<'s> Search<'s> {
    /// Runs every script with up to `allowed` wrong events of a cycle in a world.
    pub fn run(setup: &'s Setup, job: Job, world: &World, allowed: usize, loosen: Loosen) -> Tally {
        let touch = &setup.draft().touch;
        let bound = 28 + 6 * (u32::from(touch.settle) + u32::from(touch.most));
        let cycle = Cycle::<ROOM>::new(setup, job).expect("room for the touches");
        let mut search = Self { setup, loosen, allowed, honest: None, bound, tally: Tally::default() };
        search.honest = search.honest_landing(cycle.clone(), world.clone());
        search.explore(cycle, world.clone(), &mut Vec::with_capacity(2), 0);
        search.tally
    }

    fn honest_landing(&self, mut cycle: Cycle<'_, ROOM>, mut world: World) -> Option<i64> {
        while !cycle.is_finished() {
            let request = cycle.poll();
            cycle.handle(world.execute(request)).expect("an answer in turn");
        }
        Some(i64::from(cycle.outcome()?.landing()?.height.to_bits()))
    }

    fn explore(
        &mut self,
        mut cycle: Cycle<'s, ROOM>,
        mut world: World,
        mishaps: &mut Vec<Mishap>,
        begin: u32,
    ) {
        let mut wrongs = Vec::new();
        for step in begin.. {
            let request = cycle.poll();
            if request == Do::Finished {
                return self.ended(&cycle, &world, mishaps, step);
            }
            if step > self.bound {
                return self.break_off("a cycle does not end", mishaps);
            }
            let made = self.loosen.request(request);
            if mishaps.len() < self.allowed {
                wrongs.clear();
                Wrong::at(&request, &world, self.allowed < 2, &mut wrongs);
                for wrong in &wrongs {
                    let (mut cycle, mut world) = (cycle.clone(), world.clone());
                    let event = wrong.execute(made, &mut world);
                    mishaps.push(Mishap { step, request, wrong: *wrong });
                    self.tally.requests += 1;
                    if world.harm().is_some() {
                        self.harmed(&world, mishaps);
                    } else if cycle.handle(event).is_err() {
                        self.break_off("an answer counts as out of turn", mishaps);
                    } else {
                        self.explore(cycle, world, mishaps, step + 1);
                    }
                    mishaps.pop();
                }
            }
            let event = world.execute(made);
            self.tally.requests += 1;
            if world.harm().is_some() {
                return self.harmed(&world, mishaps);
            }
            if cycle.handle(event).is_err() {
                return self.break_off("a true answer counts as out of turn", mishaps);
            }
        }
    }

    fn harmed(&mut self, world: &World, mishaps: &[Mishap]) {
        let Some((harm, depth)) = world.harm() else { return };
        self.count(mishaps);
        let count = |count: &mut Count| {
            count.scripts += 1;
            count.deepest = count.deepest.max(depth);
        };
        match mishaps {
            [] => self.break_off(&format!("{harm:?} by {depth} bits with nothing wrong"), mishaps),
            [one] => {
                count(self.tally.single.entry((one.group(), harm)).or_default());
                // Nothing on the machine can tell where it stands sideways: these are counted and listed.
                if one.group() != Group::Astray {
                    self.break_off(&format!("{harm:?} by {depth} bits with one wrong event"), mishaps);
                }
            }
            [one, two, ..] => {
                let (a, b) = (one.group(), two.group());
                count(self.tally.double.entry((a.min(b), a.max(b), harm)).or_default());
            }
        }
    }

    fn ended(&mut self, cycle: &Cycle<'s, ROOM>, world: &World, mishaps: &[Mishap], steps: u32) {
        self.count(mishaps);
        self.tally.longest = self.tally.longest.max(steps);
        if mishaps.len() > 1 {
            return;
        }
        let Some(outcome) = cycle.outcome() else { return self.break_off("no outcome at the end", mishaps) };
        if outcome.ending == Ending::LiftedAndPutBack && world.probe != super::world::Probe::Dock {
            match mishaps {
                [one] if matches!(one.group(), Group::ProbeTold | Group::ProbeLost) => {
                    *self.tally.misplaced.entry(one.group()).or_default() += 1;
                }
                _ => self.break_off("the outcome says put back and the probe is not", mishaps),
            }
        }
        let Some(landing) = outcome.landing() else {
            if mishaps.is_empty() && self.honest.is_some() {
                self.break_off("an honest cycle is refused", mishaps);
            }
            return;
        };
        let (Some(honest), [one]) = (self.honest, mishaps) else { return };
        // The landing is asked for in the coordinates that stand at the end.
        let moved = if let Wrong::HeightLost(by) = one.wrong { by } else { 0 };
        let error = i64::from(landing.height.to_bits()) - honest - moved;
        let errors = self.tally.errors.entry(one.group()).or_default();
        errors.below = errors.below.min(error);
        errors.above = errors.above.max(error);
        let band = i64::from(self.setup.draft().touch.band.to_bits());
        // NOTE: a shift is not seen within the ranges of drop and rise, but it never does more than its own
        // size.
        let most = one.wrong.shifts().map_or(band, i64::abs);
        if error.abs() > most {
            self.break_off(&format!("a landing {error} bits off is accepted"), mishaps);
        }
    }

    fn count(&mut self, mishaps: &[Mishap]) {
        if let Some(count) = self.tally.scripts.get_mut(mishaps.len()) {
            *count += 1;
        }
    }

    fn break_off(&mut self, what: &str, mishaps: &[Mishap]) {
        if self.tally.broken.len() < 20 {
            let mut text = String::from(what);
            for mishap in mishaps {
                let _ = write!(text, "; step {} {:?}: {:?}", mishap.step, mishap.request, mishap.wrong);
            }
            self.tally.broken.push(text);
        }
    }
}
