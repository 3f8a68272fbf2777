//! The machine: it owns the motion, answers each request once, and lifts the tool where nothing new is asked
//! any more.

use std::time::{Duration, Instant};

use crate::port::{Cut, Port};
use crate::safety::{self, Watched};
use zdatum::cycle::{Event, Fault};
use zdatum_loop_wire::{Answer, Ask, Body, Frame, VERSION, Words};
use zdatum_world::World;
use zdatum_world::engine::Bench;

/// What happens in the middle of a run, at the request of this number (from 1; one more than the last is the
/// outcome).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Strike {
    pub(crate) at: u32,
    pub(crate) what: What,
}

/// What happens.
#[derive(Clone, Copy, Debug)]
pub(crate) enum What {
    /// The line is cut for so many quarters of the dead-man's time: neither, or one direction alone, still
    /// passes.
    Cut { quarters: u32, to_board: bool, from_board: bool },
    /// The board restarts, before or after the request has been carried out.
    Restart { carried_out: bool },
}

/// One run as the machine has seen it.
#[derive(Clone, Debug)]
pub(crate) struct Served {
    /// The outcome that the firmware told.
    pub(crate) words: Words,
    /// Whether the strike came.
    pub(crate) struck: bool,
    /// Whether the dead-man lifted the tool.
    pub(crate) dead: bool,
    /// Whether the outcome is of a session that only ended what had broken off.
    pub(crate) broken_off: bool,
}

struct Machine<'a> {
    port: &'a mut Port,
    watched: Watched<'a>,
    run: u32,
    session: u32,
    /// Number of the last request that was carried out, and what was answered.
    done: u32,
    answered: Option<Frame>,
    /// When something new was asked last.
    asked: Instant,
    dead_man: Duration,
    dead: bool,
    broken_off: bool,
    strike: Option<Strike>,
    struck: bool,
}

/// Serves the firmware through one run, to the outcome it tells.
pub(crate) fn served(
    port: &mut Port,
    bench: &Bench,
    run: u32,
    dead_man: Duration,
    strike: Option<Strike>,
) -> Result<Served, String> {
    let world = World::new(&bench.machine, &bench.faults, bench.seed, u64::from(run));
    let mut machine = Machine {
        port,
        watched: Watched::new(world, &bench.setup),
        run,
        session: 16 * run + 1,
        done: 0,
        answered: None,
        asked: Instant::now(),
        dead_man,
        dead: false,
        broken_off: false,
        strike,
        struck: false,
    };
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(120) {
        let heard = machine.port.hear(Duration::from_millis(20))?;
        machine.watch_the_time();
        if let Some(words) = heard.map(|frame| machine.take(frame)).transpose()?.flatten() {
            safety::at_the_end(&machine.watched, &words, machine.dead)?;
            let Machine { struck, dead, broken_off, .. } = machine;
            return Ok(Served { words, struck, dead, broken_off });
        }
    }
    Err("no outcome within two minutes".into())
}

impl Machine<'_> {
    /// The dead-man. Repeated requests do not appease it: a firmware that hears no answer gives up, and the
    /// tool must be lifted by then.
    fn watch_the_time(&mut self) {
        if self.done > 0 && !self.dead && self.asked.elapsed() > self.dead_man {
            self.dead = true;
            if !cfg!(feature = "broken-dead-man") {
                self.watched.lift_by_itself();
            }
        }
    }

    /// Takes a frame; the words of the outcome where it tells one.
    fn take(&mut self, frame: Frame) -> Result<Option<Words>, String> {
        match frame.body {
            Body::Hello(VERSION) => self.begin()?,
            Body::Hello(other) => return Err(format!("firmware of protocol {other}, this is {VERSION}")),
            Body::Ask(ask) if frame.session == self.session => self.asked(frame.seq, ask)?,
            Body::Outcome(words) if frame.session == self.session => {
                if self.strikes(self.done + 1, true)? {
                    return Ok(None);
                }
                self.port.say(&Frame { session: self.session, seq: frame.seq, body: Body::Taken })?;
                return Ok(Some(words));
            }
            // Of the last run: its outcome was taken and the word of it lost.
            Body::Outcome(_) => {
                self.port.say(&Frame { session: frame.session, seq: frame.seq, body: Body::Taken })?;
            }
            _ => {}
        }
        Ok(None)
    }

    fn begin(&mut self) -> Result<(), String> {
        if self.done > 0 {
            // It has forgotten the session: the tool is lifted, and the next session only ends what broke
            // off.
            self.watched.lift_by_itself();
            (self.session, self.done, self.answered) = (self.session + 1, 0, None);
            (self.dead, self.broken_off) = (false, true);
        }
        let body = Body::Start {
            version: VERSION,
            case: self.run,
            ready: true,
            dead_man: self.dead_man.as_millis() as u16,
            broken_off: self.broken_off,
            stop: self.watched.world.stop_is_pressed(),
        };
        self.port.say(&Frame { session: self.session, seq: 0, body })
    }

    fn asked(&mut self, seq: u32, ask: Ask) -> Result<(), String> {
        if !cfg!(feature = "broken-sequence") {
            if seq == self.done {
                // The answer was lost; nothing is carried out twice.
                return self.answered.as_ref().map_or(Ok(()), |answered| self.port.say(answered));
            }
            if seq != self.done + 1 {
                return Ok(());
            }
        }
        if self.strikes(seq, false)? {
            return Ok(());
        }
        (self.done, self.asked) = (seq, Instant::now());
        let request = ask.request().ok_or("a request out of range")?;
        let event =
            if self.dead { Event::Failed(Fault::Position) } else { self.watched.carried_out(request)? };
        let body = Body::Answer { answer: Answer::of(event), stop: self.watched.world.stop_is_pressed() };
        let answer = Frame { session: self.session, seq, body };
        self.answered = Some(answer.clone());
        if self.strikes(seq, true)? {
            return Ok(());
        }
        self.port.say(&answer)
    }

    /// Whether the board restarts now; a line is cut in passing.
    fn strikes(&mut self, seq: u32, done: bool) -> Result<bool, String> {
        let Some(strike) = self.strike.filter(|strike| strike.at == seq && !self.struck) else {
            return Ok(false);
        };
        match strike.what {
            What::Cut { quarters, to_board, from_board } if done => {
                self.struck = true;
                let until = Instant::now() + self.dead_man * quarters / 4;
                self.port.cut = Some(Cut { until, to_board, from_board });
                Ok(false)
            }
            What::Restart { carried_out } if done == carried_out => {
                self.struck = true;
                self.port.restart()?;
                Ok(true)
            }
            _ => Ok(false),
        }
    }
}
