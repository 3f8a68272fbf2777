//! Sweeps for people and for programs.

use super::campaign::thousands;
use super::charts::bar;
use super::figures::{self, percent, um};
use crate::text::Object;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, line, paragraph};
use crate::text::name::shown;
use crate::text::object::Value;
use zdatum_world::questions::sweep::{Sweep, SweepPoint, Swept};

/// Widest bar.
const BAR: u32 = 14;

/// An object of `sweeps` of `docs/json.md`.
pub fn json(sweep: &Sweep) -> Object {
    let point = |point: &SweepPoint| {
        Object::default()
            .with("at", Number::decimal(point.at, 2))
            .with("own", point.is_own)
            .figure("core_u", point.core_u)
            .with_all(figures::json(&point.figures))
    };
    Object::default()
        .with("swept", sweep.swept.word())
        .with("runs", sweep.runs)
        .with("points", sweep.points.iter().map(point).collect::<Value>())
}

/// The page: at most 80 columns.
pub fn page(sweeps: &[Sweep], within: f64, machine: &str, seed: u64) -> String {
    let mut out = String::new();
    line!(&mut out, "{BOLD}Error against touches and against noise{BOLD:#}");
    line!(&mut out, "{FAINT}machine: {}{FAINT:#}", shown(machine));
    for sweep in sweeps {
        let runs = thousands(sweep.runs);
        line!(&mut out);
        line!(&mut out, "{BOLD}{}{BOLD:#} {FAINT}seed {seed}, {runs} runs each{FAINT:#}", sweep.swept.name());
        table(&mut out, sweep, within);
    }
    let text = "The row marked > is the machine file's own. Everything else stays as in the file: band, \
        study and spare touches. Noise too large for the band shows as refused cycles, not as wrong \
        landings.";
    line!(&mut out);
    paragraph(&mut out, text, 0, FAINT);
    out
}

fn table(out: &mut String, sweep: &Sweep, within: f64) {
    let beyond = format!("beyond ±{:.0}", within * 1e3);
    let heads = format!("{:>12} {:>8} {beyond:>12} {:>14}", "sd/µm", "core/µm", "refused");
    line!(out, "  {FAINT}{:>6} {heads}{FAINT:#}", sweep.swept.head());
    let sd = |point: &SweepPoint| point.figures.sd.map_or(0.0, |sd| sd.value);
    let largest = sweep.points.iter().map(sd).fold(0.0, f64::max);
    for point in &sweep.points {
        let own = if point.is_own { '>' } else { ' ' };
        let at = match sweep.swept {
            Swept::Touches => format!("{:.0}", point.at),
            Swept::Noise => format!("x{:.2}", point.at),
        };
        let core = point.core_u.map_or("-".into(), |u| format!("{:.2}", u * 1e3));
        let part = if largest > 0.0 { (sd(point) / largest * 1e6) as u32 } else { 0 };
        let row = format!(
            "{own} {at:>6} {:>12} {core:>8} {:>10} % {:>12} % {}",
            um(point.figures.sd, false),
            percent(point.figures.outside),
            percent(Some(point.figures.refused)),
            bar(part, 1_000_000, BAR)
        );
        line!(out, "{}", row.trim_end());
    }
}
