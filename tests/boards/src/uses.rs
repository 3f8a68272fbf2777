//! What a firmware uses of the core, for the flash that it costs; each holds what the one before it holds.

use zdatum::cycle::{Cycle, Do, Event, Job, Outcome};
use zdatum::trim::{Check, Depth, Weighing, trim};
use zdatum::{Assessment, Setup};

use crate::machine::{self, ROOM};
use crate::{given, keep};

/// What every image here has: an owner's draft. Weighed apart, to be taken off the others.
pub fn nothing() {
    keep(given(machine::draft(given(false))));
    keep(machine::recorded(given(0)));
}

/// A setup checked.
pub fn setup() {
    keep(machine::recorded(given(0)));
    if let Ok(setup) = Setup::check(given(machine::draft(given(false)))) {
        keep(given(&setup));
    }
}

/// Touches to landing and verdict; the check of the setup belongs to it, since nothing comes without.
pub fn landing() {
    if let Ok(setup) = Setup::check(given(machine::draft(given(false)))) {
        let stations = [0, 1, 2].map(|station| given(machine::recorded(given(station))));
        let [tip, shoulder, plate] = &stations;
        let mut seen = given(Assessment::open());
        keep(given(&mut seen).judge(given(&setup), given([tip, shoulder, plate]), None));
    }
}

/// The same and gauge checks.
pub fn landing_and_trim() {
    landing();
    let probe = machine::draft(given(false)).probe;
    let known = Depth { t: probe.trip_depth, u: probe.trip_depth_u, speed: probe.trimmed_at_speed };
    let check = Check {
        wish: zdatum::Length::ZERO,
        too_high: given(probe.trip_depth),
        made_with: probe.trip_depth,
        speed: probe.trimmed_at_speed,
        gauge_u: given(probe.trip_depth_u),
        feel_u: given(probe.trip_depth_u),
        landing_u: given(probe.trip_depth_u),
    };
    keep(trim(given(&known), given(&[]), given(&probe.delay), given(&check), given(Weighing::Weighed)));
}

/// The touch cycle, by `poll` and `handle`.
pub fn cycle() {
    if let Ok(setup) = Setup::check(given(machine::draft(given(false)))) {
        keep(machine::recorded(given(0)));
        let mut cycle = given(Cycle::<ROOM>::idle());
        keep(given(&mut cycle).start(given(&setup), given(Job::full())));
        while given(&cycle).poll() != Do::Finished {
            keep(given(&mut cycle).handle(given(Event::Done)));
        }
        given(&mut cycle).cancel();
        let mut outcome = given(Outcome::open());
        keep(given(&cycle).judge(given(&mut outcome)));
    }
}
