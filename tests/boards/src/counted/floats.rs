//! The same machine and touches in floats.

use zdatum::Setup;
use zdatum::setup::{Delay, LengthRange};

use super::generic::{self, Number};
use super::{count, must};
use crate::machine;
use crate::{given, keep};

/// A value of so many fraction bits.
fn value(bits: impl Into<i64>, fraction_bits: u32) -> f64 {
    bits.into() as f64 / (1_u64 << fraction_bits) as f64
}

/// Counts the landing with verdict in one kind of float, s from the touches and from a study.
pub(super) fn count_all<F: Number>(kind: &str, plain: &Setup, studied: &Setup, to: fn(f64) -> F) {
    let heights = [0, 1, 2].map(|station| {
        let recorded = machine::recorded(station);
        let mut heights = [F::ZERO; 5];
        for (height, z) in heights.iter_mut().zip(recorded.series.touches()) {
            *height = to(value(z.to_bits(), 16));
        }
        heights
    });
    let readings = machine::recorded(0).readings;
    let degrees = |at: Option<zdatum::Temperature>| at.map(|at| to(value(at.to_bits(), 16)));
    let read = generic::Conditions {
        speeds: [readings.speed.map(|v| to(value(v.to_bits(), 16))); 3],
        tool: degrees(readings.tool),
        bed: degrees(readings.bed),
        chamber: degrees(readings.chamber),
    };
    for (study, setup) in [("", plain), ("_studied", studied)] {
        let parts = parts(setup, to);
        let setup = in_floats(setup, &parts, to);
        let mut name = heapless::String::<24>::new();
        let _ =
            name.push_str("verdict_").and_then(|()| name.push_str(kind)).and_then(|()| name.push_str(study));
        count(&name, &mut || assess(given(&setup), given(&heights), given(&read)));
    }
}

#[inline(never)]
fn assess<F: Number>(setup: &generic::Setup<'_, F>, heights: &[[F; 5]; 3], read: &generic::Conditions<F>) {
    let [tip, shoulder, plate] = heights;
    let seen = generic::assess(setup, [tip, shoulder, plate], read, None);
    must(seen.as_ref().is_some_and(|(_, reasons)| reasons.0 == 0));
    keep(&seen);
}

fn parts<F: Number>(setup: &Setup, to: fn(f64) -> F) -> heapless::Vec<generic::Part<F>, 8> {
    let part = |part: &zdatum::setup::Grows| generic::Part {
        follows: match part.follows {
            zdatum::setup::Follows::Tool => generic::Follows::Tool,
            zdatum::setup::Follows::Bed => generic::Follows::Bed,
            zdatum::setup::Follows::Chamber => generic::Follows::Chamber,
        },
        rate: to(value(part.rate.to_bits(), 32)),
        rate_u: to(value(part.rate_u.to_bits(), 32)),
        touch: to(value(part.touch.to_bits(), 16)),
        print: to(value(part.print.to_bits(), 16)),
        delta_u: to(value(part.delta_u.to_bits(), 16)),
        trimmed: to(value(part.trimmed.to_bits(), 16)),
    };
    setup.draft().growth.iter().map(part).collect()
}

fn in_floats<'a, F: Number>(
    setup: &Setup,
    parts: &'a [generic::Part<F>],
    to: fn(f64) -> F,
) -> generic::Setup<'a, F> {
    let draft = setup.draft();
    let mm = |x: zdatum::Length| to(value(x.to_bits(), 16));
    let u = |x: zdatum::Uncertainty| to(value(x.to_bits(), 24));
    let speed = |x: zdatum::Speed| to(value(x.to_bits(), 16));
    let late = |x: &Delay| [x.latency, x.latency_u].map(|x| to(value(x.to_bits(), 32)));
    let [plate_latency, plate_latency_u] = late(&draft.probe.delay);
    let [datum_latency, datum_latency_u] = late(&draft.datum_switch.delay);
    let range = |x: LengthRange| generic::Range { low: mm(x.low), high: mm(x.high) };
    let study = |study: Option<zdatum::Pooled>| {
        study.map(|study| generic::Study { s: u(study.s), dof: study.dof.get() })
    };
    let studies = [draft.pooled.tip, draft.pooled.shoulder, draft.pooled.plate];
    generic::Setup {
        trip_depth: mm(draft.probe.trip_depth),
        trip_depth_u: u(draft.probe.trip_depth_u),
        trimmed_at_speed: speed(draft.probe.trimmed_at_speed),
        fine_speed: speed(draft.touch.fine_speed),
        plate_latency,
        plate_latency_u,
        datum_latency,
        datum_latency_u,
        parts,
        soak_left: mm(draft.soak_left),
        unseen: u(draft.unseen),
        between: [draft.pooled.tip_between, draft.pooled.span_between].map(study),
        studies: studies.map(study),
        tip_height: range(draft.datum_switch.tip_height),
        step: to(f64::from(setup.step().mm()) / f64::from(setup.step().steps())),
        rounding: to(setup.rounding().to_bits() as f64 / (1_u64 << 60) as f64),
        band: mm(draft.touch.band),
        drop: range(draft.probe.drop),
        rise: range(draft.plates.rise),
        window: range(draft.accept.landing),
        shift: mm(draft.accept.shift),
        expanded_u: u(draft.accept.expanded_u),
        coverage: 1,
    }
}
