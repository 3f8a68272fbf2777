use zdatum::{Amount, Refusal, RefusalKind, Refusals, Station};

use super::{mm, u};
use crate::{given, keep};

pub(super) fn all() {
    for kind in given(RefusalKind::ALL) {
        keep(given(*kind).code());
        keep(given(*kind).word());
        keep(given(*kind).text());
        keep(given(*kind).advice());
    }
    let mut refusals = Refusals::new();
    let (seen, limit) = (Amount::Length(mm("0.03")), Amount::Uncertainty(u("0.02")));
    for refusal in [
        Refusal::new(given(RefusalKind::Unsteady), given(Some(Station::Tip)), given(seen), given(limit)),
        Refusal::bare(given(RefusalKind::NoTrip), given(None)),
    ] {
        given(&mut refusals).push(given(refusal));
    }
    for refusal in given(&refusals).as_slice() {
        keep(given(refusal).seen());
        keep(given(refusal).limit());
    }
    keep(given(&refusals).is_empty());
    keep(given(&refusals).as_slice());
    keep(given(&refusals).only(given(RefusalKind::NoTrip)));
    for amount in given([seen, limit]) {
        keep(given(amount).text());
        keep(given(amount).unit());
    }
}
