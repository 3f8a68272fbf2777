//! Methods side by side for people and for programs: who survives what.

use super::campaign::thousands;
use super::figures::{self, percent, um};
use crate::text::Object;
use crate::text::lines::{BOLD, FAINT, line, paragraph};
use crate::text::name::{padded, shown};
use crate::text::object::Value;
use zdatum::Centre;
use zdatum_world::questions::compare::{
    Comparison, Grade, HOLDS, LeftOut, Method, MethodCell, MethodRow, REFUSES, RISKY, Situation, Sizes,
};

/// Width of the column of methods.
const NAMES: usize = 24;
/// Columns of the chart on either side of zero, and how many tolerances they hold.
const HALF: usize = 24;
const TOLERANCES: f64 = 3.0;

/// The object `compare` of `docs/json.md`.
pub fn json(comparison: &Comparison) -> Object {
    let Sizes { plate, nozzle, seat, frame_grown, frame_to_come, bed_grown } = comparison.sizes;
    let changes = Object::default()
        .figure("plate", plate)
        .figure("nozzle", nozzle)
        .figure("seat", seat)
        .figure("frame_grown", frame_grown)
        .figure("frame_to_come", frame_to_come)
        .figure("bed_grown", bed_grown);
    let thresholds =
        Object::default().figure("holds", HOLDS).figure("risky", RISKY).figure("refuses", REFUSES);
    let left_out =
        |left: &LeftOut| Object::default().with("method", left.method.word()).with("why", left.why.as_str());
    Object::default()
        .with("runs", comparison.runs)
        .figure("within", comparison.within)
        .figure("feel", comparison.feel)
        .with("changes", changes)
        .with("thresholds", thresholds)
        .with("methods", comparison.rows.iter().map(method_json).collect::<Value>())
        .with("left_out", comparison.left_out.iter().map(left_out).collect::<Value>())
}

fn method_json(row: &MethodRow) -> Object {
    let situation = |cell: &MethodCell| {
        Object::default()
            .with("situation", cell.situation.word())
            .with("grade", cell.grade.word())
            .with_all(figures::json(&cell.figures))
    };
    Object::default()
        .with("method", row.method.word())
        .with("name", row.method.name())
        .with("holds_throughout", row.holds_throughout())
        .with("situations", row.cells.iter().map(situation).collect::<Value>())
}

/// The page: at most 80 columns.
pub fn page(comparison: &Comparison, machine: &str, seed: u64) -> String {
    let mut out = String::new();
    line!(&mut out, "{BOLD}Ways to set the height, side by side{BOLD:#}");
    line!(&mut out, "{FAINT}machine: {}{FAINT:#}", shown(machine));
    let runs = thousands(comparison.runs);
    line!(&mut out, "{FAINT}seed {seed}, {runs} runs of each in each situation, on the same draws{FAINT:#}");
    if !comparison.complete() {
        line!(&mut out, "Interrupted: this is what was done so far.");
    }
    line!(&mut out);
    situations(&mut out, comparison);
    for situation in Situation::ALL {
        details(&mut out, comparison, situation);
    }
    effort(&mut out, comparison);
    chart(&mut out, comparison);
    summary(&mut out, comparison);
    out
}

fn situations(out: &mut String, comparison: &Comparison) {
    let Sizes { plate, nozzle, seat, frame_grown, frame_to_come, bed_grown } = comparison.sizes;
    let feel = comparison.feel * 1e3;
    let text = format!(
        "Each run takes two days. On the first, the height is set by hand with a gauge, by feel good to \
            {feel:.0} µm. Then something changes. On the second, each method finds its height, and the \
            first layer is off by its error (above zero: tip too far from the plate)."
    );
    paragraph(out, &text, 0, Default::default());
    let bed = if bed_grown == 0.0 { String::new() } else { format!(", bed {bed_grown:+.3}") };
    for (situation, text) in [
        (Situation::Nothing, "homed anew, to one motor step".into()),
        (Situation::PlateSwap, format!("the plates differ by up to ±{plate:.3} mm")),
        (Situation::NozzleChange, format!("the nozzles differ in length by up to ±{nozzle:.3} mm")),
        (Situation::Reseated, format!("the probe seats to ±{seat:.3} mm, one standard deviation")),
        (
            Situation::WarmUp,
            format!("set cold; now frame {frame_grown:+.3} mm, {frame_to_come:+.3} to come{bed}"),
        ),
    ] {
        line!(out, "  {} {text}", padded(situation.name(), 16));
    }
    line!(out);
}

fn cells(comparison: &Comparison, situation: Situation) -> impl Iterator<Item = (Method, &MethodCell)> {
    comparison
        .rows
        .iter()
        .filter_map(move |row| Some((row.method, row.cells.iter().find(|cell| cell.situation == situation)?)))
}

fn details(out: &mut String, comparison: &Comparison, situation: Situation) {
    let within = format!("beyond ±{:.0}", comparison.within * 1e3);
    let name = padded(situation.name(), NAMES);
    line!(
        out,
        "{BOLD}{name}{BOLD:#} {FAINT}{:>13} {:>13} {within:>13} {:>11}{FAINT:#}",
        "mean/µm",
        "sd/µm",
        "refused"
    );
    for (method, cell) in cells(comparison, situation) {
        let figures = &cell.figures;
        line!(
            out,
            "{} {:>13} {:>13} {:>11} % {:>9} %",
            padded(&method.label(), NAMES),
            um(figures.mean, true),
            um(figures.sd, false),
            percent(figures.outside),
            percent(Some(figures.refused))
        );
    }
    line!(out);
}

/// Touches and seconds, of refused cycles too; they hardly depend on the situation: those of the first are
/// shown.
fn effort(out: &mut String, comparison: &Comparison) {
    let name = padded("What a cycle takes", NAMES);
    line!(out, "{BOLD}{name}{BOLD:#} {FAINT}{:>15} {:>15}{FAINT:#}", "touches", "seconds");
    for (method, cell) in cells(comparison, Situation::Nothing) {
        let (touches, seconds) = (cell.figures.touches, cell.figures.seconds);
        let of = |x: zdatum_world::engine::Estimate| format!("{:.2}±{:.2}", x.value, x.error);
        line!(out, "{} {:>15} {:>15}", padded(&method.label(), NAMES), of(touches), of(seconds));
    }
    line!(out);
}

/// The methods that are drawn: the others look like the last of these.
fn is_drawn(method: Method) -> bool {
    match method {
        Method::ByHand | Method::FixedSwitch | Method::StoredHeight => true,
        Method::ThreeTouches { touches, centre } => touches == 5 && centre == Centre::Mean,
        Method::FetchedTwice => false,
    }
}

fn chart(out: &mut String, comparison: &Comparison) {
    let within = comparison.within * 1e3;
    line!(
        out,
        "{BOLD}Where 95 % of the first layers lie{BOLD:#}; ● their mean, │ the tolerance ±{within:.0} µm"
    );
    let reach = TOLERANCES * within;
    let (low, high) = (format!("{:+.0}", -reach), format!("{reach:+.0} µm"));
    let (left, right) = (HALF, HALF - high.chars().count() + 4);
    line!(out, "{}{FAINT}{low:<left$}0{high:>right$}{FAINT:#}", " ".repeat(NAMES));
    for situation in Situation::ALL {
        line!(out, "{FAINT}{}{FAINT:#}", situation.name());
        for (method, cell) in cells(comparison, situation).filter(|(method, _)| is_drawn(*method)) {
            let Some((middle, mean)) = cell.figures.middle.zip(cell.figures.mean) else { continue };
            let bar = range(middle, mean.value, comparison.within);
            line!(out, "{}{bar}", padded(&format!("  {}", method.label()), NAMES));
        }
    }
    line!(out);
}

/// A bar from one error to another with their mean, between the two tolerances; arrows where it leads out of
/// the chart.
fn range((low, high): (f64, f64), mean: f64, within: f64) -> String {
    let per_mm = HALF as f64 / (TOLERANCES * within);
    let column = |x: f64| libm::round(x * per_mm).clamp(-1e6, 1e6) as i64;
    let (low, high, mean, tolerance) = (column(low), column(high), column(mean), column(within));
    let half = HALF as i64;
    let bar: String = (-half..=half)
        .map(|at| match ((low..=high).contains(&at), at.abs() == tolerance) {
            _ if at == -half && low < at => '◄',
            _ if at == half && high > at => '►',
            _ if at == mean => '●',
            (true, true) => '┿',
            (true, false) => '━',
            (false, true) => '│',
            (false, false) => ' ',
        })
        .collect();
    bar.trim_end().to_owned()
}

fn summary(out: &mut String, comparison: &Comparison) {
    let within = comparison.within * 1e3;
    line!(out, "{BOLD}Who survives what{BOLD:#}: per cent of first layers beyond ±{within:.0} µm");
    let heads = ["nothing", "plate", "nozzle", "re-seated", "warm-up"].map(|head| format!("{head:>11}"));
    line!(out, "{}{FAINT}{}{FAINT:#}", " ".repeat(NAMES), heads.concat());
    for row in &comparison.rows {
        let cells: String = row.cells.iter().map(|cell| format!("{:>11}", graded(cell))).collect();
        line!(out, "{}{cells}", padded(&row.method.label(), NAMES));
    }
    let per_cent = |share: f64| 100.0 * share;
    let legend = format!(
        "holds: at most {:.0} %, risky: at most {:.0} %, fails: more; refuses: more than {:.0} % of the \
            cycles are refused (their share).",
        per_cent(HOLDS),
        per_cent(RISKY),
        per_cent(REFUSES)
    );
    paragraph(out, &legend, 0, FAINT);
    line!(out);
    for left in &comparison.left_out {
        let text = format!("Left out, {}: {}.", left.method.name(), left.why);
        paragraph(out, &text, 0, Default::default());
    }
    if !comparison.complete() {
        return;
    }
    let throughout: Vec<String> =
        comparison.rows.iter().filter(|row| row.holds_throughout()).map(|row| row.method.name()).collect();
    let text = if throughout.is_empty() {
        "No method holds in every situation: zdatum simulate --budget shows what to mend first.".to_owned()
    } else {
        format!("These hold in every situation: {}.", throughout.join("; "))
    };
    paragraph(out, &text, 0, BOLD);
    paragraph(out, MIND, 0, FAINT);
}

pub(super) const MIND: &str = "Note: the three touches know their trip depth as well as the machine file \
    says, which may take several gauge checks; the other methods are set with one. Sizes of the changes are \
    common practice, not measured.";

/// Per cent with as many places as fit, and the word.
fn graded(cell: &MethodCell) -> String {
    let share = match cell.grade {
        Grade::Refuses => cell.figures.refused.value,
        _ => cell.figures.outside.map_or(0.0, |outside| outside.value),
    };
    let percent = 100.0 * share;
    let word = cell.grade.word();
    if percent < 0.995 {
        format!("{percent:.2} {word}")
    } else if percent < 99.95 && cell.grade != Grade::Refuses {
        format!("{percent:.1} {word}")
    } else {
        format!("{percent:.0} {word}")
    }
}

#[cfg(test)]
mod tests {
    use super::range;

    #[test]
    fn ranges_are_drawn_to_scale() {
        // 49 columns for ±60 µm: 2.5 µm each.
        let bar: Vec<char> = range((-0.010, 0.0124), 0.0, 0.020).chars().collect();
        assert_eq!(bar.iter().position(|c| *c == '│'), Some(16));
        assert_eq!(bar.iter().position(|c| *c == '━'), Some(20));
        assert_eq!(bar.iter().position(|c| *c == '●'), Some(24));
        assert_eq!(bar.iter().filter(|c| **c == '━').count(), 9);
        assert_eq!(bar.len(), 33);
        let wide: Vec<char> = range((-0.3, 0.3), 0.0, 0.020).chars().collect();
        assert_eq!((wide.len(), wide[0], wide[1], wide[8], wide[48]), (49, '◄', '━', '━', '►'));
        assert_eq!((wide[16], wide[32]), ('┿', '┿'));
        assert_eq!(range((-0.3, -0.2), -0.25, 0.020), format!("◄{}│{}│", " ".repeat(15), " ".repeat(15)));
    }
}
