//! The page.

use anstyle::Style;
use zdatum::Station;

use super::{entries, findings, latency_entry, named};
use crate::show::charts::bar;
use crate::study::Study;
use crate::study::capability::{Capability, MOST_SHARE, MOST_TOUCHES, source};
use crate::study::latency::{Between, SwitchLatency};
use crate::study::seating::Scatter;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::{counted, cut, padded};
use crate::world::distributions::limits_of_s;

/// Widest run name.
const RUN: usize = 10;
/// Series that are listed; more are in the JSON.
const LISTED: usize = 60;
const BAR: u32 = 20;

/// A study with where it came from.
#[derive(Clone, Copy, Debug)]
pub struct StudyShown<'a> {
    /// What was found.
    pub study: &'a Study,
    /// The log's name.
    pub log: &'a str,
    /// The machine file, where one was named.
    pub machine: Option<&'a str>,
    /// Whether its `[pooled]` was written.
    pub written: bool,
}

/// The page.
pub fn page(shown: &StudyShown<'_>) -> String {
    let mut out = String::new();
    let study = shown.study;
    let places = places(study);
    let touches: usize = study.stations.iter().map(|one| one.touches).sum();
    let (runs, stations) =
        (study.groups.runs.len(), study.stations.iter().map(|one| one.station).collect::<Vec<_>>());
    line!(
        &mut out,
        "{BOLD}Study of {touches} {}{BOLD:#}: {} at {}",
        if touches == 1 { "touch" } else { "touches" },
        counted(runs, "run"),
        named(&stations)
    );
    line!(&mut out, "{FAINT}{}; lengths as in the log: mm{FAINT:#}", shown.log);
    series(&mut out, study, places);
    across(&mut out, study, places);
    moves(&mut out, study, places);
    latencies(&mut out, study);
    let notes = findings(study);
    if !notes.is_empty() {
        line!(&mut out);
        for note in notes {
            bullet(&mut out, &format!("{note}."));
        }
    }
    if let Some(capability) = &study.capability {
        capable(&mut out, capability, places);
    }
    paste(&mut out, shown);
    out
}

/// Decimals that show three digits of the smallest s, within reason.
fn places(study: &Study) -> usize {
    let s = study.stations.iter().filter_map(|one| one.pooled).map(|(s, _)| s).filter(|s| *s > 0.0);
    let least = s.fold(f64::INFINITY, f64::min);
    if least.is_finite() { (2.0 - least.log10().floor()).clamp(4.0, 9.0) as usize } else { 4 }
}

fn bullet(out: &mut String, text: &str) {
    for (number, part) in crate::text::name::wrapped(text, 74).iter().enumerate() {
        let mark = if number == 0 { "·" } else { " " };
        line!(out, "{YELLOW}{mark}{YELLOW:#} {part}");
    }
}

fn series(out: &mut String, study: &Study, places: usize) {
    use unicode_width::UnicodeWidthStr;
    let name = |run: &str| cut(run, RUN);
    let run = study.groups.runs.iter().map(|run| name(run).width()).max().unwrap_or(3).max(3);
    let means: Vec<String> = study.series.iter().map(|series| series.mean.rounded(places)).collect();
    let medians: Vec<String> = study.series.iter().map(|series| series.median.rounded(places)).collect();
    let wide = means.iter().take(LISTED).map(String::len).max().unwrap_or(6).max(6);
    let s = places + 3;
    line!(out);
    line!(
        out,
        "{BOLD}{:<run$}  {:<8} {:>4}  {:>wide$}  {:>wide$}  {:>s$}  {:>s$}  {:>5}  {:>4}{BOLD:#}",
        "run",
        "station",
        "n",
        "mean",
        "median",
        "s",
        "spread",
        "lag 1",
        "v.N."
    );
    let centres = means.iter().zip(&medians);
    for ((group, series), (mean, median)) in
        study.groups.groups.iter().zip(&study.series).zip(centres).take(LISTED)
    {
        let number =
            |x: Option<f64>, places: usize| x.map_or_else(|| "–".to_owned(), |x| format!("{x:.places$}"));
        let lag = series.lag1.map_or_else(|| "–".to_owned(), |x| format!("{x:+.2}"));
        line!(
            out,
            "{}  {:<8} {:>4}  {mean:>wide$}  {median:>wide$}  {:>s$}  {:>s$.places$}  {lag:>5}  {:>4}",
            padded(&name(&group.run), run),
            group.station.word(),
            series.n,
            number(series.s, places),
            series.spread,
            number(series.von_neumann, 2)
        );
    }
    if let Some(more) = study.series.len().checked_sub(LISTED).filter(|more| *more > 0) {
        line!(out, "… and {more} more series: --json has them all");
    }
    line!(
        out,
        "{FAINT}lag 1 near 0 and v.N. (von Neumann's ratio) near 2: no order among the touches{FAINT:#}"
    );
}

fn across(out: &mut String, study: &Study, places: usize) {
    let s = places + 3;
    line!(out);
    line!(
        out,
        "{BOLD}{:<8}  {:>4}  {:>s$}  {:<w$}  {:>s$}  {:>6}{BOLD:#}",
        "station",
        "ν",
        "s",
        "95 % of s",
        "by run",
        "p",
        w = 2 * s + 2
    );
    for one in &study.stations {
        let Some((pooled, dof)) = one.pooled else {
            line!(out, "{:<8}     –  a single touch a run says nothing of s", one.station.word());
            continue;
        };
        let limits = limits_of_s(pooled, dof)
            .map_or_else(String::new, |(low, high)| format!("{low:.places$} to {high:.places$}"));
        let by_run = one.anova.map_or_else(|| "–".to_owned(), |anova| format!("{:.places$}", anova.s_run));
        let p = one.anova.and_then(|anova| anova.p).map_or_else(|| "–".to_owned(), chance);
        line!(
            out,
            "{:<8}  {dof:>4}  {pooled:>s$.places$}  {limits:<w$}  {by_run:>s$}  {p:>6}",
            one.station.word(),
            w = 2 * s + 2
        );
    }
    let text = "s: of one touch, over all runs (repeatability), with ν degrees of freedom. by run: what \
        comes on top from run to run; p: chance of that much from runs that are alike";
    paragraph(out, text, 0, FAINT);
}

/// A probability in as few characters as tell it.
fn chance(p: f64) -> String {
    if p < 0.001 { "<0.001".into() } else { format!("{p:.3}") }
}

fn moves(out: &mut String, study: &Study, places: usize) {
    if let Some(drop) = &study.drop {
        line!(out);
        let text = if drop.p < 0.05 {
            format!(
                "Probe seating: {:.places$} from fetch to fetch ({}), one standard deviation. The drop \
                    scatters by {:.places$} over {} runs, of which the switches explain {:.places$}. A \
                    landing does not see it, since shoulder and plate are touched under one fetch; it shows \
                    in the machine file's noise as `reseat`.",
                drop.beyond,
                limits(drop, places),
                drop.sd,
                drop.runs,
                drop.switches
            )
        } else {
            format!(
                "Probe seating: none seen beside the switches; at most {:.places$} (95 %). The drop \
                    scatters by {:.places$} over {} runs, of which the switches explain {:.places$}.",
                drop.limits.1, drop.sd, drop.runs, drop.switches
            )
        };
        paragraph(out, &text, 0, Style::new());
    }
    if let Some(span) = study.span.as_ref().filter(|span| span.p < 0.05) {
        let text = format!(
            "The span moves by {:.places$} from run to run ({}) beyond the switches, although seating does \
                not reach it: the plate was taken off and lies differently, or the probe moves between \
                shoulder and plate.",
            span.beyond,
            limits(span, places)
        );
        paragraph(out, &text, 0, Style::new());
    }
}

fn limits(scatter: &Scatter, places: usize) -> String {
    format!("95 %: {:.places$} to {:.places$}", scatter.limits.0, scatter.limits.1)
}

fn latencies(out: &mut String, study: &Study) {
    let switches = [("datum switch", &study.datum), ("plate switch", &study.plate)];
    if switches.iter().all(|(_, switch)| switch.is_none()) {
        return;
    }
    line!(out);
    line!(
        out,
        "{BOLD}{:<22}{:>9}  {:>8}  {:>4}  {}{BOLD:#}",
        "latency of a trip",
        "τ / ms",
        "u / ms",
        "ν",
        "speeds"
    );
    for (name, switch) in switches {
        let Some(switch) = switch else { continue };
        if switch.stations.len() > 1 {
            latency(out, name, switch.latency, switch.u, "", "");
        }
        for seen in &switch.stations {
            let label = if switch.stations.len() > 1 {
                format!("  {}", seen.station.word())
            } else {
                name.to_owned()
            };
            let by = if seen.between == Between::Runs { ", by run" } else { "" };
            let mixed = if seen.interleaved() { "" } else { ", in blocks" };
            let speeds = format!("{} to {} mm/s{by}{mixed}", seen.speeds.0, seen.speeds.1);
            latency(out, &label, seen.latency, seen.u, &seen.dof.to_string(), &speeds);
        }
    }
}

fn latency(out: &mut String, name: &str, tau: f64, u: f64, dof: &str, speeds: &str) {
    line!(
        out,
        "{}",
        format!("{name:<22}{:>+9.3}  {:>8.3}  {dof:>4}  {speeds}", tau * 1e3, u * 1e3).trim_end()
    );
}

fn capable(out: &mut String, capability: &Capability, places: usize) {
    let Capability { within, touches, expanded, share, .. } = capability;
    line!(out);
    let verdict = if capability.good() { "Good enough" } else { "Not good enough" };
    let far = if capability.missing.is_empty() { "" } else { ", as far as the log tells" };
    paragraph(out, &format!("{verdict} for ±{within} mm{far}."), 0, BOLD);
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let text = format!(
        "With {} per station the touches make U = {expanded:.places$} mm (k = 2), {} of the tolerance; the \
            limit is {}.",
        if *touches == 1 { "1 touch".to_owned() } else { format!("{touches} touches") },
        percent(*share),
        percent(MOST_SHARE)
    );
    paragraph(out, &text, 0, Style::new());
    for part in &capability.parts {
        let bar = bar((part.share * 1000.0) as u32, 1000, BAR);
        let (words, share) = (source(part.station), percent(part.share));
        line!(out, "  {words:<22} {:.places$}  {share:>5}  {bar}", part.u);
    }
    let mut text = String::new();
    if let Some(worst) = capability.parts.first() {
        let (words, advice) = (source(worst.station), advice(worst.station));
        text.push_str(&format!("The worst part is the {words}: {advice}. "));
    }
    if !capability.good() {
        text.push_str(&format!("{}. ", enough(capability, |mm| format!("{mm:.places$} mm"))));
    }
    if !capability.missing.is_empty() {
        text.push_str(&format!("The log says nothing of {}. ", named(&capability.missing)));
    }
    if let Some(with_span) = capability.with_span {
        text.push_str(&format!(
            "If the plate was not taken off between the runs, the moves of the span count too, and U is \
                {with_span:.places$} mm, {}: find what moves between shoulder and plate. ",
            percent(with_span / within)
        ));
    }
    text.push_str("The uncertainty of the trip depth comes on top; a gauge check reduces it.");
    paragraph(out, &text, 0, Style::new());
}

/// What would make it good enough, where it is not.
pub(crate) fn enough(capability: &Capability, shown: impl Fn(f64) -> String) -> String {
    let Capability { within, least, .. } = capability;
    match capability.enough {
        Some(1) => "1 touch per station would be enough".into(),
        Some(n) => format!("{n} touches per station would be enough"),
        None => format!(
            "Even {MOST_TOUCHES} touches per station, the most that are taken, leave U = {}, {:.0} % of the \
                tolerance: {}, or a tolerance of ±{} or more",
            shown(*least),
            least / within * 100.0,
            if capability.stepped {
                "the motor steps alone exceed the limit, so finer ones are needed"
            } else {
                "better switches are needed"
            },
            shown(up(least / MOST_SHARE))
        ),
    }
}

/// To the next tenth of a micrometre above.
fn up(mm: f64) -> f64 {
    (mm * 1e4).ceil() / 1e4
}

fn advice(station: Station) -> &'static str {
    match station {
        Station::Plate => "more touches there, or a better switch in the probe, would reduce it",
        Station::Tip | Station::Shoulder => "more touches there, or a better datum switch, would reduce it",
    }
}

fn paste(out: &mut String, shown: &StudyShown<'_>) {
    let entries = entries(shown.study);
    let latencies: Vec<(&str, f64, f64)> =
        [("datum_switch", &shown.study.datum), ("plate_switch", &shown.study.plate)]
            .into_iter()
            .filter_map(|(name, switch): (_, &Option<SwitchLatency>)| {
                let (tau, u) = latency_entry(switch.as_ref()?)?;
                Some((name, tau, u))
            })
            .collect();
    if entries.is_empty() && latencies.is_empty() {
        return;
    }
    line!(out);
    match (shown.machine, shown.written) {
        (Some(name), true) => line!(out, "{BOLD}Written to {name}{BOLD:#}: the [pooled] lines below."),
        _ => line!(out, "{BOLD}For the machine file{BOLD:#}, where heights are mm:"),
    }
    if !entries.is_empty() {
        line!(out, "  [pooled]");
    }
    for entry in &entries {
        line!(out, "  {}", entry.line());
    }
    for (name, tau, u) in latencies {
        line!(out, "  [{name}]");
        line!(out, "  latency_s = {tau:.6}");
        line!(out, "  latency_u_s = {u:.6}");
    }
    if !shown.written && !entries.is_empty() {
        line!(out, "{FAINT}--machine FILE --write puts the [pooled] lines there.{FAINT:#}");
    }
}
