//! The campaign of faults over the demo's machine: what must be caught is, what cannot be is not, and no
//! nozzle crashes.

use std::sync::atomic::AtomicBool;

use zdatum::cycle::{Cycle, Do};
use zdatum::{RefusalKind, Setup, Station};
use zdatum_sim::world::{Fault, Faults, Harm, Room, World};
use zdatum_world::engine::Bench;
use zdatum_world::engine::cycle::to_its_end;
use zdatum_world::questions::faulty::{FaultQuestion, Found, KINDS, Least, Power, find};

use crate::machines;

fn demo() -> Bench {
    let machine = machines::demo();
    Bench::new(machine.setup.clone(), &machine.noise, 11)
}

fn found(each: u64, cycles: u64, pairs: u64) -> Found {
    let bench = demo();
    let what = FaultQuestion { bench: &bench, each, cycles, pairs };
    find(&what, &AtomicBool::new(false), &|_| {})
}

fn power<'a>(found: &'a Found, word: &str) -> &'a Power {
    found.powers.iter().find(|power| power.kind.word == word).unwrap_or_else(|| panic!("{word}"))
}

fn size(least: Least) -> f64 {
    match least {
        Least::Size(size) => size,
        _ => f64::INFINITY,
    }
}

#[test]
fn words_differ() {
    let mut words: Vec<_> = KINDS.iter().map(|kind| kind.word).collect();
    words.sort_unstable();
    words.dedup();
    assert_eq!(words.len(), KINDS.len());
}

#[test]
fn what_is_caught_and_what_gets_through() {
    let found = found(60, 0, 0);
    assert_eq!(found.powers.len(), KINDS.len());
    // A fault that is there or not, and is caught each time.
    for (word, by) in [
        ("datum-dead", RefusalKind::NoTrip),
        ("no-plate", RefusalKind::NoTrip),
        ("probe-lost", RefusalKind::NoTrip),
        ("datum-held", RefusalKind::AlreadyTripped),
        ("plunger-sticks", RefusalKind::StillTripped),
        ("crossed", RefusalKind::WrongSwitch),
    ] {
        let power = power(&found, word);
        assert_eq!((power.least_unknown, power.caught_by(false)), (Least::Always, Some(by)), "{word}");
    }
    // A span that moves is seen from the book alone, at the limit of 0.12 mm less what its doubt takes.
    for word in ["debris-under-plate", "plate-not-seated", "trip-depth-large", "knocked-up"] {
        let power = power(&found, word);
        assert_eq!(power.least_unknown, Least::Never, "{word}");
        let size = size(power.least_known).abs();
        assert!((0.105..0.125).contains(&size), "{word}: {size}");
        assert_eq!(power.caught_by(true), Some(RefusalKind::MovedTooFar), "{word}");
    }
    // What the nozzle will not meet makes the landing too high by its size; what it will meet does not.
    let hidden = power(&found, "plate-not-seated").unknown.last().expect("sizes").mean.expect("through");
    assert!((hidden - 0.3).abs() < 0.005, "{hidden}");
    let met = power(&found, "debris-under-plate").unknown.last().expect("sizes").mean.expect("through");
    assert!(met.abs() < 0.005, "{met}");
    // A chip that stays cancels in the landing; one that has gone does not; one that comes is the dangerous
    // one.
    let mean = |word| power(&found, word).unknown.last().expect("sizes").mean.expect("through");
    assert!(mean("chip-on-datum").abs() < 0.005, "{}", mean("chip-on-datum"));
    assert!((mean("chip-gone") - 0.2).abs() < 0.005, "{}", mean("chip-gone"));
    assert!((mean("chip-comes") + 0.2).abs() < 0.005, "{}", mean("chip-comes"));
    assert!((mean("steps-lost-up") + 0.3).abs() < 0.005, "{}", mean("steps-lost-up"));
    // Both unsteady ones and filament are caught while they are small.
    for word in ["loose-mount", "plate-rocks", "plunger-early", "filament"] {
        let size = size(power(&found, word).least_unknown);
        assert!(size > 0.005 && size < 0.08, "{word}: {size}");
    }
    // None is none: the sound machine is hardly ever refused.
    assert!(power(&found, "homed-off").unknown.iter().all(|point| point.caught <= 1));
}

/// The demo asked to touch the tip again: lost steps are caught.
#[test]
fn the_tip_again_shows_lost_steps() {
    let mut bench = demo();
    let mut draft = bench.setup.draft().clone();
    draft.touch.tip_again = true;
    bench.setup = Setup::check(draft).unwrap_or_else(|bad| panic!("{bad:?}"));
    let what = FaultQuestion { bench: &bench, each: 60, cycles: 0, pairs: 0 };
    let found = find(&what, &AtomicBool::new(false), &|_| {});
    for word in ["steps-lost-up", "steps-lost-down", "chip-gone"] {
        let power = power(&found, word);
        assert!(size(power.least_unknown).abs() < 0.04, "{word}: {:?}", power.least_unknown);
        assert_eq!(power.caught_by(false), Some(RefusalKind::MovedDuringCycle), "{word}");
    }
}

#[test]
fn single_faults_crash_nothing() {
    let found = found(2, 60_000, 0);
    assert_eq!((found.single.cycles, found.single.of_the_nozzle()), (60_000, 0), "{:?}", found.single);
    let bound = found.single.bound().expect("none seen");
    assert!((bound * 60_000.0 / 2.996 - 1.0).abs() < 0.001);
    assert!(found.single.accepted > 20_000);
}

/// A machine that was told less than there is does crash, and it is counted: the pin's true overtravel is a
/// third of what the file says.
#[test]
fn a_crash_is_seen() {
    let mut bench = demo();
    bench.faults = Faults::new(vec![Fault::DeadSwitch(zdatum::Station::Tip)]);
    let mut cycle = Cycle::<64>::idle();
    cycle.start(&bench.setup, bench.job).expect("room");
    let mut world = World::new(&bench.machine, &bench.faults, 1, 0);
    let draft = bench.setup.draft();
    let room = |overtravel| Room { overtravel, free_height: draft.probe.free_height.to_f64() };
    let (mut told, mut third) = (None, None);
    to_its_end(&mut cycle, &mut world, |world, _, _| {
        told = told.or(world.harm(&room(1.6)));
        third = third.or(world.harm(&room(1.6 / 4.0)));
    });
    assert_eq!((told, third), (None, Some(Harm::TipPastOvertravel)));
    // A tip below the plate's surface is in it.
    world.z = -5.0;
    assert!(world.harm_sideways(&room(1.6)).is_some());
}

/// Whatever is pressed is harmed as soon as it is pressed further than it may be, at each place of a sound
/// cycle.
#[test]
fn what_is_pressed_further_than_it_may_be_is_harmed() {
    let bench = demo();
    let mut cycle = Cycle::<64>::idle();
    cycle.start(&bench.setup, bench.job).expect("room");
    let mut world = World::new(&bench.machine, &bench.faults, 1, 0);
    let room = |overtravel| Room { overtravel, free_height: 4.0 };
    let mut pressed = [0; 2];
    to_its_end(&mut cycle, &mut world, |world, request, _| {
        let Do::Approach { station, .. } = request else { return };
        let truth = &world.truth;
        // The demo does not drift: heights are those of the beginning.
        let (at, by, harm) = match station {
            Station::Tip => (0, truth.tip - world.z, Harm::TipPastOvertravel),
            Station::Shoulder => (1, truth.tip + truth.drop - world.z, Harm::ShoulderPastOvertravel),
            Station::Plate => return,
        };
        if by > 0.001 {
            pressed[at] += 1;
            assert_eq!(world.harm(&room(by + 1e-9)), None, "{station:?}: {by}");
            assert_eq!(world.harm(&room(by - 1e-9)), Some(harm), "{station:?}: {by}");
        }
    });
    assert!(pressed[0] > 5 && pressed[1] > 5, "{pressed:?}");
}

#[test]
fn threads_do_not_show() {
    let bench = demo();
    let what = FaultQuestion { bench: &bench, each: 5, cycles: 5_000, pairs: 3 };
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| find(&what, &AtomicBool::new(false), &|_| {}))
    };
    assert_eq!(on(1), on(3));
}
