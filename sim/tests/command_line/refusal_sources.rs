//! What makes cycles refused: a part of `zdatum simulate --budget`.

use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use super::simulate::number;
use super::tool::{Folder, MACHINE, run};

const FEW: [&str; 6] = ["simulate", "--budget", "--runs", "2000", "--each", "1000"];

fn sources(args: &[&str]) -> Value {
    let run = run(&[&FEW[..], &["--json"], args].concat());
    assert_eq!(run.code, Some(0), "{run:?}");
    run.json()["refusals"].clone()
}

/// A band that sound touches of the plate leave now and then.
fn narrow(folder: &Folder) -> String {
    let noise = "\n[noise]\ntip_switch = 0.0005\nshoulder_switch = 0.0005\nplate_switch = 0.0075\n";
    folder.write("narrow.toml", format!("{MACHINE}{noise}"))
}

#[test]
fn the_document_has_both_indices_of_every_source() {
    let folder = Folder::new();
    let found = sources(&["--machine", &narrow(&folder)]);
    assert_eq!(found["runs"], 1_024, "whole blocks");
    assert!(number(&found["p_refused"]) > 0.01, "{found}");
    let all = found["sources"].as_array().expect("a list");
    assert_eq!(all.len(), 10);
    for source in all {
        for index in ["first", "total"] {
            let [low, value, high] = ["low", "value", "high"].map(|part| number(&source[index][part]));
            assert!(low <= value && value <= high, "{source}");
        }
    }
    let total = |word: &str| {
        let source = all.iter().find(|source| source["source"] == word);
        number(&source.unwrap_or_else(|| panic!("no {word}"))["total"]["value"])
    };
    // The plate's touches leave the band; how deep the probe trips is no reason to refuse.
    assert!(total("plate-touches") > 0.5, "{found}");
    assert!(total("trip-depth") < 0.1, "{found}");
}

#[test]
fn the_page_is_narrow_and_does_not_depend_on_threads() {
    let folder = Folder::new();
    let machine = narrow(&folder);
    let page = |threads| run(&[&FEW[..], &["--threads", threads, "--machine", &machine]].concat());
    let one = page("1");
    assert_eq!((one.code, one.err.as_str()), (Some(0), ""));
    assert!(one.out.contains("What makes cycles refused?"), "{}", one.out);
    for line in one.out.lines() {
        assert!(line.width() <= 80 && line.trim_end() == line, "{line:?}");
    }
    assert_eq!(one.out, page("3").out);
}

#[test]
fn where_nothing_is_refused_there_is_nothing_to_explain() {
    let folder = Folder::new();
    let noise = "\n[noise]\ntip_switch = 0.0\nshoulder_switch = 0.0\nplate_switch = 0.0\nreseat = 0.0\nlatency_jitter_s = 0.0\n";
    let path = folder.write("machine.toml", format!("{MACHINE}{noise}"));
    let found = sources(&["--machine", &path]);
    assert_eq!((number(&found["p_refused"]), &found["sources"]), (0.0, &Value::Null));
}

/// Ctrl-C: what was done so far is told, as of every command whose work is long.
#[cfg(unix)]
#[test]
fn interrupted_it_reports_what_was_done() {
    let long = [
        &["simulate", "--budget", "--each", "10000000"][..],
        &["simulate", "--coverage", "--each", "1000000"],
        &["simulate", "--scrape", "0.030", "--check", "1000000000"],
        &["faults", "--cycles", "100000000"],
    ];
    for args in long {
        let run = super::tool::interrupted(&[args, &["--json"]].concat(), 500);
        assert_eq!(run.code, Some(130), "{args:?}: {run:?}");
        assert_eq!(run.json()["complete"], false, "{args:?}");
    }
}
