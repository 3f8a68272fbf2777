//! Waits, limits and verdicts of a soak against scipy, log by log (`reference.py`, *soak*); heights to a
//! micrometre, so that both read the same numbers.

use zdatum_sim::files::FileText;
use zdatum_sim::files::log::Log;
use zdatum_sim::study::soak::{Growing, SoakResult, StationSoak, soak};

use super::agrees;

/// A tip that is touched every so many seconds.
fn log(touches: u32, every: f64, height: impl Fn(f64) -> f64, wobble: f64) -> String {
    let row = |i: u32| {
        let t = f64::from(i) * every;
        format!("tip,{:.6},{t}\n", height(t) + wobble * (2.1 * f64::from(i)).sin())
    };
    format!("station,z,time_s\n{}", (0..touches).map(row).collect::<String>())
}

fn soaked(log: &str, left: f64) -> StationSoak {
    let log = Log::read(FileText::of("soak.csv", log)).unwrap_or_else(|problem| panic!("{problem:?}"));
    soak(&log, left).unwrap_or_else(|problem| panic!("{problem:?}")).remove(0)
}

/// 50 µm with 800 s, and a wobble of 0.4 µm.
fn warming(left: f64) -> Growing {
    let told = soaked(&log(30, 120.0, |t| 1.0 + 0.05 * (1.0 - (-t / 800.0).exp()), 0.0004), left).told;
    let SoakResult::Grows(growing) = told else { panic!("{told:?}") };
    *growing
}

#[test]
fn a_growth_and_its_limits() {
    let growing = warming(0.002);
    agrees("b", growing.fit.b, 0.0499428207, 7.0);
    agrees("τ", growing.fit.tau, 800.410776, 7.0);
    agrees("rest", growing.fit.rest, 2.3991798393507e-6, 6.0);
    agrees("s", growing.fit.s(), (2.3991798393507e-6_f64 / 27.0).sqrt(), 6.0);
    agrees("end", growing.end.to_f64(), 1.00004775 + 0.0499428207, 7.0);
    agrees("τ's lower limit", growing.tau.0, 784.0946960987, 6.0);
    agrees("τ's upper limit", growing.tau.1, 817.2180042362, 6.0);
    agrees("left", growing.left.0, 0.00064604327374, 6.0);
    agrees("u(left)", growing.left.1, 2.7931918176e-5, 5.0);
    agrees("wait", growing.wait, 2575.50703223, 6.0);
    agrees("u(wait)", growing.wait_u, 25.5325108359, 5.0);
    agrees("wait's lower limit", growing.waits.0, 2523.9475444986, 6.0);
    agrees("wait's upper limit", growing.waits.1, 2628.652764998, 6.0);
    // The wobble changes its sign every touch or two.
    assert!(!growing.bent);
}

/// A limit of more than there is to come, or of just so much, has been kept from the first touch on.
#[test]
fn what_need_not_be_waited_for() {
    let growing = warming(0.06);
    assert_eq!((growing.wait, growing.waits), (0.0, (0.0, 0.0)));
    let near = warming(0.0499);
    assert!(near.wait < 5.0 && near.waits.0 == 0.0 && near.waits.1 > 0.0, "{near:?}");
}

/// Residuals that bow: a second, slower growth that one curve cannot follow.
#[test]
fn a_curve_that_does_not_fit_is_called_bent() {
    let two = |t: f64| 1.0 + 0.05 * (1.0 - (-t / 300.0).exp()) + 0.02 * (1.0 - (-t / 2500.0).exp());
    let told = soaked(&log(40, 120.0, two, 0.0001), 0.002).told;
    let SoakResult::Grows(growing) = told else { panic!("{told:?}") };
    assert!(growing.bent);
}

#[test]
fn a_straight_line_is_too_short() {
    let told = soaked(&log(20, 60.0, |t| 1.0 + 2e-5 * t, 0.0004), 0.005).told;
    let SoakResult::TooShort { per_hour, best, tau_low } = told else { panic!("{told:?}") };
    agrees("an hour", per_hour, 0.0721080451128, 9.0);
    // 9636 s, eight times the log’s length: shorter ones do not fit. Three digits: what the best fit leaves
    // depends on where it ends.
    agrees("τ’s lower limit", tau_low.expect("one"), 9636.0966673, 2.5);
    assert!(best.is_none_or(|best| best.tau > 100_000.0), "{best:?}");
}

/// A line so exact that no curve of up to ten lengths of the log fits says nothing of a time constant.
#[test]
fn an_exact_line_has_no_time_constant() {
    let told = soaked(&log(20, 60.0, |t| 1.0 + 2e-5 * t, 0.0), 0.005).told;
    let SoakResult::TooShort { per_hour, tau_low, .. } = told else { panic!("{told:?}") };
    agrees("an hour", per_hour, 0.072, 9.0);
    assert_eq!(tau_low, None);
}

/// The most that may have moved: the line's slope and its 97.5 % point, over the log.
#[test]
fn what_does_not_move() {
    let text = log(20, 60.0, |_| 1.0, 0.0002);
    for (left, still) in [(0.000_243, false), (0.000_244, true), (0.01, true)] {
        let soak = soaked(&text, left);
        let most = match soak.told {
            SoakResult::Still { most } if still => most,
            SoakResult::TooNoisy { most } if !still => most,
            told => panic!("{left}: {told:?}"),
        };
        agrees("the most", most, 0.000_243_653_819_7, 8.0);
    }
    let soak = soaked(&text, 0.01);
    assert_eq!((soak.tells(), soak.wait()), (true, Some(0.0)));
    let soak = soaked(&text, 0.0001);
    assert_eq!((soak.tells(), soak.wait()), (false, None));
    // Heights that are all the same have moved by nothing.
    let SoakResult::Still { most } = soaked(&log(8, 60.0, |_| 1.0, 0.0), 0.001).told else { panic!("still") };
    assert_eq!(most, 0.0);
}

/// Six touches are the fewest, of whichever station has them; times are told from the first touch on, fetches
/// only of what hangs on the probe.
#[test]
fn stations_are_read_by_themselves() {
    let row = |station: &str, run: u32, i: u32| {
        let t = 500.0 + 60.0 * f64::from(i);
        format!("{run},{station},{:.6},{t}\n", 1.0 + 0.0001 * (2.1 * f64::from(i)).sin())
    };
    let rows = |station: &str, run: u32, from: u32, to: u32| {
        (from..to).map(|i| row(station, run, i)).collect::<String>()
    };
    let text = format!(
        "run,station,z,time_s\n{}{}{}{}",
        rows("tip", 1, 0, 5),
        rows("shoulder", 1, 5, 9),
        rows("shoulder", 2, 9, 12),
        rows("plate", 2, 12, 18),
    );
    let log = Log::read(FileText::of("soak.csv", &text)).unwrap_or_else(|problem| panic!("{problem:?}"));
    let soaks = soak(&log, 0.01).unwrap_or_else(|problem| panic!("{problem:?}"));
    let told: Vec<_> =
        soaks.iter().map(|soak| (soak.station.word(), soak.n, soak.fetches, soak.times)).collect();
    assert_eq!(told, [("shoulder", 7, 2, (800.0, 1160.0)), ("plate", 6, 1, (1220.0, 1520.0))]);
    let tips = format!("run,station,z,time_s\n{}{}", rows("tip", 1, 0, 4), rows("tip", 2, 4, 8));
    let log = Log::read(FileText::of("soak.csv", &tips)).unwrap_or_else(|problem| panic!("{problem:?}"));
    let soaks = soak(&log, 0.01).unwrap_or_else(|problem| panic!("{problem:?}"));
    assert_eq!((soaks.len(), soaks[0].n, soaks[0].fetches), (1, 8, 1), "a tip is not fetched");
}

/// Growth of 50 µm in a wobble of 10: F is some 45 with 2 and 27 degrees of freedom, so it is seen to move,
/// though not always to what end.
#[test]
fn growth_in_much_noise_is_seen() {
    let told = soaked(&log(30, 120.0, |t| 1.0 + 0.05 * (1.0 - (-t / 800.0).exp()), 0.01), 0.005).told;
    assert!(matches!(told, SoakResult::Grows(_) | SoakResult::TooShort { .. }), "{told:?}");
    // In a wobble as large as itself it may be chance.
    let told = soaked(&log(30, 120.0, |t| 1.0 + 0.005 * (1.0 - (-t / 800.0).exp()), 0.01), 0.005).told;
    assert!(matches!(told, SoakResult::TooNoisy { .. }), "{told:?}");
}
