//! Runs made by hand, beside the machine of round numbers.

use std::sync::atomic::AtomicBool;

use zdatum::RefusalKind;
use zdatum::cycle::Ending;

use crate::engine::{Bench, Ran, Tally};
use crate::questions::plan::PlanQuestion;

pub(in crate::questions::plan) use crate::tests::machine::{
    SILENT, bench, checked, draft, latency, mm, speed, studied, u,
};

pub(in crate::questions::plan) static GO: AtomicBool = AtomicBool::new(false);
pub(in crate::questions::plan) static STOP: AtomicBool = AtomicBool::new(true);

/// A promise that is asked for, a refused cycle at 40 s beside its own time.
pub(in crate::questions::plan) fn asked(bench: &Bench, within: f64, risk: f64) -> PlanQuestion<'_> {
    PlanQuestion { growth_names: &[], bench, within, risk, refused_costs: 40.0 }
}

/// Accepted runs of 20 s with these errors, and so many refused ones of 30 s.
pub(in crate::questions::plan) fn tally(
    errors: impl IntoIterator<Item = f64>,
    refused: usize,
    within: f64,
) -> Tally {
    let mut tally = Tally::new(within);
    errors.into_iter().for_each(|error| tally.add(&ran(Some(error), 20.0)));
    (0..refused).for_each(|_| tally.add(&ran(None, 30.0)));
    tally
}

/// A run of twelve touches.
pub(in crate::questions::plan) fn ran(error: Option<f64>, seconds: f64) -> Ran {
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
