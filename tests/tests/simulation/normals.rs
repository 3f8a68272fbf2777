//! The simulator's normal numbers against the normal distribution.

use zdatum_sim::world::random::Random;

use crate::machines::assert_near;

const DRAWS: u64 = 20_000_000;
/// Where the ziggurat's lowest layer ends: beyond, numbers come from another rule.
const TAIL: f64 = 3.654_152_885_361_009;
/// Bins from −4.5 to 4.5, and one beyond either end.
const BINS: usize = 360;

/// P(Z > x).
fn above(x: f64) -> f64 {
    0.5 * libm::erfc(x * std::f64::consts::FRAC_1_SQRT_2)
}

/// χ² with so many degrees of freedom within 4.5 of its standard deviations; seeds are fixed.
#[track_caller]
fn assert_chi_square(counts: &[(f64, f64)]) {
    let seen: f64 = counts.iter().map(|(seen, expected)| (seen - expected).powi(2) / expected).sum();
    let dof = counts.len() as f64 - 1.0;
    assert_near(seen, dof, 4.5 * (2.0 * dof).sqrt());
}

#[test]
fn normals_are_normal() {
    let n = DRAWS as f64;
    let mut bins = vec![0_u32; BINS + 2];
    let (mut powers, mut tails, mut pairs) = ([0.0; 4], [0_u32; 10], 0.0);
    let mut before = 0.0;
    for run in 0..20 {
        let mut random = Random::of_run(2_024, run);
        for _ in 0..DRAWS / 20 {
            let x = random.normal();
            bins[((x + 4.5) * BINS as f64 / 9.0 + 1.0).clamp(0.0, BINS as f64 + 1.0) as usize] += 1;
            let square = x * x;
            powers = [powers[0] + x, powers[1] + square, powers[2] + x * square, powers[3] + square * square];
            pairs += x * before;
            before = x;
            if x.abs() > TAIL {
                // Ten bins of equal chance beyond the tail's start.
                let share = above(x.abs()) / above(TAIL);
                tails[(10.0 * share).clamp(0.0, 9.0) as usize] += 1;
            }
        }
    }
    // Moments: 0, 1, 0, 3, with variances 1, 2, 15, 96 of the single terms; neighbours are independent.
    for (sum, (mean, variance)) in powers.into_iter().zip([(0.0, 1.0), (1.0, 2.0), (0.0, 15.0), (3.0, 96.0)])
    {
        assert_near(sum / n, mean, 4.0 * (variance / n).sqrt());
    }
    assert_near(pairs / n, 0.0, 4.0 / n.sqrt());

    let edge = |i: usize| -4.5 + 9.0 * i as f64 / BINS as f64;
    let expected = |bin: usize| match bin {
        0 => above(4.5),
        bin if bin == BINS + 1 => above(4.5),
        // Differences of upper tails lose nothing where they are taken on the near side of zero.
        bin if edge(bin) <= 0.0 => above(-edge(bin)) - above(-edge(bin - 1)),
        bin => above(edge(bin - 1)) - above(edge(bin)),
    };
    let counts: Vec<_> =
        bins.iter().enumerate().map(|(bin, seen)| (f64::from(*seen), n * expected(bin))).collect();
    assert!(counts.iter().all(|(_, expected)| *expected > 5.0));
    assert_chi_square(&counts);

    let beyond = f64::from(tails.iter().sum::<u32>());
    let expected = 2.0 * n * above(TAIL);
    assert_near(beyond, expected, 4.0 * expected.sqrt());
    assert_chi_square(&tails.map(|seen| (f64::from(seen), beyond / 10.0)));
}
