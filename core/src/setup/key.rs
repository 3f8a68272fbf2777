//! The keys of a machine file and what can be wrong with them, from one table.

use crate::decimal::Text;
use crate::units::Length;

/// Declares keys with their paths, and faults with their texts.
macro_rules! table {
    ($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident => $text:literal,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $name { $($(#[$variant_doc])* $variant,)* }

        impl $name {
            /// All of them.
            pub const ALL: &'static [$name] = &[$($name::$variant,)*];

            /// Its text.
            pub const fn text(self) -> &'static str {
                match self { $($name::$variant => $text,)* }
            }
        }
    };
}

table! {
    /// A key of the machine file, as its dotted path.
    Key {
        /// Reach across.
        TravelX => "travel.x",
        /// Reach along.
        TravelY => "travel.y",
        /// Reach in height.
        TravelZ => "travel.z",
        /// Motor steps.
        TravelSteps => "travel.steps",
        /// Position of the tip's station.
        StationTip => "stations.tip",
        /// Position of the shoulder's station.
        StationShoulder => "stations.shoulder",
        /// Position of the plate's station.
        StationPlate => "stations.plate",
        /// T expected.
        TipHeight => "datum_switch.tip_height",
        /// The pin's reserve.
        Overtravel => "datum_switch.overtravel",
        /// t.
        TripDepth => "probe.trip_depth",
        /// u(t).
        TripDepthU => "probe.trip_depth_u",
        /// d expected.
        Drop => "probe.drop",
        /// f.
        FreeHeight => "probe.free_height",
        /// r expected.
        Rise => "plates.rise",
        /// Clearance.
        Margin => "plates.margin",
        /// Fast approach.
        FirstSpeed => "touch.first_speed",
        /// Slow approach.
        FineSpeed => "touch.fine_speed",
        /// Back-off.
        Lift => "touch.lift",
        /// Stopping way.
        Stop => "touch.stop",
        /// Thrown away.
        Settle => "touch.settle",
        /// Fewest counted.
        Least => "touch.least",
        /// Most taken.
        Most => "touch.most",
        /// Widest spread.
        Band => "touch.band",
        /// Target for a station's u.
        TargetU => "touch.target_u",
        /// u(g).
        GrowthU => "growth.um_per_c_u",
        /// u(Δθ).
        GrowthDeltaU => "growth.delta_u_c",
        /// Growth to come.
        SoakLeft => "soak.left",
        /// What no touch shows.
        Unseen => "unseen.u",
        /// Window for L.
        AcceptLanding => "accept.landing",
        /// Change of a span.
        AcceptShift => "accept.shift",
        /// Study of the tip's station.
        PooledTip => "pooled.tip",
        /// Study of the shoulder's station.
        PooledShoulder => "pooled.shoulder",
        /// Study of the plate's station.
        PooledPlate => "pooled.plate",
        /// b(tip).
        PooledTipBetween => "pooled.tip_between",
        /// b(span).
        PooledSpanBetween => "pooled.span_between",
        /// Largest U.
        AcceptU => "accept.expanded_u",
    }
}

table! {
    /// What is wrong with a key.
    Fault {
        /// Lowest and highest the wrong way round, or equal where a width is needed.
        LowAboveHigh => "the lowest value is above the highest",
        /// Must be above zero.
        NotPositive => "must be above zero",
        /// Must not be below zero.
        Negative => "must not be below zero",
        /// Steps in mm outside 1 to 1,048,576, or a step outside 2⁻¹⁴ mm to 1 mm.
        BadSteps => "a motor step must be 0.00006 mm to 1 mm; steps and mm are whole numbers up to 1048576",
        /// The station is out of the carriage's reach.
        OutsideTravel => "is outside the travel",
        /// A height the carriage cannot reach.
        BeyondReach => "needs a height outside travel.z",
        /// The plunger trips when pressed, so t is below f.
        AboveFreeHeight => "must not exceed free_height: the plunger trips when it is pressed in",
        /// The floors' stopping distance is worked out at the first speed.
        FineAboveFirst => "must not exceed first_speed, for which the floors are worked out",
        /// More touches than can be held.
        TooMany => "is above the maximum (settle 16, most 64)",
        /// least > most.
        LeastAboveMost => "is above touch.most",
        /// One touch shows no scatter.
        OneNeedsStudy => "one touch shows no scatter: set at least 2, or give [pooled] for every station",
        /// u from n touches does not fall reliably.
        TargetNeedsStudy => "a target needs [pooled] for every station",
        /// The arithmetic squares it.
        TooUncertain => "makes the landing uncertain by 4 mm or more",
        /// No trip depth is known exactly.
        KnownExactly => "must be above zero: give the tolerance of the switch's sheet, or of the last gauge check, as a standard uncertainty",
        /// So large that another unit was meant.
        Implausible => "is too large to be meant; the unit is mm, so 5 um is 0.005",
        /// So large that another unit was meant.
        ImplausibleWarming => "is too large to be meant; it is the standard uncertainty of a temperature difference in kelvins, at most 100",
        /// The tip's approach could press the datum switch past its overtravel.
        TipOverpress => "the tip could press the datum switch beyond its overtravel: T_hi - T_lo + \
            first_speed x latency + stop + step exceeds it",
        /// The shoulder's approach could.
        ShoulderOverpress => "the shoulder could press the datum switch beyond its overtravel: d_hi - d_lo + \
            first_speed x latency + stop + step exceeds it",
        /// At the shoulder's floor the tip, which may stand over the plate, would come too near.
        ShoulderLow => "the drop is too small: with the shoulder at its floor, the tip would be closer than \
            plates.margin to the highest plate",
        /// At the plate's floor, with the probe lost, the tip would come too near.
        PlateLow => "drop and trip depth are too small for this range of plates: if the probe fell off, the \
            tip would come closer than plates.margin to the highest plate",
        /// Some sum of the setup's values leaves the range of lengths.
        CannotHold => "leads to a height that is out of range",
    }
}

/// A setup that nothing may move on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BadSetup {
    /// Which key.
    pub key: Key,
    /// What is wrong.
    pub fault: Fault,
    /// What was seen, where it is a length.
    pub seen: Option<Length>,
    /// The limit, where it is a length.
    pub limit: Option<Length>,
}

impl BadSetup {
    pub(super) const fn new(key: Key, fault: Fault) -> Self {
        Self { key, fault, seen: None, limit: None }
    }

    pub(super) const fn with(key: Key, fault: Fault, seen: Length, limit: Length) -> Self {
        Self { key, fault, seen: Some(seen), limit: Some(limit) }
    }
}

impl core::fmt::Display for BadSetup {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.key.text())?;
        f.write_str(": ")?;
        f.write_str(self.fault.text())?;
        let amounts: [(&str, Option<Text>); 2] =
            [(" (seen ", self.seen.map(Length::text)), (", limit ", self.limit.map(Length::text))];
        for (label, amount) in amounts {
            if let Some(text) = amount {
                f.write_str(label)?;
                f.write_str(&text)?;
                f.write_str(" mm")?;
            }
        }
        if self.seen.is_some() { f.write_str(")") } else { Ok(()) }
    }
}

impl core::error::Error for BadSetup {}
