//! Refusals: code, word, text and advice from one table.

use crate::decimal::Text;
use crate::series::Station;
use crate::units::{Length, Ratio, Uncertainty};

/// Declares the refusals; a code, once given, is never given to another.
macro_rules! refusals {
    ($($(#[$doc:meta])* $variant:ident = $code:literal, $word:literal, $text:literal, $advice:literal;)*) => {
        /// Why a landing is refused, in the order in which reasons are listed.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        #[repr(u8)]
        pub enum RefusalKind { $($(#[$doc])* $variant = $code,)* }

        impl RefusalKind {
            /// All of them, in their order.
            pub const ALL: &'static [RefusalKind] = &[$(RefusalKind::$variant,)*];

            /// Stable number, for a firmware's own messages.
            pub const fn code(self) -> u8 {
                self as u8
            }

            /// The word of the formats, such as `no-trip`.
            pub const fn word(self) -> &'static str {
                match self { $(RefusalKind::$variant => $word,)* }
            }

            /// What was seen, in a few words.
            pub const fn text(self) -> &'static str {
                match self { $(RefusalKind::$variant => $text,)* }
            }

            /// What to do about it (usual causes are common practice).
            pub const fn advice(self) -> &'static str {
                match self { $(RefusalKind::$variant => $advice,)* }
            }
        }
    };
}

refusals! {
    /// A switch is closed before the approach starts.
    AlreadyTripped = 1, "already-tripped", "a switch was already closed before the approach",
        "Check for a switch held down, a missing probe or a wiring fault. The approach was not started.";
    /// The floor is reached without a trip.
    NoTrip = 2, "no-trip", "the floor was reached without a trip",
        "Check that the probe is fetched, a plate is fitted, the station's position is right, and the \
            switch trips when you press it.";
    /// A switch closes at another's station.
    WrongSwitch = 3, "wrong-switch", "a switch closed that does not belong to this station",
        "Check the wiring of both switches, and look for anything in the tool's way.";
    /// The switch stays closed after the lift.
    StillTripped = 4, "still-tripped", "the switch stayed closed after the lift",
        "If the plunger sticks, clean or replace it; otherwise raise touch.lift above the switch's movement \
            differential.";
    /// No run of touches within the band.
    Unsteady = 5, "unsteady", "the spread of the touches exceeds the band",
        "Clean the tip, plunger and switch, check for a loose mount or vibration, then touch again.";
    /// The counted touches of a series drift in one direction.
    Walking = 6, "walking", "the touches drift in one direction",
        "Clean filament off the tip and dirt off the plunger and switch, touch below the temperature at \
            which filament oozes, and let the machine warm up fully; then touch again.";
    /// S − T outside what this probe can be.
    DropOutOfPlace = 7, "drop-out-of-place", "the drop is outside the range of a properly seated probe",
        "Check that the probe was fetched and is the right one, reseat it, then touch again.";
    /// r outside what any plate could be.
    PlateOutOfPlace = 8, "plate-out-of-place", "the rise is outside the range of any plate",
        "Check that exactly one plate is fitted and that nothing lies under it.";
    /// L outside the machine's window.
    LandingOutOfWindow = 9, "landing-out-of-window",
        "the landing, with its uncertainty, is not fully inside the window",
        "Do not print with this landing. Check the nozzle, and the trip depth and window in the setup.";
    /// The span changed since the plate's last accepted one.
    MovedTooFar = 10, "moved-too-far", "the plate's span has changed since its last accepted cycle",
        "Look for debris under the plate, check that it is the plate you named, and inspect the machine if \
            it has crashed since. If the plate itself has changed, note that: its book begins again.";
    /// The tip's second height differs from its first.
    MovedDuringCycle = 11, "moved-during-cycle", "the tip's height changed during the cycle",
        "Check for lost steps, a knock or a loose nozzle, then home and touch again.";
    /// U over the limit.
    TooUncertain = 12, "too-uncertain", "the expanded uncertainty exceeds the limit",
        "Reduce the largest source in the uncertainty budget: trim the trip depth with a gauge check, or \
            take more touches.";
    /// The firmware reports a failed move, fetch, lost position, time-out, or a height outside the approach.
    MachineFault = 13, "machine-fault", "the machine reported a fault",
        "Check the machine's own error messages, fix the cause, and home the machine before moving it again.";
    /// A fetch or put-back cannot be confirmed.
    ProbeStateUnknown = 14, "probe-state-unknown", "it is not known whether the tool carries the probe",
        "Look at the tool, put the probe back by hand, then home the machine.";
    /// Asked to stop.
    Cancelled = 15, "cancelled", "the cycle was cancelled",
        "Start a new cycle when you are ready.";
    /// A value the arithmetic cannot hold.
    OutOfRange = 16, "out-of-range", "a value is too large for the arithmetic",
        "Check the units: heights are in millimetres.";
    /// s of the counted touches beyond what the study's s allows.
    NoisierThanStudied = 17, "noisier-than-studied", "the touches scatter more than their study allows",
        "Check for a loose mount, a worn or dirty switch, or a speed other than the study's; then touch again, \
            or study the switch again.";
    /// T outside the range expected of the datum switch.
    TipOutOfPlace = 18, "tip-out-of-place", "the tip trips the datum switch outside its expected range",
        "Clear any Z offset in force and home again; then check the nozzle, the units, and \
            datum_switch.tip_height.";
}

/// A number with its unit, as seen or as a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Amount {
    /// Millimetres.
    Length(Length),
    /// Millimetres, finer.
    Uncertainty(Uncertainty),
    /// Without unit.
    Ratio(Ratio),
}

impl Amount {
    /// The number alone.
    pub fn text(self) -> Text {
        match self {
            Amount::Length(x) => x.text(),
            Amount::Uncertainty(x) => x.text(),
            Amount::Ratio(x) => x.text(),
        }
    }

    /// `mm`, or nothing for a ratio.
    pub const fn unit(self) -> &'static str {
        match self {
            Amount::Length(_) | Amount::Uncertainty(_) => "mm",
            Amount::Ratio(_) => "",
        }
    }
}

/// One reason to refuse: what was seen, the limit, and where. Twelve bytes, since there may be many.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Refusal {
    /// Which.
    pub kind: RefusalKind,
    /// At which station, where it belongs to one.
    pub station: Option<Station>,
    seen_as: Kept,
    limit_as: Kept,
    seen: u32,
    limit: u32,
}

impl Refusal {
    /// A refusal with what was seen and the limit.
    pub const fn new(kind: RefusalKind, station: Option<Station>, seen: Amount, limit: Amount) -> Self {
        let ((seen_as, seen), (limit_as, limit)) = (Kept::of(seen), Kept::of(limit));
        Self { kind, station, seen_as, limit_as, seen, limit }
    }

    /// A refusal that has no number.
    pub const fn bare(kind: RefusalKind, station: Option<Station>) -> Self {
        Self { kind, station, seen_as: Kept::Nothing, limit_as: Kept::Nothing, seen: 0, limit: 0 }
    }

    /// What was seen.
    pub const fn seen(&self) -> Option<Amount> {
        self.seen_as.amount(self.seen)
    }

    /// What it was compared with. For guarded limits this is the acceptance limit: the setup's, moved in by
    /// the guard band.
    pub const fn limit(&self) -> Option<Amount> {
        self.limit_as.amount(self.limit)
    }
}

impl core::fmt::Debug for Refusal {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Refusal")
            .field("kind", &self.kind)
            .field("station", &self.station)
            .field("seen", &self.seen())
            .field("limit", &self.limit())
            .finish()
    }
}

/// As what an amount's bits are kept.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kept {
    Nothing,
    Length,
    Uncertainty,
    Ratio,
}

impl Kept {
    const fn of(amount: Amount) -> (Self, u32) {
        match amount {
            Amount::Length(x) => (Kept::Length, x.to_bits() as u32),
            Amount::Uncertainty(x) => (Kept::Uncertainty, x.to_bits()),
            Amount::Ratio(x) => (Kept::Ratio, x.to_bits()),
        }
    }

    const fn amount(self, bits: u32) -> Option<Amount> {
        Some(match self {
            Kept::Nothing => return None,
            Kept::Length => Amount::Length(Length::from_word(bits as i32)),
            Kept::Uncertainty => Amount::Uncertainty(Uncertainty::from_word(bits)),
            Kept::Ratio => Amount::Ratio(Ratio::from_word(bits)),
        })
    }
}

/// Most reasons that one cycle can have: three for each station and, for the landing, tip, drop, plate, window,
/// span, uncertainty and *out of range*. A cycle that ends early has at most the two of its ending beside the
/// landing's.
pub const MOST_REFUSALS: usize = 16;

/// All reasons of one cycle, in the order of [`RefusalKind`].
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Refusals(heapless::Vec<Refusal, MOST_REFUSALS>);

impl Refusals {
    /// None yet.
    pub const fn new() -> Self {
        Self(heapless::Vec::new())
    }

    /// Adds a reason behind those of its kind, keeping the order of the table. A seventeenth, which no cycle
    /// can reach, would be left out.
    #[cold]
    #[inline(never)]
    pub fn push(&mut self, refusal: Refusal) {
        let mut carried = refusal;
        let mut moving = false;
        for slot in self.0.iter_mut() {
            moving |= carried.kind.code() < slot.kind.code();
            if moving {
                core::mem::swap(&mut carried, slot);
            }
        }
        let _ = self.0.push(carried);
    }

    /// Adds a reason where there is one.
    #[inline]
    pub(crate) fn extend(&mut self, refusal: Option<Refusal>) {
        if let Some(refusal) = refusal {
            self.push(refusal);
        }
    }

    /// Forgets them all.
    pub(crate) fn clear(&mut self) {
        self.0.clear();
    }

    /// Whether there is none: the landing is accepted.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The reasons.
    pub fn as_slice(&self) -> &[Refusal] {
        &self.0
    }

    /// Whether the touches have disproved what u rests on: *unsteady*, *walking* or *noisier than studied*.
    pub fn disprove_u(&self) -> bool {
        self.as_slice().iter().any(|refusal| {
            matches!(
                refusal.kind,
                RefusalKind::Unsteady | RefusalKind::Walking | RefusalKind::NoisierThanStudied
            )
        })
    }

    /// Whether `kind` is the only reason.
    pub fn only(&self, kind: RefusalKind) -> bool {
        matches!(self.as_slice(), [one] if one.kind == kind)
    }
}
