//! What is true in the model: geometry, switches, the carriage. No noise; every height a whole number of
//! bits.
//!
//! Sideways the worst is taken in a crowded world: at the tip's station a hanging probe stands over the
//! plate, at the shoulder's the tip does; at the plate's, and wherever the carriage stands otherwise, both
//! do. In a roomy world nothing but the part that is meant meets anything, so that less is noticed.

use zdatum::cycle::{Do, Event, Fault, ProbeState, Temperatures};
use zdatum::setup::{Place, Places};
use zdatum::{Length, Speed, Station};

use super::tight::{late, length};

/// Lengths in bits of 2⁻¹⁶ mm, latencies in bits of 2⁻³² s.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Geometry {
    /// T: carriage height at which the tip trips the datum switch.
    pub tip: i64,
    /// d.
    pub drop: i64,
    /// r = L − T.
    pub rise: i64,
    /// How far the plunger's end stands below the shoulder when its contact closes.
    pub trip_depth: i64,
    /// f.
    pub free_height: i64,
    /// How far past its trip the datum switch's pin may be pressed.
    pub overtravel: i64,
    /// Clearance that sideways moves keep.
    pub margin: i64,
    /// How far the carriage runs on once a trip is seen.
    pub stop: i64,
    /// By how much the datum switch's trip is seen late.
    pub datum_latency: i64,
    /// The same for the probe's switch.
    pub plate_latency: i64,
    /// What rounding to steps adds to every height told.
    pub rounding: i64,
    /// Whether the plate reaches below whatever else hangs beside the part that is meant.
    pub crowded: bool,
}

impl Geometry {
    /// L: the carriage height at which the tip meets the plate.
    pub const fn landing(&self) -> i64 {
        self.tip + self.rise
    }
}

/// One of the two switches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Switch {
    /// Fixed to the frame.
    Datum,
    /// The probe's.
    Plunger,
}

impl Switch {
    /// The switch that a station awaits.
    pub const fn of(station: Station) -> Self {
        match station {
            Station::Tip | Station::Shoulder => Switch::Datum,
            Station::Plate => Switch::Plunger,
        }
    }
}

/// What the carriage stands over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Over {
    Station(Station),
    Elsewhere,
}

/// Where the probe is in truth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Probe {
    /// In its dock.
    Dock,
    /// On the tool.
    Tool,
    /// Fallen off.
    Lost,
}

/// What must not happen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Harm {
    /// The tip presses the plate.
    TipIntoPlate,
    /// The datum switch is pressed past its overtravel.
    PinPastOvertravel,
    /// The shoulder presses the plate further than the setup warned of.
    ShoulderIntoPlate,
    /// A sideways move nearer than the margin to what the tool could catch.
    SidewaysTooLow,
}

/// The state of one switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
struct Contact {
    dead: bool,
    dead_once: bool,
    stuck_closed: bool,
    /// Closes at this height on the way down, whatever the geometry; for the present approach only.
    early_at: Option<i64>,
}

/// A machine in the model.
#[derive(Clone, Debug)]
pub struct World {
    /// The geometry as it stands; shifts move it.
    pub geometry: Geometry,
    /// Where the probe is.
    pub probe: Probe,
    /// Carriage height.
    pub z: i64,
    /// How far beyond what the setup warned of is harm: the press of the shoulder that was announced.
    announced_press: i64,
    places: Places,
    over: Over,
    plate_fitted: bool,
    /// Debris on the pin (up) or a pin that sticks low (down).
    pin_shift: i64,
    pin_shift_until_moved: bool,
    /// Sideways the carriage is not where it is taken to be.
    astray: bool,
    /// How far heights were lost in all; a move may be lower by as much.
    lost_height: i64,
    /// Filament on the tip: each touch of it leaves three quarters.
    filament: i64,
    datum: Contact,
    plunger: Contact,
    harm: Option<(Harm, i64)>,
}

impl World {
    /// A machine at rest, its probe in the dock or left on the tool.
    pub fn new(geometry: Geometry, places: Places, announced_press: i64, probe: Probe) -> Self {
        let mut world = Self {
            geometry,
            probe,
            z: 0,
            announced_press: announced_press.max(0),
            places,
            over: Over::Elsewhere,
            plate_fitted: true,
            pin_shift: 0,
            pin_shift_until_moved: false,
            astray: false,
            lost_height: 0,
            filament: 0,
            datum: Contact::default(),
            plunger: Contact::default(),
            harm: None,
        };
        world.z = world.clear();
        world
    }

    /// What harm has been done and how deep; the first.
    pub const fn harm(&self) -> Option<(Harm, i64)> {
        self.harm
    }

    /// A switch that never closes again.
    pub fn kill(&mut self, switch: Switch) {
        self.contact(switch).dead = true;
    }

    /// A switch that does not close at this request.
    pub fn kill_once(&mut self, switch: Switch) {
        self.contact(switch).dead_once = true;
    }

    /// A switch that never opens again.
    pub fn jam(&mut self, switch: Switch) {
        self.contact(switch).stuck_closed = true;
    }

    /// A switch that closes at a height of this approach without being pressed.
    pub fn close_early(&mut self, switch: Switch, at: i64) {
        self.contact(switch).early_at = Some(at);
    }

    /// The plate is taken away.
    pub fn remove_plate(&mut self) {
        self.plate_fitted = false;
    }

    /// The pin trips higher (debris) or lower (sticking), until the carriage goes elsewhere or for good.
    pub fn shift_pin(&mut self, by: i64, until_moved: bool) {
        self.pin_shift = by;
        self.pin_shift_until_moved = until_moved;
    }

    /// The probe sits lower in its mount by so much.
    pub fn slip_probe(&mut self, by: i64) {
        self.geometry.drop += by;
        // Beyond the declared drops the announced room shrinks by as much.
        self.lost_height += by.abs();
    }

    /// The carriage is lower than it is taken to be by so much: everything is met that much higher.
    pub fn lose_height(&mut self, by: i64) {
        self.geometry.tip += by;
        self.lost_height += by.abs();
    }

    /// Sideways the carriage is astray from now on: over the plate.
    pub fn go_astray(&mut self) {
        self.astray = true;
    }

    /// Filament on the tip.
    pub fn ooze(&mut self, thickness: i64) {
        self.filament = thickness;
    }

    /// Does as asked and tells the truth.
    pub fn execute(&mut self, request: Do) -> Event {
        let event = match request {
            Do::FindProbe { .. } => Event::Probe(self.probe_state()),
            Do::Home { .. } => {
                // The machine's own routine; the lowest that it may leave the carriage at.
                self.over = Over::Elsewhere;
                let (tip, landing) = (self.geometry.tip, self.geometry.landing());
                self.z = tip.max(landing) + self.geometry.margin;
                Event::Done
            }
            Do::Level { lowest, .. } => self.travel(lowest, Over::Elsewhere),
            Do::Warm { .. } | Do::Halt | Do::Finished => Event::Done,
            Do::Fetch { lowest, .. } => {
                let _ = self.travel(lowest, Over::Elsewhere);
                match self.probe {
                    Probe::Lost => Event::Failed(Fault::Probe),
                    Probe::Dock | Probe::Tool => {
                        self.probe = Probe::Tool;
                        self.travel(lowest, Over::Elsewhere)
                    }
                }
            }
            Do::PutBack { lowest, .. } => {
                if let Some(lowest) = lowest {
                    let _ = self.travel(lowest, Over::Elsewhere);
                }
                if self.probe == Probe::Lost {
                    return Event::Failed(Fault::Probe);
                }
                self.probe = Probe::Dock;
                Event::Done
            }
            Do::Move { to, lowest, .. } => {
                let over = self.place(to);
                self.travel(lowest, over)
            }
            Do::Approach { station, floor, speed, .. } => self.approach(station, bits(floor), speed),
            Do::Lift { to, .. } => {
                self.z = self.z.max(bits(to));
                let switch = match self.over {
                    Over::Station(station) => Switch::of(station),
                    Over::Elsewhere => Switch::Plunger,
                };
                Event::Lifted { open: !self.is_closed(switch) }
            }
        };
        for contact in [&mut self.datum, &mut self.plunger] {
            contact.dead_once = false;
            contact.early_at = None;
        }
        event
    }

    /// Down until a switch is seen closed or the floor is reached.
    fn approach(&mut self, station: Station, floor: i64, speed: Speed) -> Event {
        let awaited = Switch::of(station);
        let other = if awaited == Switch::Datum { Switch::Plunger } else { Switch::Datum };
        if self.is_closed(awaited) || self.is_closed(other) {
            return Event::AlreadyTripped;
        }
        let start = self.z;
        let seen = |switch| self.seen_at(switch, start, speed).filter(|z| *z >= floor);
        let (awaited, other) = (seen(awaited), seen(other));
        let first = awaited.max(other);
        self.z = first.map_or(floor, |seen| (seen - self.geometry.stop).max(floor)).min(start);
        self.weigh();
        if self.over_pin() == Some(Station::Tip) && self.z <= self.trip_of_pin().unwrap_or(i64::MIN) {
            self.filament -= self.filament >> 2;
        }
        match first {
            None => Event::FloorReached,
            Some(_) if other > awaited => Event::WrongSwitch,
            Some(z) => Event::Tripped { z: length(z + self.geometry.rounding), at: Temperatures::default() },
        }
    }

    /// At what height a switch's closing is seen on the way down from `start`.
    fn seen_at(&self, switch: Switch, start: i64, speed: Speed) -> Option<i64> {
        let (contact, latency) = match switch {
            Switch::Datum => (self.datum, self.geometry.datum_latency),
            Switch::Plunger => (self.plunger, self.geometry.plate_latency),
        };
        if contact.dead || contact.dead_once {
            return None;
        }
        let pressed =
            self.trip_height(switch).map(|z| z.min(start) - late(i64::from(speed.to_bits()), latency));
        contact.early_at.max(pressed)
    }

    /// The height at which a switch closes, where anything can press it.
    fn trip_height(&self, switch: Switch) -> Option<i64> {
        match switch {
            Switch::Datum => self.trip_of_pin(),
            Switch::Plunger => {
                let g = &self.geometry;
                self.probe_over_plate().then_some(g.landing() + g.drop + g.trip_depth)
            }
        }
    }

    fn trip_of_pin(&self) -> Option<i64> {
        let g = &self.geometry;
        let tip = g.tip + self.pin_shift;
        match self.over_pin()? {
            Station::Tip => Some(tip + self.filament),
            _ => Some(tip + g.drop),
        }
    }

    /// What stands over the pin: the tip, the shoulder of a hanging probe, or nothing.
    fn over_pin(&self) -> Option<Station> {
        match self.over {
            _ if self.astray => None,
            Over::Station(Station::Tip) => Some(Station::Tip),
            Over::Station(Station::Shoulder) if self.probe == Probe::Tool => Some(Station::Shoulder),
            _ => None,
        }
    }

    fn probe_over_plate(&self) -> bool {
        let over = match self.over {
            _ if self.astray => true,
            Over::Station(Station::Plate) => true,
            Over::Station(Station::Shoulder) => false,
            _ => self.geometry.crowded,
        };
        over && self.plate_fitted && self.probe == Probe::Tool
    }

    fn tip_over_plate(&self) -> bool {
        let over = self.astray || self.geometry.crowded && self.over != Over::Station(Station::Tip);
        over && self.plate_fitted
    }

    fn is_closed(&self, switch: Switch) -> bool {
        let contact = match switch {
            Switch::Datum => self.datum,
            Switch::Plunger => self.plunger,
        };
        // A probe that does not hang cannot tell.
        if switch == Switch::Plunger && self.probe != Probe::Tool {
            return false;
        }
        let pressed =
            !contact.dead && !contact.dead_once && self.trip_height(switch).is_some_and(|z| self.z < z);
        contact.stuck_closed || pressed
    }

    /// Notes what the carriage's height does to plate and pin.
    fn weigh(&mut self) {
        let g = self.geometry;
        if self.tip_over_plate() {
            self.note(Harm::TipIntoPlate, g.landing() - self.z);
        }
        if let Some(trip) = self.trip_of_pin() {
            // The pin's lowest place does not move with its trip, unless debris lies on it.
            let lowest = trip - self.pin_shift.min(0) - g.overtravel;
            self.note(Harm::PinPastOvertravel, lowest - self.z);
        }
        if self.probe_over_plate() {
            self.note(Harm::ShoulderIntoPlate, g.landing() + g.drop - self.z - self.announced_press);
        }
    }

    /// Rises to `lowest` where lower, then goes sideways.
    fn travel(&mut self, lowest: Length, to: Over) -> Event {
        self.z = self.z.max(bits(lowest));
        let missing = self.clear() - self.z - self.lost_height;
        self.note(Harm::SidewaysTooLow, missing);
        self.over = to;
        if self.pin_shift_until_moved {
            (self.pin_shift, self.pin_shift_until_moved) = (0, false);
        }
        Event::Done
    }

    /// The lowest height at which nothing on the tool comes nearer than the margin to plate or pin.
    fn clear(&self) -> i64 {
        let g = &self.geometry;
        let highest = if self.plate_fitted { g.tip.max(g.landing()) } else { g.tip };
        highest + g.margin + if self.probe == Probe::Tool { g.drop + g.free_height } else { 0 }
    }

    fn note(&mut self, harm: Harm, depth: i64) {
        if depth > 0 && self.harm.is_none() {
            self.harm = Some((harm, depth));
        }
    }

    fn place(&self, to: Place) -> Over {
        let places = &self.places;
        match () {
            () if to == places.tip => Over::Station(Station::Tip),
            () if to == places.shoulder => Over::Station(Station::Shoulder),
            () if to == places.plate => Over::Station(Station::Plate),
            () => Over::Elsewhere,
        }
    }

    const fn probe_state(&self) -> ProbeState {
        match self.probe {
            Probe::Dock => ProbeState::PutBack,
            Probe::Tool => ProbeState::Fetched,
            Probe::Lost => ProbeState::Unknown,
        }
    }

    fn contact(&mut self, switch: Switch) -> &mut Contact {
        match switch {
            Switch::Datum => &mut self.datum,
            Switch::Plunger => &mut self.plunger,
        }
    }
}

fn bits(length: Length) -> i64 {
    i64::from(length.to_bits())
}
