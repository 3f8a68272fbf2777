use zdatum::setup::Delay;
use zdatum::trim::{Check, Depth, Warmed, Weighing, enter_growth, exchange, trim};
use zdatum::{Growth, Latency, Warming};

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
        wish: mm("0.01"),
        made_with: mm("0.64"),
        speed: speed("3"),
        gauge_u: u("0.002"),
        feel_u: u("0.01"),
        landing_u: u("0.003"),
    };
    let kelvin = |text| Warming::parse(given(text)).unwrap_or_default();
    let rate_u = Growth::parse(given("0.05")).unwrap_or_default();
    let warmed = Warmed { rate_u, trimmed: kelvin("40"), under_test: kelvin("85") };
    for weighing in given([Weighing::Weighed, Weighing::Afresh]) {
        keep(trim(given(&known), given(&[warmed; 2]), given(&delay), given(&check), given(weighing)));
    }
    let Some(setup) = super::setup::checked() else { return };
    let Some(part) = setup.draft().growth.first() else { return };
    keep(exchange(given(&known), given(part)));
    keep(enter_growth(given(&known), given(part), given(rate_u)));
}
