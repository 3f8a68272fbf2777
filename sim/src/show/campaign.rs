//! A campaign for people and for programs: what trigger noise does to the first layer.

use std::time::Duration;

use super::budget;
use super::charts::bar;
use super::compare;
use super::json::Number;
use super::name::shown;
use super::page::{BOLD, FAINT, line, paragraph};
use super::sweep;
use crate::run::{Comparison, Estimate, Examined, Sweep, Tally};

/// Shares of the errors that are printed, as they are named in the document.
const QUANTILES: [(&str, f64); 5] =
    [("0.001", 0.001), ("0.025", 0.025), ("0.5", 0.5), ("0.975", 0.975), ("0.999", 0.999)];

/// Rows of the histogram and the widest bar.
const ROWS: usize = 17;
const BAR: u32 = 44;

/// What was asked and what came of it.
#[derive(Clone, Copy, Debug)]
pub struct Result<'a> {
    /// The machine file, or what stands for it.
    pub machine: &'a str,
    /// The seed.
    pub seed: u64,
    /// Runs asked for.
    pub asked: u64,
    /// Tolerance, mm.
    pub within: f64,
    /// Coverage that the machine asks for, per cent.
    pub coverage: u8,
    /// The sums.
    pub tally: &'a Tally,
    /// Real time taken.
    pub elapsed: Duration,
}

/// What may be asked for beside a campaign.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// Methods compared.
    pub comparison: Option<Comparison>,
    /// Error budget and agreement.
    pub examined: Option<Examined>,
    /// Sweeps.
    pub sweeps: Option<Vec<Sweep>>,
    /// Whether all of it was interrupted.
    pub interrupted: bool,
}

impl Beside {
    /// Whether nothing was asked for.
    pub fn is_empty(&self) -> bool {
        self.comparison.is_none() && self.examined.is_none() && self.sweeps.is_none()
    }
}

/// The document of `docs/formats.md`.
#[derive(Debug, serde::Serialize)]
pub struct Document {
    format: u8,
    complete: bool,
    runs: u64,
    seed: u64,
    accepted: u64,
    refused: Refused,
    error: Option<Errors>,
    within: Number,
    p_outside: Option<Number>,
    coverage: Option<Number>,
    touches_mean: Number,
    cycle_s_mean: Number,
    elapsed_s: Number,
    runs_per_s: Number,
    #[serde(skip_serializing_if = "Option::is_none")]
    compare: Option<compare::Document>,
    #[serde(skip_serializing_if = "Option::is_none")]
    budget: Option<budget::Document>,
    #[serde(skip_serializing_if = "Option::is_none")]
    agreement: Option<budget::Agreement>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sweeps: Option<Vec<sweep::Document>>,
}

#[derive(Debug)]
struct Refused(Vec<(&'static str, u64)>);

impl serde::Serialize for Refused {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().copied())
    }
}

#[derive(Debug, serde::Serialize)]
struct Errors {
    mean: Number,
    mean_standard_error: Option<Number>,
    sd: Option<Number>,
    sd_standard_error: Option<Number>,
    min: Number,
    max: Number,
    quantiles: Quantiles,
    quantile_resolution: Number,
}

#[derive(Debug)]
struct Quantiles(Vec<(&'static str, Number)>);

impl serde::Serialize for Quantiles {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

impl Document {
    /// From a result and what was asked for beside it.
    pub fn of(result: &Result<'_>, beside: &Beside) -> Self {
        let tally = result.tally;
        let number = |x: f64| Number::decimal(x, 9);
        let error = tally.errors.extremes().zip(tally.mean()).map(|((min, max), mean)| Errors {
            mean: number(mean.value),
            mean_standard_error: mean.error.is_finite().then(|| number(mean.error)),
            sd: tally.sd().map(|sd| number(sd.value)),
            sd_standard_error: tally.sd().map(|sd| number(sd.error)),
            min: number(min),
            max: number(max),
            quantiles: Quantiles(
                QUANTILES
                    .iter()
                    .filter_map(|(name, p)| Some((*name, number(tally.errors.quantile(*p)?))))
                    .collect(),
            ),
            quantile_resolution: number(tally.errors.resolution()),
        });
        let seconds = result.elapsed.as_secs_f64();
        Self {
            format: 1,
            complete: tally.runs == result.asked && !beside.interrupted,
            runs: tally.runs,
            seed: result.seed,
            accepted: tally.accepted,
            refused: Refused(tally.refusals().map(|(kind, count)| (kind.word(), count)).collect()),
            error,
            within: number(result.within),
            p_outside: tally.p_outside().map(|p| number(p.value)),
            coverage: tally.coverage().map(|p| number(p.value)),
            touches_mean: number(tally.touches_mean()),
            cycle_s_mean: number(tally.cycle_s_mean()),
            elapsed_s: number(seconds),
            runs_per_s: Number::decimal(if seconds > 0.0 { tally.runs as f64 / seconds } else { 0.0 }, 0),
            compare: beside.comparison.as_ref().map(compare::Document::of),
            budget: beside.examined.as_ref().and_then(|e| e.budget.as_ref().map(budget::Document::of)),
            agreement: beside.examined.as_ref().and_then(|e| e.agreement.as_ref().map(budget::Agreement::of)),
            sweeps: beside.sweeps.as_ref().map(|all| all.iter().map(sweep::Document::of).collect()),
        }
    }
}

/// The page.
pub fn page(result: &Result<'_>) -> String {
    let mut out = String::new();
    let tally = result.tally;
    let (runs, machine) = (thousands(tally.runs), shown(result.machine));
    line!(&mut out, "{BOLD}First-layer error over {runs} cycles{BOLD:#}, seed {}", result.seed);
    line!(&mut out, "{FAINT}machine: {machine}{FAINT:#}");
    if tally.runs < result.asked {
        let asked = thousands(result.asked);
        line!(&mut out, "Interrupted: {asked} were asked for; this is what was done so far.");
    }
    line!(&mut out);
    errors(&mut out, result);
    verdicts(&mut out, result);
    line!(&mut out);
    let (touches, seconds) = (tally.touches_mean(), tally.cycle_s_mean());
    line!(&mut out, "A cycle takes {touches:.1} touches and about {seconds:.0} s on the machine.");
    let elapsed = result.elapsed.as_secs_f64();
    let rate = if elapsed > 0.0 { tally.runs as f64 / elapsed / 1e6 } else { 0.0 };
    line!(&mut out, "{FAINT}simulated in {elapsed:.2} s, {rate:.2} million cycles a second{FAINT:#}");
    out
}

fn errors(out: &mut String, result: &Result<'_>) {
    let tally = result.tally;
    let (Some(mean), Some(sd), Some((min, max))) = (tally.mean(), tally.sd(), tally.errors.extremes()) else {
        paragraph(out, "Fewer than two cycles were accepted: there is no error to speak of.", 0, BOLD);
        return;
    };
    let quantile = |p: f64| tally.errors.quantile(p).unwrap_or(f64::NAN);
    line!(out, "  mean         {} mm   (above zero: tip too far from the plate)", estimate(&mean, true));
    line!(out, "  sd           {} mm", estimate(&sd, false));
    line!(out, "  95 %         between {:+.4} and {:+.4} mm", quantile(0.025), quantile(0.975));
    line!(out, "  99.8 %       between {:+.4} and {:+.4} mm", quantile(0.001), quantile(0.999));
    line!(out, "  all          between {min:+.4} and {max:+.4} mm");
    line!(out);
    histogram(out, result, sd.value);
    line!(out);
    if let Some(p) = tally.p_outside() {
        let within = result.within;
        line!(out, "{BOLD}Beyond ±{within:.3} mm: {}{BOLD:#} of accepted cycles", share(&p));
    }
    if let Some(p) = tally.coverage() {
        let percent = result.coverage;
        line!(out, "The stated {percent} % interval held the true landing in {} of them", share(&p));
    }
}

/// Rows out to a little more than the widest of tolerance and 99.8 % of the errors.
fn histogram(out: &mut String, result: &Result<'_>, sd: f64) {
    let reach = (3.4 * sd).max(1e-6);
    let counts = result.tally.errors.columns(-reach, reach, ROWS);
    let most = counts.iter().copied().max().unwrap_or(0);
    let scale = |count: u64| u32::try_from(count.saturating_mul(1_000_000) / most.max(1)).unwrap_or(0);
    let width = 2.0 * reach / ROWS as f64;
    for (row, count) in counts.iter().enumerate() {
        let middle = -reach + (row as f64 + 0.5) * width;
        let percent = 100.0 * *count as f64 / result.tally.accepted.max(1) as f64;
        let mark = if middle.abs() > result.within { '!' } else { ' ' };
        let bar = bar(scale(*count), 1_000_000, BAR);
        line!(out, "  {:+9.1} µm {mark}│{bar} {FAINT}{percent:.1} %{FAINT:#}", middle * 1000.0);
    }
    if reach > result.within {
        line!(out, "  {FAINT}! beyond ±{:.0} µm{FAINT:#}", result.within * 1000.0);
    }
}

fn verdicts(out: &mut String, result: &Result<'_>) {
    let tally = result.tally;
    let Some(refused) = tally.p_refused() else { return };
    if tally.accepted == tally.runs {
        line!(out, "No cycle was refused");
        return;
    }
    line!(out, "{BOLD}Refused: {}{BOLD:#} of all cycles, by their first reason:", share(&refused));
    for (kind, count) in tally.refusals() {
        line!(out, "  {:<22} {:>12}   {}", kind.word(), thousands(count), kind.text());
    }
}

/// A length with its standard error.
fn estimate(estimate: &Estimate, signed: bool) -> String {
    let (value, error) = (estimate.value, estimate.error);
    if signed { format!("{value:+.6} ± {error:.6}") } else { format!(" {value:.6} ± {error:.6}") }
}

/// A share in per cent with its standard error.
fn share(p: &Estimate) -> String {
    format!("{:.3} % ± {:.3} %", 100.0 * p.value, 100.0 * p.error)
}

/// 1234567 as 1,234,567.
pub(super) fn thousands(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::thousands;

    #[test]
    fn thousands_are_parted() {
        assert_eq!(thousands(0), "0");
        assert_eq!(thousands(999), "999");
        assert_eq!(thousands(1_000), "1,000");
        assert_eq!(thousands(12_345_678), "12,345,678");
    }
}
