use super::*;

/// The four pieces of D'Agostino and Stephens' table 4.9, inside each and where the next begins; worked out
/// in Python.
#[test]
fn each_piece_has_its_range() {
    for (a, p) in [
        (0.1, 0.996_148_528_515_741),
        (0.2, 0.884_249_700_668_285),
        (0.3, 0.582_562_313_615_667),
        (0.34, 0.498_232_720_934_432),
        (0.5, 0.208_711_993_269_01),
        (0.6, 0.119_432_490_535_806),
        (1.5, 0.000_726_007_654_359_612),
        (12.9, 8.355_866_631_960_17e-31),
    ] {
        assert!((probability(a) / p - 1.0).abs() < 1e-9, "{a}: {}, not {p}", probability(a));
    }
    assert_eq!([13.0, 20.0].map(probability), [0.0, 0.0]);
}

/// Heights on a grid whose step is more than half of s are coarse; on one of a tenth of s they are not, nor
/// where none are alike.
#[test]
fn coarse_steps_are_told() {
    let stepped = |x: &[f64]| normality(x).expect("it scatters").stepped;
    let coarse = [0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 1.0, 2.0];
    assert!(stepped(&coarse));
    // One height a little aside of the others: half of s is 0.401 for a gap of 0.40 and 0.403 for one of
    // 0.41.
    let near = |gap: f64| [0.0, 1.0, 1.0, 2.0, 2.0, 2.0 + gap, 1.0, 2.0];
    assert!(!stepped(&near(0.40)) && stepped(&near(0.41)));
    let fine: Vec<f64> = (0..40).map(|i| f64::from(i * 7 % 40) / 10.0).collect();
    assert!(!stepped(&fine));
    assert_eq!(normality(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]), None, "seven are too few");
    assert_eq!(normality(&[1.0; 8]), None);
}
