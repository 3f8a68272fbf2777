//! A gauge check in, a trip depth out (`docs/guide.md`).

use zdatum::trim::{Check, Depth, Weighing, trim};
use zdatum::{Length, Speed, Uncertainty};

use crate::codes::zdatum_code;
use crate::memory::{No, code, flag, read, write};
use crate::setup::{delay, zdatum_delay};

/// What is known of the trip depth.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_depth {
    /// t, 2^-16 mm.
    pub t: i32,
    /// u(t), 2^-24 mm.
    pub u: u32,
    /// The speed for which it holds, 2^-16 mm/s; 0 for a value from a sheet.
    pub speed: u32,
}

/// What a gauge check, or a nudge during a first layer, showed.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_gauge_check {
    /// The gauge's thickness less the commanded height of first drag, 2^-16 mm; for a nudge by n (down is
    /// negative):
    /// -n.
    pub too_high: i32,
    /// The trip depth with which the landing was made, 2^-16 mm.
    pub made_with: i32,
    /// The speed of that landing's plate touches, 2^-16 mm/s.
    pub speed: u32,
    /// u of the gauge's thickness, 2^-24 mm; 0 for a nudge.
    pub gauge_u: u32,
    /// u of the feel of first drag, 2^-24 mm.
    pub feel_u: u32,
    /// u of that landing without its u(t), 2^-24 mm.
    pub landing_u: u32,
    /// 1 after work on switch, mount or shoulder: what was known is ignored.
    pub afresh: u8,
}

/// A trip depth after a check.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_trimmed {
    /// What to write into the setup, where `accepted` is 1.
    pub depth: zdatum_depth,
    /// New less old trip depth, 2^-16 mm.
    pub change: i32,
    /// How much of the disagreement was taken over, 2^-16, 0 to 1.
    pub weight: u32,
    /// The disagreement in units of its standard uncertainty, 2^-16.
    pub disagreement: u32,
    /// 0 where the disagreement is above 4: something else has moved, and the check must not be applied.
    pub accepted: u8,
}

fn uncertainty(bits: u32) -> Result<Uncertainty, No> {
    Ok(Uncertainty::from_bits(i64::from(bits))?)
}

fn speed(bits: u32) -> Result<Speed, No> {
    Ok(Speed::from_bits(i64::from(bits))?)
}

/// Combines a gauge check with what was known, each by its weight. `latency` is that of the probe's switch,
/// as in the setup.
///
/// ZDATUM_OUT_OF_RANGE where an uncertainty is 4 mm or more, the check differs by 16 m or more, all
/// uncertainties are 0, the disagreement is 65536 or more, or a number is outside its range; ZDATUM_NULL,
/// ZDATUM_MISALIGNED. Then `trimmed` is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_trim(
    known: *const zdatum_depth,
    latency: *const zdatum_delay,
    check: *const zdatum_gauge_check,
    trimmed: *mut zdatum_trimmed,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (known, latency, check) = unsafe { (read(known)?, read(latency)?, read(check)?) };
        let length = |bits: i32| Length::from_bits(i64::from(bits));
        let prior = Depth { t: length(known.t)?, u: uncertainty(known.u)?, speed: speed(known.speed)? };
        let said = Check {
            too_high: length(check.too_high)?,
            made_with: length(check.made_with)?,
            speed: speed(check.speed)?,
            gauge_u: uncertainty(check.gauge_u)?,
            feel_u: uncertainty(check.feel_u)?,
            landing_u: uncertainty(check.landing_u)?,
        };
        let weighing = if flag(check.afresh)? { Weighing::Afresh } else { Weighing::Weighed };
        let done = trim(&prior, &delay(&latency)?, &said, weighing)?;
        let depth = zdatum_depth {
            t: done.depth.t.to_bits(),
            u: done.depth.u.to_bits(),
            speed: done.depth.speed.to_bits(),
        };
        let told = zdatum_trimmed {
            depth,
            change: done.change.to_bits(),
            weight: done.weight.to_bits(),
            disagreement: done.disagreement.to_bits(),
            accepted: u8::from(done.accepted),
        };
        // SAFETY: the crate's contract.
        unsafe { write(trimmed, told) }
    })
}
