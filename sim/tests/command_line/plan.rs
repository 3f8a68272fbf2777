//! `zdatum plan`: what is met and what is not, compared with counting, and every kind of bad argument.

use std::sync::OnceLock;

use serde_json::Value;

use super::tool::{Folder, Run, assert_refused, demo, run};

const MET: &str = "0.023";
const UNMET: &str = "0.020";

fn plan(args: &[&str]) -> Run {
    run(&[&["plan", "--machine", &demo("machine.toml")], args].concat())
}

/// Plans of the demo, each made once.
fn met() -> &'static Value {
    static MADE: OnceLock<Value> = OnceLock::new();
    MADE.get_or_init(|| {
        let run = plan(&["--within", MET, "--json"]);
        assert_eq!(run.code, Some(0), "{run:?}");
        run.json()
    })
}

fn unmet() -> &'static Run {
    static MADE: OnceLock<Run> = OnceLock::new();
    MADE.get_or_init(|| plan(&["--within", UNMET, "--json", "--threads", "1"]))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("a number: {value}"))
}

fn list(value: &Value) -> &[Value] {
    value.as_array().unwrap_or_else(|| panic!("a list: {value}"))
}

/// The demo's machine file with another touching, and whatever else is replaced.
fn machine_with(folder: &Folder, touch: &Value, replaced: Option<(&str, String)>) -> String {
    let text = std::fs::read_to_string(demo("machine.toml")).expect("the demo");
    let mut out = String::new();
    for line in text.lines() {
        let key = line.split(" = ").next().unwrap_or_default();
        match (touch.get(key), &replaced) {
            (_, Some((replaced, with))) if *replaced == key => out.push_str(&format!("{key} = {with}")),
            (Some(value), _) if value.is_f64() => out.push_str(&format!("{key} = {:?}", number(value))),
            (Some(value), _) => out.push_str(&format!("{key} = {value}")),
            (None, _) => out.push_str(line),
        }
        out.push('\n');
    }
    folder.write("with.toml", out)
}

/// Chance to be beyond, counted by `simulate` on draws of its own.
fn counted(machine: &str, within: &str) -> f64 {
    let runs = ["--runs", "400000", "--seed", "99", "--json"];
    let run = run(&[&["simulate", "--machine", machine, "--within", within], &runs[..]].concat());
    assert_eq!(run.code, Some(0), "{run:?}");
    number(&run.json()["p_outside"])
}

#[test]
fn what_is_met_holds_when_it_is_counted() {
    let document = met();
    let asked = &document["asked"];
    assert_eq!((&document["met"], &asked["met"]), (&true.into(), &true.into()));
    let mut keys: Vec<&str> =
        asked["way"]["touch"].as_object().expect("a touching").keys().map(String::as_str).collect();
    keys.sort_unstable();
    let all = "band centre fine_speed first_speed least lift most settle stop target_u tip_again";
    assert_eq!(keys.join(" "), all, "the keys of [touch]");
    let (low, p, high): (f64, f64, f64) =
        ["p_outside_lower", "p_outside", "p_outside_upper"].map(|key| number(&asked[key])).into();
    assert!(low < p && p < high && high <= 0.001, "{asked}");
    assert!(
        number(&asked["way"]["seconds"]) < number(&document["own"]["seconds"]),
        "the file's own is slower"
    );
    assert_eq!((list(&document["improvements"]).len(), &document["improved_from"]), (0, &Value::Null));
    let folder = Folder::new();
    let p = counted(&machine_with(&folder, &asked["way"]["touch"], None), MET);
    assert!(low < p && p < high, "{p} counted, {low} to {high} stated");
}

/// Touched 48 times instead of 5 the demo still has its trip depth's u of 5 µm and its growth's of 3.4: 6.05
/// µm in all, and 0.00095 are beyond 20 µm.
#[test]
fn what_is_not_met_names_the_nearest_and_what_to_improve() {
    let (code, document) = (unmet().code, unmet().json());
    assert_eq!((code, &document["met"]), (Some(1), &false.into()));
    let asked = &document["asked"];
    let (low, high) = (number(&asked["p_outside_lower"]), number(&asked["p_outside_upper"]));
    assert!(low < 0.000_98 && 0.001 < high && high < 0.001_25, "{asked}");
    assert!(number(&asked["way"]["touch"]["least"]) >= 20.0, "many touches come nearest: {asked}");
    let folder = Folder::new();
    let p = counted(&machine_with(&folder, &asked["way"]["touch"], None), UNMET);
    assert!(low < p && p < high, "{p} counted, {low} to {high} stated");
    // What serves, the smallest change first; then what does not.
    let all = list(&document["improvements"]);
    let first = &all[0];
    assert_eq!(first["part"], "trip depth’s u", "{document}");
    assert!(number(&first["p_outside_upper"]) <= 0.001);
    let stays: Vec<f64> = all
        .iter()
        .map(|one| one["needed"].as_f64().map_or(-1.0, |needed| needed / number(&one["now"])))
        .collect();
    assert!(stays.is_sorted_by(|a, b| a >= b) && stays[0] < 1.0 && stays.contains(&-1.0), "{stays:?}");
    let needed = format!("{:.6}", number(&first["needed"]));
    let better =
        machine_with(&folder, &document["improved_from"]["touch"], Some(("trip_depth_u", needed.clone())));
    let p = counted(&better, UNMET);
    assert!(p < 0.001, "{p} with a trip depth’s u of {needed}");
}

#[test]
fn no_way_of_a_front_is_beaten() {
    for document in [met(), &unmet().json()] {
        let figures = |way: &Value| (number(&way["seconds"]), number(&way["reach"]));
        let front: Vec<(f64, f64)> = list(&document["front"]).iter().map(figures).collect();
        assert!(front.len() > 4, "{front:?}");
        assert!(front.windows(2).all(|two| two[0].0 < two[1].0 && two[0].1 > two[1].1), "{front:?}");
        let (seconds, reach) = figures(&document["own"]);
        assert!(front.iter().all(|one| one.0 <= seconds || one.1 <= reach), "{front:?}");
    }
}

#[test]
fn threads_do_not_show_and_lines_fit() {
    let page = plan(&["--within", UNMET, "--threads", "3"]);
    assert_eq!((page.code, page.err.as_str()), (Some(1), ""));
    assert!(page.out.lines().all(|line| line.chars().count() <= 80), "{}", page.out);
    for words in [
        "too close to the limit to tell",
        "What to improve",
        "Time against error",
        "> the machine file’s own",
    ] {
        assert!(page.words().contains(words), "{words}: {}", page.out);
    }
    // Every way of the front can be told from the others.
    let (_, front) = page.out.split_once("s/landing      µm").expect("a front");
    let rows: Vec<&str> =
        front.lines().skip(1).take_while(|line| !line.contains("the machine file’s own")).collect();
    let mut told: Vec<String> = Vec::new();
    for row in rows {
        match (row.starts_with("       ").then(|| row.trim()), told.last_mut()) {
            (Some(beside), Some(last)) if !beside.starts_with(|c: char| c.is_ascii_digit()) => {
                last.push_str(beside)
            }
            _ => told.push(row.chars().skip(28).collect()),
        }
    }
    let own = told.pop().expect("the file's own");
    assert!(told.len() > 4 && own.contains("settle 1"), "{told:?}");
    let all = told.len();
    told.sort();
    told.dedup();
    assert_eq!(told.len(), all, "{}", page.out);
    let threads = plan(&["--within", UNMET, "--json", "--threads", "3"]);
    assert_eq!(threads.out, unmet().out);
}

#[cfg(unix)]
#[test]
fn an_interrupted_search_is_no_plan() {
    let machine = demo("machine.toml");
    let run = super::tool::interrupted(&["plan", "--machine", &machine, "--within", UNMET], 300);
    assert_eq!((run.code, run.out.as_str()), (Some(130), ""));
    assert!(run.err.contains("interrupted") && run.err.contains("incomplete"), "{}", run.err);
    let json = ["plan", "--machine", &machine, "--within", UNMET, "--json", "--seed", "5"];
    let run = super::tool::interrupted(&json, 300);
    assert_eq!(run.code, Some(130));
    assert_eq!(run.json(), serde_json::json!({ "format": 1, "complete": false, "seed": 5 }));
}

/// Where everything is refused there is no way, and no improvement of a part that would help.
#[test]
fn a_machine_that_refuses_everything_has_no_plan() {
    let folder = Folder::new();
    let text = std::fs::read_to_string(demo("machine.toml")).expect("the demo");
    let never = folder.write("never.toml", text.replace("expanded_u = 0.018", "expanded_u = 0.0001"));
    let page = run(&["plan", "--machine", &never]);
    assert_eq!(page.code, Some(1), "{page:?}");
    assert!(page.words().contains("Every cycle is refused"), "{}", page.out);
    let json = run(&["plan", "--machine", &never, "--json"]);
    assert_eq!((json.code, list(&json.json()["front"]).len()), (Some(1), 0));
}

#[test]
fn bad_arguments_are_refused() {
    for (arguments, named) in [
        (&["--risk", "0"][..], "0.00001 to 0.5"),
        (&["--risk", "often"], "such as 0.001"),
        (&["--risk", "NaN"], "0.00001 to 0.5"),
        (&["--within", "0"], "0.00001 mm or more"),
        (&["--refused-costs", "-1"], "0 to 100000"),
        (&["--refused-costs", "nan"], "0 to 100000"),
        (&["--refused-costs", "dear"], "such as 120"),
        (&["--seed", "1.5"], "whole number"),
        (&["--threads", "0"], "--threads"),
    ] {
        let output = run(&[&["plan", "--machine", "no-such.toml"], arguments].concat());
        assert_refused(&output, &[named]);
    }
    assert_refused(&run(&["plan", "--machine", "no-such.toml"]), &["no-such.toml"]);
    assert_refused(&run(&["plan"]), &["--machine"]);
}
