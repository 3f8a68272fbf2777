//! Refusals, from the core's one table.

use zdatum::{Amount, Refusal, RefusalKind};

use crate::codes::zdatum_text;
use crate::units::{ZDATUM_LENGTH, ZDATUM_RATIO, ZDATUM_UNCERTAINTY};

/// A switch was already closed before the approach.
pub const ZDATUM_ALREADY_TRIPPED: u8 = 1;
/// The floor was reached without a trip.
pub const ZDATUM_NO_TRIP: u8 = 2;
/// A switch closed that does not belong to this station.
pub const ZDATUM_WRONG_SWITCH: u8 = 3;
/// The switch stayed closed after the lift.
pub const ZDATUM_STILL_TRIPPED: u8 = 4;
/// The spread of the touches exceeds the band.
pub const ZDATUM_UNSTEADY: u8 = 5;
/// The touches drift in one direction.
pub const ZDATUM_WALKING: u8 = 6;
/// The drop is outside the range of a properly seated probe.
pub const ZDATUM_DROP_OUT_OF_PLACE: u8 = 7;
/// The rise is outside the range of any plate.
pub const ZDATUM_PLATE_OUT_OF_PLACE: u8 = 8;
/// The landing, with its uncertainty, is not fully inside the window.
pub const ZDATUM_LANDING_OUT_OF_WINDOW: u8 = 9;
/// The plate's span has changed since its last accepted cycle.
pub const ZDATUM_MOVED_TOO_FAR: u8 = 10;
/// The tip's height changed during the cycle.
pub const ZDATUM_MOVED_DURING_CYCLE: u8 = 11;
/// The expanded uncertainty exceeds the limit.
pub const ZDATUM_TOO_UNCERTAIN: u8 = 12;
/// The machine reported a fault.
pub const ZDATUM_MACHINE_FAULT: u8 = 13;
/// It is not known whether the tool carries the probe.
pub const ZDATUM_PROBE_STATE_UNKNOWN: u8 = 14;
/// The cycle was cancelled.
pub const ZDATUM_CANCELLED: u8 = 15;
/// A value is too large for the arithmetic.
pub const ZDATUM_BEYOND_RANGE: u8 = 16;
/// The touches scatter more than their study allows.
pub const ZDATUM_NOISIER_THAN_STUDIED: u8 = 17;
/// The tip trips the datum switch outside its expected range.
pub const ZDATUM_TIP_OUT_OF_PLACE: u8 = 18;

/// Most refusals that one outcome can list.
pub const ZDATUM_MOST_REFUSALS: usize = 16;

/// One reason to refuse.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_refusal {
    /// What was seen, in bits of `seen_quantity`.
    pub seen: i64,
    /// What it was compared with, in bits of `limit_quantity`; for guarded limits the setup's, moved in
    /// by the guard band.
    pub limit: i64,
    /// Which: ZDATUM_ALREADY_TRIPPED to ZDATUM_BEYOND_RANGE.
    pub kind: u8,
    /// ZDATUM_TIP, ZDATUM_SHOULDER or ZDATUM_PLATE; 0 where it belongs to none.
    pub station: u8,
    /// ZDATUM_LENGTH, ZDATUM_UNCERTAINTY or ZDATUM_RATIO; 0 where there is no number.
    pub seen_quantity: u8,
    /// As `seen_quantity`.
    pub limit_quantity: u8,
}

impl zdatum_refusal {
    pub(crate) fn of(refusal: &Refusal) -> Self {
        let amount = |amount: Option<Amount>| match amount {
            None => (0, 0),
            Some(Amount::Length(x)) => (ZDATUM_LENGTH, i64::from(x.to_bits())),
            Some(Amount::Uncertainty(x)) => (ZDATUM_UNCERTAINTY, i64::from(x.to_bits())),
            Some(Amount::Ratio(x)) => (ZDATUM_RATIO, i64::from(x.to_bits())),
        };
        let ((seen_quantity, seen), (limit_quantity, limit)) =
            (amount(refusal.seen()), amount(refusal.limit()));
        let station = refusal.station.map_or(0, crate::series::number_of);
        Self { seen, limit, kind: refusal.kind.code(), station, seen_quantity, limit_quantity }
    }
}

fn of_kind(kind: u8, text: fn(RefusalKind) -> &'static str) -> zdatum_text {
    zdatum_text::of(RefusalKind::ALL.iter().find(|known| known.code() == kind).map_or("", |kind| text(*kind)))
}

/// The refusal's word, such as `no-trip`; it never changes. An empty text for an unknown kind.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_refusal_word(kind: u8) -> zdatum_text {
    of_kind(kind, RefusalKind::word)
}

/// What was seen, in English; an empty text for an unknown kind.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_refusal_text(kind: u8) -> zdatum_text {
    of_kind(kind, RefusalKind::text)
}

/// What to do about it, in English; an empty text for an unknown kind.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_refusal_advice(kind: u8) -> zdatum_text {
    of_kind(kind, RefusalKind::advice)
}
