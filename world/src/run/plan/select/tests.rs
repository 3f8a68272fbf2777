use super::*;

#[test]
fn fronts_are_taken_whole_or_with_both_ends() {
    let reach = [9.0, 8.0, 8.5, 7.0, 9.5, 6.0, 5.0];
    let of = |count| layered((0..reach.len()).collect(), &|index| reach[index], count);
    assert_eq!(of(5), [0, 1, 3, 5, 6]);
    assert_eq!(of(6), [0, 1, 3, 5, 6, 2]);
    assert_eq!(of(7), [0, 1, 3, 5, 6, 2, 4]);
    assert_eq!(of(3), [0, 3, 6]);
    assert_eq!(of(1), [6]);
    assert_eq!(of(99).len(), 7);
    assert_eq!(layered(vec![0, 1], &|_| f64::INFINITY, 2), [] as [usize; 0]);
}

/// Many ways that lie about a front, some of them alike but for their key; one in eleven is none.
fn ways() -> Vec<Figures> {
    (0_u8..200)
        .map(|i| {
            let at = f64::from(i);
            let seconds = 15.0 + at * 37.0 % 50.0;
            let reach =
                if i % 11 == 5 { f64::INFINITY } else { 0.019 + 0.025 / seconds + at * 13.0 % 20.0 * 1e-4 };
            Figures {
                seconds,
                seconds_error: 0.2,
                reach,
                reach_tenth: 1.2 * reach,
                margin: 0.01,
                key: (i != 77, ([i; 4], [0; 6])),
            }
        })
        .collect()
}

fn wanted(within: f64) -> [Wanted; 4] {
    [(within, false), (within, true), (within / 2.0, false), (within / 2.0, true)]
        .map(|(within, tenth)| Wanted { within, tenth })
}

#[test]
fn what_stays_does_not_depend_on_the_order_in_which_it_was_found() {
    let ways = ways();
    let mut turned = ways.clone();
    turned.reverse();
    turned.rotate_left(77);
    let of = |ways: &[Figures], all: Vec<usize>| all.into_iter().map(|index| ways[index]).collect::<Vec<_>>();
    for count in [1, 8, 24, 64] {
        let kept = |ways: &[Figures]| of(ways, kept(ways, &wanted(0.0215), count));
        assert_eq!(kept(&ways), kept(&turned));
    }
    assert_eq!(of(&ways, front(&ways)), of(&turned, front(&turned)));
}

#[test]
fn no_way_of_a_front_is_beaten_by_any_other() {
    let ways = ways();
    let front = front(&ways);
    assert!(front.len() > 3, "{front:?}");
    let beats = |a: &Figures, b: &Figures| {
        a.seconds <= b.seconds && a.reach <= b.reach && (a.seconds < b.seconds || a.reach < b.reach)
    };
    assert!(front.iter().all(|one| !ways.iter().any(|other| beats(other, &ways[*one]))));
}

#[test]
fn what_may_be_the_best_stays() {
    let ways = ways();
    for within in [0.0205, 0.0215, 0.03] {
        let surely = |way: &&Figures| way.reach * (1.0 + way.margin) <= within;
        let quickest = ways.iter().filter(surely).min_by(|a, b| a.order(b)).expect("some keep it");
        let kept = kept(&ways, &wanted(within), 24);
        assert!(kept.iter().any(|index| ways[*index] == *quickest), "{within}: {quickest:?}");
        assert!(kept.iter().all(|index| ways[*index].reach.is_finite()));
    }
    // None keeps it: the nearest stays.
    let nearest = ways.iter().min_by(|a, b| a.reach.total_cmp(&b.reach)).expect("some");
    assert!(kept(&ways, &wanted(0.01), 24).iter().any(|index| ways[*index] == *nearest));
}
