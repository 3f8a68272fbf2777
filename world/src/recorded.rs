//! Touch logs recorded in the simulated world: what an owner would write down, from a machine whose truth is
//! known.

use std::fmt::Write;

use zdatum::cycle::{Do, Event, Seconds};
use zdatum::{Length, Setup, Speed, Station};

use crate::{Machine, Noise, SOUND, World};

/// Longest times are the firmware's; the world has none.
const ANY: Seconds = Seconds(u16::MAX);

/// A recording being made: the world, and the log so far.
struct Recording<'m> {
    setup: &'m Setup,
    world: World<'m>,
    log: String,
}

/// A study: `runs` fetches an hour apart, at each station `rounds` rounds of touches at these speeds in turn.
///
/// Columns run, station, z, time_s and speed. A touch that finds no trip is left out; a sound machine has
/// none.
pub fn study(setup: &Setup, noise: &Noise, seed: u64, runs: u32, rounds: u32, speeds: &[Speed]) -> String {
    let machine = machine(setup, noise);
    let mut recording = Recording::new(setup, &machine, seed, "run,station,z,time_s,speed\n");
    for run in 1..=runs {
        let name = format!("{run},");
        recording.put_back();
        recording.series(&name, Station::Tip, rounds, speeds);
        recording.fetch();
        recording.series(&name, Station::Shoulder, rounds, speeds);
        recording.series(&name, Station::Plate, rounds, speeds);
        recording.world.seconds += 3600.0;
    }
    recording.log
}

/// A soak: the tip touched `touches` times, one every `every` seconds, at the fine speed. Columns station, z
/// and time_s.
pub fn soak(setup: &Setup, noise: &Noise, seed: u64, touches: u32, every: f64) -> String {
    let machine = machine(setup, noise);
    let mut recording = Recording::new(setup, &machine, seed, "station,z,time_s\n");
    let fine = setup.draft().touch.fine_speed;
    recording.go(Station::Tip);
    for touch in 0..touches {
        recording.world.seconds = recording.world.seconds.max(f64::from(touch) * every);
        if let Some((z, time)) = recording.touch(Station::Tip, fine) {
            let _ = writeln!(recording.log, "tip,{z:.6},{time:.1}");
        }
    }
    recording.log
}

/// What no touch shows would only move all of a recording's plate heights alike.
fn machine(setup: &Setup, noise: &Noise) -> Machine {
    Machine::new(setup, &Noise { unseen: 0.0, ..*noise })
}

impl<'m> Recording<'m> {
    fn new(setup: &'m Setup, machine: &'m Machine, seed: u64, header: &str) -> Self {
        Self { setup, world: World::new(machine, &SOUND, seed, 0), log: header.to_owned() }
    }

    fn series(&mut self, run: &str, station: Station, rounds: u32, speeds: &[Speed]) {
        self.go(station);
        for speed in (0..rounds).flat_map(|_| speeds) {
            if let Some((z, time)) = self.touch(station, *speed) {
                let word = station.word();
                let _ = writeln!(self.log, "{run}{word},{z:.6},{time:.1},{speed}");
            }
        }
    }

    fn go(&mut self, station: Station) {
        let places = &self.setup.draft().stations;
        let to = match station {
            Station::Tip => places.tip,
            Station::Shoulder => places.shoulder,
            Station::Plate => places.plate,
        };
        let lowest = self.setup.floors().clear_with_probe;
        self.world.answer(Do::Move { to, lowest, within: ANY });
    }

    fn fetch(&mut self) {
        let lowest = self.setup.floors().clear;
        self.world.answer(Do::Fetch { lowest, within: ANY });
    }

    fn put_back(&mut self) {
        let lowest = Some(self.setup.floors().clear_with_probe);
        self.world.answer(Do::PutBack { lowest, within: ANY });
    }

    /// Height and time of a touch; the carriage then stands a lift above it.
    fn touch(&mut self, station: Station, speed: Speed) -> Option<(f64, f64)> {
        let floor = self.setup.draft().travel.z.low;
        let Event::Tripped { z, .. } = self.world.answer(Do::Approach { station, floor, speed, within: ANY })
        else {
            return None;
        };
        let time = self.world.seconds;
        let to = z.plus(self.setup.draft().touch.lift).unwrap_or(Length::ZERO);
        self.world.answer(Do::Lift { to, within: ANY });
        // Steps are whole; the firmware's number has rounded them.
        let step = f64::from(self.setup.step().mm()) / f64::from(self.setup.step().steps());
        Some(((z.to_f64() / step).round() * step, time))
    }
}
