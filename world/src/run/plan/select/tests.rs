//! Which ways stay, by figures that can be weighed by hand.

use super::*;
use crate::run::plan::tests::machine::{self, SILENT};

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
    // Of a second front that does not fit whole, what there is room for: its last.
    let two = [9.0, 9.5, 8.0, 8.5, 7.0, 7.5];
    assert_eq!(layered((0..6).collect(), &|index| two[index], 4), [0, 2, 4, 5]);
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

fn figures(seconds: f64, seconds_error: f64, reach: f64, margin: f64) -> Figures {
    Figures { seconds, seconds_error, reach, reach_tenth: 2.0 * reach, margin, key: (true, ([0; 4], [0; 6])) }
}

/// The seconds of those in question, the quickest first.
fn seconds_in_question(ways: &[Figures], within: f64, tenth: bool) -> Vec<f64> {
    let order = ordered(ways);
    in_question(&order, Wanted { within, tenth }).into_iter().map(|index| order[index].1.seconds).collect()
}

#[test]
fn in_question_is_what_may_keep_a_promise_as_quickly() {
    let ways = [
        // 1.05 less a tenth may be within 1, and is not surely.
        figures(10.0, 1.0, 1.05, 0.1),
        // 2 less half of it is 1: it may.
        figures(11.0, 1.0, 2.0, 0.5),
        // 1.12 less a tenth is beyond.
        figures(12.0, 1.0, 1.12, 0.1),
        // Surely within: ½ and as much again is 1. At most 20 + 2 · 3 = 26 s.
        figures(20.0, 3.0, 0.5, 1.0),
        // At least 25.9, 26 and 26.2 s.
        figures(26.9, 0.5, 0.2, 0.1),
        figures(27.0, 0.5, 0.2, 0.1),
        figures(27.2, 0.5, 0.2, 0.1),
    ];
    assert_eq!(seconds_in_question(&ways, 1.0, false), [10.0, 11.0, 20.0, 26.9, 27.0]);
    // A tenth reaches twice as far.
    assert_eq!(seconds_in_question(&ways, 2.0, true), [10.0, 11.0, 20.0, 26.9, 27.0]);
}

#[test]
fn where_none_keeps_a_promise_the_nearest_are_in_question() {
    let ways = [
        figures(1.0, 0.1, 0.5, 0.0),
        // Within twice a tenth of 0.5 or not, and within twice a fifth.
        figures(2.0, 0.1, 0.595, 0.1),
        figures(3.0, 0.1, 0.605, 0.1),
        figures(4.0, 0.1, 0.695, 0.2),
    ];
    assert_eq!(seconds_in_question(&ways, 0.1, false), [1.0, 2.0, 4.0]);
}

/// Forty ways, each slower than the one before and nearer, as quick as each other by their errors: all in question for everything.
#[test]
fn of_sixteen_half_an_eighth_and_a_quarter_stay() {
    let ways: Vec<Figures> =
        (0_u8..40).map(|i| figures(f64::from(i), 100.0, 100.0 - f64::from(i), 0.0)).collect();
    // Eight for what is asked for, i · 39/7; two for each that is stricter, both ends; four for the front, i · 39/3.
    let mut due = vec![0, 5, 11, 16, 22, 27, 33, 39];
    due.extend([0, 39]);
    due.extend([0, 13, 26, 39]);
    due.sort_unstable();
    due.dedup();
    assert_eq!(kept(&ways, &wanted(1_000.0), 16), due);
    // One for each of them at least: the last.
    assert_eq!(kept(&ways, &wanted(1_000.0), 1), [39]);
    assert_eq!(kept(&ways, &wanted(1_000.0), 0), [] as [usize; 0]);
}

#[test]
fn a_front_goes_on_with_what_is_clearly_nearer() {
    let just = 1.0 - LEAST_MARGIN;
    let ways =
        [figures(1.0, 0.1, 1.0, 0.0), figures(2.0, 0.1, just, 0.0), figures(3.0, 0.1, just.next_down(), 0.0)];
    assert_eq!(front(&ways), [0, 2]);
}

#[test]
fn figures_are_those_of_the_way_and_the_file_comes_first() {
    let bench = machine::bench(&machine::draft(), &SILENT);
    let asked = machine::asked(&bench, 0.02, 0.05);
    let own = bench.setup.draft().touch;
    let other = Touch { least: 3, ..own };
    let of = |touch| Figures::of(&machine::way(&asked, touch, 20.0, 0.01), &own);
    assert_eq!((of(own).key, of(other).key), ((false, key(&own)), (true, key(&other))));
    assert_eq!(of(own).order(&of(other)), Ordering::Less);
    // 5 % and 0.5 % lie beyond 1.959964 and 2.807034 deviations.
    let way = machine::way(&asked, own, 20.0, 0.01);
    for (tenth, due) in [(false, 0.019_599_64), (true, 0.028_070_34)] {
        let wanted = Wanted { within: 0.02, tenth };
        let (reach, figure) = (wanted.reach(&way), of(own).reach(wanted));
        assert!((reach - due).abs() < 1e-7 && figure == reach, "{reach}, {figure}");
    }
    assert!((of(own).seconds - 20.0).abs() < 1e-12);
}
