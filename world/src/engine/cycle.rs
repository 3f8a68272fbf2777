//! One cycle in the world: the core's own `poll` and `handle`, step by step.

use std::ops::Range;

use crate::{Faults, Machine, Noise, World};
use zdatum::cycle::{Cycle, Do, Ending, Event, Job, Kind, NoRoom, Outcome};
use zdatum::{RefusalKind, Setup, Touches};

/// Room for as many touches as a setup may ask for.
pub(crate) const ROOM: usize = 64;
/// Room that serves most setups, in less memory to move about.
pub(crate) const SMALL: usize = 16;

/// Whether a setup's cycle needs [`ROOM`].
pub(crate) fn is_large(setup: &Setup) -> bool {
    usize::from(setup.draft().touch.most) > SMALL
}

/// What runs are made of: a checked setup and the machine it describes.
#[derive(Clone, Debug)]
pub struct Bench {
    /// What the cycle knows.
    pub setup: Setup,
    /// What is true.
    pub machine: Machine,
    /// What is wrong.
    pub faults: Faults,
    /// Every stream of random numbers follows from it.
    pub seed: u64,
    /// What the cycle is asked to do.
    pub job: Job,
}

/// What one run came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Ran {
    /// First-layer error, mm: landing reported − landing true; positive: tip too far from the plate. `None`
    /// where refused.
    pub error: Option<f64>,
    /// U of an accepted landing, mm.
    pub expanded: f64,
    /// The first reason of a refused run.
    pub refused: Option<RefusalKind>,
    /// The true landing at the first layer, mm.
    pub true_landing: f64,
    /// Touches made.
    pub touches: u32,
    /// Seconds of virtual time.
    pub seconds: f64,
    /// How the cycle ended.
    pub ending: Ending,
}

impl Bench {
    /// A sound machine, homed and level at its touch temperature.
    pub fn new(setup: Setup, noise: &Noise, seed: u64) -> Self {
        let machine = Machine::new(&setup, noise);
        let job = Job { homed: true, levelled: true, kind: Kind::Full { last: None } };
        Self { setup, machine, faults: Faults::NONE, seed, job }
    }
}

/// Runs one cycle; `watch` sees every request with its answer, in the same path that a campaign takes.
///
/// # Errors
/// [`NoRoom`] never comes from a checked setup: its `most` is at most 64.
#[inline]
pub fn run(bench: &Bench, index: u64, watch: impl FnMut(&World<'_>, &Do, &Event)) -> Result<Ran, NoRoom> {
    if is_large(&bench.setup) {
        drive(&mut Cycle::<ROOM>::idle(), &mut Outcome::open(), bench, index, watch).map(|(ran, _)| ran)
    } else {
        drive(&mut Cycle::<SMALL>::idle(), &mut Outcome::open(), bench, index, watch).map(|(ran, _)| ran)
    }
}

/// What a run's own cycle came to.
#[derive(Clone, Copy, Debug)]
pub struct Seen<'a> {
    /// Its outcome.
    pub outcome: &'a Outcome,
    /// Its closed series, where all three stations were touched.
    pub touches: Option<&'a Touches>,
}

/// Runs a block of cycles, one after the other in the same memory, and hands each result over.
///
/// # Errors
/// As [`run`].
pub fn run_block(bench: &Bench, runs: Range<u64>, mut take: impl FnMut(&Ran)) -> Result<(), NoRoom> {
    run_block_seen(bench, runs, |ran, _| take(ran))
}

/// The same, with each cycle's own outcome beside.
///
/// # Errors
/// As [`run`].
pub fn run_block_seen(
    bench: &Bench,
    runs: Range<u64>,
    mut take: impl FnMut(&Ran, Option<Seen<'_>>),
) -> Result<(), NoRoom> {
    if is_large(&bench.setup) {
        block_in(&mut Cycle::<ROOM>::idle(), bench, runs, &mut take)
    } else {
        block_in(&mut Cycle::<SMALL>::idle(), bench, runs, &mut take)
    }
}

#[inline]
fn block_in<'b, const N: usize>(
    cycle: &mut Cycle<'b, N>,
    bench: &'b Bench,
    runs: Range<u64>,
    take: &mut impl FnMut(&Ran, Option<Seen<'_>>),
) -> Result<(), NoRoom> {
    let mut outcome = Outcome::open();
    for index in runs {
        let (ran, judged) = drive(cycle, &mut outcome, bench, index, |_, _, _| {})?;
        take(&ran, judged.then(|| Seen { outcome: &outcome, touches: cycle.touches() }));
    }
    Ok(())
}

#[inline]
fn drive<'b, const N: usize>(
    cycle: &mut Cycle<'b, N>,
    outcome: &mut Outcome,
    bench: &'b Bench,
    index: u64,
    mut watch: impl FnMut(&World<'_>, &Do, &Event),
) -> Result<(Ran, bool), NoRoom> {
    let mut world = World::new(&bench.machine, &bench.faults, bench.seed, index);
    cycle.start(&bench.setup, bench.job)?;
    to_its_end(cycle, &mut world, |world, request, event| watch(world, request, event));
    let judged = cycle.judge(outcome);
    Ok((judge(&world, judged.then_some(&*outcome)), judged))
}

/// Drives a cycle that has been started to its end; `watch` sees every request with its answer and may change
/// what is true.
#[inline]
pub fn to_its_end<const N: usize>(
    cycle: &mut Cycle<'_, N>,
    world: &mut World<'_>,
    mut watch: impl FnMut(&mut World<'_>, &Do, &Event),
) {
    let mut stopped = false;
    loop {
        if world.stop_is_pressed() && !stopped {
            stopped = true;
            cycle.cancel();
        }
        let request = cycle.poll();
        if matches!(request, Do::Finished) {
            break;
        }
        // Almost all requests are touches and lifts. With an arm for each, what the answer can be is known
        // where it is handled.
        let taken = match request {
            Do::Approach { station, floor, speed, .. } => {
                let event = world.approach(station, floor, speed);
                watch(world, &request, &event);
                cycle.handle(event).is_ok()
            }
            Do::Lift { to, .. } => {
                let event = world.lift(to);
                watch(world, &request, &event);
                cycle.handle(event).is_ok()
            }
            _ => {
                let event = world.answer(request);
                watch(world, &request, &event);
                cycle.handle(event).is_ok()
            }
        };
        // The world answers each request in kind; were it ever not to, the run would not end: stop it as
        // cancelled.
        if !taken {
            cycle.cancel();
            break;
        }
    }
}

/// What a run came to.
pub(crate) fn judge(world: &World<'_>, outcome: Option<&Outcome>) -> Ran {
    let (touches, seconds, true_landing) = (world.touches, world.seconds, world.true_landing());
    let Some(outcome) = outcome else {
        let refused = Some(RefusalKind::MachineFault);
        let ending = Ending::Halted;
        return Ran { error: None, expanded: 0.0, refused, true_landing, touches, seconds, ending };
    };
    let (error, expanded) = match outcome.landing() {
        Some(landing) => {
            let error = landing.height.to_f64() - true_landing;
            (Some(error), landing.uncertainty.expanded.to_f64())
        }
        None => (None, 0.0),
    };
    let refused = outcome.refusals().first().map(|refusal| refusal.kind);
    Ran { error, expanded, refused, true_landing, touches, seconds, ending: outcome.ending }
}
