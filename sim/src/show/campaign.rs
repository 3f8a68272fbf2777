//! A campaign for people and for programs: what trigger noise does to the first layer.

use std::time::Duration;

use super::{budget, compare, coverage, histogram, refusal_sources, scrape, sweep};
use crate::text::Object;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::shown;
use crate::text::number::{places_for, share_percent, shortest_mm};
use crate::text::object::Value;
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
pub struct CampaignResult<'a> {
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
pub fn json(result: &CampaignResult<'_>, further: &FurtherAnswers) -> Object {
    let CampaignResult { tally, seed, .. } = *result;
    let seconds = result.elapsed.as_secs_f64();
    let rate = if seconds > 0.0 { tally.runs as f64 / seconds } else { 0.0 };
    let examined = further.examined.as_ref();
    let agreement = examined.and_then(|examined| examined.agreement.as_ref());
    let sweeps = further.sweeps.as_ref().map(|all| all.iter().map(sweep::json).collect::<Value>());
    let curve = further.scrape_curve.as_deref().unwrap_or_default();
    Object::default()
        .with("format", 1_u8)
        .with("complete", tally.runs == result.asked && !further.interrupted)
        .with("runs", tally.runs)
        .with("seed", seed)
        .with("accepted", tally.accepted)
        .refusals("refused", tally.refusals())
        .with("error", errors_json(tally))
        .figure("within", result.within)
        .estimate("p_outside", tally.p_outside())
        .estimate("coverage", tally.coverage())
        .figure("touches_mean", tally.touches_mean())
        .figure("touches_standard_error", tally.touches().map(|touches| touches.error))
        .figure("cycle_s_mean", tally.cycle_s_mean())
        .figure("cycle_s_standard_error", tally.seconds().map(|seconds| seconds.error))
        .figure("elapsed_s", seconds)
        .with("runs_per_s", Number::decimal(rate, 0))
        .with_some("compare", further.comparison.as_ref().map(compare::json))
        .with_some("budget", examined.and_then(|examined| examined.budget.as_ref()).map(budget::json))
        .with_some("agreement", agreement.map(budget::agreement_json))
        .with_some("refusals", further.refusal_sources.as_ref().map(refusal_sources::json))
        .with_some("sweeps", sweeps)
        .with_some("coverage_map", further.coverage.as_ref().map(|map| coverage::json(map, seed)))
        .with_some("scrape", further.scrape.as_ref().map(|found| scrape::json(seed, found, curve)))
}

fn errors_json(tally: &Tally) -> Option<Object> {
    let ((min, max), mean) = tally.errors.extremes().zip(tally.mean())?;
    let quantiles: Vec<(&str, Quantile)> =
        QUANTILES.iter().filter_map(|(name, p)| Some((*name, tally.errors.quantile(*p)?))).collect();
    let of_all = |figure: fn(&Quantile) -> Option<f64>| {
        quantiles.iter().fold(Object::default(), |all, (name, one)| all.figure(name, figure(one)))
    };
    let resolution = quantiles.iter().map(|(_, quantile)| quantile.bound).fold(0.0, f64::max);
    let errors = Object::default()
        .figure("mean", mean.value)
        .figure("mean_standard_error", mean.error.is_finite().then_some(mean.error))
        .estimate("sd", tally.sd())
        .figure("min", min)
        .figure("max", max)
        .with("quantiles", of_all(|quantile| Some(quantile.value)))
        .with("quantile_standard_errors", of_all(|quantile| quantile.error))
        .figure("quantile_resolution", resolution);
    Some(errors)
}

/// The page.
pub fn page(result: &CampaignResult<'_>) -> String {
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
    line!(&mut out, "{FAINT}simulated in {elapsed:.2} s, {rate:.2} million cycles per second{FAINT:#}");
    out
}

fn errors(out: &mut String, result: &CampaignResult<'_>) {
    let tally = result.tally;
    let (Some(mean), Some(sd), Some((min, max))) = (tally.mean(), tally.sd(), tally.errors.extremes()) else {
        paragraph(out, "Fewer than two cycles were accepted: no error can be shown.", 0, BOLD);
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
        line!(out, "The {percent} % interval held the true landing in {share}");
        if falls_short(&held, f64::from(percent) / 100.0) {
            let text = "That is less than it states: zdatum simulate --coverage shows for which settings, \
                and the remedy.";
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

fn verdicts(out: &mut String, result: &CampaignResult<'_>) {
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
