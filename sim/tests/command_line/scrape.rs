//! `simulate --scrape`: what it answers, and every kind of bad argument.

use serde_json::Value;

use super::tool::{Folder, Run, assert_refused, demo, run};

fn scrape(gap: &str, args: &[&str]) -> Run {
    run(&[&["simulate", "--runs", "1000", "--each", "5000", "--scrape", gap], args].concat())
}

/// The object of a document.
fn found(run: &Run) -> Value {
    run.json()["scrape"].clone()
}

fn number(document: &Value, key: &str) -> f64 {
    document[key].as_f64().unwrap_or_else(|| panic!("{key} in {document}"))
}

#[test]
fn a_rare_chance_is_stated_with_its_interval() {
    let document = found(&scrape("0.0385", &["--machine", &demo("machine.toml"), "--json"]));
    let (p, low, high) = (number(&document, "p"), number(&document, "low"), number(&document, "high"));
    assert!(low < p && p < high && high < 2.0 * low && p > 1e-11 && p < 1e-8, "{document}");
    assert_eq!((&document["format"], &document["complete"]), (&1.into(), &true.into()));
    assert_eq!((&document["verdict"], &document["counted"]), (&"accept".into(), &Value::Null));
    let curve = document["curve"].as_array().expect("a curve");
    assert_eq!(curve.len(), 10);
    assert!(curve.windows(2).all(|two| number(&two[0], "p") > number(&two[1], "p")), "{document}");
    // Written with its power of ten: as a decimal it would be mostly zeros.
    let text = scrape("0.0385", &["--json"]).out;
    let written = text.split("\"p\":").nth(1).and_then(|rest| rest.split(',').next());
    assert!(written.is_some_and(|p| p.contains("e-")), "{text}");
    let page = scrape("0.0385", &[]);
    assert_eq!((page.code, page.err.as_str()), (Some(0), ""));
    assert!(page.words().contains("more than 38.5 µm too low"), "{}", page.out);
    assert!(page.out.lines().all(|line| line.chars().count() <= 80), "{}", page.out);
}

#[test]
fn threads_do_not_show_and_seeds_do() {
    let on = |args: &[&str]| found(&scrape("0.030", &[&["--json"], args].concat()));
    assert_eq!(on(&["--threads", "1"]), on(&["--threads", "3"]));
    assert_ne!(on(&["--seed", "1"]), on(&["--seed", "2"]));
}

#[test]
fn counting_stands_beside_it() {
    let document = found(&scrape("0.012", &["--check", "20000", "--json"]));
    assert_eq!(document["counted"]["agrees"], true, "{document}");
    assert_eq!(document["counted"]["runs"], 20_000);
    assert!(scrape("0.012", &["--check", "20000"]).words().contains("the intervals overlap"));
}

/// A machine whose every cycle is refused: nothing can be said but a bound, and the exit code says so.
#[test]
fn too_few_to_tell_is_no_answer() {
    let folder = Folder::new();
    let text = std::fs::read_to_string(demo("machine.toml")).expect("the demo");
    let never = folder.write("never.toml", text.replace("expanded_u = 0.018", "expanded_u = 0.0001"));
    let page = scrape("0.050", &["--machine", &never]);
    assert_eq!(page.code, Some(1), "{page:?}");
    assert!(page.words().contains("none seen") && page.words().contains("Too few to tell"), "{}", page.out);
    let json = scrape("0.050", &["--machine", &never, "--json"]);
    assert_eq!((json.code, &found(&json)["verdict"]), (Some(1), &"too-few".into()));
    assert_eq!(found(&json)["curve"], Value::Array(Vec::new()));
}

#[test]
fn bad_arguments_are_refused() {
    for (args, word) in [
        (&["--scrape", "0"][..], "--scrape"),
        (&["--scrape", "-0.02"], "--scrape"),
        (&["--scrape", "thin"], "--scrape"),
        (&["--scrape", "0.03", "--check", "-1"], "--check"),
        (&["--check", "1000"], "--scrape"),
        (&["--scrape", "0.03", "--one", "0"], "--one"),
    ] {
        assert_refused(&run(&[&["simulate"], args].concat()), &[word]);
    }
}
