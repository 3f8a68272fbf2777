//! A campaign for people and for programs: what trigger noise does to the first layer.

use std::time::Duration;

use super::budget;
use super::compare;
use super::coverage::CoverageJson;
use super::histogram;
use super::refusal_sources::RefusalSourcesJson;
use super::scrape::ScrapeJson;
use super::sweep;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::shown;
use crate::text::number::{places_for, share_percent, shortest_mm};
use zdatum_world::engine::histogram::Quantile;
use zdatum_world::engine::{Estimate, Share, Tally};
use zdatum_world::questions::budget::Examined;
use zdatum_world::questions::budget::refusals::RefusalSources;
use zdatum_world::questions::compare::Comparison;
use zdatum_world::questions::coverage::{Coverage, falls_short};
use zdatum_world::questions::faulty::Found as FoundFaults;
use zdatum_world::questions::plan::Front;
use zdatum_world::questions::scrape::Scrape;
use zdatum_world::questions::sweep::Sweep;

/// Shares of the errors that are printed, as they are named in the document.
const QUANTILES: [(&str, f64); 5] =
    [("0.001", 0.001), ("0.025", 0.025), ("0.5", 0.5), ("0.975", 0.975), ("0.999", 0.999)];

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

/// Answers to further questions about a campaign's machine, as far as they were asked.
#[derive(Clone, Debug, Default)]
pub struct FurtherAnswers {
    /// Methods compared.
    pub comparison: Option<Comparison>,
    /// Uncertainty budget and agreement.
    pub examined: Option<Examined>,
    /// What makes cycles refused.
    pub refusal_sources: Option<RefusalSources>,
    /// Sweeps.
    pub sweeps: Option<Vec<Sweep>>,
    /// The map of coverage.
    pub coverage: Option<Coverage>,
    /// The chance of a scraping nozzle at one gap.
    pub scrape: Option<Scrape>,
    /// That chance over a range of gaps.
    pub scrape_curve: Option<Vec<Scrape>>,
    /// Time against error over ways of touching; only for a report.
    pub plan: Option<Front>,
    /// Faults on purpose; only for a report.
    pub faults: Option<FoundFaults>,
    /// Whether all of it was interrupted.
    pub interrupted: bool,
}

/// The document of `docs/json.md`.
#[derive(Debug, serde::Serialize)]
pub struct CampaignJson {
    format: u8,
    complete: bool,
    runs: u64,
    seed: u64,
    accepted: u64,
    refused: Refused,
    error: Option<Errors>,
    within: Number,
    p_outside: Option<Number>,
    p_outside_standard_error: Option<Number>,
    coverage: Option<Number>,
    coverage_standard_error: Option<Number>,
    touches_mean: Number,
    touches_standard_error: Option<Number>,
    cycle_s_mean: Number,
    cycle_s_standard_error: Option<Number>,
    elapsed_s: Number,
    runs_per_s: Number,
    #[serde(skip_serializing_if = "Option::is_none")]
    compare: Option<compare::Document>,
    #[serde(skip_serializing_if = "Option::is_none")]
    budget: Option<budget::Document>,
    #[serde(skip_serializing_if = "Option::is_none")]
    agreement: Option<budget::Agreement>,
    #[serde(skip_serializing_if = "Option::is_none")]
    refusals: Option<RefusalSourcesJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sweeps: Option<Vec<sweep::Document>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    coverage_map: Option<CoverageJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    scrape: Option<ScrapeJson>,
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
    quantiles: Quantiles<Number>,
    quantile_standard_errors: Quantiles<Option<Number>>,
    quantile_resolution: Number,
}

#[derive(Debug)]
struct Quantiles<T>(Vec<(&'static str, T)>);

impl<T: serde::Serialize> serde::Serialize for Quantiles<T> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

impl CampaignJson {
    /// From a result and the further answers.
    pub fn of(result: &Result<'_>, further: &FurtherAnswers) -> Self {
        let tally = result.tally;
        let number = |x: f64| Number::decimal(x, 9);
        let error = Errors::of(tally);
        let both = |estimate: Option<Estimate>| estimate.map(|x| (number(x.value), number(x.error))).unzip();
        let (p_outside, p_outside_standard_error) = both(tally.p_outside());
        let (coverage, coverage_standard_error) = both(tally.coverage());
        let seconds = result.elapsed.as_secs_f64();
        Self {
            format: 1,
            complete: tally.runs == result.asked && !further.interrupted,
            runs: tally.runs,
            seed: result.seed,
            accepted: tally.accepted,
            refused: Refused(tally.refusals().map(|(kind, count)| (kind.word(), count)).collect()),
            error,
            within: number(result.within),
            p_outside,
            p_outside_standard_error,
            coverage,
            coverage_standard_error,
            touches_mean: number(tally.touches_mean()),
            touches_standard_error: tally.touches().map(|touches| number(touches.error)),
            cycle_s_mean: number(tally.cycle_s_mean()),
            cycle_s_standard_error: tally.seconds().map(|seconds| number(seconds.error)),
            elapsed_s: number(seconds),
            runs_per_s: Number::decimal(if seconds > 0.0 { tally.runs as f64 / seconds } else { 0.0 }, 0),
            compare: further.comparison.as_ref().map(compare::Document::of),
            budget: further.examined.as_ref().and_then(|e| e.budget.as_ref().map(budget::Document::of)),
            agreement: further
                .examined
                .as_ref()
                .and_then(|e| e.agreement.as_ref().map(budget::Agreement::of)),
            refusals: further.refusal_sources.as_ref().map(RefusalSourcesJson::of),
            sweeps: further.sweeps.as_ref().map(|all| all.iter().map(sweep::Document::of).collect()),
            coverage_map: further.coverage.as_ref().map(|map| CoverageJson::of(map, result.seed)),
            scrape: further.scrape.as_ref().map(|one| {
                ScrapeJson::of(result.seed, one, further.scrape_curve.as_deref().unwrap_or_default())
            }),
        }
    }
}

impl Errors {
    fn of(tally: &Tally) -> Option<Self> {
        let number = |x: f64| Number::decimal(x, 9);
        let ((min, max), mean) = tally.errors.extremes().zip(tally.mean())?;
        let quantiles: Vec<(&'static str, Quantile)> =
            QUANTILES.iter().filter_map(|(name, p)| Some((*name, tally.errors.quantile(*p)?))).collect();
        let errors = quantiles.iter().map(|(name, quantile)| (*name, quantile.error.map(number)));
        let worst = quantiles.iter().map(|(_, quantile)| quantile.bound).fold(0.0, f64::max);
        Some(Self {
            mean: number(mean.value),
            mean_standard_error: mean.error.is_finite().then(|| number(mean.error)),
            sd: tally.sd().map(|sd| number(sd.value)),
            sd_standard_error: tally.sd().map(|sd| number(sd.error)),
            min: number(min),
            max: number(max),
            quantile_standard_errors: Quantiles(errors.collect()),
            quantile_resolution: number(worst),
            quantiles: Quantiles(quantiles.iter().map(|(name, q)| (*name, number(q.value))).collect()),
        })
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
    if let Some((touches, seconds)) = tally.touches().zip(tally.seconds()) {
        let (touches, seconds) = (two_digits(touches), two_digits(seconds));
        line!(&mut out, "A cycle takes {touches} touches and {seconds} s on the machine.");
    }
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
    line!(out, "  mean         {} mm  (above zero: tip too far from the plate)", estimate(&mean, true));
    line!(out, "  sd           {} mm", estimate(&sd, false));
    line!(out, "  95 %         {}", between(tally, 0.025, 0.975));
    line!(out, "  99.8 %       {}", between(tally, 0.001, 0.999));
    line!(out, "  all          between {min:+.4} and {max:+.4} mm");
    line!(out);
    histogram::chart(out, &tally.errors, result.within);
    line!(out);
    if let Some(beyond) = tally.beyond() {
        let (within, share) = (shortest_mm(result.within), share(&beyond, "accepted cycles"));
        line!(out, "{BOLD}Beyond ±{within} mm: {share}{BOLD:#}");
    }
    if let Some(held) = tally.held() {
        let (percent, share) = (result.coverage, share(&held, "accepted cycles"));
        line!(out, "The {percent} % interval held the landing in {share}");
        if falls_short(&held, f64::from(percent) / 100.0) {
            let text =
                "That is less than it states: zdatum coverage shows at which settings, and what mends it.";
            paragraph(out, text, 0, YELLOW);
        }
    }
}

/// Two quantiles with their standard errors.
fn between(tally: &Tally, low: f64, high: f64) -> String {
    let (Some(low), Some(high)) = (tally.errors.quantile(low), tally.errors.quantile(high)) else {
        return String::new();
    };
    let one = |quantile: Quantile| match quantile.error {
        Some(error) => format!("{:+.5} ± {error:.5}", quantile.value),
        None => format!("{:+.5} ± ?", quantile.value),
    };
    let known = low.error.is_some() && high.error.is_some();
    let why = if known { "" } else { "   (?: too few cycles)" };
    format!("between {} and {} mm{why}", one(low), one(high))
}

fn verdicts(out: &mut String, result: &Result<'_>) {
    let tally = result.tally;
    let Some(refused) = tally.turned_down() else { return };
    if tally.accepted == tally.runs {
        line!(out, "{BOLD}Refused: {}{BOLD:#}", share(&refused, "cycles"));
        return;
    }
    line!(out, "{BOLD}Refused: {}{BOLD:#}, by their first reason:", share(&refused, "cycles"));
    for (kind, count) in tally.refusals() {
        line!(out, "  {:<22} {:>12}   {}", kind.word(), thousands(count), kind.text());
    }
}

/// A length with its standard error.
fn estimate(estimate: &Estimate, signed: bool) -> String {
    let (value, error) = (estimate.value, estimate.error);
    if signed { format!("{value:+.6} ± {error:.6}") } else { format!(" {value:.6} ± {error:.6}") }
}

/// A share in per cent with its standard error; none and all with what they stay below or above at 95 %.
fn share(share: &Share, of: &str) -> String {
    let (runs, unseen) = (thousands(share.whole), 100.0 * share.unseen());
    let places = places_for(unseen).max(3);
    if share.part == 0 {
        format!("none of {runs} {of} (at 95 %: below {unseen:.places$} %)")
    } else if share.part == share.whole {
        format!("all of {runs} {of} (at 95 %: above {:.places$} %)", 100.0 - unseen)
    } else {
        let Estimate { value, error } = share.estimate();
        format!("{} of {of}", share_percent(value, error))
    }
}

/// A mean with the first two digits of its standard error, at least one decimal.
fn two_digits(estimate: Estimate) -> String {
    let places = places_for(estimate.error).max(1);
    format!("{:.places$} ± {:.places$}", estimate.value, estimate.error)
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
    use super::{share, thousands};
    use zdatum_world::engine::Share;

    #[test]
    fn none_and_all_say_how_sure_that_is() {
        let text = |part, whole| share(&Share { part, whole }, "cycles");
        // 1 − 0.05^(1/n): the rule of three.
        assert_eq!(text(0, 1_000_000), "none of 1,000,000 cycles (at 95 %: below 0.00030 %)");
        assert_eq!(text(500, 500), "all of 500 cycles (at 95 %: above 99.403 %)");
        assert_eq!(text(0, 1), "none of 1 cycles (at 95 %: below 95.000 %)");
        assert_eq!(text(1, 4), "25.000 % ± 21.651 % of cycles");
    }

    #[test]
    fn thousands_are_parted() {
        assert_eq!(thousands(0), "0");
        assert_eq!(thousands(999), "999");
        assert_eq!(thousands(1_000), "1,000");
        assert_eq!(thousands(12_345_678), "12,345,678");
    }
}
