//! Series against the oracle: centres, scatter, trend; and the tables of variance factors.

use proptest::prelude::*;
use zdatum::series::Method;
use zdatum::{Centre, Step, Variance};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{ToExact, centre, factor, series_of};
use zdatum_tests::generate::{self, around, property, scatter, series, small, steps};
use zdatum_tests::oracle::series as exact;
use zdatum_tests::oracle::{error, fraction, in_bits, of_bits, root, to_f64, whole};

/// Lets every s through.
fn method(which: Centre) -> Method {
    Method { centre: which, pooled: None, floor: Variance::ZERO }
}

oracle_tests! {
    fn centres_agree(ledger: [Mean, Median, HodgesLehmann]) {
        property(series(1, 64), |z| {
            for (which, operation) in [
                (Centre::Mean, Operation::Mean),
                (Centre::Median, Operation::Median),
                (Centre::HodgesLehmann, Operation::HodgesLehmann),
            ] {
                let seen = series_of(&z).centre(which).expect("within reach").expect("not empty");
                let exact = exact::centre(&z, centre(which)) * of_bits(1, 16);
                ledger.see(operation, error(seen.to_bits(), &exact, 32))?;
            }
            Ok(())
        });
    }

    fn scatter_agrees(ledger: [StationVariance, SampleDeviation]) {
        property((series(2, 64), generate::centre()), |(z, which)| {
            let s2 = exact::sample_variance(&z).expect("two touches") * of_bits(1, 32);
            let variance = &s2 * factor(which, z.len()) / whole(z.len());
            match series_of(&z).close(&method(which)) {
                Ok(summary) => {
                    ledger.see(Operation::StationVariance, error(summary.variance().to_bits(), &variance, 60))?;
                    match summary.s() {
                        Ok(s) => ledger.see(Operation::SampleDeviation, error(s.expect("two").to_bits(), &root(&s2), 24))?,
                        Err(_) => prop_assert!(s2 > whole(16) - of_bits(1, 40)),
                    }
                }
                Err(_) => prop_assert!(s2 > whole(16) - of_bits(1, 40) && s2 / whole(z.len()) > whole(10)),
            }
            Ok(())
        });
    }

    fn trend_agrees(ledger: [Slope, Walked, VonNeumann]) {
        property((series(1, 64), small(), steps()), |(z, s, (steps, mm))| {
            let Ok(summary) = series_of(&z).close(&Method { pooled: zdatum_tests::machine::study("1", 9), ..method(Centre::Mean) })
            else {
                return Err(TestCaseError::fail("a study closes every series"));
            };
            let b = exact::slope(&z) * of_bits(1, 16);
            let walked = num_traits::Signed::abs(&b) * whole(z.len() - 1);
            ledger.see(Operation::Slope, error(summary.slope().to_bits(), &b, 16))?;
            ledger.see(Operation::Walked, error(summary.walked().to_bits(), &walked, 16))?;
            let step = Step::new(steps, mm).expect("a step");
            let walks = exact::walks(&z, &s.exact(), &step.exact(), &whole(1));
            match summary.walks_by_slope(&sure(s), step, step.rounding_variance()) {
                Ok(seen) => prop_assert_eq!(seen, walks),
                Err(_) => prop_assert!(false, "every s of a setup can be judged"),
            }
            match (summary.von_neumann(), exact::von_neumann(&z)) {
                (None, None) => Ok(()),
                (Some(seen), Some(exact)) => ledger.see(Operation::VonNeumann, error(seen.to_bits(), &exact, 16)),
                (seen, exact) => Err(TestCaseError::fail(format!("{seen:?} against {exact:?}"))),
            }
        });
    }

    /// Walking by slope: the verdict is the oracle's to the bit, and the limit that a message states is never
    /// too small.
    fn walking_agrees(ledger: [WalkLimit]) {
        // A straight walk of a size near the threshold, with scatter about it.
        let near = (3_usize..=12, 0_i64..=64, small(), steps(), any::<bool>()).prop_flat_map(|(n, part, s, steps, up)| {
            (Just((n, part, s, steps, up)), proptest::collection::vec(-3_i64..=3, n))
        });
        let mut seen = [0, 0];
        let counts = std::cell::RefCell::new(&mut seen);
        property(near, |((n, part, s, (steps, mm), up), noise)| {
            let s = zdatum::Uncertainty::from_bits(i64::from(s.to_bits() >> 6)).expect("small");
            let step = Step::new(steps, mm).expect("a step");
            let sigma2 = s.exact() * s.exact() + step.exact() * step.exact() / whole(12);
            let by_noise = root(&(sigma2 * fraction(15_552, 100) * whole(n - 1) / whole(n * (n + 1))));
            let limit = by_noise.clone().max(step.exact() * whole(2));
            // From half to one and a half times the limit.
            let way = to_f64(&in_bits(&limit, 16)) * (32.0 + part as f64) / 64.0 * if up { 1.0 } else { -1.0 };
            let line: Vec<i64> = (0..n).map(|i| (way * i as f64 / (n - 1) as f64).round() as i64 + noise[i]).collect();
            let summary = series_of(&around(0, &line))
                .close(&Method { pooled: zdatum_tests::machine::study("0.001", 9), ..method(Centre::Mean) })
                .expect("a study closes every series");
            let walks = exact::walks(&line, &s.exact(), &step.exact(), &whole(1));
            counts.borrow_mut()[usize::from(walks)] += 1;
            prop_assert_eq!(summary.walks_by_slope(&sure(s), step, step.rounding_variance()), Ok(walks), "{:?}", line);
            if let Some(stated) = summary.walk_limit(&sure(s), step, step.rounding_variance()) {
                let off = in_bits(&stated.exact(), 16) - in_bits(&limit, 16);
                // Two steps are stated to the nearest bit, the noise's limit is rounded up.
                prop_assert!(off > fraction(-1, 1));
                ledger.see(Operation::WalkLimit, to_f64(&off).abs())?;
            } else {
                prop_assert!(by_noise > whole(3), "only a limit of 4 mm cannot be stated");
            }
            Ok(())
        });
        assert!(seen.iter().all(|count| *count > 20), "walking and not: {seen:?}");
    }
}

/// A study of so many degrees of freedom that f(ν) is 1 to the bit.
fn sure(s: zdatum::Uncertainty) -> zdatum::Pooled {
    zdatum::Pooled { s, dof: std::num::NonZeroU32::new(1 << 21).expect("above 0") }
}

/// With few degrees of freedom the limit is 1 + 3.5/ν + 11/ν² + 24/ν³ times as high, to 0.05 %.
#[test]
fn few_degrees_of_freedom_allow_a_longer_walk() {
    let step = Step::new(16_384, 1).expect("a step");
    let floor = step.rounding_variance();
    let s = zdatum_tests::machine::u("0.01");
    for (dof, factor) in
        [(1_u32, 39.5), (2, 8.5), (5, 2.332), (12, 1.381_944), (48, 1.077_908), (1_000, 1.003_511)]
    {
        let study = zdatum::Pooled { s, dof: std::num::NonZeroU32::new(dof).expect("above 0") };
        // Five touches: the walk over the whole series at the limit is 3.6·σ·4/√10.
        let limit =
            3.6 * f64::hypot(0.01, (f64::from(step.mm()) / f64::from(step.steps())) / 12_f64.sqrt()) * 4.0
                / 10_f64.sqrt()
                * factor;
        let walks = |part: f64| {
            let way = part * limit * 65_536.0;
            let line: Vec<i64> = (0..5).map(|i| (way * f64::from(i) / 4.0).round() as i64).collect();
            let closed = series_of(&line).close(&Method { pooled: Some(study), ..method(Centre::Mean) });
            let summary = closed.expect("a study");
            let stated = summary.walk_limit(&study, step, floor).expect("held").to_f64();
            assert!((stated / limit - 1.0).abs() < 5e-4, "ν {dof}: {stated} against {limit}");
            summary.walks_by_slope(&study, step, floor)
        };
        assert_eq!((walks(0.999), walks(1.001)), (Ok(false), Ok(true)), "ν {dof}");
    }
}

/// The 99.98 % points of F(n − 1, ν) as scipy 1.17.1 gives them (`scipy.stats.f.ppf(0.9998, n - 1, nu)`).
const NOISE_POINTS: [(usize, u32, f64); 8] = [
    (3, 12, 18.811113),
    (3, 48, 10.224333),
    (4, 20, 10.764971),
    (5, 12, 13.685984),
    (5, 48, 6.810517),
    (9, 36, 5.295512),
    (20, 100, 3.000741),
    (64, 1000, 1.798845),
];

/// A series is noisier than studied from that point on, to 0.1 %; not judged below twelve degrees of freedom, below
/// three touches or where s is no more than a step.
#[test]
fn noise_is_compared_with_the_study() {
    let step = Step::new(16_384, 1).expect("a step");
    let floor = step.rounding_variance();
    for (n, dof, point) in NOISE_POINTS {
        let study = |dof| zdatum::Pooled {
            s: zdatum_tests::machine::u("0.01"),
            dof: std::num::NonZeroU32::new(dof).expect("above 0"),
        };
        // Half of the touches up, half down: s² is n·a²/(n − 1), less the mean's where n is odd.
        let zigzag = |a: f64| -> Vec<i64> {
            (0..n).map(|i| (a * 65_536.0 * if i % 2 == 0 { 1.0 } else { -1.0 }).round() as i64).collect()
        };
        let count = n as f64;
        let of_one = (count - if n % 2 == 1 { 1.0 / count } else { 0.0 }) / (count - 1.0);
        let sigma2 = 1e-4
            + (f64::from(step.mm()) / f64::from(step.steps()))
                * (f64::from(step.mm()) / f64::from(step.steps()))
                / 12.0;
        let noisier = |part: f64, dof: u32, step: Step| {
            let a = (part * point * sigma2 / of_one).sqrt();
            let closed =
                series_of(&zigzag(a)).close(&Method { pooled: Some(study(dof)), ..method(Centre::Mean) });
            let summary = closed.expect("a study");
            (summary.noisier_than(&study(dof), step, floor), summary.noise_limit(&study(dof), step, floor))
        };
        let (below, limit) = noisier(0.998, dof, step);
        assert_eq!(below, Ok(false), "n {n}, ν {dof}");
        let limit = limit.expect("held").to_f64();
        assert!((limit / (point * sigma2).sqrt() - 1.0).abs() < 1e-3, "n {n}, ν {dof}: {limit}");
        assert_eq!(noisier(1.002, dof, step).0, Ok(true), "n {n}, ν {dof}");
        assert_eq!(noisier(9.0, 11, step), (Ok(false), None), "not judged below ν = 12");
        // A step as wide as s: then s says nothing that the step does not.
        let coarse = Step::new(1, 1).expect("a step");
        assert_eq!(noisier(1.002, dof, coarse).0, Ok(false), "s below a step");
    }
    let two = series_of(&[0, 60_000])
        .close(&Method { pooled: zdatum_tests::machine::study("0.001", 48), ..method(Centre::Mean) });
    let study = zdatum_tests::machine::study("0.001", 48).expect("a study");
    assert_eq!(two.expect("a study").noisier_than(&study, step, floor), Ok(false), "two touches");
}

/// Exactly at the threshold nothing walks: a straight line of one step a touch moves n − 1 steps, and 2Δ is
/// not over 2Δ.
#[test]
fn the_walking_threshold_is_exclusive() {
    let step = Step::new(64, 1).expect("a step");
    let line = |n: i64, per_touch: i64| (0..n).map(|i| i * per_touch).collect::<Vec<_>>();
    let walks = |z: &[i64], s: &str| {
        let summary = series_of(z)
            .close(&Method { pooled: zdatum_tests::machine::study("0.001", 9), ..method(Centre::Mean) });
        summary.expect("a study").walks_by_slope(
            &sure(zdatum_tests::machine::u(s)),
            step,
            step.rounding_variance(),
        )
    };
    // 1/64 mm is 1,024 bits. Three touches, two steps in all: not over 2Δ; one bit more a touch is.
    assert_eq!(walks(&line(3, 1_024), "0"), Ok(false));
    assert_eq!(walks(&line(3, 1_025), "0"), Ok(true));
    assert_eq!(walks(&line(3, -1_025), "0"), Ok(true));
    // Two touches are not judged.
    assert_eq!(walks(&line(2, 100_000), "0"), Ok(false));
    // Noise of 0.1 mm: 3.6·√(0.01 + 1/49152) = 0.36037 mm against b·√2 for three touches: b = 0.25482 mm =
    // 16,699.9 bits.
    assert_eq!(walks(&line(3, 16_699), "0.1"), Ok(false));
    assert_eq!(walks(&line(3, 16_700), "0.1"), Ok(true));
    assert!(walks(&line(3, 1_025), "4").is_err());
}

/// The verdict by von Neumann's ratio against the exact ratio and the core's own table, near the table's
/// points.
#[test]
fn walking_by_ratio_agrees() {
    let mut walked = 0;
    property((5_usize..=64, scatter(64, 64), 0_i64..=4_000), |(n, noise, tilt)| {
        let z: Vec<i64> =
            noise[..n].iter().enumerate().map(|(i, d)| d % 997 + tilt * i as i64 / 16).collect();
        let summary = series_of(&z).close(&method(Centre::Mean));
        let Ok(summary) = summary else { return Err(TestCaseError::fail("closes")) };
        let Some(ratio) = exact::von_neumann(&z) else {
            prop_assert_eq!(summary.walks_by_ratio(), None);
            return Ok(());
        };
        let walks = summary.walks_by_ratio();
        if let Some((seen, limit)) = walks {
            prop_assert!(ratio < of_bits(limit.to_bits(), 16));
            prop_assert!(error(seen.to_bits(), &ratio, 16) <= 0.5);
        } else {
            // The lowest point of the table for any n is 0.363.
            prop_assert!(ratio > fraction(36, 100));
        }
        Ok(())
    });
    for n in [5_i64, 9, 30, 64] {
        let line: Vec<i64> = (0..n).collect();
        walked += i32::from(
            series_of(&line).close(&method(Centre::Mean)).expect("closes").walks_by_ratio().is_some(),
        );
    }
    assert_eq!(walked, 4, "a straight line has the ratio 12/(n·(n + 1))");
    let four = series_of(&[0, 1, 2, 3]).close(&method(Centre::Mean)).expect("closes");
    assert_eq!(four.walks_by_ratio(), None, "not judged below five touches");
}
