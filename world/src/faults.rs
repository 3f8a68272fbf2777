//! Physical causes of refusals: what can be wrong with a machine beside its noise.

use super::World;
use zdatum::cycle::{Event, Temperatures};
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
    /// At a station something presses the other switch this much before its own trips, mm: a cable under the
    /// plunger, a clip on the plate.
    InTheWay(Station, f64),
    /// The latch still holds an edge from further up, this much above the approach's start, mm.
    StaleLatch(f64),
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
    /// The probe is not where it should be after putting back: fallen off, or still on the tool.
    PutBackUnconfirmed,
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
    /// A chip on the datum switch's pin, under tip and shoulder alike, mm thick.
    ChipOnDatum(f64),
    /// The same, gone after the tip's touches.
    ChipGone(f64),
    /// A switch fires so much too early at every third touch of a cycle, mm.
    FiresEarly(Station, f64),
    /// A switch is seen tripped so much later than the setup says, s.
    SeenLater(Station, f64),
    /// After the shoulder's touches the probe hangs so much lower, or its plunger trips so much earlier than
    /// was entered, mm.
    ProbeShifted(f64),
    /// The probe falls off after the shoulder's touches.
    ProbeLost,
    /// A person presses stop once so many touches have been made.
    StopPressed(u32),
}

/// All that is wrong in a run; usually nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Faults(Vec<Fault>);

/// Nothing is wrong.
pub static SOUND: Faults = Faults::NONE;

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

    pub(super) fn total(&self, size: impl Fn(&Fault) -> f64) -> f64 {
        self.0.iter().map(size).sum()
    }

    pub(super) fn tip_offset(&self) -> f64 {
        self.total(|fault| if let Fault::HomedOff(by) = fault { *by } else { 0.0 })
    }

    /// How much higher a station trips than it would on a sound machine, where that changes within a run.
    fn moving_offset(&self, station: Station, world: &World<'_>) -> f64 {
        let touches = world.touches;
        let knocked = self.total(|fault| match fault {
            Fault::DatumKnocked(by) if station != Station::Plate && world.was_fetched => *by,
            _ => 0.0,
        });
        let moving = self.loose_mount(station, touches) + self.wild_plate(station, touches) + knocked;
        moving
            + self.chips(station, world.was_fetched)
            + self.early(station, touches)
            + self.probe_shifted(station)
            + world.steps_lost
    }

    pub(super) fn steps_lost(&self) -> f64 {
        self.total(|fault| if let Fault::StepsLost(by) = fault { *by } else { 0.0 })
    }

    pub(super) fn sticks(&self, station: Station) -> bool {
        self.has(|fault| matches!(fault, Fault::StickingSwitch(stuck) if same_switch(*stuck, station)))
    }
}

/// What is there at every other touch.
pub(super) fn every_other(by: f64, touches: u32) -> f64 {
    if touches % 2 == 1 { by } else { 0.0 }
}

/// Tip and shoulder press the same switch.
pub(super) fn same_switch(a: Station, b: Station) -> bool {
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
    pub(super) fn faulty_approach(
        &mut self,
        station: Station,
        floor: Length,
        height: f64,
        per_v: f64,
    ) -> Option<Event> {
        let lost = station == Station::Plate && self.faults.contain(Fault::ProbeLost);
        let probe_hangs = (self.fetched && !lost) || station == Station::Tip;
        let held = self.faults.has(|f| matches!(f, Fault::HeldSwitch(s) if same_switch(*s, station)));
        if held {
            return Some(Event::AlreadyTripped);
        }
        let dead = self.faults.has(|f| matches!(f, Fault::DeadSwitch(s) if same_switch(*s, station)));
        let missing = station == Station::Plate && self.faults.contain(Fault::NoPlate);
        if dead || missing || !probe_hangs || height < floor.to_f64() {
            return Some(self.reach_floor(floor, per_v));
        }
        let stale = self.faults.total(|f| if let Fault::StaleLatch(by) = f { *by } else { 0.0 });
        if stale > 0.0 {
            let z = self.machine.steps.nearest(self.z + stale);
            return Some(Event::Tripped { z, at: Temperatures::default() });
        }
        let before = self.faults.total(|f| match f {
            Fault::InTheWay(at, by) if *at == station => *by,
            _ => 0.0,
        });
        if before > 0.0 || self.faults.contain(Fault::CrossedSwitches) {
            let met = (height + before).min(self.z);
            self.seconds += (self.z - met) * per_v;
            self.z = (met - self.machine.stop).max(floor.to_f64());
            return Some(Event::WrongSwitch);
        }
        None
    }
}
