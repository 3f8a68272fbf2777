//! `history export` and `history import`: round trips, and everything that is no export.

use serde_json::Value;

use super::history::Desk;
use super::tool::{LOG, assert_refused, cycle, demo, log, run, run_with};

/// A history with all there can be in one.
fn full() -> Desk {
    let desk = Desk::new();
    let first = desk.land(
        &log(&[cycle("=1", "tin", 0), cycle("2", "@b", 400), cycle("\"é \"\"x\"\", y\"", "", 3)]),
        &["--keep"],
    );
    assert_eq!(first.code, Some(0), "{first:?}");
    desk.land(&log(&[cycle("2", "tin", 500)]), &["--keep", "--nozzle=-brass\u{202e}"]);
    desk.land(&log(&[cycle("2", "tin", 0)]), &["--keep", "--again"]);
    let args =
        ["land", &demo("touches.csv"), "-m", &demo("machine.toml"), "--history", &desk.history, "--keep"];
    assert_eq!(run(&args).code, Some(0));
    desk.history(&["note", "nozzle", "--nozzle", "hard", "--before", "2", "--text", "=words"]);
    desk.history(&["note", "plate", "--plate", "tin"]);
    desk.history(&["forget", "3", "5", "8"]);
    desk
}

#[test]
fn json_lines_hold_all_of_it() {
    let desk = full();
    desk.history(&["forget", "5", "--undo"]);
    let export = desk.history(&["export"]).out;
    assert_eq!(export.lines().count(), 14 + 2 + 2);
    for line in export.lines() {
        assert_eq!(serde_json::from_str::<Value>(line).expect("JSON")["format"], 1);
    }
    let other = Desk::new();
    let import = run_with(&["history", "--history", &other.history, "import", "-", "--json"], &export);
    assert_eq!((import.json()["new"].as_i64(), import.json()["known"].as_i64()), (Some(16), Some(0)));
    assert_eq!(other.history(&["export"]).out, export);
    let show = |desk: &Desk| desk.history(&["--all"]).out.lines().skip(1).collect::<Vec<_>>().join("\n");
    assert_eq!(show(&other), show(&desk));
    // Judged alike afterwards.
    let held = |desk: &Desk| desk.land(&log(&[cycle("9", "tin", 60)]), &["--json"]).json()["cycles"].clone();
    assert_eq!(held(&other), held(&desk));

    // Once more: nothing is doubled.
    let again = run_with(&["history", "--history", &other.history, "import", "-", "--json"], &export);
    assert_eq!((again.json()["new"].as_i64(), again.json()["known"].as_i64()), (Some(0), Some(16)));
    assert_eq!(other.history(&["export"]).out, export);
}

#[test]
fn an_import_finds_its_place_among_what_is_there() {
    let first = Desk::new();
    first.land(&log(&[cycle("old", "a", 0), cycle("both", "a", 1)]), &["--keep"]);
    let export = first.history(&["export"]).out;
    let second = Desk::new();
    second.land(&log(&[cycle("both", "a", 1), cycle("new", "a", 2)]), &["--keep"]);
    let run = run_with(&["history", "--history", &second.history, "import", "-"], &export);
    assert!(run.out.contains("1 new; 1 already there"), "{}", run.out);
    let runs: Vec<_> = second
        .entries()
        .iter()
        .map(|entry| (entry["run"].as_str().expect("a run").to_owned(), entry["number"].as_i64()))
        .collect();
    assert_eq!(runs, [("old".into(), Some(3)), ("both".into(), Some(1)), ("new".into(), Some(2))]);
}

#[test]
fn a_forgotten_cycle_does_not_come_back_by_an_import() {
    let desk = Desk::new();
    desk.land(LOG, &["--keep"]);
    let export = desk.history(&["export"]).out;
    desk.history(&["forget", "1"]);
    let run = run_with(&["history", "--history", &desk.history, "import", "-", "--json"], &export);
    assert_eq!(run.json()["known"], 1);
    assert!(desk.entries().is_empty());
}

#[test]
fn a_touch_log_is_what_was_read() {
    let desk = full();
    let export = desk.history(&["export", "--csv"]).out;
    // No cell that a spreadsheet would run, but for numbers.
    for cell in export.lines().flat_map(|line| line.split(',')) {
        let bare = cell.trim_start_matches('"');
        assert!(!bare.starts_with(['=', '@', '+', '\t']), "{cell}");
        assert!(!bare.starts_with('-') || bare.parse::<f64>().is_ok(), "{cell}");
    }
    assert!(export.contains(",'=1,") && export.contains("'@b"), "{export}");
    let other = Desk::new();
    let args = ["history", "--history", &other.history, "import", "-", "--machine", &demo("machine.toml")];
    let run = run_with(&args, &export);
    assert_eq!(run.code, Some(0), "{run:?}");
    assert_eq!(other.history(&["export", "--csv"]).out, export);
    let touches = |desk: &Desk| -> Vec<Value> {
        let numbers: Vec<_> =
            desk.entries().iter().filter(|e| e["entry"] == "cycle").map(|e| e["number"].clone()).collect();
        numbers
            .iter()
            .map(|no| desk.history(&["show", &no.to_string(), "--json"]).json()["touches"].clone())
            .collect()
    };
    assert_eq!(touches(&other), touches(&desk));
    // `land` reads it too, names and all.
    let landed = run_with(&["land", "-", "-m", &demo("machine.toml"), "--json"], &export);
    let names: Vec<_> =
        landed.json()["cycles"].as_array().expect("cycles").iter().map(|c| c["run"].clone()).collect();
    assert_eq!(names[0], "=1");
    assert!(names.contains(&"2 #4".into()), "{names:?}");
    // And a second time all is known.
    assert!(run_with(&args, &export).out.contains("0 new"));
}

#[test]
fn only_one_plate_and_into_a_file() {
    let desk = full();
    let out = desk.folder.path("out.csv").to_str().expect("UTF-8").to_owned();
    let args = ["export", "--csv", "--plate", "copper", "--out", &out];
    assert_eq!(desk.history(&args).code, Some(0));
    let text = desk.folder.read("out.csv");
    assert_eq!(text.lines().filter(|line| line.ends_with(",copper")).count(), text.lines().count() - 1);
    // An export overwrites nothing.
    assert_refused(&desk.history(&args), &["exists already"]);
    assert_refused(&desk.history(&["export", "--csv", "--plate", "none"]), &["no such cycle"]);
    assert_refused(&desk.history(&["export", "--json"]), &["--out"]);
}

#[test]
fn what_is_no_export_is_refused_with_its_line_and_nothing_is_taken() {
    let desk = full();
    let export = desk.history(&["export"]).out;
    let lines: Vec<&str> = export.lines().collect();
    let one = |from: &str, to: &str| {
        assert!(export.contains(from), "{from}");
        export.replacen(from, to, 1)
    };
    let cases = [
        (one("\"entry\":\"cycle\"", "\"entry\":\"cyclops\""), "cyclops", 2),
        (one("\"format\":1,\"entry\":\"cycle\"", "\"format\":2,\"entry\":\"cycle\""), "format", 2),
        (one("band = 0.020", "band = 0.021"), "SHA-256", 1),
        (one("\"verdict\":\"accept\",\"tip\"", "\"verdict\":\"maybe\",\"tip\""), "maybe", 2),
        (one("\"number\":1,", "\"number\":0,"), "number", 2),
        (one("\"number\":1,", ""), "number", 2),
        (one("\"number\":1,", "\"number\":1,\"more\":2,"), "more", 2),
        (one("\"z\":\"0.498\"", "\"z\":\"x\""), "`z`", 2),
        (one("\"z\":\"0.498\"", "\"z\":null"), "`z`", 2),
        (one("\"run\":\"=1\",\"plate\"", "\"run\":\"a\\u0007\",\"plate\""), "control", 2),
        (one("\"kept\":\"20", "\"kept\":\"x20"), "time", 2),
        (lines[1].to_owned(), "machine file", 1),
        (format!("{}\n{}\n{}\n", lines[0], lines[1], lines[1]), "UNIQUE", 3),
        (format!("{}\nnonsense\n", lines[0]), "expected", 2),
        (export.get(..export.len() - 20).expect("a part").to_owned(), "EOF", lines.len()),
    ];
    for (text, word, line) in cases {
        let other = Desk::new();
        let refused = run_with(&["history", "--history", &other.history, "import", "-"], &text);
        assert_refused(&refused, &[word, &format!("<standard input>:{line}:")]);
        assert_eq!(refused.err.lines().map(|line| line.chars().count()).max().map(|n| n < 200), Some(true));
        if other.folder.path("h").exists() {
            assert!(other.entries().is_empty());
        }
    }
}

#[test]
fn a_touch_log_needs_a_machine_file_and_json_lines_none() {
    let desk = Desk::new();
    let import = |more: &[&str], text: &str| {
        run_with(&[&["history", "--history", &desk.history, "import", "-"], more].concat(), text)
    };
    assert_refused(&import(&[], LOG), &["--machine"]);
    assert_refused(&import(&["--machine", &desk.machine], "station,z\ntip,1\n"), &["counted touch"]);
    assert_eq!(desk.folder.names(), ["machine.toml"]);
    assert_eq!(import(&["--machine", &desk.machine, "--nozzle", "n"], LOG).code, Some(0));
    assert_eq!(desk.entries()[0]["nozzle"], "n");
    let export = desk.history(&["export"]).out;
    assert_refused(&import(&["--machine", &desk.machine], &export), &["--machine"]);
}

/// An export with its only entry kept at another time.
fn kept_at(at: &str, run: &str, moved: i32) -> String {
    let desk = Desk::new();
    desk.land(&log(&[cycle(run, "tin", moved)]), &["--keep"]);
    let export = desk.history(&["export"]).out;
    let then = export.split("\"kept\":\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a time");
    export.replace(then, at)
}

#[test]
fn the_ends_of_time_are_told_and_nothing_waits_for_them() {
    const LAST: &str = "9999-12-31T23:59:59.999999Z";
    let desk = Desk::new();
    let import = |export: &str| run_with(&["history", "--history", &desk.history, "import", "-"], export);
    assert_eq!(import(&kept_at(LAST, "1", 0)).code, Some(0));
    let before = desk.history(&["export"]).out;
    // Neither a second one there nor anything behind it has a place.
    assert_refused(&import(&kept_at(LAST, "2", 5)), &[LAST, "behind that", "forget"]);
    assert_refused(&desk.history(&["note", "homing"]), &[LAST, "forget"]);
    let newer = log(&[cycle("3", "tin", 9)]);
    assert_refused(&desk.land(&newer, &["--keep"]), &[LAST]);
    assert_eq!(desk.history(&["export"]).out, before);
    assert_eq!(desk.history(&["note", "homing", "--before", "1"]).code, Some(0));
    desk.history(&["forget", "1"]);
    assert_eq!(desk.land(&newer, &["--keep"]).code, Some(0));

    // Nor has anything a place before 1970.
    let desk = Desk::new();
    let import = |export: &str| run_with(&["history", "--history", &desk.history, "import", "-"], export);
    assert_eq!(import(&kept_at("1970-01-01T00:00:00.000001Z", "1", 0)).code, Some(0));
    assert_eq!(desk.history(&["note", "homing", "--before", "1"]).code, Some(0));
    assert_refused(&desk.history(&["note", "homing", "--before", "1"]), &["no place is left before entry 1"]);
    assert_refused(&desk.history(&["note", "homing", "--before", "2"]), &["no place is left before entry 2"]);
    let order: Vec<_> = desk.entries().iter().map(|entry| entry["number"].as_i64()).collect();
    assert_eq!(order, [Some(2), Some(1)]);
}

#[test]
fn what_is_refused_begins_no_history() {
    let desk = Desk::new();
    let export = kept_at("2026-01-01T00:00:00.000000Z", "1", 0);
    let cut = export.trim_end().rsplit_once(',').expect("a line").0.to_owned();
    let import = |text: &str, more: &[&str]| {
        run_with(&[&["history", "--history", &desk.history, "import", "-"], more].concat(), text)
    };
    assert_refused(&import(&export, &["--machine", &desk.machine]), &["--machine does not apply"]);
    assert_refused(&import(&cut, &[]), &["not a line of an export"]);
    assert_refused(&import(LOG, &[]), &["--machine"]);
    assert_refused(&import("station,z\n", &["--machine", &desk.machine]), &[]);
    assert_refused(&desk.history(&["note", "homing", "--before", "3"]), &["no entry has the number 3"]);
    assert_eq!(desk.folder.names(), ["machine.toml"]);
    assert_eq!(import(&export, &[]).code, Some(0));
    assert_eq!(desk.entries().len(), 1);
}
