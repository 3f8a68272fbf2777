use core::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Fault, Follows, Grows, Key, LengthRange, Place, Places, Plates, Probe,
    Studied, Touch, Travel,
};
use zdatum::{Centre, Coverage, Draft, Growth, Latency, Pooled, Setup, Station};

use super::{degrees, mm, show, speed, u};
use crate::{given, keep};

fn range(low: &str, high: &str) -> LengthRange {
    LengthRange { low: mm(low), high: mm(high) }
}

fn place(x: &str, y: &str) -> Place {
    Place { x: mm(x), y: mm(y) }
}

fn delay() -> Delay {
    Delay {
        latency: Latency::parse(given("0.001")).unwrap_or_default(),
        latency_u: Latency::parse(given("0.0002")).unwrap_or_default(),
    }
}

/// An invented machine.
pub(super) fn draft() -> Draft {
    let pooled = || NonZeroU32::new(given(40)).map(|dof| Pooled { s: u("0.002"), dof });
    let mut growth = heapless::Vec::new();
    keep(growth.push(Grows {
        follows: Follows::Tool,
        rate: Growth::parse(given("0.26")).unwrap_or_default(),
        rate_u: Growth::parse(given("0.05")).unwrap_or_default(),
        touch: degrees("150"),
        print: degrees("250"),
        delta_u: zdatum::Warming::ZERO,
        trimmed: zdatum::Warming::ZERO,
    }));
    given(Draft {
        travel: Travel {
            x: range("0", "300"),
            y: range("0", "300"),
            z: range("-5", "250"),
            steps: (1600, 3),
        },
        stations: Places {
            tip: place("150", "295"),
            shoulder: place("150", "280"),
            plate: place("150", "150"),
        },
        datum_switch: DatumSwitch { tip_height: range("-0.5", "1.5"), overtravel: mm("4"), delay: delay() },
        probe: Probe {
            trip_depth: mm("0.64"),
            trip_depth_u: u("0.01"),
            trimmed_at_speed: speed("2"),
            drop: range("5.5", "6.5"),
            free_height: mm("1"),
            delay: delay(),
        },
        plates: Plates { rise: range("-1", "1"), margin: mm("0.5") },
        touch: Touch {
            first_speed: speed("5"),
            fine_speed: speed("2"),
            lift: mm("2"),
            stop: mm("0.1"),
            settle: 1,
            least: 5,
            most: 9,
            band: mm("0.02"),
            centre: Centre::Mean,
            target_u: u("0"),
            tip_again: false,
        },
        growth,
        soak_left: mm("0.005"),
        unseen: u("0.003"),
        accept: Accept {
            landing: range("-2", "3"),
            shift: mm("0.1"),
            expanded_u: u("0.05"),
            coverage: Coverage::P95,
        },
        pooled: Studied { tip: pooled(), shoulder: pooled(), plate: pooled(), ..Studied::default() },
    })
}

pub(super) fn checked() -> Option<Setup> {
    match Setup::check(draft()) {
        Ok(setup) => Some(given(setup)),
        Err(bad) => {
            show(&given(bad));
            None
        }
    }
}

pub(super) fn all() {
    let Some(setup) = checked() else { return };
    keep(given(&setup).draft());
    keep(given(&setup).step());
    keep(given(&setup).rounding());
    keep(given(&setup).trip_depth_variance());
    keep(given(&setup).soak_variance());
    keep(given(&setup).unseen_variance());
    keep(given(&setup).readings_variance());
    for follows in given(Follows::ALL) {
        keep(given(follows).word());
    }
    for station in given(Station::ALL) {
        keep(given(&setup).method(given(station)));
        keep(given(&setup.draft().pooled).of(given(station)));
    }
    let floors = given(&setup).floors();
    keep(given(floors).tip_at_most(given(mm("0.5"))));
    keep(given(floors).shoulder(given(mm("0.5"))));
    keep(given(floors).plate(given(mm("0.5")), given(mm("6"))));
    keep(given(floors).plate_at_rise(given(mm("0.5")), given(mm("6")), given(mm("0.2"))));
    keep(given(floors).dead_plunger(given(mm("0.9"))));
    for key in given(Key::ALL) {
        keep(given(*key).text());
    }
    for fault in given(Fault::ALL) {
        keep(given(*fault).text());
    }

    let mut bad = draft();
    bad.touch.band = mm("-1");
    if let Err(bad) = Setup::check(given(bad)) {
        show(&given(bad));
    }
}
