//! The watch: drift charts over past cycles (`docs/history.md`).

use zdatum::watch::{Cause, Change, Charts, Design, Observed, Reading, WORDS, Watch, WatchError};
use zdatum::{Length, Uncertainty, Variance};

use crate::codes::{ZDATUM_NO_ROOM, ZDATUM_NOT_IN_BOOK, ZDATUM_OUT_OF_RANGE, zdatum_code, zdatum_text};
use crate::memory::{No, Storage, code, flag, read, see, start, started, started_mut, writable, write};
use crate::outcome::zdatum_landing;
use crate::plates::ZDATUM_PLATES;

/// The nozzle now hangs lower (shift above zero) or higher.
pub const ZDATUM_CAUSE_NOZZLE: u8 = 1;
/// The homed height has shifted.
pub const ZDATUM_CAUSE_HOMING: u8 = 2;
/// The probe sits differently in its mount.
pub const ZDATUM_CAUSE_PROBE_SEAT: u8 = 3;
/// The datum switch has moved.
pub const ZDATUM_CAUSE_DATUM_SWITCH: u8 = 4;
/// One plate sits higher or lower than before.
pub const ZDATUM_CAUSE_PLATE: u8 = 5;
/// The probe's trip depth has changed.
pub const ZDATUM_CAUSE_TRIP_DEPTH: u8 = 6;

/// How many causes there are.
pub const ZDATUM_CAUSES: usize = 6;

/// Another nozzle, or the same one refitted.
pub const ZDATUM_CHANGED_NOZZLE: u8 = 1;
/// The homed height has shifted, such as after work on the homing switch.
pub const ZDATUM_CHANGED_HOMING: u8 = 2;
/// Work on the probe, its mount, its shoulder or its switch.
pub const ZDATUM_CHANGED_PROBE: u8 = 3;
/// The datum switch was moved or cleaned.
pub const ZDATUM_CHANGED_DATUM_SWITCH: u8 = 4;
/// Another fine speed.
pub const ZDATUM_CHANGED_SPEED: u8 = 5;
/// A gauge check and trim.
pub const ZDATUM_CHANGED_TRIM: u8 = 6;
/// One plate was worked on or replaced.
pub const ZDATUM_CHANGED_PLATE: u8 = 7;

/// How many words a watch's storage takes.
pub const ZDATUM_WATCH_WORDS: usize = 315;

/// Storage for the watch over a machine with at most ZDATUM_PLATES plates; yours, zeroed before its first
/// use. Its contents belong to the library; to keep it across a power cut, take its charts from
/// `zdatum_watch_save`.
#[repr(C)]
pub struct zdatum_watch {
    /// Do not touch.
    pub words: [u64; ZDATUM_WATCH_WORDS],
}

impl Storage for zdatum_watch {
    type Inner = Watch<u32, ZDATUM_PLATES>;
    const TAG: u32 = 0x7A57_0001;
}

const _: () = zdatum_watch::FITS;

/// How many words the charts of one quantity take.
pub const ZDATUM_CHARTS_WORDS: usize = 26;
const _: () = assert!(ZDATUM_CHARTS_WORDS == WORDS);

/// The charts of one quantity, to be kept across a power cut. They belong together: change none of the words.
#[derive(Clone, Copy)]
#[repr(C)]
pub struct zdatum_charts {
    /// All that is known.
    pub words: [u32; ZDATUM_CHARTS_WORDS],
}

/// A cause that fits an alarm.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_fit {
    /// By how much, 2^-16 mm; the cause says which way is above zero.
    pub shift: i32,
    /// How badly it fits, chi-square, 2^-16: the smallest fits best.
    pub misfit: u32,
    /// ZDATUM_CAUSE_NOZZLE to ZDATUM_CAUSE_TRIP_DEPTH.
    pub cause: u8,
}

fn number_of(cause: Cause) -> u8 {
    match cause {
        Cause::Nozzle => ZDATUM_CAUSE_NOZZLE,
        Cause::Homing => ZDATUM_CAUSE_HOMING,
        Cause::ProbeSeat => ZDATUM_CAUSE_PROBE_SEAT,
        Cause::DatumSwitch => ZDATUM_CAUSE_DATUM_SWITCH,
        Cause::Plate => ZDATUM_CAUSE_PLATE,
        Cause::TripDepth => ZDATUM_CAUSE_TRIP_DEPTH,
    }
}

fn of_cause(number: u8, text: fn(Cause) -> &'static str) -> zdatum_text {
    zdatum_text::of(
        Cause::ALL.iter().find(|cause| number_of(**cause) == number).map_or("", |cause| text(*cause)),
    )
}

fn no(error: WatchError) -> No {
    No(match error {
        WatchError::Full => ZDATUM_NO_ROOM,
        WatchError::OutOfRange(_) => ZDATUM_OUT_OF_RANGE,
    })
}

/// The cause's word, such as `nozzle`; it never changes. An empty text for an unknown cause.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_cause_word(cause: u8) -> zdatum_text {
    of_cause(cause, Cause::word)
}

/// What happened, in English; an empty text for an unknown cause.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_cause_text(cause: u8) -> zdatum_text {
    of_cause(cause, Cause::text)
}

/// What to do about it, in English; an empty text for an unknown cause.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_cause_advice(cause: u8) -> zdatum_text {
    of_cause(cause, Cause::advice)
}

/// Begins an empty watch, with the standard charts. No quantity is taken to scatter less than
/// `steadiest`, 2^-24 mm; 0 for none.
///
/// ZDATUM_OUT_OF_RANGE from 4 mm up; ZDATUM_NULL, ZDATUM_MISALIGNED. Then the storage is as it was before.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_start(watch: *mut zdatum_watch, steadiest: u32) -> zdatum_code {
    code(|| {
        let steadiest = Uncertainty::from_bits(i64::from(steadiest))?;
        steadiest.variance()?;
        // SAFETY: the crate's contract.
        unsafe { start(watch, Watch::new(Design::STANDARD, steadiest)) }
    })
}

/// Records an accepted cycle; `alarm` gets 1 while an alarm is active. Hand every accepted landing over, in
/// order.
///
/// `plate` is the name of the plate, or null where it is not known: then the span is left out. `without_tip`
/// is 1 where the height axis is homed by the tip on the datum switch itself.
///
/// ZDATUM_NO_ROOM for a new plate where there are ZDATUM_PLATES; ZDATUM_OUT_OF_RANGE for a reading 4 mm or
/// more from the first of its level; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
/// changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_see(
    watch: *mut zdatum_watch,
    landing: *const zdatum_landing,
    plate: *const u32,
    without_tip: u8,
    alarm: *mut u8,
) -> zdatum_code {
    code(|| {
        writable(alarm)?;
        // SAFETY: the crate's contract.
        let (watch, landing) = unsafe { (started_mut(watch)?, see(landing)?) };
        // SAFETY: the crate's contract.
        let plate = if plate.is_null() { None } else { Some(unsafe { read(plate) }?) };
        let reading = |bits: i32, variance: u64| {
            let value = Length::from_bits(i64::from(bits))?;
            Ok::<_, No>(Reading { value, variance: Variance::from_bits(variance) })
        };
        let observed = Observed {
            tip: if flag(without_tip)? { None } else { Some(reading(landing.tip, landing.tip_variance)?) },
            drop: Some(reading(landing.drop, landing.drop_variance)?),
            span: Some(reading(landing.span, landing.span_variance)?),
        };
        let stands = watch.see(plate, &observed).map_err(no)?;
        // SAFETY: the crate's contract.
        unsafe { write(alarm, u8::from(stands)) }
    })
}

/// Which causes fit what has moved since the alarm, the best first: `fits` has room for ZDATUM_CAUSES,
/// `count` gets how many there are. None without an alarm, and where no single cause explains it.
///
/// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing is written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_diagnosis(
    watch: *const zdatum_watch,
    fits: *mut zdatum_fit,
    count: *mut u8,
) -> zdatum_code {
    code(|| {
        writable(count)?;
        let fits: *mut [zdatum_fit; ZDATUM_CAUSES] = fits.cast();
        // SAFETY: the crate's contract.
        let known = unsafe { started(watch) }?.diagnosis();
        let mut told = [zdatum_fit::default(); ZDATUM_CAUSES];
        let mut found = 0_u8;
        for (slot, fit) in told.iter_mut().zip(known.fits()) {
            let (shift, misfit) = (fit.shift.to_bits(), fit.misfit.to_bits());
            *slot = zdatum_fit { shift, misfit, cause: number_of(fit.cause) };
            found = found.saturating_add(1);
        }
        // SAFETY: the crate's contract; room for all causes.
        unsafe { write(fits, told) }?;
        // SAFETY: the crate's contract.
        unsafe { write(count, found) }
    })
}

/// Records what the owner did, before or after an alarm: what it moves begins a new level. `plate` is the
/// plate's name with ZDATUM_CHANGED_PLATE, else ignored.
///
/// ZDATUM_OUT_OF_RANGE for an unknown change; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then
/// nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_tell(watch: *mut zdatum_watch, change: u8, plate: u32) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let watch = unsafe { started_mut(watch) }?;
        watch.tell(match change {
            ZDATUM_CHANGED_NOZZLE => Change::Nozzle,
            ZDATUM_CHANGED_HOMING => Change::Homing,
            ZDATUM_CHANGED_PROBE => Change::Probe,
            ZDATUM_CHANGED_DATUM_SWITCH => Change::DatumSwitch,
            ZDATUM_CHANGED_SPEED => Change::Speed,
            ZDATUM_CHANGED_TRIM => Change::Trim,
            ZDATUM_CHANGED_PLATE => Change::Plate(plate),
            _ => return Err(No(ZDATUM_OUT_OF_RANGE)),
        });
        Ok(())
    })
}

/// Acknowledges an alarm where nothing was done: the charts start again with what they know.
///
/// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_dismiss(watch: *mut zdatum_watch) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        unsafe { started_mut(watch) }?.dismiss();
        Ok(())
    })
}

/// Forgets the charts of a plate.
///
/// ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
/// changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_forget(watch: *mut zdatum_watch, plate: u32) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        if unsafe { started_mut(watch) }?.forget(&plate) { Ok(()) } else { Err(No(ZDATUM_NOT_IN_BOOK)) }
    })
}

/// The charts at a place, to be kept across a power cut: 0 the tip's, 1 the drop's, from 2 on the plates'
/// spans, whose name `plate` gets (else 0).
///
/// ZDATUM_NOT_IN_BOOK where there are fewer; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
/// is written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_save(
    watch: *const zdatum_watch,
    place: u32,
    plate: *mut u32,
    charts: *mut zdatum_charts,
) -> zdatum_code {
    code(|| {
        writable(charts)?;
        // SAFETY: the crate's contract.
        let watch = unsafe { started(watch) }?;
        let (name, known) = match place {
            0 => (0, watch.tip()),
            1 => (0, watch.drop()),
            _ => {
                let at = usize::try_from(place.saturating_sub(2)).ok();
                let found = at.and_then(|at| watch.spans().get(at)).ok_or(No(ZDATUM_NOT_IN_BOOK))?;
                (found.0, &found.1)
            }
        };
        // SAFETY: the crate's contract.
        unsafe { write(plate, name) }?;
        // SAFETY: the crate's contract.
        unsafe { write(charts, zdatum_charts { words: known.to_words() }) }
    })
}

fn restored(charts: &zdatum_charts) -> Result<Charts, No> {
    Charts::from_words(&charts.words).ok_or(No(ZDATUM_OUT_OF_RANGE))
}

/// Puts the charts of tip and drop back, as `zdatum_watch_save` returned them.
///
/// ZDATUM_OUT_OF_RANGE for words that it never returned; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
/// Then nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_restore(
    watch: *mut zdatum_watch,
    tip: *const zdatum_charts,
    drop: *const zdatum_charts,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (watch, tip, drop) = unsafe { (started_mut(watch)?, see(tip)?, see(drop)?) };
        watch.restore(restored(tip)?, restored(drop)?);
        Ok(())
    })
}

/// Puts the charts of a plate's span back, replacing any that it has.
///
/// ZDATUM_OUT_OF_RANGE for words that `zdatum_watch_save` never returned; ZDATUM_NO_ROOM for a new plate
/// where there are ZDATUM_PLATES; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_watch_restore_span(
    watch: *mut zdatum_watch,
    plate: u32,
    charts: *const zdatum_charts,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (watch, charts) = unsafe { (started_mut(watch)?, see(charts)?) };
        watch.restore_span(plate, restored(charts)?).map_err(no)
    })
}
