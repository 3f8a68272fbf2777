//! NIST's Statistical Reference Datasets: certified values, and how many digits of them come out.
//!
//! Source: NIST StRD, <https://www.itl.nist.gov/div898/strd/>; the files as registry packages carry them
//! (scipy's and lmfit's tests), Mavro and the NumAcc rules as GSL's tests have them. NoInt1 and NoInt2 follow
//! a rule, their certified values are *from memory* and agree with exact arithmetic to all digits.

use zdatum_sim::study::growth::{Form, growth};
use zdatum_sim::study::line::{line, line_from_zero};

use super::{data, digits, log_of, study};

/// Digits that each kind of set must reach.
const UNIVARIATE: f64 = 9.0;
const ANOVA: f64 = 9.0;
const LINEAR: f64 = 9.0;
const NONLINEAR: f64 = 6.0;

/// One set: names of the values with found and certified.
struct Set {
    name: &'static str,
    least: f64,
    values: Vec<(&'static str, f64, f64)>,
}

impl Set {
    /// Prints the digits, and the fewest of them against what must be reached.
    fn check(&self) -> Result<(), String> {
        let all: Vec<String> = self
            .values
            .iter()
            .map(|(name, found, certified)| format!("{name} {:.1}", digits(*found, *certified)))
            .collect();
        println!("{:<9} {}", self.name, all.join(", "));
        let fewest = self.values.iter().map(|(_, found, certified)| digits(*found, *certified));
        if fewest.fold(15.0, f64::min) >= self.least {
            Ok(())
        } else {
            Err(format!("{}: {:?}, {} digits are needed", self.name, self.values, self.least))
        }
    }
}

fn univariate<T: std::fmt::Display>(name: &'static str, heights: Vec<T>, certified: [f64; 3]) -> Set {
    let study = study(&log_of("tip", &[heights]));
    let series = &study.series[0];
    let [mean, s, lag1] = certified;
    let found = |x: Option<f64>| x.unwrap_or(f64::NAN);
    let values = vec![
        ("mean", series.mean.to_f64(), mean),
        ("s", found(series.s), s),
        ("lag 1", found(series.lag1), lag1),
    ];
    Set { name, least: UNIVARIATE, values }
}

/// NumAcc2 to 4: B + 0.2, then 500 times B + 0.1 and B + 0.3.
fn numacc(base: u64) -> Vec<String> {
    let tail = (0..500).flat_map(|_| [format!("{base}.1"), format!("{base}.3")]);
    std::iter::once(format!("{base}.2")).chain(tail).collect()
}

/// Certified: between and within sum of squares, F.
fn anova<T: std::fmt::Display>(name: &'static str, runs: &[Vec<T>], certified: [f64; 3]) -> Set {
    let study = study(&log_of("plate", runs));
    let anova = study.stations[0].anova.expect("an analysis of variance");
    let [between, within, f] = certified;
    let values = vec![
        ("SS between", anova.ss_between, between),
        ("SS within", anova.ss_within, within),
        ("F", anova.f.unwrap_or(f64::NAN), f),
    ];
    Set { name, least: ANOVA, values }
}

/// SmLs: nine treatments about these tenths, the first value on it, then a tenth below and above in turn.
fn smls(lead: u64, replicates: usize) -> Vec<Vec<String>> {
    let treatment = |tenth: u64| -> Vec<String> {
        let rest = (0..replicates - 1).map(|i| if i % 2 == 0 { tenth - 1 } else { tenth + 1 });
        std::iter::once(tenth).chain(rest).map(|tenth| format!("{lead}.{tenth}")).collect()
    };
    [4, 3, 5, 3, 5, 3, 5, 3, 5].map(treatment).to_vec()
}

fn nonlinear(name: &'static str, text: &str, certified: [f64; 5]) -> Set {
    let (x, y) = data::pairs(text);
    let fit = growth(&x, &y, Form::FromZero).expect("a curve");
    let [b1, b1_sd, b2, b2_sd, rest] = certified;
    // The sets have a rate where the soak has a time constant.
    let (rate, rate_sd) = (1.0 / fit.tau, fit.tau_sd / (fit.tau * fit.tau));
    let values = vec![
        ("b1", fit.b, b1),
        ("b2", rate, b2),
        ("sd b1", fit.b_sd, b1_sd),
        ("sd b2", rate_sd, b2_sd),
        ("RSS", fit.rest, rest),
    ];
    Set { name, least: NONLINEAR, values }
}

fn straight(
    name: &'static str,
    found: Option<zdatum_sim::study::line::FittedLine>,
    certified: [f64; 5],
) -> Set {
    let line = found.expect("a line");
    let [b0, b0_sd, b1, b1_sd, s] = certified;
    let mut values = vec![("b1", line.slope, b1), ("sd b1", line.slope_sd, b1_sd), ("s", line.s, s)];
    if b0 != 0.0 {
        values.extend([("b0", line.intercept, b0), ("sd b0", line.intercept_sd, b0_sd)]);
    }
    Set { name, least: LINEAR, values }
}

#[test]
fn certified_values_come_out() {
    let text = |text: &'static str| data::groups(text);
    let (norris_x, norris_y) = data::pairs(data::NORRIS);
    let noint1: (Vec<f64>, Vec<f64>) = (60..=70).map(|x| (f64::from(x), f64::from(x + 70))).unzip();
    let noint2 = ([4.0, 5.0, 6.0], [3.0, 4.0, 4.0]);
    let sets = [
        univariate("Mavro", text(data::MAVRO).remove(0), [2.001856, 0.000429123454003053, 0.937989183438248]),
        univariate("NumAcc1", vec![10_000_001, 10_000_003, 10_000_002], [10_000_002.0, 1.0, -0.5]),
        univariate("NumAcc2", numacc(1), [1.2, 0.1, -0.999]),
        univariate("NumAcc3", numacc(1_000_000), [1_000_000.2, 0.1, -0.999]),
        univariate("NumAcc4", numacc(10_000_000), [10_000_000.2, 0.1, -0.999]),
        anova("SiRstv", &text(data::SIRSTV), [5.11462616e-2, 2.1663656e-1, 1.18046237440255]),
        anova("AtmWtAg", &text(data::ATMWTAG), [3.638341875e-9, 1.04951729166667e-8, 15.9467335677930]),
        anova("SmLs01", &smls(1, 21), [1.68, 1.80, 21.0]),
        anova("SmLs02", &smls(1, 201), [16.08, 18.0, 201.0]),
        anova("SmLs03", &smls(1, 2001), [160.08, 180.0, 2001.0]),
        anova("SmLs04", &smls(1_000_000, 21), [1.68, 1.80, 21.0]),
        anova("SmLs05", &smls(1_000_000, 201), [16.08, 18.0, 201.0]),
        anova("SmLs06", &smls(1_000_000, 2001), [160.08, 180.0, 2001.0]),
        anova("SmLs07", &smls(1_000_000_000_000, 21), [1.68, 1.80, 21.0]),
        anova("SmLs08", &smls(1_000_000_000_000, 201), [16.08, 18.0, 201.0]),
        anova("SmLs09", &smls(1_000_000_000_000, 2001), [160.08, 180.0, 2001.0]),
        straight(
            "Norris",
            line(&norris_x, &norris_y),
            [
                -0.262323073774029,
                0.232818234301152,
                1.00211681802045,
                0.429796848199937e-3,
                0.884796396144373,
            ],
        ),
        straight(
            "NoInt1",
            line_from_zero(&noint1.0, &noint1.1),
            [0.0, 0.0, 2.07438016528926, 0.165289256198347e-1, 3.56753034006338],
        ),
        straight(
            "NoInt2",
            line_from_zero(&noint2.0, &noint2.1),
            [0.0, 0.0, 0.727272727272727, 0.420827318078432e-1, 0.369274472937998],
        ),
        nonlinear(
            "Misra1a",
            data::MISRA1A,
            [2.3894212918e2, 2.7070075241, 5.5015643181e-4, 7.2668688436e-6, 1.2455138894e-1],
        ),
        nonlinear(
            "BoxBOD",
            data::BOXBOD,
            [2.1380940889e2, 1.2354515176e1, 5.4723748542e-1, 1.0455993237e-1, 1.1680088766e3],
        ),
    ];
    let failed: Vec<String> = sets.iter().filter_map(|set| set.check().err()).collect();
    assert!(failed.is_empty(), "{failed:#?}");
}
