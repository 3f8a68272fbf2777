//! Ways and runs made by hand, beside the machine of round numbers.

use zdatum::RefusalKind;
use zdatum::cycle::Ending;
use zdatum::setup::Touch;

use crate::run::plan::shared::Moments;
use crate::run::plan::{Asked, Way};
use crate::run::{Bench, Ran, Tally};

pub(in crate::run::plan) use crate::tests::machine::{
    SILENT, bench, checked, draft, latency, mm, speed, studied, u,
};

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
