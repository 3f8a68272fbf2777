//! What can be wrong with a machine: every fault by itself, over a range of sizes.

use zdatum::Station::{self, Plate, Tip};

use crate::{Fault, Noise};

/// How the size of a fault is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// It is there or not.
    None,
    /// Millimetres.
    Length,
    /// Seconds.
    Time,
}

/// What a fault does to the simulated machine.
#[derive(Clone, Copy)]
enum Makes {
    Fault(fn(f64) -> Fault),
    Noise(fn(&mut Noise, f64)),
}

/// A kind of fault.
#[derive(Clone, Copy)]
pub struct FaultKind {
    /// For programs.
    pub word: &'static str,
    /// For people.
    pub name: &'static str,
    /// How its size is measured.
    pub unit: Unit,
    /// Largest size; its sign is that of all sizes.
    pub largest: f64,
    /// What would prevent it, or show it.
    pub prevented_by: &'static str,
    makes: Makes,
}

impl std::fmt::Debug for FaultKind {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(self.word)
    }
}

impl PartialEq for FaultKind {
    fn eq(&self, other: &Self) -> bool {
        self.word == other.word
    }
}

impl FaultKind {
    /// Adds it to a machine.
    pub(super) fn add(&self, size: f64, faults: &mut Vec<Fault>, noise: &mut Noise) {
        match self.makes {
            Makes::Fault(make) => faults.push(make(size)),
            Makes::Noise(change) => change(noise, size),
        }
    }
}

const BROKEN_DATUM: &str = "a datum switch that opens when pressed shows a broken wire, a second contact a welded one; a pin with more overtravel";
const BROKEN_PLUNGER: &str = "a probe switch that opens when pressed shows a broken wire, a second contact a welded one; free height well above the press that `setup` states";
const TWO_SENSORS: &str =
    "two sensors for the probe, one in the dock and one on the tool, that must disagree";
const MOUNT: &str = "a mount with three-point location";
const WIPER: &str = "a wiper, and a cap over the pin";
const HEIGHT_ENCODER: &str = "an encoder or stall detection on the height axis; the tip again shows it";
const PLATE_BED: &str = "a wiped bed, stops and magnets that pull the plate down, a plate book";
const GAUGE: &str = "a gauge check after any work on the probe, a plate book";
const SLOWER: &str = "touching at the speed at which the trip depth was trimmed; a study of latency";

const fn of(
    word: &'static str,
    name: &'static str,
    largest: f64,
    prevented_by: &'static str,
    make: fn(f64) -> Fault,
) -> FaultKind {
    FaultKind { word, name, unit: Unit::Length, largest, prevented_by, makes: Makes::Fault(make) }
}

const fn plain(
    word: &'static str,
    name: &'static str,
    prevented_by: &'static str,
    make: fn(f64) -> Fault,
) -> FaultKind {
    FaultKind { word, name, unit: Unit::None, largest: 1.0, prevented_by, makes: Makes::Fault(make) }
}

const fn noisy(
    word: &'static str,
    name: &'static str,
    largest: f64,
    prevented_by: &'static str,
    change: fn(&mut Noise, f64),
) -> FaultKind {
    FaultKind { word, name, unit: Unit::Length, largest, prevented_by, makes: Makes::Noise(change) }
}

const fn timed(mut kind: FaultKind) -> FaultKind {
    kind.unit = Unit::Time;
    kind
}

/// The kinds, those with a size first. Sizes are *common practice* and well beyond; what seats lower than the
/// margin may be dragged over the plate, which no floor can prevent (`docs/tables/cycle-faults.md`).
pub const KINDS: [FaultKind; 38] = [
    of("debris-under-plate", "debris under the plate", 0.3, PLATE_BED, Fault::PlateRaised),
    of("plate-not-seated", "plate not seated, lies down later", 0.3, PLATE_BED, Fault::ChipUnderPlunger),
    of("plate-rocks", "plate rocks from touch to touch", 0.2, PLATE_BED, Fault::WildPlate),
    of("chip-on-datum", "chip on the datum switch", 0.2, WIPER, Fault::ChipOnDatum),
    of("chip-gone", "the same, gone after the tip", 0.2, WIPER, Fault::ChipGone),
    of("chip-comes", "chip comes onto it after the tip", 0.2, WIPER, Fault::DatumKnocked),
    noisy(
        "filament",
        "filament on the tip",
        0.2,
        "a brush for the tip, below oozing temperature",
        |noise, by| {
            noise.tip_filament += by;
        },
    ),
    of("seats-low", "probe seats low", 0.4, MOUNT, Fault::SeatedLow),
    of("knocked-down", "probe knocked lower before the plate", 0.3, MOUNT, Fault::ProbeShifted),
    of("knocked-up", "probe knocked higher before the plate", -0.3, MOUNT, Fault::ProbeShifted),
    of("loose-mount", "loose mount", 0.2, MOUNT, Fault::LooseMount),
    of("trip-depth-large", "true trip depth larger than entered", 0.3, GAUGE, Fault::ProbeShifted),
    of("trip-depth-small", "true trip depth smaller than entered", -0.3, GAUGE, Fault::ProbeShifted),
    timed(of("datum-later", "datum switch seen later", 0.020, SLOWER, |by| Fault::SeenLater(Tip, by))),
    timed(of("plunger-later", "probe's switch seen later", 0.020, SLOWER, |by| Fault::SeenLater(Plate, by))),
    of("steps-lost-up", "height steps lost, reads high", 0.3, HEIGHT_ENCODER, Fault::StepsLost),
    of("steps-lost-down", "height steps lost, reads low", -0.3, HEIGHT_ENCODER, Fault::StepsLost),
    timed(noisy("bounces", "switches bounce", 0.2, "a longer lift, or a debounced input", |noise, by| {
        noise.bounce_s += by;
    })),
    of("datum-early", "datum switch fires early now and then", 0.2, BROKEN_DATUM, |by| {
        Fault::FiresEarly(Tip, by)
    }),
    of("plunger-early", "probe's switch fires early now and then", 0.2, BROKEN_PLUNGER, |by| {
        Fault::FiresEarly(Plate, by)
    }),
    noisy("plunger-noisy", "worn plunger: its noise grows", 0.05, "another switch", |noise, by| {
        noise.plate_switch = libm::hypot(noise.plate_switch, by);
    }),
    noisy(
        "not-soaked",
        "not soaked: the frame still grows",
        0.3,
        "waiting; `soak` says how long",
        |noise, by| {
            noise.drift += by;
        },
    ),
    of("homed-off", "homed off", 0.3, "none needed: it cancels", Fault::HomedOff),
    plain("datum-dead", "datum switch dead", BROKEN_DATUM, |_| Fault::DeadSwitch(Tip)),
    plain("plunger-dead", "probe's switch dead", BROKEN_PLUNGER, |_| Fault::DeadSwitch(Plate)),
    plain("datum-sticks", "datum switch sticks", BROKEN_DATUM, |_| Fault::StickingSwitch(Tip)),
    plain("plunger-sticks", "probe's switch sticks", BROKEN_PLUNGER, |_| Fault::StickingSwitch(Plate)),
    plain("datum-held", "datum switch held", BROKEN_DATUM, |_| Fault::HeldSwitch(Tip)),
    plain("crossed", "switches crossed", "plugs that fit one socket only", |_| Fault::CrossedSwitches),
    plain("in-the-way", "something under the plunger at the tip", "a cable guide", |_| {
        Fault::InTheWay(Station::Tip, 0.2)
    }),
    plain("no-plate", "no plate", "a sensor under the plate", |_| Fault::NoPlate),
    plain("fetch-missed", "fetch told done, nothing fetched", TWO_SENSORS, |_| Fault::FetchMissed),
    plain("probe-lost", "probe lost before the plate", TWO_SENSORS, |_| Fault::ProbeLost),
    plain("left-fetched", "probe left on the tool", TWO_SENSORS, |_| Fault::LeftFetched),
    plain("put-back-unconfirmed", "put-back not confirmed", TWO_SENSORS, |_| Fault::PutBackUnconfirmed),
    plain("probe-sensor-dead", "probe's sensor dead", TWO_SENSORS, |_| Fault::ProbeSensorDead),
    plain("move-fails", "a move fails", "none needed: the cycle halts", |_| Fault::MoveFails),
    plain("stopped", "stopped by a person", "none needed", |_| Fault::StopPressed(7)),
];

#[cfg(test)]
mod tests;
