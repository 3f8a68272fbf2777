//! Ways that a machine of round numbers allows, counted by hand from the lists above.

use super::*;
use crate::run::plan::tests::machine::{SILENT, checked, draft, mm as length, speed as rate, studied, u};

/// Two switches of 1 µm, the probe's own of 2 µm; nothing else.
const NOISE: Noise = Noise { tip_switch: 0.001, shoulder_switch: 0.001, plate_switch: 0.002, ..SILENT };

fn grid(own: &Setup, noise: &Noise) -> Vec<Touch> {
    let all = Allowed::new(own, noise).grid(&mut BTreeSet::new());
    assert_eq!(all.first(), Some(own));
    all.iter().map(|setup| setup.draft().touch).collect()
}

/// Neighbours of a way, itself left out.
fn near(own: &Setup, noise: &Noise, touch: Touch) -> Vec<Touch> {
    let (mut seen, mut all) = (BTreeSet::from([key(&touch)]), Vec::new());
    let mut draft = own.draft().clone();
    draft.touch = touch;
    Allowed::new(own, noise).near(&checked(&draft), &mut seen, &mut all);
    all.iter().map(|setup| setup.draft().touch).collect()
}

fn own_with(touch: impl FnOnce(&mut Touch)) -> Setup {
    let mut draft = draft();
    touch(&mut draft.touch);
    checked(&draft)
}

/// What all touches have of something, each once.
fn each<T: Ord>(all: &[Touch], of: impl Fn(&Touch) -> T) -> Vec<T> {
    all.iter().map(of).collect::<BTreeSet<T>>().into_iter().collect()
}

/// Touches 4, 5, 8, 12, 20, 32, 48; three centres; no settling; three fine speeds, two lifts and three bands: 7 · 3 · 3 · 2 · 3.
#[test]
fn the_grid_holds_every_combination_once() {
    let all = grid(&own_with(|_| {}), &NOISE);
    assert_eq!(all.len(), 378);
    assert_eq!(each(&all, |touch| touch.least), [4, 5, 8, 12, 20, 32, 48]);
    // As many to spare as the file's nine have.
    assert!(all.iter().all(|touch| touch.most == touch.least + 5));
    assert_eq!(each(&all, |touch| touch.fine_speed), ["1", "2", "4"].map(rate));
    // At least 0.3 mm, and the file's own.
    assert_eq!(each(&all, |touch| touch.lift), [SMALL_LIFT, length("0.5")]);
    assert_eq!(SMALL_LIFT, length("0.3"));
    // Seven and ten times 2 µm, and the file's own.
    assert_eq!(each(&all, |touch| touch.band), ["0.014", "0.02", "1"].map(length));
    assert_eq!(each(&all, |touch| touch.settle), [0]);
    for centre in CENTRES {
        assert_eq!(all.iter().filter(|touch| touch.centre == centre).count(), 126);
    }
    assert!(all.iter().all(|touch| touch.first_speed == rate("6") && touch.target_u == Uncertainty::ZERO));
}

/// As above; each number of touches has 54 ways.
#[test]
fn fewest_touches_follow_the_study_and_the_file() {
    let mut known = draft();
    known.pooled = studied("0.002");
    assert_eq!(grid(&checked(&known), &NOISE).len(), 8 * 54);
    // A study of two stations is none.
    known.pooled.plate = None;
    assert_eq!(grid(&checked(&known), &NOISE).len(), 7 * 54);
    // From five up; the file's six are not on the list.
    let all = grid(&own_with(|touch| touch.least = 6), &NOISE);
    assert_eq!(all.len(), 6 * 54 + 1);
    assert_eq!(each(&all, |touch| touch.least), [5, 6, 8, 12, 20, 32, 48]);
}

/// Beside the 378 with no settling touch, as many with one and with two.
#[test]
fn settling_is_for_what_settles() {
    let own = own_with(|_| {});
    for noise in [
        Noise { tip_filament: 0.01, ..NOISE },
        Noise { drift: 0.01, ..NOISE },
        Noise { drift: -0.01, ..NOISE },
    ] {
        let all = grid(&own, &noise);
        assert_eq!((all.len(), each(&all, |touch| touch.settle)), (3 * 378, vec![0, 1, 2]));
    }
    // The file's own settles for nothing; it alone may.
    let own = own_with(|touch| touch.settle = 1);
    assert_eq!(grid(&own, &NOISE).iter().filter(|touch| touch.settle > 0).count(), 1);
}

#[test]
fn lifts_open_the_switches_twice_over() {
    let least = |noise: Noise| Allowed::new(&own_with(|_| {}), &noise).least_lift;
    // Twice 0.4 mm of whichever switch needs more, or 0.3 mm.
    assert_eq!(least(Noise { plate_differential: 0.4, datum_differential: 0.1, ..NOISE }), length("0.8"));
    assert_eq!(least(Noise { plate_differential: 0.1, datum_differential: 0.4, ..NOISE }), length("0.8"));
    assert_eq!(least(Noise { plate_differential: 0.1, ..NOISE }), SMALL_LIFT);
    // The file's own 0.5 mm may stay.
    let all = grid(&own_with(|_| {}), &Noise { plate_differential: 0.4, ..NOISE });
    assert_eq!(each(&all, |touch| touch.lift), ["0.5", "0.8"].map(length));
    assert_eq!(all.len(), 378);
}

#[test]
fn bands_are_of_the_noisiest_station_by_study_or_truth() {
    let bands = |s: &str| {
        let mut draft = draft();
        draft.pooled = studied(s);
        each(&grid(&checked(&draft), &NOISE), |touch| touch.band)
    };
    assert_eq!(bands("0.003"), ["0.021", "0.03", "1"].map(length));
    assert_eq!(bands("0.001"), ["0.014", "0.02", "1"].map(length));
}

#[test]
fn neighbours_differ_in_one_setting() {
    let mut draft = draft();
    draft.pooled = studied("0.002");
    let (setup, own) = (checked(&draft), draft.touch);
    let first = |first_speed, stop| Touch { first_speed: rate(first_speed), stop: length(stop), ..own };
    let due = [
        Touch { least: 3, most: 8, ..own },
        Touch { least: 5, most: 10, ..own },
        // Half and twice the five to spare.
        Touch { most: 6, ..own },
        Touch { most: 14, ..own },
        Touch { fine_speed: rate("1.5"), ..own },
        Touch { lift: length("0.375"), ..own },
        Touch { band: length("0.75"), ..own },
        Touch { fine_speed: rate("2.5"), ..own },
        Touch { lift: length("0.625"), ..own },
        Touch { band: length("1.25"), ..own },
        // 0.1 mm to stand still, times 1.5² and 2².
        first("9", "0.225"),
        first("12", "0.4"),
        // 2 µm over √4, and 0.7 of it.
        Touch { target_u: u("0.0007"), ..own },
        Touch { target_u: u("0.001"), ..own },
    ];
    assert_eq!(near(&setup, &NOISE, own), due);

    // Of a way that is not the file's: a quarter of its touches more or less, the file's number to spare; the file's first speed.
    let way = Touch { least: 16, most: 16, lift: length("0.375"), band: length("0.014"), ..own };
    let due = [
        Touch { least: 12, most: 17, ..way },
        Touch { least: 20, most: 25, ..way },
        Touch { most: 17, ..way },
        Touch { fine_speed: rate("1.5"), ..way },
        // 0.281 mm is below 0.3, and 0.0105 mm below six times 2 µm.
        Touch { fine_speed: rate("2.5"), ..way },
        Touch { lift: length("0.469"), ..way },
        Touch { band: length("0.018"), ..way },
        Touch { first_speed: rate("9"), stop: length("0.225"), ..way },
        Touch { first_speed: rate("12"), stop: length("0.4"), ..way },
        Touch { target_u: u("0.00035"), ..way },
        Touch { target_u: u("0.0005"), ..way },
    ];
    assert_eq!(near(&setup, &NOISE, way), due);
    // Of three touches one more or less; fewer than three would be warned of.
    let few = near(&setup, &NOISE, Touch { least: 3, most: 8, ..own });
    assert_eq!(each(&few, |touch| touch.least), [3, 4]);
    // Settling touches one more or less, where something settles.
    let settling = Noise { tip_filament: 0.01, ..NOISE };
    let one = near(&setup, &settling, Touch { settle: 1, ..own });
    assert_eq!(each(&one, |touch| touch.settle), [0, 1, 2]);
}

/// A limit itself is allowed, one bit below it is not; the file's own is, wherever it lies.
#[test]
fn limits_are_allowed_themselves() {
    // 6/256 mm are 1,536 bits of a length.
    let noise = Noise { plate_switch: 1.0 / 256.0, ..SILENT };
    let setup = own_with(|touch| (touch.band, touch.lift) = (length("0.005"), length("0.1")));
    let allowed = Allowed::new(&setup, &noise);
    let own = setup.draft().touch;
    let is_allowed = |touch: Touch| {
        let (mut seen, mut all) = (BTreeSet::new(), Vec::new());
        allowed.push(&mut seen, &mut all, touch);
        // Never twice.
        allowed.push(&mut seen, &mut all, touch);
        assert!(all.len() < 2);
        all.first().is_some_and(|setup| setup.draft().touch == touch)
    };
    let bits = |bits| Length::from_bits(bits).expect("a length");
    let least = i64::from(SMALL_LIFT.to_bits());
    for (touch, due) in [
        (own, true),
        (Touch { band: bits(1_536), ..own }, true),
        (Touch { band: bits(1_535), ..own }, false),
        (Touch { lift: bits(least), ..own }, true),
        (Touch { lift: bits(least - 1), ..own }, false),
        (Touch { least: 3, ..own }, false),
        (Touch { settle: 1, ..own }, false),
        // What the setup itself refuses.
        (Touch { least: 5, most: 4, ..own }, false),
    ] {
        assert_eq!(is_allowed(touch), due, "{touch:?}");
    }
}
