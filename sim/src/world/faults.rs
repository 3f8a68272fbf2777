//! Physical causes of refusals: what can be wrong with a machine beside its noise.

use super::World;
use zdatum::cycle::Event;
use zdatum::{Length, Station};

/// One thing that is wrong throughout a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// A station's switch never closes.
    DeadSwitch(Station),
    /// A station's switch is closed all the time: pressed, or wired wrong.
    HeldSwitch(Station),
    /// A station's switch stays closed once it has tripped.
    StickingSwitch(Station),
    /// The edges of the two switches arrive crossed.
    CrossedSwitches,
    /// No plate is fitted.
    NoPlate,
    /// The plate stands so much higher: debris under it or a second plate, mm. The nozzle meets it there.
    PlateRaised(f64),
    /// A chip under the plunger alone, mm: the nozzle will not meet it.
    ChipUnderPlunger(f64),
    /// The probe seats so much lower, mm.
    SeatedLow(f64),
    /// A fetch reports success with nothing on the tool.
    FetchMissed,
    /// A fetch cannot be confirmed.
    FetchUnconfirmed,
    /// A power cut left the probe on the tool.
    LeftFetched,
    /// Where the probe is cannot be told.
    ProbeSensorDead,
    /// A move is not completed.
    MoveFails,
    /// Homed off: every height is so much off, mm.
    HomedOff(f64),
    /// The probe's mount is loose: it hangs so much lower at every other touch, mm.
    LooseMount(f64),
    /// The plate does not lie down: it stands so much higher at every other touch, mm.
    WildPlate(f64),
    /// The height axis loses so much while the probe is put back: every later height reads higher by it, mm.
    StepsLost(f64),
    /// A knock while the probe is fetched: the datum switch stands so much higher from then on, mm.
    DatumKnocked(f64),
    /// A person presses stop once so many touches have been made.
    StopPressed(u32),
}

/// All that is wrong in a run; usually nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// Nothing wrong.
    pub const NONE: Self = Self(Vec::new());

    /// These.
    pub fn new(faults: Vec<Fault>) -> Self {
        Self(faults)
    }

    #[inline]
    pub(super) fn any(&self) -> bool {
        !self.0.is_empty()
    }

    /// Whether exactly this is wrong.
    pub(super) fn contain(&self, fault: Fault) -> bool {
        self.0.contains(&fault)
    }

    fn has(&self, which: impl Fn(&Fault) -> bool) -> bool {
        self.0.iter().any(which)
    }

    fn total(&self, size: impl Fn(&Fault) -> f64) -> f64 {
        self.0.iter().map(size).sum()
    }

    pub(super) fn tip_offset(&self) -> f64 {
        self.total(|fault| if let Fault::HomedOff(by) = fault { *by } else { 0.0 })
    }

    pub(super) fn rise_offset(&self) -> f64 {
        self.total(|fault| match fault {
            Fault::PlateRaised(by) | Fault::ChipUnderPlunger(by) => *by,
            _ => 0.0,
        })
    }

    /// What the plunger met and the nozzle will not.
    pub(super) fn landing_hidden(&self) -> f64 {
        self.total(|fault| if let Fault::ChipUnderPlunger(by) = fault { *by } else { 0.0 })
    }

    pub(super) fn seat_offset(&self) -> f64 {
        self.total(|fault| if let Fault::SeatedLow(by) = fault { *by } else { 0.0 })
    }

    /// How much higher a station trips than it would on a sound machine, where that changes within a run.
    fn moving_offset(&self, station: Station, world: &World<'_>) -> f64 {
        let every_other = |by: &f64| if world.touches % 2 == 1 { *by } else { 0.0 };
        self.total(|fault| match fault {
            Fault::LooseMount(by) if station != Station::Tip => every_other(by),
            Fault::WildPlate(by) if station == Station::Plate => every_other(by),
            Fault::DatumKnocked(by) if station != Station::Plate && world.was_fetched => *by,
            _ => 0.0,
        }) + world.steps_lost
    }

    pub(super) fn steps_lost(&self) -> f64 {
        self.total(|fault| if let Fault::StepsLost(by) = fault { *by } else { 0.0 })
    }

    pub(super) fn sticks(&self, station: Station) -> bool {
        self.has(|fault| matches!(fault, Fault::StickingSwitch(stuck) if same_switch(*stuck, station)))
    }
}

/// Tip and shoulder press the same switch.
fn same_switch(a: Station, b: Station) -> bool {
    (a == Station::Plate) == (b == Station::Plate)
}

impl World<'_> {
    /// Whether a person presses stop now.
    #[inline]
    pub fn stop_is_pressed(&self) -> bool {
        self.faulty && self.faults.has(|f| matches!(f, Fault::StopPressed(after) if self.touches >= *after))
    }

    pub(super) fn fault_offset(&self, station: Station) -> f64 {
        self.faults.moving_offset(station, self)
    }

    /// What an approach meets on a machine with faults, where it differs from a sound one.
    pub(super) fn faulty_approach(&mut self, station: Station, floor: Length, height: f64) -> Option<Event> {
        let probe_hangs = self.fetched || station == Station::Tip;
        let held = self.faults.has(|f| matches!(f, Fault::HeldSwitch(s) if same_switch(*s, station)));
        if held {
            return Some(Event::AlreadyTripped);
        }
        let dead = self.faults.has(|f| matches!(f, Fault::DeadSwitch(s) if same_switch(*s, station)));
        let missing = station == Station::Plate && self.faults.contain(Fault::NoPlate);
        if dead || missing || !probe_hangs || height < floor.to_f64() {
            self.seconds += (self.z - floor.to_f64()).max(0.0) / 2.0;
            self.z = floor.to_f64();
            return Some(Event::FloorReached);
        }
        if self.faults.contain(Fault::CrossedSwitches) {
            self.z = height;
            return Some(Event::WrongSwitch);
        }
        None
    }
}
