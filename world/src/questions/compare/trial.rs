//! One method in one situation, run by run.
//!
//! Two days are simulated. On the first, whatever the method needs was set by hand: a gauge was felt under
//! the tip over the plate, and where the method has a switch, that switch was touched. Then something
//! changed, and on the second day the method finds its height and the first layer is printed. The first-layer
//! error is that height less the true landing of the second day.
//!
//! Run i draws the same machine, the same changes and the same feel in every cell, and the second day's
//! touches begin the same stream of noise. The core's cycle is driven as everywhere; the other methods are
//! touches and one subtraction.

use std::ops::Range;
use std::sync::atomic::AtomicBool;

use zdatum::cycle::{Cycle, Do, Ending, Event, Outcome, Seconds};
use zdatum::{Centre, Length, RefusalKind, Setup, Station};

use super::methods::{FEEL, Method, with_touches};
use super::situations::{Situation, Sizes};
use crate::engine::campaign::tallied;
use crate::engine::cycle::{ROOM, SMALL, is_large, judge, to_its_end};
use crate::engine::{Bench, Progress, Ran, Tally};
use crate::random::Random;
use crate::{Faults, Machine, Truth, World};

/// Keeps the first day's noise apart from the second's.
const FIRST_DAY: u64 = 0x9D5C_3A1E_77F0_24B1;
/// Keeps what changes apart from both.
const CHANGES: u64 = 0x51B7_E06D_C28F_4A39;
/// Touches per station of the cycles that are averaged.
const TWICE_TOUCHES: u8 = 5;

/// A method made ready for a situation.
#[derive(Clone, Debug)]
pub struct Trial {
    method: Method,
    situation: Situation,
    sizes: Sizes,
    bench: Bench,
    first_day: Machine,
    /// Nothing was wrong on the first day.
    sound: Faults,
}

/// What has changed between the two days of one run, mm.
#[derive(Clone, Copy, Debug, Default)]
struct Change {
    /// The nozzle is so much longer.
    nozzle: f64,
    /// The frame has grown so much.
    frame: f64,
    /// The plate stands so much higher over the datum switch.
    rise: f64,
}

impl Change {
    fn apply(&self, truth: &mut Truth) {
        truth.tip += self.nozzle + self.frame;
        truth.rise += self.rise;
        truth.landing += self.nozzle + self.frame + self.rise;
    }
}

/// What one run draws beside its world.
struct Drawn {
    change: Change,
    /// How the probe sat on the first day, and sits on the second where it was not fetched anew; mm off the
    /// middle.
    seats: [f64; 2],
    /// What the hand felt, mm off.
    feel: f64,
}

impl Trial {
    /// Makes a method ready.
    ///
    /// # Errors
    /// Why this machine does not allow it.
    pub fn new(bench: &Bench, method: Method, situation: Situation, sizes: Sizes) -> Result<Self, String> {
        let setup = match method {
            Method::ThreeTouches { touches, centre } => with_touches(&bench.setup, touches, centre)?,
            Method::FetchedTwice => with_touches(&bench.setup, TWICE_TOUCHES, Centre::Mean)?,
            _ => bench.setup.clone(),
        };
        let mut noise = bench.machine.noise;
        // Heights are set by hand with a clean tip.
        noise.tip_filament = 0.0;
        let first_day = Machine::new(&setup, &noise);
        let mut noise = bench.machine.noise;
        if situation == Situation::WarmUp {
            // Beside what the file says of every day.
            noise.drift += sizes.frame_to_come;
        }
        let machine = Machine::new(&setup, &noise);
        let bench = Bench { setup, machine, ..bench.clone() };
        Ok(Self { method, situation, sizes, bench, first_day, sound: Faults::NONE })
    }

    /// Many runs on the current `rayon` pool.
    pub fn tally(&self, runs: u64, within: f64, stop: &AtomicBool, progress: &Progress<'_>) -> Tally {
        let block = |runs: Range<u64>, tally: &mut Tally| self.run_block(runs, |ran| tally.add(ran));
        tallied(runs, within, stop, progress, block)
    }

    /// A block of runs, one after the other.
    pub fn run_block(&self, runs: Range<u64>, mut take: impl FnMut(&Ran)) {
        match self.method {
            Method::ThreeTouches { .. } | Method::FetchedTwice if is_large(&self.bench.setup) => {
                let mut cycle = Cycle::<ROOM>::idle();
                runs.for_each(|run| take(&self.cycles(&mut cycle, run)));
            }
            Method::ThreeTouches { .. } | Method::FetchedTwice => {
                let mut cycle = Cycle::<SMALL>::idle();
                runs.for_each(|run| take(&self.cycles(&mut cycle, run)));
            }
            _ => runs.for_each(|run| take(&self.by_setting(run))),
        }
    }

    /// The second day's world, changes included.
    fn second_day(&self, run: u64, change: &Change) -> World<'_> {
        let mut world = World::new(&self.bench.machine, &self.bench.faults, self.bench.seed, run);
        change.apply(&mut world.truth);
        world
    }

    /// The core's own cycle, once or twice.
    fn cycles<'t, const N: usize>(&'t self, cycle: &mut Cycle<'t, N>, run: u64) -> Ran {
        let change = self.draw(run).change;
        let mut world = self.second_day(run, &change);
        let first = self.cycle(cycle, &mut world, &change);
        let ran = judge(&world, first.as_ref());
        if self.method != Method::FetchedTwice || ran.error.is_none() {
            return ran;
        }
        let second = self.cycle(cycle, &mut world, &change);
        let height = |outcome: &Option<Outcome>| {
            outcome.as_ref().and_then(|outcome| outcome.landing()).map(|landing| landing.height.to_f64())
        };
        let ran = judge(&world, second.as_ref());
        let average = height(&first).zip(height(&second)).map(|(a, b)| (a + b) / 2.0);
        Ran { error: average.map(|landing| landing - ran.true_landing), expanded: 0.0, ..ran }
    }

    fn cycle<'t, const N: usize>(
        &'t self,
        cycle: &mut Cycle<'t, N>,
        world: &mut World<'_>,
        change: &Change,
    ) -> Option<Outcome> {
        // A checked setup always finds room.
        cycle.start(&self.bench.setup, self.bench.job).ok()?;
        to_its_end(cycle, world, |world, request, _| {
            // A longer nozzle lowers the tip, not the probe: as it is seated, it hangs less far below the
            // tip.
            if matches!(request, Do::Fetch { .. }) {
                world.truth.drop -= change.nozzle;
            }
        });
        cycle.outcome()
    }

    /// A height that was set by hand, with or without a switch that tells what has changed since.
    fn by_setting(&self, run: u64) -> Ran {
        let drawn = self.draw(run);
        let [seat_then, seat_now] = drawn.seats;
        let mut now = World::new(&self.bench.machine, &self.bench.faults, self.bench.seed, run);
        let mut then = World::new(&self.first_day, &self.sound, self.bench.seed ^ FIRST_DAY, run);
        // The same machine on the first day, but for what its own homing came to.
        let landing = now.truth.landing + then.truth.tip - now.truth.tip;
        then.truth = Truth { tip: then.truth.tip, landing, drop: now.truth.drop + seat_then, ..now.truth };
        drawn.change.apply(&mut now.truth);
        now.truth.drop += seat_now - drawn.change.nozzle;

        let station = match self.method {
            Method::FixedSwitch => Some(Station::Tip),
            Method::StoredHeight => Some(Station::Plate),
            _ => None,
        };
        let seen = match station {
            None => Some(0.0),
            Some(station) => touch(&mut then, station, &self.bench.setup)
                .and_then(|before| Some(touch(&mut now, station, &self.bench.setup)? - before)),
        };
        let set_by_hand = then.true_landing() + drawn.feel;
        let true_landing = now.true_landing();
        Ran {
            error: seen.map(|moved| set_by_hand + moved - true_landing),
            expanded: 0.0,
            refused: seen.is_none().then_some(RefusalKind::AlreadyTripped),
            true_landing,
            touches: now.touches,
            seconds: now.seconds,
            ending: Ending::LiftedAndPutBack,
        }
    }

    fn draw(&self, run: u64) -> Drawn {
        let mut random = Random::of_run(self.bench.seed ^ CHANGES, run);
        let sizes = &self.sizes;
        // All are drawn in every situation, so that each run has the same numbers throughout.
        let (plate, nozzle) = (2.0 * random.centred(), 2.0 * random.centred());
        let [then, anew, feel] = [0; 3].map(|_| random.normal());
        let mut change = Change::default();
        match self.situation {
            Situation::Nothing | Situation::Reseated => {}
            Situation::PlateSwap => change.rise = sizes.plate * plate,
            Situation::NozzleChange => change.nozzle = sizes.nozzle * nozzle,
            Situation::WarmUp => (change.frame, change.rise) = (sizes.frame_grown, sizes.bed_grown),
        }
        let now = if self.situation == Situation::Reseated { anew } else { then };
        Drawn { change, seats: [then, now].map(|seat| sizes.seat * seat), feel: FEEL * feel }
    }
}

/// Touches one station as a cycle would, without its guards: first approach, settling touches, then the mean
/// of as many fine touches as the setup counts at least. `None` where the switch was closed beforehand.
fn touch(world: &mut World<'_>, station: Station, setup: &Setup) -> Option<f64> {
    const WITHIN: Seconds = Seconds(u16::MAX);
    /// Nothing keeps these touches off the plate.
    const FLOOR: Length = Length::from_mm(i16::MIN);
    let (draft, floors) = (setup.draft(), setup.floors());
    let (to, lowest) = match station {
        Station::Plate => (draft.stations.plate, floors.clear_with_probe),
        Station::Shoulder => (draft.stations.shoulder, floors.clear_with_probe),
        Station::Tip => (draft.stations.tip, floors.clear),
    };
    world.answer(Do::Move { to, lowest, within: WITHIN });
    let thrown_away = 1 + u32::from(draft.touch.settle);
    let counted = u32::from(draft.touch.least);
    let mut sum = 0.0;
    for number in 0..thrown_away + counted {
        let speed = if number == 0 { draft.touch.first_speed } else { draft.touch.fine_speed };
        let approach = Do::Approach { station, floor: FLOOR, speed, within: WITHIN };
        let Event::Tripped { z, .. } = world.answer(approach) else { return None };
        world.answer(Do::Lift { to: z.plus(draft.touch.lift).ok()?, within: WITHIN });
        if number >= thrown_away {
            sum += z.to_f64();
        }
    }
    Some(sum / f64::from(counted))
}

#[cfg(test)]
mod tests;
