use std::f64::consts::PI;
use std::sync::atomic::AtomicU64;

use super::*;
use crate::tests::machine::{SILENT, bench, draft, mm};

/// Indices of a function of k uniform numbers in [0, 1).
fn of(k: usize, runs: u64, f: impl Fn(&[f64]) -> f64) -> Vec<IndexPair> {
    let point = |seed, run| {
        let mut random = Random::of_run(seed, run);
        (0..k).map(|_| random.uniform()).collect::<Vec<f64>>()
    };
    let blocks: Vec<IndexSums> = (0..BLOCKS as u64)
        .map(|block| {
            let mut sums = IndexSums::new(k);
            for run in block * runs / BLOCKS as u64..(block + 1) * runs / BLOCKS as u64 {
                let (a, b) = (point(1, run), point(2, run));
                let mixed: Vec<Option<f64>> = (0..k)
                    .map(|input| {
                        let mut x = a.clone();
                        x[input] = b[input];
                        Some(f(&x))
                    })
                    .collect();
                sums.add(Some(f(&a)), Some(f(&b)), &mixed);
            }
            sums
        })
        .collect();
    indices(&blocks, 3).expect("it varies")
}

#[track_caller]
fn assert_index(index: &Index, exact: f64, within: f64) {
    assert!((index.value - exact).abs() <= within, "{index:?}, not {exact}");
    assert!(index.low <= index.value && index.value <= index.high, "{index:?}");
    assert!(
        index.low - within / 2.0 <= exact && exact <= index.high + within / 2.0,
        "{index:?}, not {exact}"
    );
}

/// Ishigami and Homma (1990), a = 7, b = 0.1: published indices 0.3139, 0.4424, 0; totals 0.5576, 0.4424,
/// 0.2437.
#[test]
fn ishigami() {
    let pairs = of(3, 200_000, |x| {
        let x = [x[0], x[1], x[2]].map(|u| PI * (2.0 * u - 1.0));
        x[0].sin() + 7.0 * x[1].sin().powi(2) + 0.1 * x[2].powi(4) * x[0].sin()
    });
    for (pair, (first, total)) in pairs.iter().zip([(0.3139, 0.5576), (0.4424, 0.4424), (0.0, 0.2437)]) {
        assert_index(&pair.first, first, 0.01);
        assert_index(&pair.total, total, 0.01);
    }
}

/// Sobol's g-function, Π (|4xᵢ − 2| + aᵢ)/(1 + aᵢ): Vᵢ = 1/(3·(1 + aᵢ)²), V = Π (1 + Vᵢ) − 1, Tᵢ = Vᵢ·Π_{j ≠
/// i} (1 + Vⱼ)/V (Saltelli et al., Global Sensitivity Analysis, 2008).
#[test]
fn g_function() {
    let a = [0.0, 1.0, 4.5, 9.0, 99.0];
    let pairs = of(a.len(), 200_000, |x| {
        x.iter().zip(&a).map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a)).product()
    });
    let own = a.map(|a| 1.0 / (3.0 * (1.0 + a) * (1.0 + a)));
    let whole: f64 = own.iter().map(|v| 1.0 + v).product();
    for (pair, v) in pairs.iter().zip(own) {
        assert_index(&pair.first, v / (whole - 1.0), 0.012);
        assert_index(&pair.total, v * whole / (1.0 + v) / (whole - 1.0), 0.012);
    }
}

/// The interval holds the exact index in about 95 of 100 repetitions.
#[test]
fn intervals_cover() {
    let mut held = 0;
    for seed in 0..100 {
        let mut random = Random::of_run(seed, 99);
        let blocks: Vec<IndexSums> = (0..64)
            .map(|_| {
                let mut sums = IndexSums::new(2);
                for _ in 0..32 {
                    let [a, b, c, d] = [0; 4].map(|_| random.normal());
                    // f = x + y/2: first order 0.8 and 0.2.
                    let f = |x: f64, y: f64| Some(x + y / 2.0);
                    sums.add(f(a, b), f(c, d), &[f(c, b), f(a, d)]);
                }
                sums
            })
            .collect();
        let first = indices(&blocks, seed).expect("it varies")[0].first;
        held += u32::from(first.low <= 0.8 && 0.8 <= first.high);
    }
    assert!((88..=99).contains(&held), "{held} of 100");
}

#[test]
fn what_does_not_vary_has_no_index() {
    let mut sums = IndexSums::new(1);
    (0..10).for_each(|_| sums.add(Some(0.3), Some(0.3), &[Some(0.3)]));
    assert_eq!(indices(&[sums], 1), None);
}

#[test]
fn sums_are_added_as_by_hand() {
    let mut sums = IndexSums::new(2);
    sums.add(Some(1.0), Some(3.0), &[Some(2.5), None]);
    sums.add(Some(2.0), None, &[Some(9.0), Some(9.0)]);
    assert_eq!((sums.count, sums.sum, sums.squares), (3.0, 6.0, 14.0));
    assert_eq!(sums.inputs, [[1.0, 0.25, 2.25], [0.0; 3]]);
    // Σ (x − 2)² over 1, 3, 2, divided by two.
    assert!((sums.variance().expect("it varies") - 1.0).abs() < 1e-12);
    let [first, total] = sums.indices().expect("it varies")[0];
    assert!((first - 0.875).abs() < 1e-12 && (total - 1.125).abs() < 1e-12, "{first} {total}");
    let mut both = sums.clone();
    both.merge(&sums);
    assert_eq!((both.count, both.sum, both.squares), (6.0, 12.0, 28.0));
    assert_eq!(both.inputs[0], [2.0, 0.5, 4.5]);
    // A single value has no variance, nor has twice the same.
    let mut one = IndexSums::new(1);
    one.add(Some(4.0), None, &[None]);
    assert_eq!(one.variance(), None);
    one.add(Some(4.0), None, &[None]);
    assert_eq!(one.variance(), None);
}

/// Where a landing is refused for its height alone, and the plate alone moves it: all of the refusals are the
/// plate's. Rises of ±0.1 mm, and landings up to 0.65 where the tip is at 0.6: a quarter is refused.
#[test]
fn refusals_have_their_source() {
    let mut draft = draft();
    draft.accept.landing.high = mm("0.65");
    // Forty touches are run in the large room.
    for most in [12, 40] {
        draft.touch.most = most;
        let told = AtomicU64::new(0);
        let count = |cycles: u64| {
            told.fetch_add(cycles, Ordering::Relaxed);
        };
        let found = refusal_sources(&bench(&draft, &SILENT), 2_500, &AtomicBool::new(false), &count);
        assert_eq!((found.runs, found.complete), (2_560, true), "whole blocks");
        assert_eq!(told.into_inner(), 2_560 * 12);
        assert!((found.refused - 0.25).abs() < 5.0 * (0.1875_f64 / 5_120.0).sqrt(), "{}", found.refused);
        for (drawn, pair) in Drawn::ALL.iter().zip(found.indices.expect("some are")) {
            let due = f64::from(u8::from(*drawn == Drawn::Plate));
            assert!((pair.total.value - due).abs() < 0.1, "{drawn:?}: {pair:?}");
        }
    }
}

#[test]
fn where_none_is_refused_there_is_nothing_to_explain() {
    let bench = bench(&draft(), &SILENT);
    let found = refusal_sources(&bench, 300, &AtomicBool::new(false), &|_| {});
    assert_eq!((found.refused, found.indices), (0.0, None));
    let stopped = refusal_sources(&bench, 300, &AtomicBool::new(true), &|_| {});
    assert_eq!((stopped.runs, stopped.refused, stopped.complete), (0, 0.0, false));
}
