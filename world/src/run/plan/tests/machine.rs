//! A machine of round numbers that knows everything of itself and trips without noise; the tests add what they are about.

use std::num::NonZeroU32;

use zdatum::cycle::Ending;
use zdatum::setup::{Accept, DatumSwitch, Delay, Place, Places, Plates, Probe, Span, Studied, Touch, Travel};
use zdatum::{Centre, Coverage, Draft, Latency, Length, Pooled, RefusalKind, Setup, Speed, Uncertainty};

use crate::run::plan::shared::Moments;
use crate::run::plan::{Asked, Way};
use crate::run::{Bench, Ran, Tally};
use crate::{Noise, Shape};

pub(in crate::run::plan) const SILENT: Noise = Noise {
    shape: Shape::Normal,
    tip_switch: 0.0,
    shoulder_switch: 0.0,
    plate_switch: 0.0,
    reseat: 0.0,
    latency_jitter_s: 0.0,
    datum_differential: 0.0,
    plate_differential: 0.0,
    bounce_s: 0.0,
    drift: 0.0,
    drift_tau_s: 1500.0,
    print_delay_s: 90.0,
    outlier_rate: 0.0,
    outlier_size: 0.0,
    tip_filament: 0.0,
    tip_squash: 0.3,
};

pub(in crate::run::plan) fn mm(text: &str) -> Length {
    Length::parse(text).expect("a length")
}

pub(in crate::run::plan) fn speed(text: &str) -> Speed {
    Speed::parse(text).expect("a speed")
}

pub(in crate::run::plan) fn u(text: &str) -> Uncertainty {
    Uncertainty::parse(text).expect("an uncertainty")
}

pub(in crate::run::plan) fn latency(text: &str) -> Latency {
    Latency::parse(text).expect("a latency")
}

fn span(low: &str, high: &str) -> Span {
    Span { low: mm(low), high: mm(high) }
}

fn place(x: &str, y: &str) -> Place {
    Place { x: mm(x), y: mm(y) }
}

/// A study of all three stations with this s.
pub(in crate::run::plan) fn studied(s: &str) -> Studied {
    let study = Some(Pooled { s: u(s), dof: NonZeroU32::new(40).expect("above 0") });
    Studied { tip: study, shoulder: study, plate: study }
}

/// Four to nine touches, motor steps of 0.06 µm, nothing studied, limits so wide that nothing is refused.
pub(in crate::run::plan) fn draft() -> Draft {
    let exact = |text| Delay { latency: latency(text), latency_u: Latency::ZERO };
    Draft {
        travel: Travel {
            x: span("0", "180"),
            y: span("0", "180"),
            z: span("-3", "160"),
            steps: (1 << 14, 1),
        },
        stations: Places {
            tip: place("170", "180"),
            shoulder: place("170", "155"),
            plate: place("90", "95"),
        },
        datum_switch: DatumSwitch {
            tip_height: span("0.1", "1.1"),
            overtravel: mm("2.5"),
            delay: exact("0.0004"),
        },
        probe: Probe {
            trip_depth: mm("0.55"),
            trip_depth_u: Uncertainty::ZERO,
            trimmed_at_speed: speed("0"),
            drop: span("5.5", "6.5"),
            free_height: mm("1.25"),
            delay: exact("0.001"),
        },
        plates: Plates { rise: span("-0.5", "0.5"), margin: mm("0.5") },
        touch: Touch {
            first_speed: speed("6"),
            fine_speed: speed("2"),
            lift: mm("0.5"),
            stop: mm("0.1"),
            settle: 0,
            least: 4,
            most: 9,
            band: mm("1"),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: false,
        },
        growth: Default::default(),
        soak_left: Uncertainty::ZERO,
        accept: Accept {
            landing: span("-30", "30"),
            shift: mm("10"),
            expanded_u: u("1"),
            coverage: Coverage::P95,
        },
        pooled: Studied::default(),
    }
}

pub(in crate::run::plan) fn checked(draft: &Draft) -> Setup {
    Setup::check(draft.clone()).unwrap_or_else(|bad| panic!("the setup must pass: {bad}"))
}

pub(in crate::run::plan) fn bench(draft: &Draft, noise: &Noise) -> Bench {
    Bench::new(checked(draft), noise, 11)
}

/// A promise that is asked for, refused cycles at no further cost.
pub(in crate::run::plan) fn asked(bench: &Bench, within: f64, risk: f64) -> Asked<'_> {
    Asked { growth_names: &[], bench, within, risk, refused_costs: 0.0 }
}

/// A way of ten accepted runs of so many seconds, whose error is known to be normal about zero with this standard deviation.
pub(in crate::run::plan) fn way(asked: &Asked<'_>, touch: Touch, seconds: f64, sd: f64) -> Way {
    way_about(asked, touch, seconds, 0.0, sd)
}

/// The same about another mean.
pub(in crate::run::plan) fn way_about(
    asked: &Asked<'_>,
    touch: Touch,
    seconds: f64,
    mean: f64,
    sd: f64,
) -> Way {
    let mut tally = Tally::new(asked.within);
    for error in [1e-6, -1e-6].repeat(5) {
        tally.add(&ran(Some(error), seconds));
    }
    way_of(asked, touch, &tally, mean, sd)
}

/// A way that was always refused.
pub(in crate::run::plan) fn refused(asked: &Asked<'_>, touch: Touch) -> Way {
    let mut tally = Tally::new(asked.within);
    (0..10).for_each(|_| tally.add(&ran(None, 5.0)));
    way_of(asked, touch, &tally, 0.0, 0.0)
}

fn way_of(asked: &Asked<'_>, touch: Touch, tally: &Tally, mean: f64, sd: f64) -> Way {
    let mut draft = asked.bench.setup.draft().clone();
    draft.touch = touch;
    Way::of(&checked(&draft), tally, asked, Some(Moments { mean, variance: sd * sd, error: 0.0 }))
}

/// A run of twelve touches.
pub(in crate::run::plan) fn ran(error: Option<f64>, seconds: f64) -> Ran {
    Ran {
        error,
        expanded: 0.01,
        refused: error.is_none().then_some(RefusalKind::Unsteady),
        true_landing: 0.0,
        touches: 12,
        seconds,
        ending: Ending::LiftedAndPutBack,
    }
}
