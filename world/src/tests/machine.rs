//! The tests' machines, checked and with a bench; without noise unless a test adds it.

use zdatum::setup::Studied;
use zdatum::{Draft, Latency};

use crate::Noise;
use crate::engine::Bench;

pub(crate) use zdatum_machines::{checked, exact as draft, latency, mm, part, range, speed, study, u};

pub(crate) const SILENT: Noise = Noise::SILENT;

/// A study of all three stations with this s.
pub(crate) fn studied(s: &str) -> Studied {
    let study = study(s, 40);
    Studied { tip: study, shoulder: study, plate: study, ..Studied::default() }
}

/// The same machine with switches that are studied and seen at once, for campaigns: a settling touch, then
/// four to ten.
pub(crate) fn prompt() -> Draft {
    let mut draft = draft();
    draft.datum_switch.delay.latency = Latency::ZERO;
    draft.probe.delay.latency = Latency::ZERO;
    draft.probe.trimmed_at_speed = draft.touch.fine_speed;
    draft.touch.settle = 1;
    draft.touch.most = 10;
    draft.pooled = studied("0.004");
    draft
}

/// How far a run of the draft's steps without noise can be off, mm: half a step and half a bit of a length at
/// each of three stations, half a bit of the landing.
pub(crate) const FINE: f64 = 3.0 * (0.5 / 16_384.0 + 0.5 / 65_536.0) + 0.5 / 65_536.0 + 1e-9;

pub(crate) fn bench(draft: &Draft, noise: &Noise) -> Bench {
    Bench::new(checked(draft), noise, 7)
}

/// Close to within so much.
#[track_caller]
pub(crate) fn assert_near(seen: f64, due: f64, within: f64) {
    assert!((seen - due).abs() <= within, "{seen}, not {due} to {within}");
}
