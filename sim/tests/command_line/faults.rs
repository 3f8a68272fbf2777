//! `faults`: what it answers, and every kind of bad argument.

use serde_json::Value;

use super::tool::{Run, assert_refused, demo, run};

fn faults(args: &[&str]) -> Run {
    run(&[&["faults", "--each", "20", "--cycles", "3000", "--pairs", "3"], args].concat())
}

#[test]
fn every_fault_is_told() {
    let document = faults(&["--machine", &demo("machine.toml"), "--json"]).json();
    assert_eq!((&document["format"], &document["complete"]), (&1.into(), &true.into()));
    let all = document["faults"].as_array().expect("faults");
    let of = |word: &str| all.iter().find(|one| one["fault"] == word).unwrap_or_else(|| panic!("{word}"));
    assert_eq!(of("no-plate")["plate_unknown"]["caught"], "always");
    assert_eq!(of("debris-under-plate")["plate_unknown"]["caught"], "never");
    let known = &of("debris-under-plate")["plate_known"];
    assert_eq!(known["caught"], "from-size");
    assert!((0.10..0.13).contains(&known["least"].as_f64().expect("a size")), "{known}");
    assert_eq!(known["points"].as_array().map(Vec::len), Some(11));
    assert_eq!(known["points"][10]["refused"]["moved-too-far"], 20);
    let single = &document["single"];
    assert_eq!((&single["cycles"], &single["nozzle_crashes"]), (&3000.into(), &0.into()));
    assert!((single["below"].as_f64().expect("a bound") - 2.995_7 / 3000.0).abs() < 2e-6, "{single}");
    assert_eq!(document["double"]["cycles"], 64 * 38 * 37 / 2);
    assert!(!document["double"]["crashes"].as_array().expect("crashes").is_empty());
}

#[test]
fn the_page_fits_and_one_fault_is_shown_size_by_size() {
    let page = faults(&[]);
    assert_eq!((page.code, page.err.as_str()), (Some(0), ""));
    assert!(page.out.lines().all(|line| line.chars().count() <= 80), "{}", page.out);
    assert!(page.words().contains("no crash of the nozzle: the chance is below"), "{}", page.out);
    let one = faults(&["--curve", "filament"]);
    assert!(one.words().contains("without a plate book: caught 9 times in 10 from"), "{}", one.out);
    assert!(!one.out.contains("homed-off") && one.out.lines().all(|line| line.chars().count() <= 80));
    let json = faults(&["--curve", "filament", "--json"]).json();
    assert_eq!(json["faults"].as_array().map(Vec::len), Some(1));
}

#[test]
fn threads_do_not_show() {
    let on = |threads: &str| faults(&["--json", "--threads", threads]).out;
    assert_eq!(on("1"), on("3"));
}

#[test]
fn none_may_be_asked_for() {
    let document = run(&["faults", "--each", "10", "--cycles", "0", "--pairs", "0", "--json"]).json();
    assert_eq!((&document["single"]["cycles"], &document["single"]["below"]), (&0.into(), &Value::Null));
}

#[test]
fn bad_arguments_are_refused() {
    for (args, word) in [
        (&["--each", "1"][..], "--each"),
        (&["--cycles", "-1"], "--cycles"),
        (&["--pairs", "x"], "--pairs"),
        (&["--curve", "filamnet"], "filament"),
        (&["--threads", "0"], "--threads"),
        (&["--machine", "nowhere.toml"], "nowhere.toml"),
        (&["extra"], "extra"),
    ] {
        assert_refused(&run(&[&["faults"], args].concat()), &[word]);
    }
}
