//! What to do about each fault of a setup.

use zdatum::setup::Fault;

/// The remedy in a sentence.
pub(super) const fn remedy(fault: Fault) -> &'static str {
    match fault {
        Fault::LowAboveHigh => "write the lowest first, then a higher one: [lowest, highest]",
        Fault::NotPositive => "give a value above zero",
        Fault::Negative => "give zero or more",
        Fault::BadSteps => "write [steps, mm] as whole numbers, such as [1600, 3] for 1600 steps in 3 mm",
        Fault::OutsideTravel => "check the position (x, y) and the reach in [travel]",
        Fault::BeyondReach => "check travel.z against tip_height, drop, rise, margin and lift",
        Fault::AboveFreeHeight => {
            "check trip_depth and free_height: both are measured from the shoulder down"
        }
        Fault::FineAboveFirst => "lower touch.fine_speed or raise touch.first_speed",
        Fault::TooMany => "give fewer",
        Fault::LeastAboveMost => "lower touch.least or raise touch.most",
        Fault::OneNeedsStudy => "set touch.least to 2 or more, or add [pooled] for tip, shoulder and plate",
        Fault::TargetNeedsStudy => "set touch.target_u to 0.0, or add [pooled] for tip, shoulder and plate",
        Fault::KnownExactly => {
            "a tolerance of +-a is a / 1.73: +-0.2 mm gives 0.115; `zdatum trim --write` lowers it"
        }
        Fault::TooUncertain => "check um_per_c and delta_u_c: their product is an uncertainty of the landing",
        Fault::Implausible => "check the unit: it is millimetres",
        Fault::ImplausibleWarming => "check the unit: it is kelvins, as degrees Celsius apart",
        Fault::TipOverpress => {
            "narrow datum_switch.tip_height, lower touch.first_speed, or fit a switch with more overtravel"
        }
        Fault::ShoulderOverpress => {
            "narrow probe.drop, lower touch.first_speed, or fit a switch with more overtravel"
        }
        Fault::ShoulderLow => {
            "narrow probe.drop from below, lower plates.rise's highest, or lower touch.first_speed"
        }
        Fault::PlateLow => "narrow plates.rise, lower touch.first_speed, or fit a probe that hangs lower",
        Fault::CannotHold => "check the unit of each height: it is millimetres",
    }
}
