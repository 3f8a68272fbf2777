//! A model world for the touch cycle: exact geometry, no noise, and everything that can go wrong.

pub mod catalogue;
pub mod causes;
pub mod scripts;
pub mod tight;
pub mod world;
pub mod wrong;

use std::sync::atomic::{AtomicU8, Ordering};

use zdatum::Setup;
use zdatum::cycle::Job;

use scripts::{Loosen, Search, Tally};
use tight::Corner;
use world::{Probe, World};

/// A world at a corner of what the setup declares.
pub fn world_at(setup: &Setup, corner: Corner, probe: Probe, crowded: bool) -> World {
    let draft = setup.draft();
    let press = setup.floors().dead_plunger(draft.plates.rise.high).expect("a press that can be held");
    let geometry = corner.geometry(draft, crowded);
    World::new(geometry, draft.stations, i64::from(press.shoulder_into_plate.to_bits()), probe)
}

/// What to search.
#[derive(Clone, Copy, Debug)]
pub struct Scripts {
    /// What the cycle is asked to do.
    pub job: Job,
    /// Where the probe is at the start.
    pub probe: Probe,
    /// Whether the tool's other parts stand over the plate; see [`world`].
    pub crowded: bool,
    /// Whether the two switches stand at opposite ends of their lateness.
    pub opposed: bool,
    /// Wrong events that a script may hold, up to two.
    pub wrong: usize,
    /// How far the floors are lowered.
    pub loosen: Loosen,
}

impl Scripts {
    /// A full cycle from homing on, the probe in its dock, in a crowded world, with up to so many wrong
    /// events.
    pub const fn full(wrong: usize) -> Self {
        let loosen = Loosen { tip: 0, shoulder: 0, plate: 0, clear: 0 };
        Self { job: Job::full(), probe: Probe::Dock, crowded: true, opposed: false, wrong, loosen }
    }

    /// Runs them at every corner of what the setup declares, on all processors.
    pub fn run(&self, setup: &Setup) -> Tally {
        let next = AtomicU8::new(0);
        let work = || {
            let mut tally = Tally::default();
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                if number >= Corner::COUNT {
                    return tally;
                }
                let corner = Corner { opposed: self.opposed, ..Corner::of(number) };
                let world = world_at(setup, corner, self.probe, self.crowded);
                let mut found = Search::run(setup, self.job, &world, self.wrong, self.loosen);
                for text in &mut found.broken {
                    text.push_str(&format!("; at {corner:?}"));
                }
                tally.add(found);
            }
        };
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        std::thread::scope(|scope| {
            let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
            let mut sum = Tally::default();
            for worker in workers {
                sum.add(worker.join().expect("a search that does not panic"));
            }
            sum
        })
    }
}
