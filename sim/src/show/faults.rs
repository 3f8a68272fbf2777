//! A fault campaign for people and for programs.

use zdatum::RefusalKind;

use super::campaign::thousands;
use super::charts::bar;
use super::scrape::chance;
use crate::text::Object;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::{cut, shown as shown_name};
use crate::text::object::Value;
use zdatum_world::questions::faulty::{
    Crash, Crashes, FaultKind, Found, Least, OFTEN, Outcome, Power, PowerPoint, Unit,
};

/// Widest bar of a power curve.
const BAR: u32 = 20;
/// Pairs that are shown.
const NEAREST: usize = 10;

/// What was asked, as far as it is shown.
#[derive(Clone, Copy, Debug)]
pub struct FaultsShown<'a> {
    /// The machine file, or what stands for it.
    pub machine: &'a str,
    /// The seed.
    pub seed: u64,
    /// Cycles at each size.
    pub each: u64,
    /// The fault to be shown size by size.
    pub curve: Option<&'a str>,
}

/// The document of `docs/json.md`.
pub fn json(shown: &FaultsShown<'_>, found: &Found) -> Object {
    let fault = |power: &Power| {
        Object::default()
            .with("fault", power.kind.word)
            .with("unit", unit(power.kind.unit))
            .with("plate_unknown", power_json(power, false))
            .with("plate_known", power_json(power, true))
            .with("prevented_by", power.kind.prevented_by)
    };
    let wanted = |power: &&Power| shown.curve.is_none_or(|word| word == power.kind.word);
    Object::default()
        .with("format", 1_u8)
        .with("complete", found.complete)
        .with("seed", shown.seed)
        .with("each", shown.each)
        .with("faults", found.powers.iter().filter(wanted).map(fault).collect::<Value>())
        .with("single", crashes_json(&found.single))
        .with("double", crashes_json(&found.double))
}

fn power_json(power: &Power, known: bool) -> Object {
    let (points, least) = side(power, known);
    let (caught, size) = match least {
        Least::Size(size) => ("from-size", Some(Number::decimal(size, 6))),
        Least::Always => ("always", None),
        Least::Never => ("never", None),
    };
    let point = |point: &PowerPoint| {
        Object::default()
            .with("size", Number::decimal(point.size, 6))
            .with("runs", point.runs)
            .figure("p_caught", point.share())
            .refusals("refused", point.reasons.iter().copied())
            .figure("mean", point.mean)
            .ends(["low", "high"], point.ends)
    };
    Object::default()
        .with("caught", caught)
        .with("least", size)
        .figure("worst_error", power.worst(known))
        .with("points", points.iter().map(point).collect::<Value>())
}

fn crashes_json(crashes: &Crashes) -> Object {
    let words = |faults: &[&FaultKind]| faults.iter().map(|kind| kind.word).collect::<Value>();
    let crash = |crash: &Crash| {
        Object::default()
            .with("faults", words(&crash.faults))
            .with("harm", crash.harm.word())
            .with("nozzle", crash.harm.is_of_the_nozzle())
            .with("cycles", crash.cycles)
            .with("of", crash.of)
            .with("prevented_by", crash.prevented_by.clone())
    };
    let outcome = |outcome: &Outcome| {
        Object::default()
            .with("faults", words(&outcome.faults))
            .with("cycles", outcome.cycles)
            .figure("p_caught", outcome.caught())
            .refusals("refused", outcome.reasons.iter().copied())
            .ends(["low", "high"], outcome.ends)
    };
    Object::default()
        .with("cycles", crashes.cycles)
        .with("accepted", crashes.accepted)
        .with("nozzle_crashes", crashes.of_the_nozzle())
        // Upper 95 % bound of the chance where none was seen.
        .with("below", crashes.bound().map(Number::chance))
        .with("crashes", crashes.crashes.iter().map(crash).collect::<Value>())
        .with("outcomes", crashes.outcomes.iter().map(outcome).collect::<Value>())
}

const fn unit(unit: Unit) -> Option<&'static str> {
    match unit {
        Unit::None => None,
        Unit::Length => Some("mm"),
        Unit::Time => Some("s"),
    }
}

/// Points and smallest size caught, the plate's span known or not.
pub fn side(power: &Power, known: bool) -> (&[PowerPoint], Least) {
    if known { (&power.known, power.least_known) } else { (&power.unknown, power.least_unknown) }
}

/// A size with its unit, µm or ms.
pub fn size(size: f64, unit: Unit) -> String {
    match unit {
        Unit::None => "there".into(),
        Unit::Length => format!("{:.0} µm", size * 1e3),
        Unit::Time => format!("{:.1} ms", size * 1e3).replace(".0 ", " "),
    }
}

/// The smallest size that is caught, in words.
pub fn least(least: Least, unit: Unit) -> String {
    match least {
        Least::Size(at) => size(at, unit),
        Least::Always => "always".into(),
        Least::Never => "never".into(),
    }
}

/// The page: at most 80 columns.
pub fn page(shown: &FaultsShown<'_>, found: &Found) -> String {
    let mut out = String::new();
    line!(&mut out, "{BOLD}What is caught when something is wrong{BOLD:#}");
    line!(&mut out, "{FAINT}machine: {}, seed {}{FAINT:#}", shown_name(shown.machine), shown.seed);
    line!(&mut out, "{FAINT}{} cycles at each size{FAINT:#}", thousands(shown.each));
    if !found.complete {
        line!(&mut out, "{YELLOW}Interrupted: this is what was done so far.{YELLOW:#}");
    }
    line!(&mut out);
    match shown.curve.and_then(|word| found.powers.iter().find(|power| power.kind.word == word)) {
        Some(power) => curve(&mut out, power),
        None => table(&mut out, found),
    }
    line!(&mut out);
    let all: Vec<&Crash> = found.single.crashes.iter().collect();
    harms(&mut out, "One fault per cycle, anywhere in the declared ranges", &found.single, &all);
    line!(&mut out);
    let all: Vec<&Crash> = found.harm_of_two().collect();
    let heading = match found.single.cycles {
        0 => "Two faults per cycle",
        _ => "Two faults per cycle: harm that neither did alone",
    };
    harms(&mut out, heading, &found.double, &all);
    if shown.curve.is_none() {
        together(&mut out, &found.double.outcomes);
    }
    out
}

/// Pairs: how many are caught, and those with which the tip comes nearest to the plate.
fn together(out: &mut String, outcomes: &[Outcome]) {
    if outcomes.is_empty() {
        return;
    }
    let often = outcomes.iter().filter(|outcome| outcome.caught() >= OFTEN).count();
    line!(out);
    let text = format!(
        "{} of {} pairs are refused in 9 cycles of 10 or more, over all sizes. Of the others, these let the \
            tip come nearest:",
        thousands(often as u64),
        thousands(outcomes.len() as u64)
    );
    paragraph(out, &text, 2, anstyle::Style::new());
    let low = |outcome: &Outcome| outcome.ends.map_or(0.0, |(low, _)| low);
    let mut nearest: Vec<&Outcome> = outcomes.iter().filter(|outcome| outcome.caught() < OFTEN).collect();
    nearest.sort_by(|a, b| low(a).total_cmp(&low(b)));
    line!(out, "  {FAINT}{:<36} {:>6} {:>8}  mostly by{FAINT:#}", "", "caught", "nearest");
    for outcome in nearest.into_iter().take(NEAREST) {
        let faults: Vec<&str> = outcome.faults.iter().map(|kind| kind.word).collect();
        let by = outcome.reasons.first().map_or("", |(kind, _)| kind.word());
        let nearest = format!("{:+.0} µm", low(outcome) * 1e3);
        let caught = format!("{:.0} %", outcome.caught() * 1e2);
        let row = format!("  {:<36} {caught:>6} {nearest:>8}  {by}", cut(&faults.join(", "), 36));
        line!(out, "{}", cut(&row, 80).trim_end());
    }
}

fn table(out: &mut String, found: &Found) {
    line!(out, "  {FAINT}{:<20} {:>9} {:>9} {:>9}  {}{FAINT:#}", "", "caught", "plate", "worst", "caught");
    line!(out, "  {FAINT}{:<20} {:>9} {:>9} {:>9}  {}{FAINT:#}", "fault", "from", "known", "through", "by");
    for power in &found.powers {
        let kind = power.kind;
        let worst = power.worst(true).map_or("-".into(), |error| format!("{:+.0} µm", error * 1e3));
        let by = power.caught_by(true).filter(|_| power.least_known != Least::Never);
        let row = format!(
            "  {:<20} {:>9} {:>9} {worst:>9}  {}",
            kind.word,
            least(power.least_unknown, kind.unit),
            least(power.least_known, kind.unit),
            by.map_or("", RefusalKind::word)
        );
        line!(out, "{}", row.trim_end());
    }
    line!(out);
    let text = "Caught from: the smallest size that is refused in 9 cycles of 10. Plate known: the same \
        with the plate's last span known. Worst through: the largest first-layer error accepted with the \
        plate known; below zero the tip is too near. One fault size by size: --curve FAULT.";
    paragraph(out, text, 0, FAINT);
}

fn curve(out: &mut String, power: &Power) {
    let kind = power.kind;
    line!(out, "{BOLD}{}{BOLD:#}", kind.name);
    for known in [false, true] {
        let (points, smallest) = side(power, known);
        let head = if known { "with the plate's last span known" } else { "without a plate book" };
        line!(out);
        line!(out, "  {head}: caught 9 times in 10 from {}", least(smallest, kind.unit));
        line!(
            out,
            "  {FAINT}{:>9} {:>8}  {:<BAR$}  {:>20}{FAINT:#}",
            "size",
            "caught",
            "",
            "accepted errors",
            BAR = BAR as usize
        );
        for point in points {
            let part = (point.share() * 1e6) as u32;
            let through = point
                .ends
                .map_or("-".into(), |(low, high)| format!("{:+.0} to {:+.0} µm", low * 1e3, high * 1e3));
            let row = format!(
                "  {:>9} {:>6.1} %  {:<BAR$}  {through:>20}",
                size(point.size, kind.unit),
                point.share() * 1e2,
                bar(part, 1_000_000, BAR),
                BAR = BAR as usize
            );
            line!(out, "{}", row.trim_end());
        }
    }
    line!(out);
    paragraph(out, &format!("What prevents or shows it: {}.", kind.prevented_by), 0, FAINT);
}

fn harms(out: &mut String, title: &str, crashes: &Crashes, told: &[&Crash]) {
    line!(out, "{BOLD}{title}{BOLD:#}");
    if crashes.cycles == 0 {
        line!(out, "  none were run");
        return;
    }
    let nozzle = crashes.of_the_nozzle();
    line!(out, "  {} cycles, {} accepted", thousands(crashes.cycles), thousands(crashes.accepted));
    match crashes.bound() {
        Some(bound) => line!(out, "  no nozzle crash: chance below {} at 95 %", chance(bound)),
        None => line!(out, "  {YELLOW}{} nozzle crashes{YELLOW:#}", thousands(nozzle)),
    }
    for crash in told {
        let faults: Vec<&str> = crash.faults.iter().map(|kind| kind.word).collect();
        let count = format!("{} of {}", thousands(crash.cycles), thousands(crash.of));
        paragraph(
            out,
            &format!("{}: {}, {count}", faults.join(" and "), crash.harm.name()),
            2,
            anstyle::Style::new(),
        );
    }
    let mut remedies: Vec<&str> = told.iter().flat_map(|crash| crash.prevented_by.iter().copied()).collect();
    remedies.sort_unstable();
    remedies.dedup();
    if !remedies.is_empty() {
        line!(out, "  {FAINT}what would prevent them{FAINT:#}");
    }
    for remedy in remedies {
        paragraph(out, remedy, 4, FAINT);
    }
}
