use zdatum::watch::{Cause, Change, Charts, Cusum, Design, Ewma, Observed, Reading, Score, Watch};
use zdatum::{Length, Ratio, Uncertainty, Variance};

use super::{landing, mm, setup, show};
use crate::{given, keep};

type Charted = Watch<u8, 4>;

fn reading(height: &str, bits: i64) -> Option<Reading> {
    let value = mm(height).plus(Length::from_bits(given(bits)).ok()?).ok()?;
    Some(Reading { value, variance: Variance::from_bits(given(1 << 40)) })
}

pub(super) fn all() {
    charts();
    let mut watch = Charted::new(given(Design::STANDARD), given(Uncertainty::ZERO));
    for n in 0..given(40_i64) {
        let moved = if n < 30 { 0 } else { 6_000 };
        let observed = Observed {
            tip: reading("0.5", n % 3 * 40 + moved),
            drop: reading("6", n % 5 * 600 - moved),
            span: reading("0.84", n % 4 * 50),
        };
        match given(&mut watch).see(given(Some((n % 2) as u8)), given(&observed)) {
            Ok(alarm) => keep(alarm),
            Err(error) => show(&error),
        }
    }
    keep(given(&watch).alarmed());
    keep(given(&watch).design());
    let diagnosis = given(&watch).diagnosis();
    keep(given(&diagnosis).only());
    for fit in given(&diagnosis).fits() {
        keep(given(fit));
    }
    for cause in given(Cause::ALL) {
        let cause = given(cause);
        keep((cause.word(), cause.text(), cause.advice()));
    }
    save(&watch);
    for charts in [given(&watch).tip(), given(&watch).drop()] {
        keep((given(charts).mean(), given(charts).s(), given(charts).learnt(), given(charts).score()));
        keep((given(charts).ewma(), given(charts).cusum(), given(charts).alarm()));
    }
    given(&mut watch).tell(given(Change::Nozzle));
    given(&mut watch).dismiss();
    keep(given(&mut watch).forget(given(&1)));

    let Some(setup) = setup::checked() else { return };
    let Some(touches) = landing::touches(given(&setup)) else { return };
    keep(Observed::of(given(&touches)));
}

fn save(watch: &Charted) {
    let mut again = Charted::new(given(Design::STANDARD), given(Uncertainty::ZERO));
    let back =
        |charts: &Charts| Charts::from_words(&given(given(charts).to_words())).unwrap_or(Charts::new());
    given(&mut again).restore(back(watch.tip()), back(watch.drop()));
    for (plate, charts) in given(watch).spans() {
        keep(given(&mut again).restore_span(given(*plate), back(charts)));
    }
    keep(given(&again).span(given(&0)).is_some());
}

/// The charts alone.
fn charts() {
    let ratio = |bits| Ratio::from_bits(given(bits)).unwrap_or_default();
    let Ok(design) = Design::new(ratio(1 << 14), ratio(3 << 16), ratio(1 << 15), ratio(5 << 16)) else {
        return;
    };
    keep((given(&design).ewma_limit(), given(&design).cusum_limit()));
    let (mut ewma, mut cusum) = (Ewma::new(), Cusum::new());
    if let Ok(score) = Score::from_bits(given(70_000)) {
        keep(given(score).to_bits());
        given(&mut ewma).push(given(&design), given(score));
        given(&mut cusum).push(given(&design), given(score));
    }
    keep((given(&ewma).level(), given(&ewma).beyond(given(&design))));
    keep((given(&cusum).sums(), given(&cusum).beyond(given(&design))));
}
