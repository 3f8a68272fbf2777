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

/// Mean 0, standard deviation 1, and as many beyond five of it as the shape has.
#[test]
fn shapes_have_the_scatter_that_is_asked_for() {
    use zdatum_sim::world::Shape;

    use crate::machines::{Case, moments};

    // P(|t₄| > 5·√2) = 2·(½ − 3/8·x·(1 − x²/12)), x = t/√(1 + t²/4).
    let t = 5.0 * std::f64::consts::SQRT_2;
    let x = t / (1.0 + t * t / 4.0).sqrt();
    let heavy = 2.0 * (0.5 - 0.375 * x * (1.0 - x * x / 12.0));
    assert_near(1.0 / heavy, 473.8, 0.05);
    // The error of one touch a station, with only the tip's switch noisy, is that switch's noise.
    for (shape, largest, beyond) in [
        (Shape::Normal, 6.0, 5.7e-7),
        (Shape::Rectangular, 1.74, 0.0),
        (Shape::HeavyTailed, f64::INFINITY, heavy),
    ] {
        let mut case = Case::quiet().touches(1, 1).switches(0.01, 0.0, 0.0);
        case.noise.shape = shape;
        let errors: Vec<f64> = case.errors(200_000).iter().map(|error| error / 0.01).collect();
        let (mean, sd) = moments(&errors);
        assert_near(mean, 0.0, 4.0 / 447.0);
        // The fourth moment of t₄ is infinite: its sd settles slowly.
        assert_near(sd, 1.0, 0.02);
        let seen = errors.iter().filter(|error| error.abs() > 5.0).count() as f64 / 200_000.0;
        assert_near(seen, beyond, 4.0 * (beyond / 200_000.0).sqrt() + 1e-5);
        assert!(errors.iter().all(|error| error.abs() <= largest), "{shape:?}");
    }
}
