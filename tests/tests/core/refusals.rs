//! The table of refusals and the list that keeps its order.

use zdatum::{Amount, Refusal, RefusalKind, Refusals, Station};
use zdatum_tests::machine::{mm, u};

/// Codes and words stay what they are, whoever is added: firmware and scripts know them.
#[test]
fn codes_and_words_stay() {
    let known = [
        (1, "already-tripped"),
        (2, "no-trip"),
        (3, "wrong-switch"),
        (4, "still-tripped"),
        (5, "unsteady"),
        (6, "walking"),
        (7, "drop-out-of-place"),
        (8, "plate-out-of-place"),
        (9, "landing-out-of-window"),
        (10, "moved-too-far"),
        (11, "moved-during-cycle"),
        (12, "too-uncertain"),
        (13, "machine-fault"),
        (14, "probe-state-unknown"),
        (15, "cancelled"),
        (16, "out-of-range"),
        (17, "noisier-than-studied"),
        (18, "tip-out-of-place"),
    ];
    assert_eq!(RefusalKind::ALL.iter().map(|kind| (kind.code(), kind.word())).collect::<Vec<_>>(), known);
    for kind in RefusalKind::ALL {
        assert!(
            kind.text().len() > 10 && kind.advice().len() > 10 && kind.text() != kind.advice(),
            "{kind:?}"
        );
        let others = RefusalKind::ALL.iter().filter(|other| other != &kind);
        assert!(
            others.clone().all(|other| other.text() != kind.text() && other.advice() != kind.advice()),
            "{kind:?}"
        );
    }
}

/// Reasons keep the order of their codes however they come, and equal codes the order in which they came.
#[test]
fn refusals_sort_themselves() {
    let mut all = Refusals::new();
    assert!(all.is_empty() && !all.only(RefusalKind::Walking));
    let bare = |kind, station| Refusal::bare(kind, station);
    all.push(bare(RefusalKind::Walking, None));
    assert!(all.only(RefusalKind::Walking) && !all.only(RefusalKind::NoTrip) && !all.is_empty());
    all.push(bare(RefusalKind::OutOfRange, None));
    assert!(!all.only(RefusalKind::Walking));
    all.push(bare(RefusalKind::AlreadyTripped, None));
    all.push(bare(RefusalKind::Walking, Some(Station::Tip)));
    let seen: Vec<_> = all.as_slice().iter().map(|refusal| (refusal.kind.code(), refusal.station)).collect();
    assert_eq!(seen, [(1, None), (6, None), (6, Some(Station::Tip)), (16, None)]);
    for _ in 0..30 {
        all.push(bare(RefusalKind::Cancelled, None));
    }
    assert_eq!(all.as_slice().len(), zdatum::refusal::MOST_REFUSALS);
}

#[test]
fn amounts_and_stations_have_their_words() {
    assert_eq!(Station::ALL.map(Station::word), ["tip", "shoulder", "plate"]);
    let amounts = [
        (Amount::Length(mm("0.5")), "0.5", "mm"),
        (Amount::Uncertainty(u("0.25")), "0.25", "mm"),
        (Amount::Ratio(zdatum::Ratio::ONE), "1", ""),
    ];
    for (amount, text, unit) in amounts {
        assert_eq!((amount.text().as_str(), amount.unit()), (text, unit));
    }
}
