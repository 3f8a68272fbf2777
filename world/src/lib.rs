//! What is true: a simulated machine that answers the cycle's requests in virtual time.
//!
//! The world knows nothing of landings and, [`engine`] apart, calls no code that computes one. It holds true
//! heights in double precision, lets switches trip late and noisily, and reports what a firmware would: a
//! height in whole motor steps, latched at the edge.
//!
//! Each effect stands in its own file: [`truth`] (geometry and what is drawn once a run), [`switches`]
//! (noise, latency, steps, wild touches), `contact` (movement differential and bounce), `seating`, `plates`,
//! [`filament`], [`heat`], `unshown` (what touches do not show), [`clock`] and [`faults`] (what else can be wrong).
//!
//! [`engine`] drives the core's own cycle in it, once or by the million; [`questions`] is what that is done
//! for. All that runs a million times is in this package, which is built for speed; the desk tool around it
//! is built to be built quickly.

#![forbid(unsafe_code)]

pub mod clock;
mod contact;
pub mod distributions;
pub mod engine;
pub mod faults;
pub mod filament;
pub mod harm;
pub mod heat;
pub mod noise;
mod normal;
pub mod picked;
mod plates;
pub mod questions;
pub mod random;
pub mod recorded;
mod seating;
pub mod switches;
#[cfg(test)]
mod tests;
pub mod tilt;
pub mod truth;
mod unshown;
pub mod words;

pub use faults::{Fault, Faults, SOUND};
pub use harm::{Harm, Room};
pub use noise::{Noise, Shape};
pub use tilt::Tilt;
pub use truth::{Machine, Truth};

use random::Random;
use unshown::Unshown;
use zdatum::Station;
use zdatum::cycle::{Do, Event, ProbeState, Temperatures};

/// Where the tool head is, as far as the world needs it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Over {
    /// Away from all stations.
    Elsewhere,
    /// Over a station.
    Station(Station),
}

/// One run's world.
#[derive(Clone, Debug)]
pub struct World<'m> {
    machine: &'m Machine,
    faults: &'m Faults,
    /// Whether there is any.
    faulty: bool,
    /// What was drawn for this run.
    pub truth: Truth,
    random: Random,
    /// True carriage height, mm.
    pub z: f64,
    /// Seconds since the cycle's start.
    pub seconds: f64,
    over: Over,
    fetched: bool,
    /// Whether the probe has been fetched in this run.
    was_fetched: bool,
    /// How much higher than at the start every height reads, mm.
    steps_lost: f64,
    /// Filament left on the tip, mm.
    filament: f64,
    /// Whether a lift can leave a switch closed.
    may_stay_closed: bool,
    /// Whether approaches meet more than the geometry: a growing frame, faults, or moved draws.
    unusual: bool,
    /// Height at which the switch tripped that was pressed last, mm.
    pressed: f64,
    /// Touches made so far.
    pub touches: u32,
    /// Touches made before this series.
    before: u32,
    /// True height at which the last touch met its switch, mm.
    pub met: f64,
    tilted: Option<tilt::Tilted>,
    /// By how much the next reading is moved, mm.
    moved: f64,
    /// Whether there is anything that touches do not show.
    has_unshown: bool,
    unshown: Unshown,
}

impl<'m> World<'m> {
    /// The world of one run: its stream of random numbers follows from seed and run alone.
    pub fn new(machine: &'m Machine, faults: &'m Faults, seed: u64, run: u64) -> Self {
        let mut random = Random::of_run(seed, run);
        let truth = Truth::draw(machine, faults, &mut random);
        let has_unshown = Unshown::is_any(&machine.noise);
        let unshown = if has_unshown { Unshown::draw(&machine.noise, &mut random) } else { Unshown::NONE };
        Self {
            machine,
            faults,
            faulty: faults.any(),
            truth,
            random,
            // Homed off, the carriage's own height is off as well.
            z: machine.rest + faults.tip_offset(),
            seconds: 0.0,
            over: Over::Elsewhere,
            fetched: faults.contain(Fault::LeftFetched),
            was_fetched: false,
            steps_lost: 0.0,
            filament: machine.noise.tip_filament,
            unusual: faults.any() || machine.noise.drift != 0.0 || has_unshown,
            may_stay_closed: faults.any() || contact::matters(&machine.noise),
            pressed: contact::FREE,
            touches: 0,
            before: 0,
            met: 0.0,
            tilted: None,
            moved: 0.0,
            has_unshown,
            unshown,
        }
    }

    /// The world of one run with its draws moved; where not `moved`, the same world as [`new`](Self::new)
    /// that keeps the ratio alone.
    pub fn tilted(
        machine: &'m Machine,
        faults: &'m Faults,
        seed: u64,
        run: u64,
        tilt: Tilt,
        moved: bool,
    ) -> Self {
        let mut world = Self::new(machine, faults, seed, run);
        let mut again = Random::of_run(seed, run);
        world.tilted = Some(tilt::Tilted::start(tilt, moved, machine, &mut world.truth, &mut again));
        world.unusual = true;
        world
    }

    /// ln of the density that the draws so far came from where they are moved, over the nominal one; 0 in a
    /// world that is not tilted.
    pub fn log_ratio(&self) -> f64 {
        self.tilted.map_or(0.0, |tilted| tilted.log_ratio)
    }

    /// Carries a request out and answers as a firmware would.
    #[inline(never)]
    pub fn answer(&mut self, request: Do) -> Event {
        match request {
            Do::Approach { station, floor, speed, .. } => self.approach(station, floor, speed),
            Do::Lift { to, .. } => self.lift(to),
            Do::Move { to, lowest, .. } => {
                if self.faulty && self.faults.contain(Fault::MoveFails) {
                    return Event::Failed(zdatum::cycle::Fault::Move);
                }
                self.rise(switches::height(lowest));
                self.pressed = contact::FREE;
                self.before = self.touches;
                if self.has_unshown {
                    self.unshown.begin_series(&self.machine.noise, &mut self.random);
                }
                let from = self.over;
                self.over = self.machine.station_at(to);
                self.seconds += self.machine.way(from, self.over);
                Event::Done
            }
            Do::Fetch { lowest, .. } => self.fetch(switches::height(lowest)),
            Do::PutBack { lowest, .. } => self.put_back(lowest.map(switches::height)),
            Do::FindProbe { .. } => Event::Probe(self.probe_state()),
            Do::Home { .. } => {
                self.seconds += clock::HOME;
                self.z = self.machine.rest + self.faults.tip_offset();
                self.over = Over::Elsewhere;
                Event::Done
            }
            Do::Level { .. } => {
                self.seconds += clock::LEVEL;
                Event::Done
            }
            // The campaign's machine stands at its touch temperature.
            Do::Warm { .. } | Do::Halt | Do::Finished => Event::Done,
        }
    }

    /// Answers [`Do::Lift`].
    #[inline(always)]
    pub fn lift(&mut self, to: zdatum::Length) -> Event {
        self.rise(switches::height(to));
        let open = !self.may_stay_closed || self.is_open_after_lift();
        Event::Lifted { open }
    }

    /// The true landing at the first layer, `print_delay` after the cycle's end, in the cycle's coordinates.
    pub fn true_landing(&self) -> f64 {
        let at = self.seconds + self.machine.noise.print_delay_s;
        let landing = self.truth.landing + heat::drift(&self.machine.noise, at);
        landing + self.unshown.cyclic(&self.machine.noise, landing) + self.steps_lost
    }

    /// Whether the probe hangs on the tool, whatever its sensor says.
    pub fn probe_is_fetched(&self) -> bool {
        self.fetched
    }

    /// True height at which a station's switch trips, the frame's growth aside.
    #[inline(always)]
    fn trip_height(&self, station: Station) -> f64 {
        let truth = &self.truth;
        match station {
            Station::Tip => truth.tip + self.filament,
            Station::Shoulder => truth.tip + truth.drop,
            Station::Plate => truth.tip + truth.rise + truth.drop + truth.trip_depth_seen,
        }
    }

    /// Answers [`Do::Approach`].
    #[inline(always)]
    pub fn approach(&mut self, station: Station, floor: zdatum::Length, speed: zdatum::Speed) -> Event {
        let mut height = self.trip_height(station);
        let mut own = None;
        let at = self.machine.switches.at(speed, &mut own);
        if self.unusual {
            match self.unusual_height(station, floor, height, at.per_v) {
                Ok(seen) => height = seen,
                Err(event) => return event,
            }
        }
        if self.z <= height {
            return Event::AlreadyTripped;
        }
        let reading = self.machine.switches.read(station, height, at, &self.truth, &mut self.random);
        // So noisy a switch closes before the carriage has moved.
        if reading >= self.z {
            return Event::AlreadyTripped;
        }
        let z = self.machine.steps.nearest(reading);
        if z < floor {
            return self.reach_floor(floor, at.per_v);
        }
        self.touches += 1;
        // What moves the reading moves no switch.
        let met = height - self.moved;
        (self.met, self.pressed) = (met, met);
        self.seconds += (self.z - reading) * at.per_v;
        self.z = (reading - self.machine.stop).max(switches::height(floor));
        if station == Station::Tip {
            self.filament = filament::after_touch(self.filament, &self.machine.noise);
        }
        let at = if self.has_unshown {
            self.unshown.readings(&self.machine.touched, station)
        } else {
            Temperatures::default()
        };
        Event::Tripped { z, at }
    }

    /// What an approach meets where the frame grows or something is wrong: a height, or what becomes of it.
    #[cold]
    #[inline(never)]
    fn unusual_height(
        &mut self,
        station: Station,
        floor: zdatum::Length,
        height: f64,
        per_v: f64,
    ) -> Result<f64, Event> {
        let mut height = height;
        if self.machine.noise.drift != 0.0 {
            // The frame grows on while the carriage comes down: what counts is its growth at the trip.
            let way = self.z - height - heat::drift(&self.machine.noise, self.seconds);
            let trip = self.seconds + way.max(0.0) * per_v;
            height += heat::drift(&self.machine.noise, trip);
        }
        if self.has_unshown {
            height += self.unshown.shift + self.unshown.cyclic(&self.machine.noise, height);
        }
        if self.faulty {
            height += self.fault_offset(station);
            if let Some(event) = self.faulty_approach(station, floor, height, per_v) {
                return Err(event);
            }
            // The carriage goes on meanwhile; what the switch met stays.
            height -= self.faults.seen_later(station) / per_v;
        }
        if let Some(tilted) = &mut self.tilted {
            let by = tilted.touch(station, self.touches - self.before, &self.random);
            self.moved = by * self.machine.switches.fine_sd().0(station);
            height += self.moved;
        }
        Ok(height)
    }

    /// Nothing tripped: no touch was made, and the carriage goes no lower.
    #[cold]
    fn reach_floor(&mut self, floor: zdatum::Length, per_v: f64) -> Event {
        let floor = switches::height(floor);
        self.seconds += (self.z - floor).max(0.0) * per_v;
        self.z = self.z.min(floor);
        self.pressed = contact::FREE;
        Event::FloorReached
    }

    fn fetch(&mut self, lowest: f64) -> Event {
        self.rise(lowest);
        self.seconds += clock::FETCH;
        self.over = Over::Elsewhere;
        if self.faulty {
            if self.faults.contain(Fault::FetchUnconfirmed) {
                return Event::Failed(zdatum::cycle::Fault::Probe);
            }
            if self.faults.contain(Fault::FetchMissed) {
                return Event::Done;
            }
        }
        self.fetched = true;
        self.was_fetched = true;
        self.truth.seat(self.machine, self.faults, &mut self.random);
        Event::Done
    }

    fn put_back(&mut self, lowest: Option<f64>) -> Event {
        if let Some(lowest) = lowest {
            self.rise(lowest);
        }
        self.seconds += clock::FETCH;
        self.over = Over::Elsewhere;
        if self.faults.contain(Fault::PutBackUnconfirmed) {
            return Event::Failed(zdatum::cycle::Fault::Probe);
        }
        self.fetched = false;
        self.steps_lost = self.faults.steps_lost();
        Event::Done
    }

    fn probe_state(&self) -> ProbeState {
        if self.faults.contain(Fault::ProbeSensorDead) {
            ProbeState::Unknown
        } else if self.fetched {
            ProbeState::Fetched
        } else {
            ProbeState::PutBack
        }
    }

    fn rise(&mut self, to: f64) {
        if to > self.z {
            self.seconds += (to - self.z) * clock::SECONDS_PER_MM_UP;
            self.z = to;
        }
    }

    fn is_open_after_lift(&self) -> bool {
        let at_plate = self.over == Over::Station(Station::Plate);
        let station = if at_plate { Station::Plate } else { Station::Tip };
        let noise = &self.machine.noise;
        !self.faults.sticks(station) && contact::is_open(noise, station, self.pressed, self.z)
    }
}
