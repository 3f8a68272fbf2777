//! What is counted on a board: instructions and stack of the core's main jobs, and of the same landing in
//! floats.

mod floats;
#[path = "../../../../benches/src/generic.rs"]
pub mod generic;

use zdatum::cycle::{Cycle, Do, Event, Job, Outcome, ProbeState, Temperatures};
use zdatum::landing::{Conditions, Landing, Touches, budget};
use zdatum::series::CannotClose;
use zdatum::trim::{Check, Depth, Weighing, trim};
use zdatum::{Assessment, Length, Recorded, Series, Setup, Station, Summary};

use crate::machine::{self, ROOM, u_um, um};
use crate::{board, given, keep};

/// Runs everything and prints one line each: instructions as counter ticks, stack in bytes; then sizes.
pub fn all() {
    count("nops0", &mut board::no_nops);
    count("nops100", &mut board::hundred_nops);
    count("nops10000", &mut board::ten_thousand_nops);
    let (plain, studied) = (machine::checked(false), machine::checked(true));
    core_jobs(&plain, &studied);
    floats::count_all("f32", &plain, &studied, |x| x as f32);
    floats::count_all("f64", &plain, &studied, |x| x);
    size::<Cycle<'_, ROOM>>("cycle");
    size::<Setup>("setup");
    size::<Series<ROOM>>("series");
    size::<Summary>("summary");
    size::<Landing>("landing");
    size::<Assessment>("assessment");
    size::<Outcome>("outcome");
}

/// One job, counted and weighed.
#[inline(never)]
fn count(name: &str, run: &mut dyn FnMut()) {
    let ticks = board::ticks(run);
    let stack = board::deepest(run);
    for (word, value) in [("count ", ticks), (" stack ", stack)] {
        board::write(word);
        if word.starts_with('c') {
            board::write(name);
            board::write(" ");
        }
        board::write_decimal(value);
    }
    board::write("\n");
}

fn size<T>(name: &str) {
    board::write("size ");
    board::write(name);
    board::write(" ");
    board::write_decimal(size_of::<T>() as u32);
    board::write("\n");
}

fn core_jobs(plain: &Setup, studied: &Setup) {
    let stations = [machine::recorded(0), machine::recorded(1), machine::recorded(2)];
    let [tip, _, _] = &stations;
    touch_and_lift(plain);
    let mut closed = Summary::OPEN;
    for (name, setup) in [("series", plain), ("series_studied", studied)] {
        count(name, &mut || close(given(setup), given(tip), &mut closed));
    }
    let mut touches = Touches::OPEN;
    for (name, setup) in [("landing", plain), ("landing_studied", studied)] {
        count(name, &mut || land_and_keep(given(setup), given(&stations), &mut touches));
    }
    let mut seen = Assessment::open();
    for (name, setup) in [("verdict", plain), ("verdict_studied", studied)] {
        count(name, &mut || assess(given(setup), given(&stations), &mut seen));
    }
    if let Ok(landing) = land(plain, &stations, &mut touches) {
        count("shares", &mut || {
            if let Ok(terms) = budget(given(plain), given(&touches)) {
                for term in &terms {
                    keep(given(&landing).uncertainty.share(term));
                }
            }
        });
    }
    gauge_check(plain);
    let (mut cycle, mut outcome) = (Cycle::idle(), Outcome::open());
    for (name, setup) in [("cycle", plain), ("cycle_studied", studied)] {
        count(name, &mut || whole_cycle(given(setup), given(&stations), &mut cycle, &mut outcome));
    }
    let draft = machine::draft(false);
    count("setup", &mut || keep(Setup::check(given(&draft).clone())));
}

fn close_all(
    setup: &Setup,
    stations: &[Recorded<ROOM>; 3],
    touches: &mut Touches,
) -> Result<(), CannotClose> {
    let [tip, shoulder, plate] = stations;
    tip.series.close_into(&setup.method(Station::Tip), &mut touches.tip)?;
    shoulder.series.close_into(&setup.method(Station::Shoulder), &mut touches.shoulder)?;
    plate.series.close_into(&setup.method(Station::Plate), &mut touches.plate)?;
    touches.conditions = Conditions::of(&tip.readings, &shoulder.readings, &plate.readings);
    Ok(())
}

fn land(
    setup: &Setup,
    stations: &[Recorded<ROOM>; 3],
    touches: &mut Touches,
) -> Result<Landing, CannotClose> {
    close_all(setup, stations, touches)?;
    Ok(Landing::of(setup, touches)?)
}

// State and results stand in the caller's memory, as in a firmware; their sizes are stated apart.

#[inline(never)]
fn close(setup: &Setup, station: &Recorded<ROOM>, closed: &mut Summary) {
    must(station.series.close_into(&setup.method(Station::Tip), closed).is_ok());
    keep(closed);
}

#[inline(never)]
fn land_and_keep(setup: &Setup, stations: &[Recorded<ROOM>; 3], touches: &mut Touches) {
    keep(&land(setup, stations, touches));
}

#[inline(never)]
fn assess(setup: &Setup, [tip, shoulder, plate]: &[Recorded<ROOM>; 3], seen: &mut Assessment) {
    must(seen.judge(setup, [tip, shoulder, plate], None).is_ok() && seen.accepted());
    keep(seen);
}

/// What is counted is the way of an accepted cycle: no job may end early.
fn must(accepted: bool) {
    assert!(accepted, "an accepted cycle");
}

fn gauge_check(setup: &Setup) {
    let probe = setup.draft().probe;
    let known = Depth { t: probe.trip_depth, u: probe.trip_depth_u, speed: probe.trimmed_at_speed };
    let check = Check {
        wish: zdatum::Length::ZERO,
        too_high: um(12),
        made_with: probe.trip_depth,
        speed: setup.draft().touch.fine_speed,
        gauge_u: u_um(2),
        feel_u: u_um(10),
        landing_u: u_um(3),
    };
    count("trim", &mut || {
        keep(trim(given(&known), given(&[]), given(&probe.delay), given(&check), given(Weighing::Weighed)));
    });
}

/// A machine that does as asked and trips where the script says: first approach, a settling touch, then those
/// that count.
struct Player<'a> {
    script: &'a [Recorded<ROOM>; 3],
    taken: usize,
}

impl Player<'_> {
    fn answer(&mut self, request: Do) -> Event {
        match request {
            Do::FindProbe { .. } => Event::Probe(ProbeState::PutBack),
            Do::Lift { .. } => Event::Lifted { open: true },
            Do::Approach { station, .. } => {
                let [tip, shoulder, plate] = self.script;
                let heights = match station {
                    Station::Tip => tip,
                    Station::Shoulder => shoulder,
                    Station::Plate => plate,
                };
                let z = heights.series.touches().get(self.taken.saturating_sub(2)).copied();
                self.taken += 1;
                Event::Tripped { z: z.unwrap_or(Length::ZERO), at: read(heights) }
            }
            _ => {
                self.taken = 0;
                Event::Done
            }
        }
    }
}

fn read(heights: &Recorded<ROOM>) -> Temperatures {
    let readings = &heights.readings;
    Temperatures { tool: readings.tool, bed: readings.bed, chamber: readings.chamber }
}

#[inline(never)]
fn whole_cycle<'s>(
    setup: &'s Setup,
    script: &[Recorded<ROOM>; 3],
    cycle: &mut Cycle<'s, ROOM>,
    outcome: &mut Outcome,
) {
    must(cycle.start(setup, Job::full()).is_ok());
    let mut player = Player { script, taken: 0 };
    loop {
        let request = cycle.poll();
        if request == Do::Finished {
            must(cycle.judge(outcome) && outcome.accepted());
            return keep(outcome);
        }
        if cycle.handle(player.answer(request)).is_err() {
            return must(false);
        }
    }
}

/// One touch and one lift in the midst of the tip's series, each with the poll that follows.
fn touch_and_lift(setup: &Setup) {
    let script = [machine::recorded(0), machine::recorded(1), machine::recorded(2)];
    let mut player = Player { script: &script, taken: 0 };
    let Ok(mut cycle) = Cycle::<ROOM>::new(setup, Job::full()) else { return };
    // First approach, settling touch, two that count: the next is the third.
    while !(player.taken == 4 && matches!(cycle.poll(), Do::Approach { .. })) {
        let answer = player.answer(cycle.poll());
        if cycle.handle(answer).is_err() {
            return;
        }
    }
    let touch = player.answer(cycle.poll());
    let before = cycle.clone();
    count("touch", &mut || step_on(&mut cycle, touch));
    let mut cycle = before;
    keep(cycle.handle(touch));
    count("lift", &mut || step_on(&mut cycle, Event::Lifted { open: true }));
}

#[inline(never)]
fn step_on(cycle: &mut Cycle<'_, ROOM>, event: Event) {
    keep(&given(&mut *cycle).handle(given(event)));
    keep(&given(&*cycle).poll());
}
