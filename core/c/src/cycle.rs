//! The touch cycle (`core/docs/cycle.md`): poll, carry out, handle, until nothing more is asked for.

use zdatum::cycle::{Cycle, Do, Event, Fault, Job, Kind, Known, Outcome, ProbeState, Seconds, Temperatures};
use zdatum::{Expected, LastSpan, Length, Setup, Temperature, Variance};

use crate::codes::{
    ZDATUM_NO_ROOM, ZDATUM_NOT_FINISHED, ZDATUM_NOT_STARTED, ZDATUM_OUT_OF_RANGE, ZDATUM_OUT_OF_TURN,
    zdatum_code,
};
use crate::memory::{No, Storage, cleared, code, flag, read, start, started, started_mut, writable, write};
use crate::outcome::zdatum_outcome;
use crate::series::{ZDATUM_TOUCHES, number_of};
use crate::setup::zdatum_setup;

/// Nothing: the cycle is over and its outcome is final.
pub const ZDATUM_DO_FINISHED: u8 = 0;
/// Tell whether the tool carries the probe; nothing moves. Answer ZDATUM_EVENT_PROBE.
pub const ZDATUM_DO_FIND_PROBE: u8 = 1;
/// Home all axes, sideways only once risen or homed to a safe height. Answer ZDATUM_EVENT_DONE.
pub const ZDATUM_DO_HOME: u8 = 2;
/// Level the axes or the bed; the machine's own levelling touches apart, never below `height`. Answer
/// ZDATUM_EVENT_DONE.
pub const ZDATUM_DO_LEVEL: u8 = 3;
/// Bring the tool to within a few kelvin of `tool`; a hotter one cools down to it. Answer ZDATUM_EVENT_DONE.
pub const ZDATUM_DO_WARM: u8 = 4;
/// Fetch the probe and make sure of it; never below `height` on the way. Answer ZDATUM_EVENT_DONE.
pub const ZDATUM_DO_FETCH: u8 = 5;
/// Put the probe back and make sure of it; never below `height` on the way. With `has_height` 0 nothing has
/// been homed: do it without lowering the tool. Answer ZDATUM_EVENT_DONE.
pub const ZDATUM_DO_PUT_BACK: u8 = 6;
/// Rise to `height` where lower (never sink), then go sideways to `x`, `y`. Answer ZDATUM_EVENT_DONE.
pub const ZDATUM_DO_MOVE: u8 = 7;
/// Go down at `speed` until a switch trips or the floor `height` is reached, both switches watched from
/// before the start. Answer ZDATUM_EVENT_TRIPPED, _FLOOR_REACHED, _ALREADY_TRIPPED or _WRONG_SWITCH.
pub const ZDATUM_DO_APPROACH: u8 = 8;
/// Rise straight up to `height` (never sink). Answer ZDATUM_EVENT_LIFTED.
pub const ZDATUM_DO_LIFT: u8 = 9;
/// No further motion: ask a person. Answer ZDATUM_EVENT_DONE.
pub const ZDATUM_DO_HALT: u8 = 10;

/// What to do now. Fields that a kind does not name are 0.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_request {
    /// The height that the kind's description names, 2^-16 mm.
    pub height: i32,
    /// ZDATUM_DO_MOVE: where to, across, 2^-16 mm.
    pub x: i32,
    /// ZDATUM_DO_MOVE: where to, along, 2^-16 mm.
    pub y: i32,
    /// ZDATUM_DO_APPROACH: speed on the way down, 2^-16 mm/s.
    pub speed: u32,
    /// ZDATUM_DO_WARM: temperature of the tool, 2^-16 degrees Celsius.
    pub tool: i32,
    /// The longest time that it may take, in seconds; 0: no limit. The firmware watches it.
    pub within: u16,
    /// ZDATUM_DO_FINISHED to ZDATUM_DO_HALT.
    pub kind: u8,
    /// ZDATUM_DO_APPROACH: whose switch is awaited, ZDATUM_TIP, ZDATUM_SHOULDER or ZDATUM_PLATE.
    pub station: u8,
    /// 1 where `height` is set.
    pub has_height: u8,
}

/// The request has been carried out.
pub const ZDATUM_EVENT_DONE: u8 = 1;
/// Where the probe is: `detail` is ZDATUM_PROBE_PUT_BACK, ZDATUM_PROBE_FETCHED or ZDATUM_PROBE_UNKNOWN.
pub const ZDATUM_EVENT_PROBE: u8 = 2;
/// The awaited switch tripped at the latched height `z`; `readings` and temperatures as far as there are
/// sensors.
pub const ZDATUM_EVENT_TRIPPED: u8 = 3;
/// The floor was reached and nothing tripped.
pub const ZDATUM_EVENT_FLOOR_REACHED: u8 = 4;
/// A switch that has to be open was closed before the approach; nothing moved.
pub const ZDATUM_EVENT_ALREADY_TRIPPED: u8 = 5;
/// The other station's switch closed; the carriage has stopped.
pub const ZDATUM_EVENT_WRONG_SWITCH: u8 = 6;
/// The carriage has been lifted: `detail` is 1 where the station's switch is open again, else 0.
pub const ZDATUM_EVENT_LIFTED: u8 = 7;
/// The request could not be carried out: `detail` is ZDATUM_FAULT_MOVE to ZDATUM_FAULT_PROBE.
pub const ZDATUM_EVENT_FAILED: u8 = 8;

/// The probe is in its dock.
pub const ZDATUM_PROBE_PUT_BACK: u8 = 1;
/// The probe is on the tool.
pub const ZDATUM_PROBE_FETCHED: u8 = 2;
/// Where the probe is, is unknown.
pub const ZDATUM_PROBE_UNKNOWN: u8 = 3;

/// A move was not completed; nothing moves any more.
pub const ZDATUM_FAULT_MOVE: u8 = 1;
/// The carriage's position is no longer known; nothing moves any more.
pub const ZDATUM_FAULT_POSITION: u8 = 2;
/// The time limit passed; nothing moves any more.
pub const ZDATUM_FAULT_TIMED_OUT: u8 = 3;
/// Homing failed; nothing moves any more.
pub const ZDATUM_FAULT_HOME: u8 = 4;
/// Levelling failed; the position is still known.
pub const ZDATUM_FAULT_LEVEL: u8 = 5;
/// A temperature was not reached or a sensor failed; the position is still known.
pub const ZDATUM_FAULT_HEAT: u8 = 6;
/// A fetch or put-back could not be confirmed; the position is still known.
pub const ZDATUM_FAULT_PROBE: u8 = 7;

/// `tool` was read.
pub const ZDATUM_READ_TOOL: u8 = 1;
/// `bed` was read.
pub const ZDATUM_READ_BED: u8 = 2;
/// `chamber` was read.
pub const ZDATUM_READ_CHAMBER: u8 = 4;

/// The machine's answer. Zero it, then set `kind` and what the kind names.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_event {
    /// ZDATUM_EVENT_TRIPPED: carriage height latched at the edge, 2^-16 mm; not where the carriage stopped.
    pub z: i32,
    /// ZDATUM_EVENT_TRIPPED: of the tool, 2^-16 degrees Celsius; read with ZDATUM_READ_TOOL in
    /// `readings`.
    pub tool: i32,
    /// The same of the bed, with ZDATUM_READ_BED.
    pub bed: i32,
    /// The same of the chamber, with ZDATUM_READ_CHAMBER.
    pub chamber: i32,
    /// ZDATUM_EVENT_DONE to ZDATUM_EVENT_FAILED.
    pub kind: u8,
    /// What the kind defines; else 0.
    pub detail: u8,
    /// ZDATUM_EVENT_TRIPPED: which temperatures were read, added up; 0 without sensors.
    pub readings: u8,
}

/// All touches; gives a landing.
pub const ZDATUM_FULL: u8 = 0;
/// One fine touch per station, compared with what is known; says whether a full cycle is needed.
pub const ZDATUM_QUICK: u8 = 1;

/// What a plate's span is compared with: its last accepted one, from `zdatum_landing`, or all that the plate book knows.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_last_span {
    /// Its u², 2^-60 mm².
    pub variance: u64,
    /// P - S then, 2^-16 mm.
    pub span: i32,
    /// With `has_expected`: the mean of the plate's accepted spans, 2^-16 mm.
    pub expected_span: i32,
    /// With `has_expected`: how far from it a span may be, 2^-16 mm.
    pub expected_limit: i32,
    /// 1 where the plate book expects something of the span (`zdatum_book_last`).
    pub has_expected: u8,
}

/// What a quick check compares with; 2^-16 mm.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_known {
    /// The plate's last accepted span.
    pub span: i32,
    /// Largest change of the span that still passes.
    pub span_change: i32,
    /// The probe's drop when that span was taken.
    pub drop: i32,
    /// Largest change of the drop that still passes.
    pub drop_change: i32,
}

/// What to do with a cycle. A zeroed one is a full cycle of an unknown plate, from homing on.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_job {
    /// ZDATUM_FULL with `has_last`: what the span is compared with.
    pub last: zdatum_last_span,
    /// ZDATUM_QUICK: what is known.
    pub known: zdatum_known,
    /// ZDATUM_FULL or ZDATUM_QUICK.
    pub kind: u8,
    /// 1 where the machine is homed and has been since: it is not homed again.
    pub homed: u8,
    /// 1 where the machine is level or cannot level itself: levelling is not asked for.
    pub levelled: u8,
    /// 1 where `last` is known.
    pub has_last: u8,
}

/// How many words a cycle's storage takes.
pub const ZDATUM_CYCLE_WORDS: usize = 72;

/// Storage for a cycle; yours, and zeroed before its first use. Its contents belong to the library.
#[repr(C)]
pub struct zdatum_cycle {
    /// Do not touch.
    pub words: [u64; ZDATUM_CYCLE_WORDS],
}

/// A cycle with the storage of its setup, whose tag is looked at before each use.
pub(crate) struct Running {
    setup: *const zdatum_setup,
    cycle: Cycle<'static, ZDATUM_TOUCHES>,
}

impl Storage for zdatum_cycle {
    type Inner = Running;
    const TAG: u32 = 0x7A43_0001;
}

const _: () = zdatum_cycle::FITS;

/// The setup is still there.
///
/// # Safety
/// The crate's contract.
unsafe fn stands(running: &Running) -> Result<(), No> {
    // SAFETY: the crate's contract.
    unsafe { started(running.setup) }.map(|_| ())
}

fn length(bits: i32) -> Length {
    Length::from_bits(i64::from(bits)).unwrap_or(Length::ZERO)
}

pub(crate) fn last_span(last: &zdatum_last_span) -> Result<LastSpan, No> {
    let expected = flag(last.has_expected)?
        .then(|| Expected { span: length(last.expected_span), limit: length(last.expected_limit) });
    Ok(LastSpan { span: length(last.span), variance: Variance::from_bits(last.variance), expected })
}

fn job(job: &zdatum_job) -> Result<Job, No> {
    let known = &job.known;
    Ok(Job {
        homed: flag(job.homed)?,
        levelled: flag(job.levelled)?,
        kind: match job.kind {
            ZDATUM_FULL => {
                Kind::Full { last: flag(job.has_last)?.then(|| last_span(&job.last)).transpose()? }
            }
            ZDATUM_QUICK => Kind::Quick(Known {
                span: length(known.span),
                span_change: length(known.span_change),
                drop: length(known.drop),
                drop_change: length(known.drop_change),
            }),
            _ => return Err(No(ZDATUM_OUT_OF_RANGE)),
        },
    })
}

fn event(event: &zdatum_event) -> Result<Event, No> {
    let beyond = No(ZDATUM_OUT_OF_RANGE);
    let read = |bit: u8, bits: i32| match event.readings & bit {
        0 => Ok(None),
        _ => Temperature::from_bits(i64::from(bits)).map(Some),
    };
    Ok(match event.kind {
        ZDATUM_EVENT_DONE => Event::Done,
        ZDATUM_EVENT_PROBE => Event::Probe(match event.detail {
            ZDATUM_PROBE_PUT_BACK => ProbeState::PutBack,
            ZDATUM_PROBE_FETCHED => ProbeState::Fetched,
            ZDATUM_PROBE_UNKNOWN => ProbeState::Unknown,
            _ => return Err(beyond),
        }),
        ZDATUM_EVENT_TRIPPED => {
            if event.readings & !(ZDATUM_READ_TOOL | ZDATUM_READ_BED | ZDATUM_READ_CHAMBER) != 0 {
                return Err(beyond);
            }
            let at = Temperatures {
                tool: read(ZDATUM_READ_TOOL, event.tool)?,
                bed: read(ZDATUM_READ_BED, event.bed)?,
                chamber: read(ZDATUM_READ_CHAMBER, event.chamber)?,
            };
            Event::Tripped { z: length(event.z), at }
        }
        ZDATUM_EVENT_FLOOR_REACHED => Event::FloorReached,
        ZDATUM_EVENT_ALREADY_TRIPPED => Event::AlreadyTripped,
        ZDATUM_EVENT_WRONG_SWITCH => Event::WrongSwitch,
        ZDATUM_EVENT_LIFTED => Event::Lifted { open: flag(event.detail)? },
        ZDATUM_EVENT_FAILED => Event::Failed(match event.detail {
            ZDATUM_FAULT_MOVE => Fault::Move,
            ZDATUM_FAULT_POSITION => Fault::Position,
            ZDATUM_FAULT_TIMED_OUT => Fault::TimedOut,
            ZDATUM_FAULT_HOME => Fault::Home,
            ZDATUM_FAULT_LEVEL => Fault::Level,
            ZDATUM_FAULT_HEAT => Fault::Heat,
            ZDATUM_FAULT_PROBE => Fault::Probe,
            _ => return Err(beyond),
        }),
        _ => return Err(beyond),
    })
}

impl zdatum_request {
    fn of(request: Do) -> Self {
        let bare = |kind, Seconds(within)| Self { kind, within, ..Self::default() };
        let high = |kind, height: Length, within| Self {
            height: height.to_bits(),
            has_height: 1,
            ..bare(kind, within)
        };
        match request {
            Do::Finished => bare(ZDATUM_DO_FINISHED, Seconds(0)),
            Do::FindProbe { within } => bare(ZDATUM_DO_FIND_PROBE, within),
            Do::Home { within } => bare(ZDATUM_DO_HOME, within),
            Do::Level { lowest, within } => high(ZDATUM_DO_LEVEL, lowest, within),
            Do::Warm { tool, within } => Self { tool: tool.to_bits(), ..bare(ZDATUM_DO_WARM, within) },
            Do::Fetch { lowest, within } => high(ZDATUM_DO_FETCH, lowest, within),
            Do::PutBack { lowest: Some(lowest), within } => high(ZDATUM_DO_PUT_BACK, lowest, within),
            Do::PutBack { lowest: None, within } => bare(ZDATUM_DO_PUT_BACK, within),
            Do::Move { to, lowest, within } => {
                Self { x: to.x.to_bits(), y: to.y.to_bits(), ..high(ZDATUM_DO_MOVE, lowest, within) }
            }
            Do::Approach { station, floor, speed, within } => Self {
                station: number_of(station),
                speed: speed.to_bits(),
                ..high(ZDATUM_DO_APPROACH, floor, within)
            },
            Do::Lift { to, within } => high(ZDATUM_DO_LIFT, to, within),
            Do::Halt => bare(ZDATUM_DO_HALT, Seconds(0)),
        }
    }
}

/// Begins a cycle, whatever its storage held before; first cancel a running one and let it end.
///
/// `setup` has been checked, and must neither move nor change until the outcome has been taken. `job` is read
/// now and not kept.
///
/// ZDATUM_NO_ROOM where `touch.most` is above ZDATUM_TOUCHES; ZDATUM_OUT_OF_RANGE for an invalid job;
/// ZDATUM_NOT_STARTED for a setup that was not checked; ZDATUM_NULL, ZDATUM_MISALIGNED. Then the storage is
/// as it was before.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_cycle_start(
    cycle: *mut zdatum_cycle,
    setup: *const zdatum_setup,
    job: *const zdatum_job,
) -> zdatum_code {
    code(|| {
        writable(cycle)?;
        // SAFETY: the crate's contract; the setup outlives the cycle, and stays as it is meanwhile.
        let checked: &'static Setup = unsafe { started(setup) }?;
        // SAFETY: the crate's contract.
        let job = self::job(&unsafe { read(job) }?)?;
        if usize::from(checked.draft().touch.most) > ZDATUM_TOUCHES {
            return Err(No(ZDATUM_NO_ROOM));
        }
        // In place: nothing of it is made elsewhere and copied.
        // SAFETY: the crate's contract.
        unsafe { start(cycle, Running { setup, cycle: Cycle::idle() }) }?;
        // SAFETY: the crate's contract.
        let running = unsafe { started_mut(cycle) }?;
        running.cycle.start(checked, job).map_err(|_| No(ZDATUM_NO_ROOM))
    })
}

/// What to do now; the same until it is answered. Changes nothing.
///
/// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_cycle_poll(
    cycle: *const zdatum_cycle,
    request: *mut zdatum_request,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let running = unsafe { started(cycle) }?;
        // SAFETY: the crate's contract.
        unsafe { stands(running) }?;
        // SAFETY: the crate's contract.
        unsafe { write(request, zdatum_request::of(running.cycle.poll())) }
    })
}

/// Takes the answer to the pending request.
///
/// ZDATUM_OUT_OF_TURN where the event does not answer it, and for every event after the end;
/// ZDATUM_OUT_OF_RANGE for an invalid event; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then
/// nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_cycle_handle(
    cycle: *mut zdatum_cycle,
    event: *const zdatum_event,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let running = unsafe { started_mut(cycle) }?;
        // SAFETY: the crate's contract.
        unsafe { stands(running) }?;
        // SAFETY: the crate's contract.
        let event = self::event(&unsafe { read(event) }?)?;
        running.cycle.handle(event).map_err(|_| No(ZDATUM_OUT_OF_TURN))
    })
}

/// Asks to stop, at any time: the pending request is void, and the next poll begins a safe ending, which has
/// to be carried out. Stop the pending motion by slowing down; where steps may be lost, answer the lift that
/// follows with ZDATUM_FAULT_POSITION.
///
/// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_cycle_cancel(cycle: *mut zdatum_cycle) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let running = unsafe { started_mut(cycle) }?;
        // SAFETY: the crate's contract.
        unsafe { stands(running) }?;
        running.cycle.cancel();
        Ok(())
    })
}

/// The outcome of a cycle that is over; it may be asked for again.
///
/// ZDATUM_NOT_FINISHED before; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `outcome` is not
/// written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_cycle_outcome(
    cycle: *const zdatum_cycle,
    outcome: *mut zdatum_outcome,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let running = unsafe { started(cycle) }?;
        // SAFETY: the crate's contract.
        unsafe { stands(running) }?;
        writable(outcome)?;
        let mut judged = Outcome::open();
        if !running.cycle.judge(&mut judged) {
            return Err(No(ZDATUM_NOT_FINISHED));
        }
        // SAFETY: the crate's contract; an outcome is numbers alone.
        unsafe { cleared(outcome) }?.fill_from_cycle(&judged, running.cycle.touches());
        Ok(())
    })
}

// What an untouched storage is taken for.
const _: () = assert!(ZDATUM_NOT_STARTED != 0 && zdatum_cycle::TAG != 0 && zdatum_setup::TAG != 0);
