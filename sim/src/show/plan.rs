//! A plan for people and for programs.

use zdatum::Centre;
use zdatum::setup::Touch;

use super::campaign::thousands;
use super::charts::bar;
use crate::study::sums::range;
use crate::text::Object;
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::shown;
use crate::text::number::{shortest_mm, shortest_um};
use crate::text::object::Value;
use zdatum_world::questions::plan::{Improvement, Plan, Promise, Way};

/// Widest bar.
const BAR: usize = 7;

/// The document of `docs/json.md`.
pub fn json(plan: &Plan, seed: u64) -> Object {
    let improvement = |one: &Improvement| {
        Object::default()
            .with("part", one.part.as_str())
            .with("unit", one.unit)
            .figure("now", one.now)
            .figure("needed", one.needed)
            .with("reduced_by", one.by)
            .figure("p_outside", one.chance)
            .figure("p_outside_upper", one.upper)
    };
    Object::default()
        .with("format", 1_u8)
        .with("complete", true)
        .with("seed", seed)
        .with("met", plan.asked.met)
        .with("tried", plan.front.tried as u64)
        .with("search_runs", plan.runs)
        .with("asked", promise_json(&plan.asked))
        .with("stricter", plan.stricter.iter().map(promise_json).collect::<Value>())
        .with("own", way_json(&plan.front.own))
        .with("front", plan.front.ways.iter().map(way_json).collect::<Value>())
        .with("improved_from", plan.base.as_ref().map(way_json))
        .with("improvements", plan.improvements.iter().map(improvement).collect::<Value>())
}

/// The document of a search that was interrupted: half of one is no plan.
pub fn interrupted_json(seed: u64) -> Object {
    Object::default().with("format", 1_u8).with("complete", false).with("seed", seed)
}

fn promise_json(promise: &Promise) -> Object {
    Object::default()
        .with("within", Number::as_written(&shortest_mm(promise.within)))
        .figure("risk", promise.risk)
        .with("met", promise.met)
        .figure("p_outside", counted(&promise.way))
        .figure("p_outside_lower", promise.lower)
        .figure("p_outside_upper", promise.upper)
        .with("way", way_json(&promise.way))
}

fn way_json(way: &Way) -> Object {
    let touch = way.setup.draft().touch;
    let text = |text: &str| Number::as_written(text);
    let finite = |x: f64| x.is_finite().then_some(x);
    let touch = Object::default()
        .with("first_speed", text(&touch.first_speed.text()))
        .with("fine_speed", text(&touch.fine_speed.text()))
        .with("lift", text(&touch.lift.text()))
        .with("stop", text(&touch.stop.text()))
        .with("settle", touch.settle)
        .with("least", touch.least)
        .with("most", touch.most)
        .with("band", text(&touch.band.text()))
        .with("centre", centre(touch.centre))
        .with("target_u", text(&touch.target_u.text()))
        .with("tip_again", touch.tip_again);
    Object::default()
        .with("runs", way.runs)
        .with("accepted", way.accepted)
        .with("outside", way.outside)
        .with("seconds", finite(way.seconds).map(|seconds| Number::decimal(seconds, 3)))
        .figure("rms", finite(way.rms))
        .figure("reach", finite(way.reach))
        .with("touch", touch)
}

/// As the machine file names it.
fn centre(centre: Centre) -> &'static str {
    match centre {
        Centre::Mean => "mean",
        Centre::Median => "median",
        Centre::HodgesLehmann => "hodges-lehmann",
    }
}

/// Three digits that count.
fn three(x: f64) -> String {
    let places = if x > 0.0 { (2.0 - libm::floor(libm::log10(x))).clamp(0.0, 9.0) as usize } else { 0 };
    format!("{x:.places$}")
}

fn counted(way: &Way) -> f64 {
    way.outside as f64 / way.accepted.max(1) as f64
}

fn percent(p: f64) -> String {
    format!("{:.4} %", p * 100.0)
}

/// A way in a few words.
pub(super) fn words(touch: &Touch) -> String {
    format!(
        "{}, settle {}, {:.2} mm/s, lift {:.2}",
        counting(touch),
        touch.settle,
        touch.fine_speed.to_f64(),
        touch.lift.to_f64()
    )
}

/// What else tells a way from others that [`words`] tell alike; empty where they do not.
pub(super) fn beside(touch: &Touch, all: &[&Way]) -> String {
    type TouchPart = (&'static str, fn(&Touch) -> String);
    const PARTS: [TouchPart; 4] = [
        ("first", |touch| format!("{} mm/s", touch.first_speed.text())),
        ("stop", |touch| touch.stop.text().to_string()),
        ("band", |touch| touch.band.text().to_string()),
        ("target u", |touch| touch.target_u.text().to_string()),
    ];
    let others = || all.iter().map(|way| &way.setup.draft().touch);
    let alike: Vec<&Touch> = others().filter(|other| words(other) == words(touch)).collect();
    let parts = PARTS.iter().filter(|(_, part)| alike.iter().any(|other| part(other) != part(touch)));
    parts.map(|(name, part)| format!("{name} {}", part(touch))).collect::<Vec<_>>().join(", ")
}

/// How many count, and what stands for them.
fn counting(touch: &Touch) -> String {
    let centre = match touch.centre {
        Centre::Mean => "mean",
        Centre::Median => "median",
        Centre::HodgesLehmann => "Hodges–Lehmann",
    };
    format!("{}-{} {centre}", touch.least, touch.most)
}

/// The page: at most 80 columns.
pub fn page(plan: &Plan, machine: &str, seed: u64) -> String {
    let mut out = String::new();
    let asked = &plan.asked;
    let (within, risk) = (shortest_um(asked.within), percent(asked.risk));
    let (tried, runs) = (plan.front.tried, thousands(plan.runs));
    line!(&mut out, "{BOLD}Plan: at most {risk} of first layers beyond ±{within} µm{BOLD:#}");
    line!(&mut out, "{FAINT}machine: {}{FAINT:#}", shown(machine));
    line!(&mut out, "{FAINT}seed {seed}, {tried} ways of touching tried in {runs} cycles{FAINT:#}");
    line!(&mut out);
    if plan.front.ways.is_empty() {
        let how_many =
            if asked.way.accepted == 0 { "Every cycle is" } else { "More than half of the cycles are" };
        let text = format!(
            "{how_many} refused, whatever the [touch] settings: zdatum simulate gives the reasons. There is \
                no plan until that is mended."
        );
        paragraph(&mut out, &text, 0, YELLOW);
        return out;
    }
    found(&mut out, plan);
    confirmed(&mut out, asked);
    if let Some(base) = &plan.base {
        improvements(&mut out, base, plan);
    }
    stricter(&mut out, plan);
    front(&mut out, plan);
    let text = "Seconds are the time of all cycles per accepted landing, including refused cycles and what \
        they cost. The plan guards only against what [noise] states: where that has no filament, no touch \
        is spent on settling it.";
    line!(&mut out);
    paragraph(&mut out, text, 0, FAINT);
    out
}

/// The quickest way of touching, as lines for the machine file.
fn found(out: &mut String, plan: &Plan) {
    let asked = &plan.asked;
    let seconds = asked.way.seconds;
    if asked.met {
        let now = plan.front.own.seconds;
        line!(out, "{BOLD}Met{BOLD:#} in {seconds:.1} s per landing (now {now:.1} s) with:");
    } else {
        let verdict = if asked.lower <= asked.risk { "Not shown to be met" } else { "Not met" };
        line!(
            out,
            "{YELLOW}{verdict}{YELLOW:#} by any way tried; the closest takes {seconds:.1} s per landing:"
        );
    }
    line!(out);
    let draft = asked.way.setup.draft();
    paste(out, &draft.touch);
    let (speed, trimmed) = (draft.touch.fine_speed, draft.probe.trimmed_at_speed);
    if speed != trimmed && plan.front.own.setup.draft().touch.fine_speed == trimmed {
        line!(out);
        let text = format!(
            "The trip depth was trimmed at {} mm/s: trim it again at {} mm/s once these lines are in the \
                file.",
            trimmed.text(),
            speed.text()
        );
        paragraph(out, &text, 0, YELLOW);
    }
}

/// What a fresh campaign says of it.
fn confirmed(out: &mut String, asked: &Promise) {
    line!(out);
    let way = &asked.way;
    let text = format!(
        "In a fresh campaign of {} cycles, {} of {} accepted first layers were beyond: {}, {}. Refused: {}.",
        thousands(way.runs),
        thousands(way.outside),
        thousands(way.accepted),
        percent(counted(way)),
        if asked.met {
            format!("with 95 % confidence below {}", percent(asked.upper))
        } else {
            format!("between {} and {} (each bound at 95 %)", percent(asked.lower), percent(asked.upper))
        },
        percent((way.runs - way.accepted) as f64 / way.runs.max(1) as f64)
    );
    paragraph(out, &text, 0, FAINT);
    if !asked.met && asked.lower <= asked.risk {
        let text =
            "That is too close to the limit to tell. Any of the improvements below would give more margin.";
        paragraph(out, text, 0, FAINT);
    }
}

fn paste(out: &mut String, touch: &Touch) {
    line!(out, "    [touch]");
    line!(out, "    first_speed = {}", decimal(&touch.first_speed.text()));
    line!(out, "    fine_speed = {}", decimal(&touch.fine_speed.text()));
    line!(out, "    lift = {}", decimal(&touch.lift.text()));
    line!(out, "    stop = {}", decimal(&touch.stop.text()));
    line!(out, "    settle = {}", touch.settle);
    line!(out, "    least = {}", touch.least);
    line!(out, "    most = {}", touch.most);
    line!(out, "    band = {}", decimal(&touch.band.text()));
    line!(out, "    centre = \"{}\"", centre(touch.centre));
    line!(out, "    target_u = {}", decimal(&touch.target_u.text()));
    line!(out, "    tip_again = {}", touch.tip_again);
}

/// Shortest text with a point, as TOML wants a number that is not whole.
fn decimal(text: &str) -> String {
    if text.contains('.') { text.to_owned() } else { format!("{text}.0") }
}

fn improvements(out: &mut String, base: &Way, plan: &Plan) {
    line!(out);
    line!(
        out,
        "{BOLD}What to improve{BOLD:#} {FAINT}each on its own, touching about as well as the closest{FAINT:#}"
    );
    line!(out, "  {FAINT}{}; {:.1} s per landing{FAINT:#}", words(&base.setup.draft().touch), base.seconds);
    for one in &plan.improvements {
        let now = format!("{} {}", three(one.now), one.unit);
        let part = shown(&one.part);
        match (one.needed, one.upper) {
            (Some(needed), Some(upper)) => {
                paragraph(out, &format!("{part}: {now} → {} {}", three(needed), one.unit), 2, BOLD);
                let text = format!(
                    "by {}; then {} beyond, with 95 % confidence below {}",
                    one.by,
                    percent(one.chance),
                    percent(upper)
                );
                paragraph(out, &text, 4, FAINT);
            }
            _ => {
                let text = format!(
                    "{part}, {now}: at zero still {} beyond, too many or too close to tell",
                    percent(one.chance)
                );
                paragraph(out, &text, 2, FAINT);
            }
        }
    }
}

fn stricter(out: &mut String, plan: &Plan) {
    line!(out);
    line!(out, "{BOLD}What a stricter promise costs{BOLD:#}");
    line!(
        out,
        "  {FAINT}{:>9} {:>10} {:>9} {:>10}  with{FAINT:#}",
        "within/µm",
        "risk",
        "s/landing",
        "95 % below"
    );
    for promise in std::iter::once(&plan.asked).chain(&plan.stricter) {
        let seconds = if promise.met { format!("{:.1}", promise.way.seconds) } else { "not met".into() };
        let touch = promise.way.setup.draft().touch;
        let with = format!("{}, {:.2} mm/s", counting(&touch), touch.fine_speed.to_f64());
        line!(
            out,
            "  {:>9} {:>10} {seconds:>9} {:>10}  {with}",
            shortest_um(promise.within),
            percent(promise.risk),
            percent(promise.upper)
        );
    }
}

fn front(out: &mut String, plan: &Plan) {
    let all_but = percent(plan.asked.risk);
    line!(out);
    line!(
        out,
        "{BOLD}Time against error{BOLD:#} {FAINT}no other way tried is clearly better in both{FAINT:#}"
    );
    line!(out, "  {FAINT}µm: what all but {all_but} of the first layers stay within{FAINT:#}");
    line!(out, "  {FAINT}{:>9} {:>7}{FAINT:#}", "s/landing", "µm");
    let all: Vec<&Way> = plan.front.ways.iter().chain([&plan.front.own]).collect();
    let (least, most) = range(all.iter().map(|way| way.reach).filter(|reach| reach.is_finite()));
    let row = |out: &mut String, mark: char, way: &Way| {
        // From what is reached at best to what is reached at worst: all of them are near to each other.
        let part = (way.reach - least) / (most - least) * 1e6;
        let part = if part.is_finite() { part as u32 } else { 0 };
        let with = words(&way.setup.draft().touch);
        let drawn = bar(part, 1_000_000, BAR as u32);
        let reach = if way.reach.is_finite() { format!("{:.2}", way.reach * 1e3) } else { "refused".into() };
        line!(out, "{mark} {:>9.1} {reach:>7} {drawn:<BAR$} {with}", way.seconds);
        let beside = beside(&way.setup.draft().touch, &all);
        if !beside.is_empty() {
            line!(out, "  {:>9} {:>7} {:<BAR$} {FAINT}{beside}{FAINT:#}", "", "", "");
        }
    };
    for way in &plan.front.ways {
        row(out, ' ', way);
    }
    row(out, '>', &plan.front.own);
    line!(out, "  {FAINT}> the machine file’s own{FAINT:#}");
}
