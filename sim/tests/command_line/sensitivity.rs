//! `zdatum sensitivity`: its document, its page, what it refuses.

use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use super::simulate::number;
use super::tool::{Folder, MACHINE, assert_refused, run};

const FEW: [&str; 2] = ["--runs", "1000"];

fn document(args: &[&str]) -> Value {
    let run = run(&[&["sensitivity", "--json"], args].concat());
    assert_eq!(run.code, Some(0), "{run:?}");
    run.json()
}

#[test]
fn the_document_has_both_indices_of_every_source() {
    let document = document(&FEW);
    assert_eq!((&document["format"], &document["complete"]), (&1.into(), &true.into()));
    assert_eq!(document["runs"], 1_024, "whole blocks");
    let sources = document["error"].as_array().expect("a list");
    assert_eq!(sources.len(), 10);
    let of = |word: &str| {
        let found = sources.iter().find(|source| source["source"] == word);
        found.unwrap_or_else(|| panic!("no {word}"))
    };
    for source in sources {
        for index in ["first", "total"] {
            let [low, value, high] = ["low", "value", "high"].map(|part| number(&source[index][part]));
            assert!(low <= value && value <= high, "{source}");
        }
    }
    // The demo's budget: trip depth 5 µm of a sum of 6.2 µm.
    assert!(number(&of("trip-depth")["first"]["value"]) > 0.5);
    // How the probe seats and which plate is fitted cancel in the landing.
    for none in ["seating", "plate"] {
        assert!(number(&of(none)["total"]["value"]) < 0.01, "{none}");
    }
}

#[test]
fn the_page_is_narrow_and_does_not_depend_on_threads() {
    let page = |threads| run(&[&["sensitivity", "--threads", threads], &FEW[..]].concat());
    let one = page("1");
    assert_eq!((one.code, one.err.as_str()), (Some(0), ""));
    for line in one.out.lines() {
        assert!(line.width() <= 80 && line.trim_end() == line, "{line:?}");
    }
    assert_eq!(one.out, page("3").out);
}

#[test]
fn a_world_without_noise_has_nothing_to_explain() {
    let folder = Folder::new();
    let still = MACHINE
        .replacen("trip_depth_u = 0.005", "trip_depth_u = 0.0", 1)
        .replace("latency_u_s = 0.0002", "latency_u_s = 0.0")
        .replace("latency_u_s = 0.0005", "latency_u_s = 0.0");
    let noise = "\n[noise]\ntip_switch = 0.0\nshoulder_switch = 0.0\nplate_switch = 0.0\nreseat = 0.0\nlatency_jitter_s = 0.0\n";
    let path = folder.write("machine.toml", format!("{still}{noise}"));
    let document = document(&[&["--machine", &path], &FEW[..]].concat());
    assert_eq!(document["refusal"], Value::Null);
}

#[test]
fn bad_input_is_refused() {
    let folder = Folder::new();
    let bad = folder.write("machine.toml", MACHINE.replacen("least = 5", "least = 99", 1));
    assert_refused(&run(&["sensitivity", "--machine", &bad]), &["touch.least"]);
    for args in [["--runs", "999"], ["--runs", "-1"], ["--seed", "x"], ["--threads", "0"]] {
        assert_eq!(run(&[&["sensitivity"], &args[..]].concat()).code, Some(2), "{args:?}");
    }
}

/// Ctrl-C: what was done so far is told, as of every command whose work is long.
#[cfg(unix)]
#[test]
fn interrupted_it_reports_what_was_done() {
    let long = [
        &["sensitivity", "--runs", "1000000"][..],
        &["simulate", "--runs", "1000", "--coverage", "--each", "1000000"],
        &["simulate", "--runs", "1000", "--scrape", "0.05", "--each", "10000000"],
        &["faults", "--cycles", "100000000"],
    ];
    for args in long {
        let run = super::tool::interrupted(&[args, &["--json"]].concat(), 500);
        assert_eq!(run.code, Some(130), "{args:?}: {run:?}");
        assert_eq!(run.json()["complete"], false, "{args:?}");
    }
}
