use core::num::NonZeroU32;

use zdatum::budget::expand;
use zdatum::{Combined, Coverage, Dof, Ratio, Source, Term, Variance};

use crate::{given, keep};

pub(super) fn all() {
    let dof = Dof::new(given(NonZeroU32::MIN));
    keep(given(dof).finite());
    for coverage in given(Coverage::ALL) {
        keep(given(coverage).percent());
        for dof in given([dof, Dof::INFINITE]) {
            keep(given(coverage).factor(given(dof)));
        }
    }
    let term =
        |place, bits, dof| Term { source: Source::Other(place), variance: Variance::from_bits(bits), dof };
    let terms = given([term(0, 1 << 40, dof), term(1, 1 << 41, Dof::INFINITE), term(2, 3 << 39, dof)]);
    if let Ok(combined) = Combined::of(given(&terms), given(Coverage::P95)) {
        for term in &terms {
            keep(given(&combined).share(given(term)));
        }
    }
    keep(expand(given(Variance::from_bits(1 << 40)), given(Ratio::ZERO)));
}
