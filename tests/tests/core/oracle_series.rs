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
            let walks = exact::walks(&z, &s.exact(), &step.exact());
            match summary.walks_by_slope(s, step, step.rounding_variance()) {
                Ok(seen) => prop_assert_eq!(seen, walks),
                Err(_) => prop_assert!(s.exact() > fraction(398, 100)),
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
            let walks = exact::walks(&line, &s.exact(), &step.exact());
            counts.borrow_mut()[usize::from(walks)] += 1;
            prop_assert_eq!(summary.walks_by_slope(s, step, step.rounding_variance()), Ok(walks), "{:?}", line);
            if let Some(stated) = summary.walk_limit(s, step, step.rounding_variance()) {
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

/// Exactly at the threshold nothing walks: a straight line of one step a touch moves n − 1 steps, and 2Δ is
/// not over 2Δ.
#[test]
fn the_walking_threshold_is_exclusive() {
    let step = Step::new(64, 1).expect("a step");
    let line = |n: i64, per_touch: i64| (0..n).map(|i| i * per_touch).collect::<Vec<_>>();
    let walks = |z: &[i64], s: &str| {
        let summary = series_of(z)
            .close(&Method { pooled: zdatum_tests::machine::study("0.001", 9), ..method(Centre::Mean) });
        summary.expect("a study").walks_by_slope(zdatum_tests::machine::u(s), step, step.rounding_variance())
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
