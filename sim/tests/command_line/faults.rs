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
    // What became of each kind, and of each pair, is all of it.
    for (which, count) in [("single", 38), ("double", 703)] {
        let outcomes = document[which]["outcomes"].as_array().expect("outcomes");
        assert_eq!(outcomes.len(), count, "{which}");
        let number = |one: &Value, key: &str| one[key].as_f64().unwrap_or_else(|| panic!("{key}: {one}"));
        let cycles: f64 = outcomes.iter().map(|one| number(one, "cycles")).sum();
        let accepted: f64 =
            outcomes.iter().map(|one| number(one, "cycles") * (1.0 - number(one, "p_caught"))).sum();
        assert_eq!(Some(cycles), document[which]["cycles"].as_f64());
        assert_eq!(Some(accepted.round()), document[which]["accepted"].as_f64());
        for one in outcomes {
            let refused: u64 =
                one["refused"].as_object().expect("reasons").values().filter_map(Value::as_u64).sum();
            assert_eq!(refused as f64, (number(one, "cycles") * number(one, "p_caught")).round(), "{one}");
            assert_eq!(number(one, "p_caught") == 1.0, one["low"].is_null(), "{one}");
        }
    }
    let pair = |a: &str, b: &str| {
        let named = |one: &&Value| one["faults"] == serde_json::json!([a, b]);
        document["double"]["outcomes"].as_array().and_then(|all| all.iter().find(named)).expect("the pair")
    };
    // One that is always caught is so in company.
    assert_eq!(pair("no-plate", "stopped")["p_caught"], 1.0);
}

#[test]
fn the_page_fits_and_one_fault_is_shown_size_by_size() {
    let page = faults(&[]);
    assert_eq!((page.code, page.err.as_str()), (Some(0), ""));
    assert!(page.out.lines().all(|line| line.chars().count() <= 80), "{}", page.out);
    for words in ["no nozzle crash: chance below", "of 703 pairs are refused in 9 cycles of 10"] {
        assert!(page.words().contains(words), "{}", page.out);
    }
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
