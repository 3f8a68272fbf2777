//! The trip's latency from touches at different speeds.

use zdatum_sim::study::latency::{Between, SwitchLatency};

use super::{agrees, groups};

const SPEEDS: [&str; 8] = ["2", "6", "1", "4", "2", "6", "1", "4"];
const FIRST: [&str; 8] = ["1.0002", "0.9941", "1.0012", "0.9968", "1.0001", "0.9946", "1.0008", "0.9972"];
const SECOND: [&str; 8] = ["1.0204", "1.0145", "1.0217", "1.0171", "1.0206", "1.0139", "1.0211", "1.0170"];

fn log(station: &str, order: [usize; 8]) -> String {
    let rows = [("a", FIRST), ("b", SECOND)]
        .into_iter()
        .flat_map(|(run, heights)| order.map(|i| format!("{run},{station},{},{}\n", heights[i], SPEEDS[i])));
    format!("run,station,z,speed\n{}", rows.collect::<String>())
}

/// Ordinary least squares with an intercept a run and a common slope (`reference.py`, numpy).
#[test]
fn a_common_slope_within_runs() {
    let groups = groups(&log("plate", [0, 1, 2, 3, 4, 5, 6, 7]));
    let switch = SwitchLatency::plate(&groups).expect("several speeds");
    agrees("τ", switch.latency, 0.00142923728813549, 10.0);
    agrees("u", switch.u, 4.51466634747537e-5, 10.0);
    let seen = switch.stations[0];
    assert_eq!((seen.dof, seen.between, seen.speeds), (13, Between::Touches, (1.0, 6.0)));
    assert!(switch.interleaved() && SwitchLatency::datum(&groups).is_none());
}

/// Across runs the heights are brought to one speed: s is the residual one, √Σ(v − v̄)² = √59 times the
/// slope's u, and the slope takes a degree of freedom.
#[test]
fn what_speed_does_is_not_noise() {
    let log = log("plate", [0, 1, 2, 3, 4, 5, 6, 7]);
    let switch = SwitchLatency::plate(&groups(&log)).expect("several speeds");
    let one = super::study(&log).stations.remove(0);
    let (s, dof) = one.pooled.expect("many touches");
    agrees("s", s, switch.u * 59.0_f64.sqrt(), 10.0);
    let anova = one.anova.expect("two runs");
    assert_eq!((dof, anova.df_within, one.at_speed), (13, 13, Some(3.25)));
    agrees("s_r", anova.s_r, s, 12.0);
}

/// The same touches, each speed in a block of its own: the same latency, but a drift would pass for it.
#[test]
fn blocks_are_told_from_turns() {
    let groups = groups(&log("tip", [2, 6, 0, 4, 3, 7, 1, 5]));
    let switch = SwitchLatency::datum(&groups).expect("several speeds");
    agrees("τ", switch.latency, 0.00142923728813549, 10.0);
    assert!(!switch.interleaved(), "{:?}", switch.stations);
    // Speeds 1 1 2 2 4 4 6 6 over 0 … 7: Σ(v − v̄)(i − ī) = 34, Σ(v − v̄)² = 29.5. A drift of 1 a touch lifts
    // the later, faster ones, so the latency seen falls by their ratio.
    let seen = switch.stations[0];
    agrees("drift", seen.per_drift, -34.0 / 29.5, 12.0);
    agrees("order", seen.order, 34.0 / (29.5_f64 * 42.0).sqrt(), 12.0);
}

/// Tip and shoulder press one switch: their latencies are weighed by 1/u².
#[test]
fn tip_and_shoulder_are_one_switch() {
    let tip = log("tip", [0, 1, 2, 3, 4, 5, 6, 7]);
    let shoulder = log("shoulder", [0, 1, 2, 3, 4, 5, 6, 7])
        .replace("0.9941", "0.9921")
        .replace("run,station,z,speed\n", "");
    let groups = groups(&format!("{tip}{shoulder}"));
    let switch = SwitchLatency::datum(&groups).expect("several speeds");
    let [a, b] = &switch.stations[..] else { panic!("two stations") };
    let (wa, wb) = (1.0 / a.u.powi(2), 1.0 / b.u.powi(2));
    agrees("τ", switch.latency, (wa * a.latency + wb * b.latency) / (wa + wb), 12.0);
    agrees("u", switch.u, (1.0 / (wa + wb)).sqrt(), 12.0);
    assert!(switch.u < a.u.min(b.u));
    agrees(
        "apart",
        switch.disagreement().expect("two"),
        (a.latency - b.latency).abs() / a.u.hypot(b.u),
        12.0,
    );
}

/// One speed a run: from run to run, with the runs' own scatter as doubt. By hand: means 1.0, 0.8, 1.2, 0.6
/// at 1, 2, 1, 2.
#[test]
fn speeds_that_differ_from_run_to_run() {
    let log = "run,station,z,speed\na,plate,1.0,1\nb,plate,0.8,2\nc,plate,1.2,1\nd,plate,0.6,2\n";
    let switch = SwitchLatency::plate(&groups(log)).expect("two speeds, each twice");
    agrees("τ", switch.latency, 0.4, 12.0);
    // Residuals ±0.1: s² = 0.04/2, Σ(v − v̄)² = 1.
    agrees("u", switch.u, 0.02_f64.sqrt(), 12.0);
    assert_eq!((switch.stations[0].between, switch.stations[0].dof), (Between::Runs, 2));
    assert!(switch.interleaved());
    // A single run at the higher speed would decide alone.
    assert!(SwitchLatency::plate(&groups(&log.replace("d,plate,0.6,2\n", ""))).is_none());
    // No differing speeds, no latency.
    assert!(SwitchLatency::plate(&groups(&log.replace(",2\n", ",1\n"))).is_none());
}

/// A tip without scatter would outweigh everything: both count alike, and half of the shoulder's doubt is
/// left. The tip falls by 1 ms exactly.
#[test]
fn a_station_without_scatter_does_not_decide_alone() {
    let tip = "a,tip,1.000,1\na,tip,0.998,3\na,tip,1.000,1\na,tip,0.998,3\n";
    let shoulder = "a,shoulder,7.000,1\na,shoulder,6.993,3\na,shoulder,7.001,1\na,shoulder,6.994,3\n";
    let groups = groups(&format!("run,station,z,speed\n{tip}{shoulder}"));
    let switch = SwitchLatency::datum(&groups).expect("two speeds");
    agrees("τ", switch.latency, (0.001 + 0.0035) / 2.0, 9.0);
    // Residuals of ±0.5 µm with two degrees of freedom; Σ(v − v̄)² = 4.
    agrees("u", switch.u, (1e-6_f64 / 2.0 / 4.0).sqrt() / 2.0, 6.0);
}

/// Exactly half of a correlation is still well mixed.
#[test]
fn well_mixed_up_to_a_half() {
    use zdatum::Station;
    use zdatum_sim::study::latency::StationLatency;
    let seen = |order| StationLatency {
        station: Station::Tip,
        latency: 0.0,
        u: 1.0,
        dof: 1,
        order,
        per_drift: 0.0,
        between: Between::Touches,
        speeds: (1.0, 2.0),
    };
    assert_eq!([0.5, -0.5, 0.51, -0.51].map(|order| seen(order).interleaved()), [true, true, false, false]);
}
