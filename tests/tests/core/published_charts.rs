//! Charts against published worked examples, and scores against the distributions they stand for.

use zdatum::watch::{Cusum, Design, Ewma, Observed, Reading, Score, Side, Watch};
use zdatum::{Length, Ratio, Uncertainty, Variance};
use zdatum_tests::oracle::{coverage, fraction, to_f64, watch};

fn ratio(text: &str) -> Ratio {
    Ratio::parse(text).expect("a ratio")
}

/// A difference in the data's own unit, in bits of a score: the charts are linear, so any unit serves.
fn score(thousandths: i64) -> Score {
    Score::from_bits((thousandths as f64 * 65.536).round() as i32).expect("held")
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 (EWMA control charts): 20 values in tenths, EWMA₀
/// 50, λ 0.3, s 2.0539, k 3. The EWMA as printed, in hundredths. Limits 52.5884 and 47.4115 (the latter from
/// a factor rounded to 0.4201; 47.41157 unrounded).
const EWMA: [(i64, i64); 20] = [
    (520, 5060),
    (470, 4952),
    (530, 5056),
    (493, 5018),
    (501, 5016),
    (470, 4921),
    (510, 4975),
    (501, 4985),
    (512, 5026),
    (505, 5033),
    (496, 5011),
    (476, 4936),
    (499, 4952),
    (513, 5005),
    (478, 4938),
    (512, 4992),
    (526, 5073),
    (524, 5123),
    (536, 5194),
    (521, 5199),
];

#[test]
fn nist_ewma() {
    let design = Design::new(ratio("0.3"), ratio("3"), ratio("0"), ratio("255")).expect("held");
    let factor = f64::from(design.ewma_limit().to_bits()) / 65_536.0;
    assert!((50.0 + factor * 2.0539 - 52.5884).abs() < 1e-4, "{factor}");
    assert!((50.0 - factor * 2.0539 - 47.4115).abs() < 1e-4);
    let mut ewma = Ewma::new();
    let in_data_units = Design::new(ratio("0.3"), ratio("6.1617"), ratio("0"), ratio("255")).expect("held");
    for (t, (x, printed)) in EWMA.into_iter().enumerate() {
        ewma.push(&in_data_units, score((x - 500) * 100));
        let seen = 50.0 + f64::from(ewma.level().to_bits()) / 65_536.0;
        assert!((seen - printed as f64 / 100.0).abs() < 0.00501, "value {}: {seen}", t + 1);
        assert_eq!(ewma.beyond(&in_data_units), None, "no signal");
    }
}

/// NIST/SEMATECH e-Handbook, 6.3.2.3 (CUSUM control charts, tabular form): group means in thousandths, target
/// 325, k 0.3175, h 4.1959. S_hi and S_lo as printed, in hundredths; the first signal is group 14, and it
/// lasts.
const CUSUM: [(i64, i64, i64); 20] = [
    (324_925, 0, 0),
    (324_675, 0, 1),
    (324_725, 0, 0),
    (324_350, 0, 33),
    (325_350, 3, 0),
    (325_225, 0, 0),
    (324_125, 0, 56),
    (324_525, 0, 72),
    (325_225, 0, 17),
    (324_600, 0, 25),
    (324_625, 0, 31),
    (325_150, 0, 0),
    (328_325, 301, 0),
    (327_250, 494, 0),
    (327_825, 745, 0),
    (328_500, 1063, 0),
    (326_675, 1199, 0),
    (327_775, 1444, 0),
    (326_875, 1600, 0),
    (328_350, 1904, 0),
];

#[test]
fn nist_tabular_cusum() {
    let design = Design::new(ratio("1"), ratio("255"), ratio("0.3175"), ratio("4.1959")).expect("held");
    let mut cusum = Cusum::new();
    for (group, (x, high, low)) in (1..).zip(CUSUM) {
        cusum.push(&design, score(x - 325_000));
        let (up, down) = cusum.sums();
        for (seen, printed) in [(up, high), (down, low)] {
            let seen = f64::from(seen.to_bits()) / 65_536.0;
            assert!(
                (seen - printed as f64 / 100.0).abs() < 0.0052,
                "group {group}: {seen} against {printed}"
            );
        }
        assert_eq!(cusum.beyond(&design), (group >= 14).then_some(Side::Up), "group {group}");
    }
}

/// NIST/SEMATECH e-Handbook, 6.3.2.2 (individuals charts): ten flow rates, mean 50.81. Their limits 55.8041
/// and 45.8159 come from moving ranges over d₂ = 1.128; the watch learns the standard deviation about the
/// mean instead, checked against the same ten.
#[test]
fn nist_individuals() {
    let values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let mut watch = Watch::<u8, 1>::new(Design::STANDARD, Uncertainty::ZERO);
    for value in values {
        // Hundredths of a millimetre.
        let value = Length::parse(&format!("{:.5}", value / 100.0)).expect("a length");
        let tip = Some(Reading { value, variance: Variance::ZERO });
        assert_eq!(watch.see(None, &Observed { tip, ..Observed::default() }), Ok(false));
    }
    let mean = watch.tip().mean().expect("held").expect("learnt");
    assert!((f64::from(mean.to_bits()) / 655.36 - 50.81).abs() < 0.001, "{mean}");
    let mean_range = values.windows(2).map(|pair| f64::abs(pair[1] - pair[0])).sum::<f64>() / 9.0;
    assert!((50.81 + 3.0 * mean_range / 1.128 - 55.8041).abs() < 1e-4, "the data are those of the page");
    let square = values.iter().map(|x| (x - 50.81) * (x - 50.81)).sum::<f64>() / 9.0;
    let (s, dof) = watch.tip().s().expect("held").expect("learnt");
    assert!(
        (f64::from(s.to_bits()) / 167_772.16 - square.sqrt()).abs() < 0.001 && dof.finite() == Some(9),
        "{s}"
    );
}

/// The normal deviate with the same tail as Student's t, by bisection on the closed sums of Abramowitz &
/// Stegun 26.7.3 and 26.7.4.
fn deviate(t: f64, nu: u64) -> f64 {
    let target = coverage::student(t, nu);
    let (mut low, mut high) = (0.0, 9.0);
    for _ in 0..100 {
        let middle = f64::midpoint(low, high);
        if coverage::normal(middle) < target { low = middle } else { high = middle }
    }
    high
}

/// What the formula of the score is worth: within 0.0023 up to 1.5 standard deviations; beyond, it
/// understates by at most what the page states.
#[test]
fn scores_stand_for_the_tails_of_students_t() {
    for (nu, at_3, at_4) in
        [(4, 0.028, 0.068), (5, 0.019, 0.046), (6, 0.013, 0.0325), (10, 0.0045, 0.0122), (30, 0.0005, 0.0014)]
    {
        let (mut up_to_3, mut up_to_4) = (0.0_f64, 0.0_f64);
        for step in 1..2_000 {
            let t = f64::from(step) * 0.02;
            let right = deviate(t, nu);
            if right > 4.0 {
                break;
            }
            let x = (t * t / nu as f64 * 1e12) as u64;
            let seen = to_f64(&watch::size(&fraction(x, 1), &fraction(1_000_000_000_000_u64, 1), nu as u32));
            let off = seen - right;
            assert!(off < 0.0024, "ν = {nu}, t = {t}: overstates by {off}");
            if right <= 3.0 {
                up_to_3 = up_to_3.max(-off);
            }
            up_to_4 = up_to_4.max(-off);
        }
        assert!(up_to_3 < at_3 && up_to_3 > 0.7 * at_3, "ν = {nu}: {up_to_3} up to 3");
        assert!(up_to_4 < at_4 && up_to_4 > 0.7 * at_4, "ν = {nu}: {up_to_4} up to 4");
    }
}
