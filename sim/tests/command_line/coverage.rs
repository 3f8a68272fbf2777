//! `zdatum simulate --coverage`: its part of the document, its page, where it falls short, and what it
//! refuses.

use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use super::simulate::number;
use super::tool::{Folder, MACHINE, assert_refused, run};

/// A short campaign, with as few cycles for each machine of the map as tell something.
const FEW: [&str; 5] = ["simulate", "--coverage", "--runs", "1000", "--each"];

fn machines(each: &str) -> Vec<Value> {
    let run = run(&[&FEW[..], &[each, "--json"]].concat());
    assert_eq!(run.code, Some(0), "{run:?}");
    let document = run.json()["coverage_map"].clone();
    assert_eq!((&document["format"], &document["complete"]), (&1.into(), &true.into()));
    document["machines"].as_array().expect("a list").clone()
}

#[test]
fn the_map_has_a_count_for_every_machine() {
    let machines = machines("1000");
    // Three bases, six kinds of noise, six numbers of touches, with and without a study; a single touch needs
    // one, and what is four times as noisy is not one step wide.
    assert_eq!(machines.len(), (3 * 6 - 1) * (6 + 5));
    for machine in &machines {
        let coverage = number(&machine["coverage"]);
        assert!((0.0..=1.0).contains(&coverage), "{machine}");
        assert!(number(&machine["coverage_standard_error"]) > 0.0, "{machine}");
        // The band is wide: few cycles are chosen.
        assert!(number(&machine["p_refused"]) < 0.05, "{machine}");
        assert!(machine["touches"] != 1 || machine["studied"] == true, "{machine}");
    }
}

#[test]
fn what_falls_short_is_what_is_known_to() {
    let machines = machines("4000");
    let of = |rests: &str, noise: &str, touches: u64, studied: bool| {
        let found = machines.iter().find(|machine| {
            let words = (&machine["rests_on"], &machine["noise"]);
            words == (&rests.into(), &noise.into())
                && (&machine["touches"], &machine["studied"]) == (&touches.into(), &studied.into())
        });
        found.expect("it is in the map")
    };
    for (rests, noise, touches, studied, is_short) in [
        ("one-station", "normal", 2, false, true),
        ("one-station", "rectangular", 3, false, true),
        ("one-station", "normal", 9, false, false),
        ("one-station", "normal", 3, true, false),
        ("touches", "drifting", 15, true, true),
        ("touches", "drifting-stated", 15, true, false),
        ("all", "normal", 5, true, false),
        ("all", "heavy-tailed", 5, true, false),
    ] {
        let machine = of(rests, noise, touches, studied);
        assert_eq!(machine["short"], is_short, "{machine}");
    }
}

#[test]
fn the_page_is_narrow_and_does_not_depend_on_threads() {
    let page = |threads| run(&[&FEW[..], &["1000", "--threads", threads]].concat());
    let one = page("1");
    assert_eq!((one.code, one.err.as_str()), (Some(0), ""));
    for line in one.out.lines() {
        assert!(line.width() <= 80 && line.trim_end() == line, "{line:?}");
    }
    assert!(one.out.contains("docs/demo/machine.toml"), "it says which machine");
    assert_eq!(one.out, page("3").out);
}

#[test]
fn bad_input_is_refused() {
    let folder = Folder::new();
    let bad = folder.write("machine.toml", MACHINE.replacen("least = 5", "least = 99", 1));
    assert_refused(&run(&["simulate", "--coverage", "--machine", &bad]), &["touch.least"]);
    for args in [["--each", "99"], ["--one", "0"], ["--seed", "x"], ["--threads", "0"]] {
        assert_eq!(run(&[&["simulate", "--coverage"], &args[..]].concat()).code, Some(2), "{args:?}");
    }
}

/// A file that says how its switches scatter.
#[test]
fn a_machine_file_may_name_the_shape_of_the_noise() {
    let folder = Folder::new();
    let with =
        |shape: &str| folder.write("machine.toml", format!("{MACHINE}\n[noise]\nshape = \"{shape}\"\n"));
    let simulated = |path: &str| run(&["simulate", "--machine", path, "--runs", "2000", "--json"]).json();
    let normal = simulated(&with("normal"));
    for shape in ["rectangular", "heavy-tailed"] {
        let other = simulated(&with(shape));
        assert_ne!(other["error"]["sd"], normal["error"]["sd"], "{shape}");
    }
    assert_refused(&run(&["setup", &with("rectangle")]), &["noise.shape", "nearest: `rectangular`"]);
}
