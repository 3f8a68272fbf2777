//! A soak for people and for programs: how a machine grows while it warms, and how long to wait.

use anstyle::Style;

use crate::study::growth::Growth;
use crate::study::soak::{Growing, SoakResult, StationSoak};
use crate::text::json::verdict;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};

/// What `soak --json` answers.
#[derive(Debug, serde::Serialize)]
pub struct SoakJson<'a> {
    format: u8,
    left: f64,
    verdict: &'static str,
    wait_s: Option<f64>,
    wait_u_s: Option<f64>,
    wait_low_s: Option<f64>,
    wait_high_s: Option<f64>,
    stations: &'a [StationSoak],
}

impl<'a> SoakJson<'a> {
    /// From what each station tells.
    pub fn of(stations: &'a [StationSoak], left: f64) -> Self {
        let told = longest(stations);
        let wait = |pick: fn(&Growing) -> f64| {
            told.map(|soak| match &soak.told {
                SoakResult::Grows(growing) => pick(growing),
                _ => 0.0,
            })
        };
        Self {
            format: 1,
            left,
            verdict: verdict(told.is_some()),
            wait_s: wait(|growing| growing.wait),
            wait_u_s: wait(|growing| growing.wait_u),
            wait_low_s: wait(|growing| growing.waits.0),
            wait_high_s: wait(|growing| growing.waits.1),
            stations,
        }
    }
}

/// The station that tells the longest wait, of those that tell one.
fn longest(soaks: &[StationSoak]) -> Option<&StationSoak> {
    let wait = |soak: &StationSoak| soak.wait().unwrap_or(0.0);
    soaks.iter().filter(|soak| soak.tells()).max_by(|a, b| wait(a).total_cmp(&wait(b)))
}

/// The page.
pub fn page(soaks: &[StationSoak], left: f64, name: &str) -> String {
    let mut out = String::new();
    match longest(soaks) {
        Some(soak) => headline(&mut out, soak, left),
        None => line!(&mut out, "{BOLD}The log does not show how long to wait{BOLD:#}"),
    }
    line!(&mut out, "{FAINT}{name}; times from the first touch on, 95 % limits{FAINT:#}");
    for soak in soaks {
        station(&mut out, soak, left);
    }
    if longest(soaks).is_some() {
        line!(&mut out);
        let text = "After that wait, enter in the machine file what may still be to come:";
        paragraph(&mut out, text, 0, Style::new());
        line!(&mut out, "  [soak]");
        line!(&mut out, "  left = {left}");
        paragraph(
            &mut out,
            "It is valid for a start as cold as this log's, with the same heaters at the same temperatures.",
            0,
            FAINT,
        );
    }
    out
}

fn headline(out: &mut String, soak: &StationSoak, left: f64) {
    match &soak.told {
        SoakResult::Grows(growing) if growing.waits.1 > 0.0 => {
            let (wait, low, high) =
                (minutes(growing.wait), minutes(growing.waits.0), at_least(growing.waits.1));
            line!(out, "{BOLD}Wait {high}{BOLD:#}: then less than {left} mm is still to come (97.5 % sure)");
            line!(out, "  most likely {wait}, u {}, 95 % from {low} to {high}", minutes(growing.wait_u));
        }
        _ => line!(
            out,
            "{BOLD}No need to wait{BOLD:#}: less than {left} mm was to come from the first touch on"
        ),
    }
}

fn station(out: &mut String, soak: &StationSoak, left: f64) {
    let length = soak.times.1 - soak.times.0;
    line!(out);
    line!(out, "{BOLD}{}{BOLD:#}: {} touches over {}", soak.station.word(), soak.n, minutes(length));
    match &soak.told {
        SoakResult::Grows(growing) => grows(out, soak, growing, left),
        SoakResult::TooShort { per_hour, best, tau_low } => {
            let text = format!(
                "It moves by {per_hour:+.4} mm an hour with no end in sight: a straight line fits as well \
                    as a curve, so the log is too short to tell. {}",
                match tau_low {
                    Some(tau_low) => format!(
                        "The time constant is {} or more; {}keep touching for at least {} in all.",
                        minutes(*tau_low),
                        best_guess(best.as_ref(), length),
                        at_least((3.0 * tau_low).max(2.0 * length))
                    ),
                    None => straight(length),
                }
            );
            paragraph(out, &text, 2, YELLOW);
        }
        SoakResult::Still { most } => {
            let text = format!(
                "It does not move: by {most:.4} mm at most over the whole log, which is within {left}."
            );
            paragraph(out, &text, 2, Style::new());
        }
        SoakResult::TooNoisy { most } => {
            let text = format!(
                "No growth is seen, but {most:.4} mm may hide in the scatter, more than {left}: the log is \
                    too short or too noisy to tell."
            );
            paragraph(out, &text, 2, YELLOW);
        }
    }
}

/// What to do where the touches show nothing of a curve after so many seconds.
pub fn straight(length: f64) -> String {
    format!(
        "No curvature is seen yet: keep touching, for at least {} in all, and look again. If it stays as \
            straight, it is not warming: look for something that slips or loses steps from touch to touch.",
        at_least(2.0 * length)
    )
}

fn best_guess(best: Option<&Growth>, length: f64) -> String {
    // A curve that would end far beyond the log is a guess about nothing.
    match best.filter(|fit| fit.tau < 3.0 * length) {
        Some(fit) => format!("the best guess is {}, which nothing supports; ", minutes(fit.tau)),
        None => String::new(),
    }
}

fn grows(out: &mut String, soak: &StationSoak, growing: &Growing, left: f64) {
    let fit = &growing.fit;
    let (tau, low, high) = (minutes(fit.tau), minutes(growing.tau.0), minutes(growing.tau.1));
    line!(out, "  growth         {:+.4} mm   u {:.4}", fit.b, fit.b_sd);
    line!(out, "  time constant  {tau:<11} u {}, {low} to {high}", minutes(fit.tau_sd));
    line!(out, "  scatter        {:.4} mm", fit.s());
    line!(out, "  left at end    {:+.4} mm   u {:.4}", growing.left.0, growing.left.1);
    for share in [2.0, 0.5, 0.1] {
        let limit = left * share;
        let wait = (fit.tau * (fit.b.abs() / limit).ln()).max(0.0);
        line!(out, "  {FAINT}below {limit:.4} after about {}{FAINT:#}", minutes(wait));
    }
    if growing.bent {
        let text = "The touches wander about the curve: it is not one growth with one time constant, or \
            something moved. Take the limits for too narrow.";
        paragraph(out, text, 2, YELLOW);
    }
    if soak.fetches > 1 {
        let text = format!(
            "Over {} runs: this station hangs on the probe, so its seating at each fetch is in the scatter. \
                The tip is the better one.",
            soak.fetches
        );
        paragraph(out, &text, 2, YELLOW);
    }
}

/// Seconds as people say them, to the nearest.
pub fn minutes(seconds: f64) -> String {
    said(seconds, f64::round)
}

/// Seconds to wait: never said shorter than they are.
pub fn at_least(seconds: f64) -> String {
    said(seconds, f64::ceil)
}

fn said(seconds: f64, whole: fn(f64) -> f64) -> String {
    let apart = |whole: f64| ((whole / 60.0).floor(), whole % 60.0);
    if seconds < 120.0 {
        format!("{:.0} s", whole(seconds))
    } else if seconds < 1200.0 {
        let (minutes, rest) = apart(whole(seconds));
        format!("{minutes:.0} min {rest:02.0} s")
    } else if seconds < 6000.0 {
        format!("{:.0} min", whole(seconds / 60.0))
    } else {
        let (hours, rest) = apart(whole(seconds / 60.0));
        format!("{hours:.0} h {rest:02.0} min")
    }
}

#[cfg(test)]
mod tests {
    use super::{at_least, minutes};

    #[test]
    fn times_are_said_as_people_do() {
        for (seconds, text) in [
            (0.0, "0 s"),
            (59.6, "60 s"),
            (150.0, "2 min 30 s"),
            (1201.0, "20 min"),
            (5999.0, "100 min"),
            (7199.0, "2 h 00 min"),
        ] {
            assert_eq!(minutes(seconds), text);
        }
    }

    #[test]
    fn a_wait_is_never_said_shorter_than_it_is() {
        for (seconds, text) in [
            (0.0, "0 s"),
            (59.2, "60 s"),
            (150.1, "2 min 31 s"),
            (1201.0, "21 min"),
            (3660.0, "61 min"),
            (3661.0, "62 min"),
            (7201.0, "2 h 01 min"),
        ] {
            assert_eq!(at_least(seconds), text);
        }
    }
}
