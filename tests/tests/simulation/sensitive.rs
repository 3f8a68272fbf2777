//! Sobol' indices of the simulated machine against what it is made of.

use std::sync::atomic::AtomicBool;

use zdatum_sim::world::picked::Drawn;
use zdatum_world::questions::budget::refusals::sensitivity;

use crate::machines::Case;
use zdatum_tests::machine::u;

/// Where the error is a sum of independent draws, the indices are their shares of its variance: u²(t), and s²/n at each station.
#[test]
fn a_sum_has_the_shares_of_its_parts() {
    let mut case = Case::quiet().touches(5, 5).switches(0.008, 0.004, 0.006);
    case.draft.probe.trip_depth_u = u("0.003");
    case.noise.reseat = 0.02;
    let found = sensitivity(&case.bench(), 20_000, &AtomicBool::new(false), &|_| {});
    let of = |s: f64| s * s / 5.0;
    let parts = [0.003 * 0.003, of(0.008), of(0.004), of(0.006)];
    let whole: f64 = parts.iter().sum();
    assert!((found.sd.expect("it varies") / whole.sqrt() - 1.0).abs() < 0.01);
    let pairs = found.error.expect("it varies");
    for (drawn, pair) in Drawn::ALL.iter().zip(&pairs) {
        let share = match drawn.word() {
            "trip-depth" => parts[0],
            "tip-touches" => parts[1],
            "shoulder-touches" => parts[2],
            "plate-touches" => parts[3],
            _ => 0.0,
        } / whole;
        for index in [pair.first, pair.total] {
            assert!((index.value - share).abs() < 0.02, "{drawn:?}: {index:?}, not {share}");
        }
    }
    assert_eq!(found.refusal, None, "nothing is refused");
}
