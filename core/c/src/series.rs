//! Recorded touches, for firmware that runs its own sequence.

use zdatum::series::CannotClose;
use zdatum::{Assessment, Length, Readings, Recorded, Speed, Station, Temperature};

use crate::codes::{ZDATUM_NO_ROOM, ZDATUM_OUT_OF_RANGE, ZDATUM_TOO_FEW, zdatum_code};
use crate::cycle::{ZDATUM_READ_BED, ZDATUM_READ_CHAMBER, ZDATUM_READ_TOOL, last_span, zdatum_last_span};
use crate::memory::{No, Storage, cleared, code, read, start, started, started_mut, writable, write};
use crate::outcome::zdatum_outcome;
use crate::setup::zdatum_setup;

/// The tip presses the datum switch.
pub const ZDATUM_TIP: u8 = 1;
/// The probe's shoulder presses the datum switch.
pub const ZDATUM_SHOULDER: u8 = 2;
/// The plunger presses the plate.
pub const ZDATUM_PLATE: u8 = 3;

/// Most touches that a station can hold, in a cycle as in a series.
pub const ZDATUM_TOUCHES: usize = 16;

pub(crate) const fn number_of(station: Station) -> u8 {
    match station {
        Station::Tip => ZDATUM_TIP,
        Station::Shoulder => ZDATUM_SHOULDER,
        Station::Plate => ZDATUM_PLATE,
    }
}

fn station(number: u8) -> Result<Station, No> {
    Ok(match number {
        ZDATUM_TIP => Station::Tip,
        ZDATUM_SHOULDER => Station::Shoulder,
        ZDATUM_PLATE => Station::Plate,
        _ => return Err(No(ZDATUM_OUT_OF_RANGE)),
    })
}

/// `speed` was measured.
pub const ZDATUM_READ_SPEED: u8 = 8;

/// What was read beside a station's counted touches: means over them.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_readings {
    /// Mean approach speed, 2^-16 mm/s; read with ZDATUM_READ_SPEED.
    pub speed: u32,
    /// Mean temperature of the tool, 2^-16 degrees Celsius; with ZDATUM_READ_TOOL.
    pub tool: i32,
    /// Mean temperature of the bed; with ZDATUM_READ_BED.
    pub bed: i32,
    /// Mean temperature of the chamber; with ZDATUM_READ_CHAMBER.
    pub chamber: i32,
    /// Which of them are set: ZDATUM_READ_… added up. The setup's values stand for the others.
    pub which: u8,
}

/// A closed series.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_summary {
    /// The centre, 2^-32 mm: wide, since a mean lies between the bits of a length.
    pub centre_wide: i64,
    /// u² of the centre, 2^-60 mm².
    pub variance: u64,
    /// The centre, to the nearest 2^-16 mm.
    pub centre: i32,
    /// Highest less lowest touch, 2^-16 mm.
    pub spread: i32,
    /// u of the centre, 2^-24 mm.
    pub u: u32,
    /// Its degrees of freedom; 0 stands for infinite.
    pub dof: u32,
    /// How many touches there are.
    pub count: u8,
}

/// How many words a series' storage takes.
pub const ZDATUM_SERIES_WORDS: usize = 16;

/// Storage for the counted touches of one station; yours, and zeroed before its first use. What is in it is
/// the library's affair.
#[repr(C)]
pub struct zdatum_series {
    /// Do not touch.
    pub words: [u64; ZDATUM_SERIES_WORDS],
}

impl Storage for zdatum_series {
    type Inner = Recorded<ZDATUM_TOUCHES>;
    const TAG: u32 = 0x7A54_0001;
}

const _: () = zdatum_series::FITS;

/// Begins an empty series, whatever its storage held before.
///
/// ZDATUM_NULL, ZDATUM_MISALIGNED.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_series_start(series: *mut zdatum_series) -> zdatum_code {
    // SAFETY: the crate's contract.
    code(|| unsafe { start(series, Recorded::default()) })
}

/// Adds a counted touch: the carriage height latched at the edge, 2^-16 mm.
///
/// ZDATUM_NO_ROOM where there are ZDATUM_TOUCHES already; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
/// Then nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_series_push(series: *mut zdatum_series, z: i32) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let recorded = unsafe { started_mut(series) }?;
        let z = Length::from_bits(i64::from(z))?;
        recorded.series.push(z).map_err(|_| No(ZDATUM_NO_ROOM))
    })
}

/// Sets what was read beside the touches.
///
/// ZDATUM_OUT_OF_RANGE for a value outside its range or an unknown bit in `which`; ZDATUM_NOT_STARTED,
/// ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_series_readings(
    series: *mut zdatum_series,
    readings: *const zdatum_readings,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let recorded = unsafe { started_mut(series) }?;
        // SAFETY: the crate's contract.
        let given = unsafe { read(readings) }?;
        if given.which & !(ZDATUM_READ_TOOL | ZDATUM_READ_BED | ZDATUM_READ_CHAMBER | ZDATUM_READ_SPEED) != 0
        {
            return Err(No(ZDATUM_OUT_OF_RANGE));
        }
        let there = |bit: u8| given.which & bit != 0;
        let degrees = |bit, bits: i32| {
            there(bit).then(|| Temperature::from_bits(i64::from(bits))).transpose().map_err(No::from)
        };
        recorded.readings = Readings {
            speed: there(ZDATUM_READ_SPEED).then(|| Speed::from_bits(i64::from(given.speed))).transpose()?,
            tool: degrees(ZDATUM_READ_TOOL, given.tool)?,
            bed: degrees(ZDATUM_READ_BED, given.bed)?,
            chamber: degrees(ZDATUM_READ_CHAMBER, given.chamber)?,
        };
        Ok(())
    })
}

/// Centre, u and spread of a series, by the setup's centre and the station's study. The series stays as it
/// is.
///
/// ZDATUM_TOO_FEW without touches, or with one and no study; ZDATUM_OUT_OF_RANGE for touches 256 mm or more
/// apart, or an unknown station; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `summary` is not
/// written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_series_close(
    series: *const zdatum_series,
    setup: *const zdatum_setup,
    station: u8,
    summary: *mut zdatum_summary,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (recorded, setup) = unsafe { (started(series)?, started(setup)?) };
        let method = setup.method(self::station(station)?);
        let closed = recorded.series.close(&method).map_err(|error| match error {
            CannotClose::TooFew => No(ZDATUM_TOO_FEW),
            CannotClose::OutOfRange(error) => error.into(),
        })?;
        let told = zdatum_summary {
            centre_wide: closed.centre().to_bits(),
            variance: closed.variance().to_bits(),
            centre: closed.centre().round()?.to_bits(),
            spread: closed.spread().to_bits(),
            u: closed.variance().root().to_bits(),
            dof: closed.dof().finite().unwrap_or(0),
            count: closed.count(),
        };
        // SAFETY: the crate's contract.
        unsafe { write(summary, told) }
    })
}

/// Landing and verdict from the recorded touches of three stations, shoulder and plate under one fetch.
///
/// `last` is the plate's last accepted span, or null where the plate is not known. Values out of range
/// are refusals in the outcome, not errors.
///
/// ZDATUM_TOO_FEW for a station without touches, or with one and no study; ZDATUM_NOT_STARTED, ZDATUM_NULL,
/// ZDATUM_MISALIGNED. Then `outcome` is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_assess(
    setup: *const zdatum_setup,
    tip: *const zdatum_series,
    shoulder: *const zdatum_series,
    plate: *const zdatum_series,
    last: *const zdatum_last_span,
    outcome: *mut zdatum_outcome,
) -> zdatum_code {
    code(|| {
        writable(outcome)?;
        // SAFETY: the crate's contract.
        let setup = unsafe { started(setup) }?;
        // SAFETY: the crate's contract.
        let (tip, shoulder, plate) = unsafe { (started(tip)?, started(shoulder)?, started(plate)?) };
        let last = match last.is_null() {
            true => None,
            // SAFETY: the crate's contract.
            false => Some(last_span(&unsafe { read(last) }?)?),
        };
        let assessed = Assessment::of(setup, tip, shoulder, plate, last.as_ref());
        let Ok(assessed) = &assessed else { return Err(No(ZDATUM_TOO_FEW)) };
        // SAFETY: the crate's contract; an outcome is numbers alone.
        unsafe { cleared(outcome) }?.fill_from_recorded(assessed);
        Ok(())
    })
}
