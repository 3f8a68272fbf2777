//! A gauge check in, a trip depth out (`docs/guide.md`).

use zdatum::trim::{Check, Depth, Warmed, Weighing, trim};
use zdatum::{Growth, Length, Speed, Uncertainty, Warming};

use crate::codes::{ZDATUM_OUT_OF_RANGE, zdatum_code};
use crate::memory::{No, code, flag, read, write};
use crate::setup::{ZDATUM_MOST_GROWTH, delay, zdatum_delay};

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

/// A growing part, as a check sees it.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_warmed {
    /// Standard uncertainty of its growth, 2^-32 mm/K, not negative.
    pub rate_u: i32,
    /// Warming that the trip depth has taken up so far, 2^-16 K.
    pub trimmed: i32,
    /// Warming of the landing under test, print less touch, 2^-16 K.
    pub under_test: i32,
}

/// What a gauge check, or a nudge during a first layer, showed.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_gauge_check {
    /// The gauge's thickness less the commanded height of first drag, 2^-16 mm; for a nudge by n (down is
    /// negative):
    /// -n.
    pub too_high: i32,
    /// What was applied on top of the landing on purpose, 2^-16 mm; up is positive.
    pub wish: i32,
    /// The trip depth with which the landing was made, 2^-16 mm.
    pub made_with: i32,
    /// The speed of that landing's plate touches, 2^-16 mm/s.
    pub speed: u32,
    /// u of the gauge's thickness, 2^-24 mm; 0 for a nudge.
    pub gauge_u: u32,
    /// u of the feel of first drag, 2^-24 mm.
    pub feel_u: u32,
    /// u of that landing without its trip depth and growth terms, 2^-24 mm.
    pub landing_u: u32,
    /// The setup's growing parts, in its order.
    pub parts: [zdatum_warmed; ZDATUM_MOST_GROWTH],
    /// How many of `parts` are used, 0 to ZDATUM_MOST_GROWTH.
    pub part_count: u8,
    /// 1 after work on switch, mount or shoulder: what was known is ignored.
    pub afresh: u8,
}

/// A trip depth after a check.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_trimmed {
    /// What to write into the setup, where `accepted` is 1.
    pub depth: zdatum_depth,
    /// The setup's `trimmed` of each growing part from now on, 2^-16 K, in the order given.
    pub warmings: [i32; ZDATUM_MOST_GROWTH],
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
            wish: length(check.wish)?,
            made_with: length(check.made_with)?,
            speed: speed(check.speed)?,
            gauge_u: uncertainty(check.gauge_u)?,
            feel_u: uncertainty(check.feel_u)?,
            landing_u: uncertainty(check.landing_u)?,
        };
        let weighing = if flag(check.afresh)? { Weighing::Afresh } else { Weighing::Weighed };
        let used = check.parts.get(..usize::from(check.part_count)).ok_or(No(ZDATUM_OUT_OF_RANGE))?;
        let mut parts = [Warmed { rate_u: Growth::ZERO, trimmed: Warming::ZERO, under_test: Warming::ZERO };
            ZDATUM_MOST_GROWTH];
        for (part, told) in parts.iter_mut().zip(used) {
            part.rate_u = Growth::from_bits(i64::from(told.rate_u))?;
            part.trimmed = Warming::from_bits(i64::from(told.trimmed))?;
            part.under_test = Warming::from_bits(i64::from(told.under_test))?;
        }
        let parts = parts.get(..used.len()).unwrap_or_default();
        let done = trim(&prior, parts, &delay(&latency)?, &said, weighing)?;
        let mut warmings = [0; ZDATUM_MOST_GROWTH];
        for (told, warming) in warmings.iter_mut().zip(&done.warmings) {
            *told = warming.to_bits();
        }
        let depth = zdatum_depth {
            t: done.depth.t.to_bits(),
            u: done.depth.u.to_bits(),
            speed: done.depth.speed.to_bits(),
        };
        let told = zdatum_trimmed {
            depth,
            warmings,
            change: done.change.to_bits(),
            weight: done.weight.to_bits(),
            disagreement: done.disagreement.to_bits(),
            accepted: u8::from(done.accepted),
        };
        // SAFETY: the crate's contract.
        unsafe { write(trimmed, told) }
    })
}
