//! The chance of a scraping nozzle for people and for programs.

use super::campaign::thousands;
use super::charts::bar;
use crate::text::Object;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::shown;
use crate::text::object::Value;
use zdatum_world::questions::scrape::{LEAST_EFFECTIVE, Scrape};

/// Widest bar: a column for each power of ten down to the smallest that is drawn.
const BAR: u32 = 24;
/// The smallest power of ten that is drawn.
const LEAST_POWER: f64 = 14.0;
/// More digits of a chance tell nobody anything.
const MOST_DIGITS: usize = 5;

/// The object `scrape` of `docs/json.md`.
pub fn json(seed: u64, found: &Scrape, curve: &[Scrape]) -> Object {
    let counted = found.counted.map(|counted| {
        Object::default()
            .with("runs", counted.runs)
            .with("scraped", counted.scraped)
            .with("low", Number::chance(counted.interval.0))
            .with("high", Number::chance(counted.interval.1))
            .with("agrees", found.agrees())
    });
    Object::default()
        .with("format", 1_u8)
        .with("complete", found.complete)
        .with("seed", seed)
        .with_all(gap_json(found))
        .with("verdict", if found.tells() { "accept" } else { "too-few" })
        .with("counted", counted)
        .with("curve", curve.iter().map(gap_json).collect::<Value>())
}

/// What is known at one gap.
fn gap_json(found: &Scrape) -> Object {
    Object::default()
        .with("gap", Number::decimal(found.gap, 6))
        .with("runs", found.runs)
        .with("p", Number::chance(found.p.value))
        .with("p_standard_error", Number::chance(found.p.error))
        .with("low", found.interval.map(|ends| Number::chance(ends.0)))
        .with("high", found.interval.map(|ends| Number::chance(ends.1)))
        .with("scraped", found.scraped)
        .with("effective", Number::decimal(found.effective, 1))
        .with("p_normal", found.normal.map(Number::chance))
        .figure("accepted", found.accepted)
        .figure("mean", found.mean.map(|mean| mean.value))
        .figure("sd", found.sd.map(|sd| sd.value))
}

/// A chance as `2.3·10⁻⁹`, plain from a thousandth up.
pub fn chance(p: f64) -> String {
    to_digits(p, 2)
}

/// An interval, with as many digits as tell its ends apart.
fn between((low, high): (f64, f64)) -> String {
    let ends = |digits| (to_digits(low, digits), to_digits(high, digits));
    let (low, high) = (2..=MOST_DIGITS).map(ends).find(|(low, high)| low != high).unwrap_or_else(|| ends(2));
    format!("{low} to {high}")
}

fn to_digits(p: f64, digits: usize) -> String {
    const DIGITS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    if p <= 0.0 {
        return "0".into();
    }
    if p >= 1e-3 {
        let places = digits + 2;
        return format!("{p:.places$}");
    }
    let places = digits - 1;
    let text = format!("{p:.places$e}");
    let Some((digits, power)) = text.split_once("e-") else { return text };
    let power: String = power.chars().filter_map(|c| DIGITS.get(c.to_digit(10)? as usize).copied()).collect();
    format!("{digits}·10⁻{power}")
}

/// One in how many, in words.
pub fn one_in(p: f64) -> String {
    let n = 1.0 / p;
    match n {
        n if n < 1e6 => format!("one in {}", thousands(n.round() as u64)),
        n if n < 1e9 => format!("one in {:.1} million", n / 1e6),
        n if n < 1e12 => format!("one in {:.1} billion", n / 1e9),
        _ => "less than one in a trillion".into(),
    }
}

/// The page: at most 80 columns.
pub fn page(found: &Scrape, curve: &[Scrape], machine: &str, seed: u64) -> String {
    let mut out = String::new();
    line!(&mut out, "{BOLD}How often the nozzle scrapes{BOLD:#}");
    line!(&mut out, "{FAINT}machine: {}, seed {seed}{FAINT:#}", shown(machine));
    line!(&mut out);
    let gap = found.gap * 1e3;
    let text = format!("A cycle counts if its landing is accepted and more than {gap:.1} µm too low.");
    paragraph(&mut out, &text, 0, FAINT);
    line!(&mut out);
    if !found.complete {
        line!(&mut out, "{YELLOW}Interrupted: this is what was done so far.{YELLOW:#}");
    }
    estimate(&mut out, found);
    plain_runs(&mut out, found);
    if !found.tells() {
        line!(&mut out);
        let text = format!(
            "Too few to tell: the effective sample size is {:.0}, and {LEAST_EFFECTIVE:.0} is needed. Ask \
                for more runs (--each) or a smaller gap.",
            found.effective
        );
        paragraph(&mut out, &text, 0, YELLOW);
    }
    table(&mut out, curve);
    line!(&mut out);
    let text = "This is the chance from noise alone, as the machine file states it, with normal tails. What \
        faults do is another question: zdatum faults.";
    paragraph(&mut out, text, 0, FAINT);
    out
}

/// The chance, and what it rests on.
fn estimate(out: &mut String, found: &Scrape) {
    match found.interval {
        None => line!(out, "  chance      no run was done"),
        Some((_, high)) if found.scraped == 0 => {
            line!(out, "  chance      {BOLD}none seen{BOLD:#}, below {} at 95 %", chance(high));
        }
        Some(_) if !found.tells() => line!(out, "  chance      {BOLD}not known{BOLD:#}: see below"),
        Some(interval) => {
            let value = chance(found.p.value);
            line!(out, "  chance      {BOLD}{value}{BOLD:#} per cycle, {}", one_in(found.p.value));
            line!(out, "  95 %        {}", between(interval));
        }
    }
    let (runs, scraped) = (thousands(found.runs), thousands(found.scraped));
    let effective = thousands(found.effective.round() as u64);
    line!(out, "  runs        {runs}, {scraped} scraped, effective sample size {effective}");
    if let Some(normal) = found.normal {
        line!(out, "  if normal   {}, from the mean and sd below", chance(normal));
    }
}

/// Runs that are drawn as they are, and the count where one was asked for.
fn plain_runs(out: &mut String, found: &Scrape) {
    if let Some((mean, sd)) = found.mean.zip(found.sd) {
        let (mean, sd, accepted) = (mean.value * 1e3, sd.value * 1e3, found.accepted * 1e2);
        line!(out, "  plain runs  mean {mean:+.2} µm, sd {sd:.2} µm, {accepted:.2} % accepted");
    }
    if let Some(counted) = found.counted {
        let (scraped, runs) = (thousands(counted.scraped), thousands(counted.runs));
        line!(out, "  counted     {scraped} of {runs} cycles, 95 %: {}", between(counted.interval));
        let overlap = if found.agrees() { "the intervals overlap" } else { "the intervals do not overlap" };
        line!(out, "              {overlap}");
    }
}

/// The chance over a range of gaps.
fn table(out: &mut String, curve: &[Scrape]) {
    if curve.is_empty() {
        return;
    }
    line!(out);
    line!(out, "  {FAINT}{:>8} {:>12}  1 to 10⁻¹⁴{FAINT:#}", "gap/µm", "chance");
    for point in curve {
        let power = (LEAST_POWER + libm::log10(point.p.value.max(1e-300))).max(0.0);
        let bar = bar((power / LEAST_POWER * 1e6) as u32, 1_000_000, BAR);
        let row = format!("  {:>8.1} {:>12}  {bar}", point.gap * 1e3, chance(point.p.value));
        line!(out, "{}", row.trim_end());
    }
}

#[cfg(test)]
mod tests {
    use super::{between, chance, one_in};

    #[test]
    fn chances_read_well() {
        assert_eq!([0.0, 0.25, 2.34e-9, 9.99e-4].map(chance), ["0", "0.2500", "2.3·10⁻⁹", "1.0·10⁻³"]);
        assert_eq!(chance(1.2e-12), "1.2·10⁻¹²");
        assert_eq!(between((1.21e-12, 1.24e-12)), "1.21·10⁻¹² to 1.24·10⁻¹²");
        assert_eq!(between((0.002_314, 0.002_331)), "0.00231 to 0.00233");
        assert_eq!(between((1e-9, 1e-8)), "1.0·10⁻⁹ to 1.0·10⁻⁸");
        assert_eq!(
            [0.01, 2e-7, 5e-10, 1e-20].map(one_in),
            ["one in 100", "one in 5.0 million", "one in 2.0 billion", "less than one in a trillion"]
        );
    }
}
