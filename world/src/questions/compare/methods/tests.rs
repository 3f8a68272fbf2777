use super::*;
use crate::tests::machine::{checked, prompt as draft, u};

#[test]
fn each_method_has_a_name_a_label_and_a_word() {
    let said: Vec<[String; 3]> =
        Method::ALL.iter().map(|method| [method.name(), method.label(), method.word()]).collect();
    let due = [
        ["by hand, once", "by hand, once", "by-hand"],
        ["fixed switch", "fixed switch", "fixed-switch"],
        ["probe, stored height", "probe, stored height", "stored-height"],
        ["three touches, 1 each", "three touches, 1 each", "three-touches-1-mean"],
        ["three touches, 3 each", "three touches, 3 each", "three-touches-3-mean"],
        ["three touches, 5 each", "three touches, 5 each", "three-touches-5-mean"],
        ["three touches, 9 each", "three touches, 9 each", "three-touches-9-mean"],
        ["three touches, 5 each, median", "  5 each, median", "three-touches-5-median"],
        [
            "three touches, 5 each, Hodges–Lehmann",
            "  5 each, Hodges–Lehmann",
            "three-touches-5-hodges-lehmann",
        ],
        ["three touches, 5 each, fetched twice", "  5 each, fetched twice", "fetched-twice"],
    ];
    assert_eq!(said, due);
}

#[test]
fn only_a_cycle_of_its_own_states_an_interval() {
    let states = Method::ALL.map(Method::states_u);
    assert_eq!(states, [false, false, false, true, true, true, true, true, true, false]);
}

#[test]
fn other_touches_keep_the_spare_ones() {
    let mut draft = draft();
    draft.touch.target_u = u("0.001");
    (draft.touch.least, draft.touch.most) = (4, 10);
    let changed = |setup: &Setup, touches| {
        let setup = with_touches(setup, touches, Centre::Median).expect("allowed");
        let touch = &setup.draft().touch;
        assert_eq!((touch.centre, touch.target_u), (Centre::Median, Uncertainty::ZERO));
        (touch.least, touch.most)
    };
    let setup = checked(&draft);
    assert_eq!([1, 2, 30, 60].map(|n| changed(&setup, n)), [(1, 7), (2, 8), (30, 36), (60, 64)]);
    assert!(with_touches(&setup, 65, Centre::Mean).is_err());

    // One touch needs a study of every station; two need none.
    (draft.pooled.shoulder, draft.touch.target_u) = (None, Uncertainty::ZERO);
    let setup = checked(&draft);
    let why = with_touches(&setup, 1, Centre::Mean).expect_err("no study");
    assert_eq!(why, "a single touch says nothing of its scatter: it needs a study ([pooled])");
    assert_eq!(changed(&setup, 2), (2, 8));
}
