//! Figures of many runs, ready to be shown: every estimate with its standard error.

use std::sync::atomic::AtomicBool;
use std::sync::{Mutex, PoisonError};

use zdatum::RefusalKind;

use super::Progress;
use super::campaign::tallied;
use super::cycle::{Bench, run_block_seen};
use super::gather::StatedSums;
use super::tally::{Estimate, Tally};

/// What many runs of one kind came to. Lengths in mm, times in s.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Runs done.
    pub runs: u64,
    /// Runs accepted; the errors below are theirs.
    pub accepted: u64,
    /// Refused runs by their first reason, in the order of the table of refusals; only what occurred.
    pub refusals: Vec<(RefusalKind, u64)>,
    /// Mean first-layer error; positive: tip too far from the plate. `None` where fewer than two runs were
    /// accepted, as with all that follows but `refused`, `touches` and `seconds`.
    pub mean: Option<Estimate>,
    /// Standard deviation of the error about its mean.
    pub sd: Option<Estimate>,
    /// The middle 95 % of the errors: their 2.5 % and 97.5 % quantiles.
    pub middle: Option<(f64, f64)>,
    /// Smallest and largest error.
    pub extremes: Option<(f64, f64)>,
    /// Share of accepted runs beyond the tolerance, 0 to 1.
    pub outside: Option<Estimate>,
    /// Share of accepted runs whose stated interval L ± U holds the true landing, 0 to 1; `None` for a way
    /// that states none.
    pub coverage: Option<Estimate>,
    /// Share of all runs refused, 0 to 1.
    pub refused: Estimate,
    /// Touches a run.
    pub touches: Estimate,
    /// Seconds of virtual time a run.
    pub seconds: Estimate,
}

impl Figures {
    /// From the sums; `None` where no run was done. `states_u`: whether an interval is stated with each
    /// landing.
    pub fn of(tally: &Tally, states_u: bool) -> Option<Self> {
        let quantile = |p| tally.errors.quantile(p).map(|quantile| quantile.value);
        let middle = quantile(0.025).zip(quantile(0.975));
        let enough = tally.accepted >= 2;
        Some(Self {
            runs: tally.runs,
            accepted: tally.accepted,
            refusals: tally.refusals().collect(),
            mean: tally.mean().filter(|_| enough),
            sd: tally.sd(),
            middle: middle.filter(|_| enough),
            extremes: tally.errors.extremes().filter(|_| enough),
            outside: tally.p_outside().filter(|_| enough),
            coverage: tally.coverage().filter(|_| enough && states_u),
            refused: tally.p_refused()?,
            touches: tally.touches()?,
            seconds: tally.seconds()?,
        })
    }

    /// Of a machine's own cycles, with the root of the core's mean u² over the accepted ones, mm. `progress`
    /// and `stop` as for [`campaign`](super::campaign()).
    pub(crate) fn with_core_u(
        bench: &Bench,
        runs: u64,
        within: f64,
        stop: &AtomicBool,
        progress: &Progress<'_>,
    ) -> Option<(Self, Option<f64>)> {
        let stated = Mutex::new(StatedSums::default());
        let tally = tallied(runs, within, stop, progress, |runs, tally| {
            let mut sums = StatedSums::default();
            // A checked setup always finds room.
            let _ = run_block_seen(bench, runs, |ran, seen| {
                tally.add(ran);
                if let Some(seen) = seen {
                    sums.add(&bench.setup, seen);
                }
            });
            // Whole numbers: the order of adding cannot show. A poisoned lock would mean that a run panicked.
            stated.lock().unwrap_or_else(PoisonError::into_inner).merge(&sums);
        });
        let core_u = stated.into_inner().unwrap_or_else(PoisonError::into_inner).u();
        Some((Self::of(&tally, true)?, core_u))
    }
}
