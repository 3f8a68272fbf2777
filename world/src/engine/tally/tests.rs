use zdatum::cycle::Ending;

use super::*;

fn near(seen: Option<Estimate>, value: f64, error: f64) {
    let seen = seen.expect("something was counted");
    let right = (seen.value - value).abs() < 1e-12 && (seen.error - error).abs() < 1e-12;
    assert!(right, "{} ± {} in place of {value} ± {error}", seen.value, seen.error);
}

#[test]
fn shares_have_an_error_at_their_ends_too() {
    let estimate = |part, whole| Share::of(part, whole).map(|share| share.estimate());
    near(estimate(3, 10), 0.3, libm::sqrt(0.3 * 0.7 / 10.0));
    // √(½·10½ / (11²·12)).
    near(estimate(0, 10), 0.0, libm::sqrt(5.25 / 1_452.0));
    near(estimate(10, 10), 1.0, libm::sqrt(5.25 / 1_452.0));
    assert!(Share::of(0, 0).is_none());
    let unseen = Share { part: 0, whole: 10 }.unseen();
    assert!((libm::pow(1.0 - unseen, 10.0) - 0.05).abs() < 1e-12, "{unseen}");
}

#[test]
fn means_of_two_runs_by_hand() {
    let mut tally = Tally::new(0.02);
    assert_eq!((tally.touches_mean(), tally.cycle_s_mean()), (0.0, 0.0));
    // 10 and 14 touches, 2 s and 5 s.
    (tally.runs, tally.touches, tally.touches_squares) = (2, 24, 296);
    (tally.milliseconds, tally.milliseconds_squares) = (7_000, 29_000_000);
    near(mean(tally.runs, 24, 296, 1.0), 12.0, 2.0);
    near(tally.seconds(), 3.5, 1.5);
    assert_eq!((tally.touches_mean(), tally.cycle_s_mean()), (12.0, 3.5));
    near(mean(1, 7, 49, 1.0), 7.0, 0.0);
    assert!(mean(0, 0, 0, 1.0).is_none());
}

fn ran(error: Option<f64>, expanded: f64, refused: Option<RefusalKind>, touches: u32, seconds: f64) -> Ran {
    Ran { error, expanded, refused, true_landing: 0.0, touches, seconds, ending: Ending::LiftedAndPutBack }
}

fn of(runs: &[Ran]) -> Tally {
    let mut all = Tally::new(0.25);
    runs.iter().for_each(|ran| all.add(ran));
    all
}

/// A quarter too far, which its interval and the tolerance just hold; a half too near, which neither does;
/// four refused, one of them without a reason.
fn six() -> [Ran; 6] {
    let refused = |kind| ran(None, 0.0, kind, 1, 0.5);
    [
        ran(Some(0.25), 0.25, None, 10, 2.0),
        refused(Some(RefusalKind::AlreadyTripped)),
        ran(Some(-0.5), 0.25, None, 14, 5.0),
        refused(None),
        refused(Some(RefusalKind::AlreadyTripped)),
        refused(Some(RefusalKind::MachineFault)),
    ]
}

#[track_caller]
fn assert_six(all: &Tally) {
    assert_eq!((all.runs, all.accepted), (6, 2));
    let share = |part, whole| Share::of(part, whole);
    assert_eq!((all.beyond(), all.held(), all.turned_down()), (share(1, 2), share(1, 2), share(4, 6)));
    near(all.p_outside(), 0.5, libm::sqrt(0.125));
    near(all.coverage(), 0.5, libm::sqrt(0.125));
    near(all.p_refused(), 4.0 / 6.0, libm::sqrt(2.0 / 54.0));
    // ¾ apart.
    near(all.mean(), -0.125, 0.375);
    assert_eq!(all.errors.extremes(), Some((-0.5, 0.25)));
    let mut refusals: Vec<_> = all.refusals().collect();
    assert!(refusals.is_sorted_by_key(|(kind, _)| RefusalKind::ALL.iter().position(|one| one == kind)));
    refusals.sort_by_key(|(_, count)| *count);
    assert_eq!(refusals.len(), 2);
    assert!(refusals.contains(&(RefusalKind::AlreadyTripped, 2)));
    assert!(refusals.contains(&(RefusalKind::MachineFault, 2)));
    // 10 + 14 + 4·1 touches, Σx² = 300; 2 + 5 + 4·½ s, Σx² = 30.
    near(all.touches(), 28.0 / 6.0, libm::sqrt((6.0 * 300.0 - 784.0) / 180.0));
    near(all.seconds(), 1.5, libm::sqrt((6.0 * 30.0 - 81.0) / 180.0));
    assert_eq!((all.touches_mean(), all.cycle_s_mean()), (28.0 / 6.0, 1.5));
}

#[test]
fn six_runs_by_hand_at_once_or_merged() {
    let runs = six();
    assert_six(&of(&runs));
    let mut merged = of(&runs[2..]);
    merged.merge(&of(&runs[..2]));
    merged.merge(&Tally::new(0.25));
    assert_six(&merged);
    let mut merged = of(&runs[..4]);
    merged.merge(&of(&runs[4..]));
    assert_six(&merged);
}

/// Three of none and a half: s² = 0.1875/3, kurtosis 7/3, s·√((7/3 − 1/3)/4)/2.
#[test]
fn a_deviation_is_known_by_the_fourth_moment() {
    let errors = |errors: &[f64]| {
        of(&errors.iter().map(|error| ran(Some(*error), 1.0, None, 1, 1.0)).collect::<Vec<_>>())
    };
    let four = errors(&[0.0, 0.0, 0.5, 0.0]);
    assert_eq!((four.beyond(), four.held()), (Share::of(1, 4), Share::of(4, 4)));
    let sd = four.sd().expect("four");
    assert!(
        (sd.value - 0.25).abs() < 1e-12 && (sd.error - 0.25 * libm::sqrt(0.5) / 2.0).abs() < 1e-5,
        "{sd:?}"
    );
    // Within a bin or two, 1/256 mm apart at 100 mm: as of normal errors, s·√((3 + 1)/2)/2.
    let far = errors(&[100.0, 100.003_906_25]);
    let due = 0.003_906_25 / libm::sqrt(2.0);
    let sd = far.sd().expect("two");
    assert!((sd.value - due).abs() < 1e-12 && (sd.error - due * libm::sqrt(0.5)).abs() < 1e-12, "{sd:?}");
    near(far.mean(), 100.001_953_125, due / libm::sqrt(2.0));
    // Half of the units of 2⁻⁴⁰ mm are rounded away from none.
    let tiny = errors(&[0.75 / UNIT, 0.75 / UNIT, -1.75 / UNIT]);
    assert_eq!(tiny.mean().map(|mean| mean.value), Some(0.0));
    let one = errors(&[0.5]);
    assert!(one.sd().is_none() && one.mean().is_some_and(|mean| mean.value == 0.5 && mean.error.is_nan()));
    assert!(of(&[]).mean().is_none() && of(&[]).touches().is_none() && of(&[]).refusals().count() == 0);
}
