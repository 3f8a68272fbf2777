//! A script: one request a line, `what is asked | what is answered`.
//!
//! What is asked may be cut short: `approach tip` stands for `approach tip down to 0.002 at 6 within 11 s`.
//! In a golden trace it may not. Answers:
//!
//! | answer | event |
//! |---|---|
//! | `done` | the request was carried out |
//! | `put back`, `fetched`, `unknown` | where the probe is |
//! | `0.6`, `0.6 tool 150 bed 60 chamber 40` | tripped at that height, with what was read |
//! | `floor`, `already`, `wrong` | the floor was reached; a switch was closed before; the other one closed |
//! | `open`, `closed` | lifted, and the switch |
//! | `failed move` | a fault, by its name |
//! | `cancel` | no event: a person asks to stop |

extern crate std;

use std::format;
use std::string::String;

use crate::cycle::{Cycle, Do, Event, Fault, ProbeState, Temperatures};
use crate::setup::Setup;

use super::machine::{celsius, mm};

/// Runs a script whose requests may be cut short; panics where the cycle asks for something else.
pub(super) fn run<const N: usize>(cycle: &mut Cycle<'_, N>, script: &str) {
    steps(cycle, script, |asked, line| asked.starts_with(line));
}

/// Runs a script that names each request in full.
pub(super) fn run_golden<const N: usize>(cycle: &mut Cycle<'_, N>, script: &str) {
    steps(cycle, script, |asked, line| asked == line);
}

fn steps<const N: usize>(cycle: &mut Cycle<'_, N>, script: &str, fits: impl Fn(&str, &str) -> bool) {
    for line in script.lines().map(str::trim).filter(|line| !line.is_empty()) {
        let (wanted, answer) = line.split_once('|').unwrap_or((line, ""));
        let asked = text(cycle);
        assert!(fits(&asked, wanted.trim()), "the script has\n    {line}\nthe cycle asks\n    {asked}");
        match answer.trim() {
            "" => {}
            "cancel" => cycle.cancel(),
            answer => {
                let event = event(answer);
                assert_eq!(cycle.handle(event), Ok(()), "{line}");
            }
        }
    }
}

/// An answer.
pub(super) fn event(text: &str) -> Event {
    match text {
        "done" => Event::Done,
        "put back" => Event::Probe(ProbeState::PutBack),
        "fetched" => Event::Probe(ProbeState::Fetched),
        "unknown" => Event::Probe(ProbeState::Unknown),
        "floor" => Event::FloorReached,
        "already" => Event::AlreadyTripped,
        "wrong" => Event::WrongSwitch,
        "open" => Event::Lifted { open: true },
        "closed" => Event::Lifted { open: false },
        _ => match text.strip_prefix("failed ") {
            Some(name) => Event::Failed(fault(name)),
            None => tripped(text),
        },
    }
}

fn fault(name: &str) -> Fault {
    Fault::ALL
        .into_iter()
        .find(|fault| format!("{fault:?}").eq_ignore_ascii_case(&name.replace(' ', "")))
        .unwrap_or_else(|| panic!("no fault is called {name}"))
}

fn tripped(text: &str) -> Event {
    let mut words = text.split_whitespace();
    let z = mm(words.next().expect("a height"));
    let mut at = Temperatures::default();
    while let Some(name) = words.next() {
        let reading = words.next().map(celsius);
        match name {
            "tool" => at.tool = reading,
            "bed" => at.bed = reading,
            "chamber" => at.chamber = reading,
            other => panic!("no sensor is called {other}"),
        }
    }
    Event::Tripped { z, at }
}

/// What the cycle asks for, in full.
pub(super) fn text<const N: usize>(cycle: &Cycle<'_, N>) -> String {
    match cycle.poll() {
        Do::FindProbe { within } => format!("find probe within {} s", within.0),
        Do::Home { within } => format!("home within {} s", within.0),
        Do::Level { lowest, within } => format!("level above {lowest} within {} s", within.0),
        Do::Warm { tool, within } => format!("warm to {tool} within {} s", within.0),
        Do::Fetch { lowest, within } => format!("fetch above {lowest} within {} s", within.0),
        Do::PutBack { lowest: Some(lowest), within } => {
            format!("put back above {lowest} within {} s", within.0)
        }
        Do::PutBack { lowest: None, within } => format!("put back not homed within {} s", within.0),
        Do::Move { to, lowest, within } => {
            let places = cycle.setup.map(Setup::draft).expect("a setup").stations;
            let to = [(places.tip, "tip"), (places.shoulder, "shoulder"), (places.plate, "plate")]
                .into_iter()
                .find_map(|(place, name)| (place == to).then_some(name))
                .expect("a station");
            format!("move to {to} above {lowest} within {} s", within.0)
        }
        Do::Approach { station, floor, speed, within } => {
            format!("approach {} down to {floor} at {speed} within {} s", station.word(), within.0)
        }
        Do::Lift { to, within } => format!("lift to {to} within {} s", within.0),
        Do::Halt => String::from("halt"),
        Do::Finished => String::from("finished"),
    }
}
