use zdatum::verdict::{judge, judge_series};
use zdatum::{Assessment, LastSpan, Recorded, Refusals, Station, Variance};

use super::{TOUCHES, landing, mm, series, setup};
use crate::{given, keep};

fn recorded(height: &str) -> Recorded<TOUCHES> {
    given(Recorded { series: series::series(height), readings: landing::readings() })
}

pub(super) fn all() {
    let Some(setup) = setup::checked() else { return };
    let last = LastSpan::new(mm("0.84"), Variance::from_bits(given(1 << 40)));
    let [tip, shoulder, plate] = [recorded("0.5"), recorded("6.5"), recorded("7.34")];
    match Assessment::of(given(&setup), given(&tip), given(&shoulder), given(&plate), given(Some(&last))) {
        Ok(assessment) => {
            keep(given(&assessment).landing());
            keep(given(&assessment).landing_seen());
            keep(given(&assessment).touches());
            keep(given(&assessment).uncertainty());
            keep(given(&assessment).refusals());
            keep(given(&assessment).accepted());
            keep(given(&assessment).for_gauge_check());
        }
        Err(too_few) => keep(too_few),
    }
    keep(given(&mut Assessment::open()).judge(
        given(&setup),
        given([&tip, &shoulder, &plate]),
        given(Some(&last)),
    ));

    let Some(touches) = landing::touches(given(&setup)) else { return };
    let mut refusals = Refusals::new();
    judge_series(given(&setup), given(Station::Plate), given(&touches.plate), |refusal| {
        refusals.push(refusal)
    });
    keep(judge(given(&setup), given(&touches), given(Some(&last)), given(&mut refusals)));
    keep(given(&refusals).disprove_u());
}
