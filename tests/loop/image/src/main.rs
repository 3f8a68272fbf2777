//! A firmware: it owns the cycle, and reaches its machine over a serial line alone. See `docs/boards.md`.

#![no_std]
#![no_main]

mod line;

use line::Line;
use zdatum::Setup;
use zdatum::cycle::{Cycle, Do, Event, Fault, Job, Kind};
use zdatum_loop_wire::{Ask, Body, Frame, VERSION, draft, words};

zdatum_boards::image!(firmware);

/// Touches per station, as many as the invented machines ask for.
const ROOM: usize = 9;

fn firmware() {
    let mut line = Line::new();
    let mut last = 0;
    loop {
        // Sessions count up: a start that comes twice, or late, begins nothing.
        let heard = line.exchange(&Frame { session: 0, seq: 0, body: Body::Hello(VERSION) }, 1, |frame| {
            frame.session > last && matches!(frame.body, Body::Start { version: VERSION, .. })
        });
        let Some(Frame {
            session, body: Body::Start { case, ready, dead_man, broken_off, stop, .. }, ..
        }) = heard
        else {
            continue;
        };
        last = session;
        let Ok(setup) = Setup::check(draft(case)) else { continue };
        let job = Job { homed: ready, levelled: ready, kind: Kind::Full { last: None } };
        let Ok(mut cycle) = Cycle::<ROOM>::new(&setup, job) else { continue };
        let begun = Begun { session, patience: line::patience(dead_man), broken_off };
        run(&mut cycle, &mut line, &begun, stop);
        let Some(words) = cycle.outcome().and_then(|outcome| words(&outcome, cycle.touches())) else {
            continue;
        };
        let told = Frame { session, seq: u32::MAX, body: Body::Outcome(words) };
        let _ = line.exchange(&told, line::PATIENCE_AT_END, |frame| {
            frame.session == session && matches!(frame.body, Body::Taken)
        });
    }
}

/// What a session began with.
struct Begun {
    session: u32,
    patience: u32,
    broken_off: bool,
}

/// Drives the cycle to its end, whatever the line does.
fn run(cycle: &mut Cycle<'_, ROOM>, line: &mut Line, begun: &Begun, mut stop: bool) {
    let session = begun.session;
    let (mut seq, mut stopped, mut dead) = (0_u32, false, false);
    loop {
        if (stop || begun.broken_off && seq == 1) && !stopped {
            stopped = true;
            cycle.cancel();
        }
        let request = cycle.poll();
        let Some(ask) = Ask::of(request) else { break };
        seq = seq.saturating_add(1);
        // Once the line is given up, nothing more is asked of the machine: its dead-man has lifted the tool.
        let heard = if dead {
            None
        } else {
            line.exchange(&Frame { session, seq, body: Body::Ask(ask) }, begun.patience, |frame| {
                let of_it = frame.seq == seq || cfg!(feature = "broken-sequence");
                frame.session == session && of_it && matches!(frame.body, Body::Answer { .. })
            })
        };
        let event = match heard {
            Some(Frame { body: Body::Answer { answer, stop: pressed }, .. }) => {
                stop |= pressed;
                answer.event()
            }
            _ => {
                dead = true;
                Event::Failed(Fault::TimedOut)
            }
        };
        if cycle.handle(event).is_err() {
            // An answer of another kind: the machine is not to be trusted with a position.
            if matches!(request, Do::Finished) || cycle.handle(Event::Failed(Fault::Position)).is_err() {
                break;
            }
        }
    }
}
