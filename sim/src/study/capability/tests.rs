use super::*;

const SWITCHES: [(Station, f64); 3] =
    [(Station::Tip, 4e-6), (Station::Shoulder, 4e-6), (Station::Plate, 28e-6)];

fn of(within: f64, touches: usize, floor: f64, span: Option<f64>) -> Capability {
    Capability::of(within, touches, &SWITCHES, floor, span, vec![Station::Tip]).expect("switches")
}

fn near(seen: f64, due: f64) {
    assert!((seen - due).abs() < 1e-12, "{seen}, not {due}");
}

/// Variances of 4, 4 and 28 µm² and four touches: 1 + 1 + 7 = 9 µm², U = 6 µm; 30 % of 20 µm is just that.
#[test]
fn a_tolerance_is_just_met() {
    let found = of(0.020, 4, 0.0, None);
    near(found.expanded, 0.006);
    near(found.share, 0.3);
    let told: Vec<_> = found.parts.iter().map(|part| part.station).collect();
    assert_eq!(told, [Station::Plate, Station::Tip, Station::Shoulder]);
    near(found.parts[0].share, 7.0 / 9.0);
    near(found.parts[0].u, 7e-6_f64.sqrt());
    near(found.parts[1].share, 1.0 / 9.0);
    assert_eq!((found.within, found.touches, found.missing.as_slice()), (0.020, 4, &[Station::Tip][..]));
    assert_eq!((found.enough, found.stepped, found.with_span), (Some(4), false, None));
    // 36 µm² over as many touches as there may be.
    near(found.least, 2.0 * (36e-6 / MOST_TOUCHES as f64).sqrt());
    let exactly = Capability { share: MOST_SHARE, ..found.clone() };
    assert!(exactly.good() && !Capability { share: 0.3001, ..found }.good());
    // Three touches are too few; none are taken for one.
    let three = of(0.020, 3, 0.0, None);
    assert!(!three.good() && three.enough == Some(4), "{three:?}");
    near(of(0.020, 0, 0.0, None).expanded, 0.012);
}

/// Below the motor's steps no mean goes: 1.21 µm² at each of three stations is more than the 9/4 µm² that ±10
/// µm allow.
#[test]
fn steps_are_a_floor() {
    let found = of(0.010, 400, 1.21e-6, None);
    near(found.expanded, 2.0 * 3.63e-6_f64.sqrt());
    assert_eq!((found.enough, found.stepped), (None, true));
    // Three times 0.75 µm² are what is allowed.
    let least = of(0.010, 4, 0.7499e-6, None);
    assert!(!least.stepped && least.enough.is_some(), "{least:?}");
    assert!(of(0.010, 4, 0.7501e-6, None).stepped);
    near(least.parts[1].u, 1e-3);
}

/// The span's moves add their variance: 9 + 7 = 16 µm².
#[test]
fn the_span_may_be_counted_too() {
    near(of(0.020, 4, 0.0, Some(7e-6)).with_span.expect("asked for"), 0.008);
    assert_eq!(Capability::of(0.020, 4, &[], 0.0, None, Vec::new()), None);
    let exact = Capability::of(0.020, 4, &[(Station::Tip, 0.0)], 0.0, None, Vec::new()).expect("one");
    assert_eq!((exact.parts[0].share, exact.expanded, exact.enough), (0.0, 0.0, Some(1)));
}
