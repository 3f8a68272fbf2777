//! The machine: it owns the motion, answers each request once, and lifts the tool where the line is silent.

use std::time::{Duration, Instant};

use crate::port::{Port, Trouble};
use zdatum::cycle::{Do, Event, Fault, ProbeState, Seconds};
use zdatum::{Setup, Station};
use zdatum_boards_cases::numbers::Numbers;
use zdatum_loop_wire::{Answer, Body, Frame, VERSION, Words, draft, words};
use zdatum_sim::run::Bench;
use zdatum_sim::run::cycle::run_block_seen;
use zdatum_sim::world::{Fault as Wrong, Faults, Noise, World};

/// Silence after which the machine stops by itself and lifts.
const DEAD_MAN: Duration = Duration::from_millis(700);

/// How a run ended.
pub(crate) enum Ended {
    /// In one session.
    Whole(Words),
    /// The line or the firmware broke off.
    BrokenOff(Words),
}

pub(crate) fn bench(run: u32, seed: u64) -> Bench {
    let mut numbers = Numbers::of(run, 0x42);
    let setup = Setup::check(draft(run)).expect("an invented machine passes its check");
    let mut bench = Bench::new(setup, &Noise::default(), seed);
    if numbers.one_in(2) {
        let station = [Station::Tip, Station::Shoulder, Station::Plate][numbers.below(3) as usize];
        let fault = match numbers.below(16) {
            0 => Wrong::DeadSwitch(station),
            1 => Wrong::HeldSwitch(station),
            2 => Wrong::StickingSwitch(station),
            3 => Wrong::CrossedSwitches,
            4 => Wrong::InTheWay(station, 0.3),
            5 => Wrong::StaleLatch(0.2),
            6 => Wrong::NoPlate,
            7 => Wrong::PlateRaised(0.4),
            8 => Wrong::FetchMissed,
            9 => Wrong::FetchUnconfirmed,
            10 => Wrong::PutBackUnconfirmed,
            11 => Wrong::LeftFetched,
            12 => Wrong::ProbeSensorDead,
            13 => Wrong::MoveFails,
            14 => Wrong::LooseMount(0.05),
            _ => Wrong::StopPressed(numbers.below(12)),
        };
        bench.faults = Faults::new(vec![fault]);
    }
    bench
}

/// The words of the same run by the host's own cycle.
pub(crate) fn reference(bench: &Bench, run: u64) -> Result<Words, String> {
    let mut seen = None;
    run_block_seen(bench, run..run + 1, |_, outcome| {
        seen = outcome.and_then(|seen| words(seen.outcome, seen.touches))
    })
    .map_err(|fault| fault.to_string())?;
    seen.ok_or_else(|| "the host's cycle has no outcome".into())
}

pub(crate) fn served(
    port: &mut Port,
    bench: &Bench,
    run: u32,
    trouble: Trouble,
    at: u32,
) -> Result<Ended, String> {
    let mut world = World::new(&bench.machine, &bench.faults, bench.seed, u64::from(run));
    let clear = bench.setup.floors().clear_with_probe;
    let mut session = 2 * run + 1;
    let (mut done, mut cached, mut dead, mut broken) = (0_u32, None::<Frame>, false, false);
    let (mut heard_at, begun, mut struck) = (Instant::now(), Instant::now(), false);
    loop {
        if begun.elapsed() > Duration::from_secs(30) {
            return Err("no end within 30 s".into());
        }
        let heard = port.hear(Duration::from_millis(50))?;
        if heard.is_some() {
            heard_at = Instant::now();
        } else if heard_at.elapsed() > DEAD_MAN && done > 0 && !dead {
            lift_by_itself(&mut world, clear);
            dead = true;
        }
        let Some(frame) = heard else { continue };
        match frame.body {
            Body::Hello(VERSION) => {
                if done > 0 {
                    // It has forgotten the session: the tool is lifted, and the next one only ends what broke off.
                    lift_by_itself(&mut world, clear);
                    (session, done, cached, dead, broken) = (session + 1, 0, None, false, true);
                }
                let stop = world.stop_is_pressed();
                let body = Body::Start { version: VERSION, case: run, ready: true, broken_off: broken, stop };
                port.say(&Frame { session, seq: 0, body })?;
            }
            Body::Hello(other) => return Err(format!("firmware of protocol {other}, this is {VERSION}")),
            Body::Ask(ask) if frame.session == session => {
                if frame.seq == done && !cfg!(feature = "broken-sequence") {
                    if let Some(answer) = &cached {
                        port.say(answer)?;
                    }
                    continue;
                }
                if frame.seq != done + 1 && !cfg!(feature = "broken-sequence") {
                    continue;
                }
                done = frame.seq;
                let request = ask.request().ok_or("a request out of range")?;
                let event =
                    if dead { Event::Failed(Fault::Position) } else { carried_out(&mut world, request)? };
                let body = Body::Answer { answer: Answer::of(event), stop: world.stop_is_pressed() };
                let answer = Frame { session, seq: done, body };
                if done == at && !struck {
                    struck = true;
                    if trouble == Trouble::Restart {
                        port.restart()?;
                        continue;
                    }
                    if trouble == Trouble::Cut {
                        // Nothing passes either way, for longer than either side's patience.
                        std::thread::sleep(Duration::from_millis(1_500));
                        port.lose();
                        if !cfg!(feature = "broken-dead-man") {
                            lift_by_itself(&mut world, clear);
                        }
                        (dead, broken) = (true, true);
                        continue;
                    }
                }
                port.say(&answer)?;
                cached = Some(answer);
            }
            Body::Outcome(words) if frame.session == session => {
                port.say(&Frame { session, seq: frame.seq, body: Body::Taken })?;
                safe(&mut world, &words, dead, clear)?;
                return Ok(if broken { Ended::BrokenOff(words) } else { Ended::Whole(words) });
            }
            // Of the last run: its outcome was taken and the word of it lost.
            Body::Outcome(_) => {
                port.say(&Frame { session: frame.session, seq: frame.seq, body: Body::Taken })?
            }
            _ => {}
        }
    }
}

/// The dead-man: stops, and rises to where it may go sideways.
fn lift_by_itself(world: &mut World<'_>, clear: zdatum::Length) {
    let _ = world.answer(Do::Lift { to: clear, within: Seconds(60) });
}

/// Carries out a request, and sees that nothing was driven lower than it allows.
fn carried_out(world: &mut World<'_>, request: Do) -> Result<Event, String> {
    let before = world.z;
    let event = world.answer(request);
    let lowest = match request {
        Do::Approach { floor, .. } => floor.to_f64().min(before),
        _ => before,
    };
    if world.z < lowest - 1e-9 {
        return Err(format!("{request:?} went down to {} mm", world.z));
    }
    Ok(event)
}

/// The tool is lifted where the outcome or the dead-man says so, and the probe is where the outcome says.
fn safe(world: &mut World<'_>, words: &Words, dead: bool, clear: zdatum::Length) -> Result<(), String> {
    let ending = words.first().copied().unwrap_or(0);
    if (dead || ending != 3) && world.z < clear.to_f64() - 1e-9 {
        return Err(format!(
            "ending {ending}: the tool is left at {} mm, below {} mm",
            world.z,
            clear.to_f64()
        ));
    }
    let probe = world.answer(Do::FindProbe { within: Seconds(10) });
    if ending == 1 && probe == Event::Probe(ProbeState::Fetched) {
        return Err("put back, the outcome says; the probe is on the tool".into());
    }
    Ok(())
}
