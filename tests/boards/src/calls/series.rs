use core::num::NonZeroU32;

use zdatum::series::{Method, variance_factor};
use zdatum::{Centre, Length, Pooled, Series, Station, Step, Summary, Variance};

use super::{TOUCHES, mm, u};
use crate::{given, keep};

/// A steady series around a height.
pub(super) fn series(height: &str) -> Series<TOUCHES> {
    let mut series = Series::new();
    let height = mm(height);
    for offset in given([0, 131, -65, 65, 0]) {
        let z = Length::from_bits(i64::from(height.to_bits()).saturating_add(offset)).unwrap_or_default();
        keep(given(&mut series).push(given(z)));
    }
    series
}

pub(super) fn all() {
    let mut touches = given(series("0.5"));
    for centre in given([Centre::Mean, Centre::Median, Centre::HodgesLehmann]) {
        keep(given(&touches).centre(given(centre)));
        keep(variance_factor(given(centre), given(5)));
        for pooled in given([None, NonZeroU32::new(40).map(|dof| Pooled { s: u("0.002"), dof })]) {
            let method = Method { centre, pooled, floor: Variance::from_bits(given(1 << 40)) };
            keep(given(&method).variance_for(given(7)));
            if let Ok(summary) = given(&touches).close(given(&method)) {
                read(given(&summary));
            }
        }
    }
    keep(given(&touches).close_single(given(Variance::from_bits(1 << 40))));
    keep(given(&touches).touches());
    keep(given(&touches).len());
    keep(given(&touches).is_empty());
    keep(given(&touches).extremes());
    keep(given(&touches).spread());
    let method = Method { centre: given(Centre::Mean), pooled: None, floor: Variance::ZERO };
    let mut closed = Summary::OPEN;
    keep(given(&touches).close_into(given(&method), given(&mut closed)));
    given(&mut touches).drop_oldest(given(2));
    keep(given(&touches).close(given(&Method { centre: Centre::Mean, pooled: None, floor: Variance::ZERO })));
    given(&mut touches).clear();
    keep(given(&touches).clone());
    for station in given(Station::ALL) {
        keep(given(station).word());
    }
}

fn read(summary: &Summary) {
    keep(given(summary).count());
    keep(given(summary).centre());
    keep(given(summary).variance());
    keep(given(summary).dof());
    keep(given(summary).spread());
    keep(given(summary).s());
    keep(given(summary).walked());
    keep(given(summary).slope());
    keep(given(summary).von_neumann());
    keep(given(summary).walks_by_ratio());
    if let Ok(step) = Step::new(given(1600), given(3)) {
        let floor = Variance::from_bits(given(1 << 40));
        let Some(dof) = core::num::NonZeroU32::new(given(40)) else { return };
        let study = Pooled { s: u("0.002"), dof };
        keep(given(summary).walks_by_slope(given(&study), given(step), given(floor)));
        keep(given(summary).noisier_than(given(&study), given(step), given(floor)));
        keep(given(summary).noise_limit(given(&study), given(step), given(floor)));
        keep(given(summary).walk_limit(given(&study), given(step), given(floor)));
    }
}
