//! An invented machine: T = 0.6, d = 6.1, r = 0.1, t = 0.55, so S = 6.7, P = 7.35 and L = 0.7.

use core::num::NonZeroU32;

use crate::budget::Coverage;
use crate::cycle::{Cycle, Job};
use crate::series::{Centre, Pooled};
use crate::setup::{
    Accept, DatumSwitch, Delay, Draft, Follows, Grows, LengthRange, Place, Places, Plates, Probe, Setup,
    Studied, Touch, Travel,
};
use crate::units::{Growth, Latency, Length, Speed, Temperature, Uncertainty, Warming};

use super::script::run;

pub(super) const ROOM: usize = 6;

pub(super) fn mm(text: &str) -> Length {
    Length::parse(text).expect("a length")
}

pub(super) fn u(text: &str) -> Uncertainty {
    Uncertainty::parse(text).expect("an uncertainty")
}

pub(super) fn celsius(text: &str) -> Temperature {
    Temperature::parse(text).expect("a temperature")
}

pub(super) fn range(low: &str, high: &str) -> LengthRange {
    LengthRange { low: mm(low), high: mm(high) }
}

pub(super) fn study(s: &str) -> Option<Pooled> {
    Some(Pooled { s: u(s), dof: NonZeroU32::new(40).expect("above 0") })
}

/// One settling touch, two to four fine ones.
pub(super) fn draft() -> Draft {
    let place = |x: &str, y: &str| Place { x: mm(x), y: mm(y) };
    let delay = |latency: &str| Delay {
        latency: Latency::parse(latency).expect("a latency"),
        latency_u: Latency::parse("0.0001").expect("a latency"),
    };
    Draft {
        travel: Travel { x: range("0", "200"), y: range("0", "200"), z: range("-3", "40"), steps: (512, 1) },
        stations: Places {
            tip: place("190", "190"),
            shoulder: place("190", "160"),
            plate: place("100", "100"),
        },
        datum_switch: DatumSwitch {
            tip_height: range("0.125", "1.125"),
            overtravel: mm("2.5"),
            delay: delay("0.0004"),
        },
        probe: Probe {
            trip_depth: mm("0.55"),
            trip_depth_u: u("0.004"),
            trimmed_at_speed: Speed::parse("1.5").expect("a speed"),
            drop: range("5.5", "6.75"),
            free_height: mm("1.25"),
            delay: delay("0.0012"),
        },
        plates: Plates { rise: range("-0.5", "0.75"), margin: mm("0.5") },
        touch: Touch {
            first_speed: Speed::parse("6").expect("a speed"),
            fine_speed: Speed::parse("1.5").expect("a speed"),
            lift: mm("0.75"),
            stop: mm("0.08"),
            settle: 1,
            least: 2,
            most: 4,
            band: mm("0.02"),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: false,
        },
        growth: heapless::Vec::new(),
        soak_left: Length::ZERO,
        unseen: Uncertainty::ZERO,
        accept: Accept {
            landing: range("-1.25", "1.75"),
            shift: mm("0.2"),
            expanded_u: u("0.025"),
            coverage: Coverage::P95,
        },
        pooled: Studied {
            tip: study("0.0015"),
            shoulder: study("0.0015"),
            plate: study("0.003"),
            ..Studied::default()
        },
    }
}

/// The machine, changed.
pub(super) fn with(change: impl FnOnce(&mut Draft)) -> Setup {
    let mut draft = draft();
    change(&mut draft);
    Setup::check(draft).unwrap_or_else(|bad| panic!("the setup must pass: {bad}"))
}

pub(super) fn setup() -> Setup {
    with(|_| {})
}

/// A part whose temperature follows something.
pub(super) fn part(follows: Follows) -> Grows {
    Grows {
        follows,
        rate: Growth::parse("0.3").expect("a growth"),
        rate_u: Growth::parse("0.02").expect("a growth"),
        touch: celsius("150"),
        print: celsius("220"),
        delta_u: Warming::ZERO,
        trimmed: Warming::ZERO,
    }
}

/// Homed and level already.
pub(super) const READY: Job = Job { homed: true, levelled: true, ..Job::full() };

pub(super) fn cycle<'s>(setup: &'s Setup, job: Job) -> Cycle<'s, ROOM> {
    Cycle::new(setup, job).expect("room for the touches")
}

/// The carriage stands over the tip's station.
pub(super) fn at_tip(setup: &Setup) -> Cycle<'_, ROOM> {
    let mut cycle = cycle(setup, READY);
    run(&mut cycle, "find probe | put back\n move to tip | done");
    cycle
}

/// The tip has been touched twice at 0.6; the probe is to be fetched.
pub(super) fn at_fetch(setup: &Setup) -> Cycle<'_, ROOM> {
    let mut cycle = at_tip(setup);
    run(&mut cycle, TIP);
    cycle
}

/// The carriage stands over the shoulder's station.
pub(super) fn at_shoulder(setup: &Setup) -> Cycle<'_, ROOM> {
    let mut cycle = at_fetch(setup);
    run(&mut cycle, "fetch | done\n move to shoulder | done");
    cycle
}

/// The carriage stands over the plate's station; the drop is 6.1.
pub(super) fn at_plate(setup: &Setup) -> Cycle<'_, ROOM> {
    let mut cycle = at_shoulder(setup);
    run(&mut cycle, SHOULDER);
    run(&mut cycle, "move to plate | done");
    cycle
}

/// All three are touched; the probe is to be put back.
pub(super) fn at_put_back(setup: &Setup) -> Cycle<'_, ROOM> {
    let mut cycle = at_plate(setup);
    run(&mut cycle, PLATE);
    cycle
}

/// Two fine touches that agree, at each station.
pub(super) const TIP: &str = "
    approach tip | 0.6
    lift         | open
    approach tip | 0.6
    lift         | open
    approach tip | 0.6
    lift         | open
    approach tip | 0.6
    lift         | open";
pub(super) const SHOULDER: &str = "
    approach shoulder | 6.7
    lift              | open
    approach shoulder | 6.7
    lift              | open
    approach shoulder | 6.7
    lift              | open
    approach shoulder | 6.7
    lift              | open";
pub(super) const PLATE: &str = "
    approach plate | 7.35
    lift           | open
    approach plate | 7.35
    lift           | open
    approach plate | 7.35
    lift           | open
    approach plate | 7.35
    lift           | open";
