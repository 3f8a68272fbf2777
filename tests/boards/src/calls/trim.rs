use zdatum::Latency;
use zdatum::setup::Delay;
use zdatum::trim::{Check, Depth, Weighing, trim};

use super::{mm, speed, u};
use crate::{given, keep};

pub(super) fn all() {
    let known = Depth { t: mm("0.64"), u: u("0.1"), speed: speed("2") };
    let delay = Delay {
        latency: Latency::parse(given("0.001")).unwrap_or_default(),
        latency_u: Latency::parse(given("0.0002")).unwrap_or_default(),
    };
    let check = Check {
        too_high: mm("0.035"),
        made_with: mm("0.64"),
        speed: speed("3"),
        gauge_u: u("0.002"),
        feel_u: u("0.01"),
        landing_u: u("0.003"),
    };
    for weighing in given([Weighing::Weighed, Weighing::Afresh]) {
        keep(trim(given(&known), given(&delay), given(&check), given(weighing)));
    }
}
