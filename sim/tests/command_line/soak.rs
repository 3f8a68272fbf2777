//! `soak`: what it answers, when it does not tell, and every kind of bad log.

use serde_json::Value;

use super::tool::{Folder, Run, assert_refused, demo, run, run_with};

fn soak(log: &str, args: &[&str]) -> Run {
    run_with(&[&["soak", "-"], args].concat(), log)
}

fn demo_log(touches: usize) -> String {
    let log = std::fs::read_to_string(demo("soak.csv")).expect("the demo");
    log.lines().take(3 + touches).map(|line| format!("{line}\n")).collect()
}

fn number(document: &Value, key: &str) -> f64 {
    document[key].as_f64().unwrap_or_else(|| panic!("{key} in {document}"))
}

#[test]
fn the_demo_tells_the_truth() {
    let document = soak(&demo_log(150), &["--json"]).json();
    assert_eq!((&document["format"], &document["verdict"]), (&1.into(), &"accept".into()));
    let tip = &document["stations"][0];
    assert_eq!((&tip["station"], &tip["n"], &tip["result"]), (&"tip".into(), &150.into(), &"grows".into()));
    // True: 0.085 mm, 1700 s; 0.010 is left after 1700·ln 8.5 = 3638 s.
    for (key, u, truth) in
        [("growth", "growth_u", 0.085), ("tau_s", "tau_u_s", 1700.0), ("wait_s", "wait_u_s", 3638.1)]
    {
        assert!((number(tip, key) - truth).abs() < 2.5 * number(tip, u), "{key}: {tip}");
    }
    assert!(number(tip, "tau_low_s") < 1700.0 && 1700.0 < number(tip, "tau_high_s"));
    assert!(number(&document, "wait_low_s") < 3638.0 && 3638.0 < number(&document, "wait_high_s"));
    // A smaller limit takes τ·ln 2 longer.
    let half = soak(&demo_log(150), &["--left", "0.005", "--json"]).json();
    let longer = number(&half, "wait_s") - number(&document, "wait_s");
    assert!((longer - number(tip, "tau_s") * 2.0_f64.ln()).abs() < 1e-6 * longer, "{longer}");
    let page = soak(&demo_log(150), &[]);
    assert_eq!(page.code, Some(0));
    assert!(page.out.contains("Wait 62 min") && page.out.contains("left = 0.01"), "{}", page.out);
}

#[test]
fn a_short_log_is_refused() {
    let run = soak(&demo_log(12), &[]);
    assert_eq!((run.code, run.err.as_str()), (Some(1), ""));
    let words = run.words();
    assert!(words.contains("too short to tell") && !words.contains("left ="), "{words}");
    let document = soak(&demo_log(12), &["--json"]).json();
    assert_eq!((&document["verdict"], &document["wait_s"]), (&"refuse".into(), &Value::Null));
    let tip = &document["stations"][0];
    assert_eq!((&tip["result"], tip.get("wait_s")), (&"too-short".into(), None));
    assert!(number(tip, "per_hour") > 0.05 && number(tip, "tau_low_s") > 0.0);
}

/// Of an exact straight line no time constant can be told, and none is made of the rounding of its numbers.
#[test]
fn a_straight_line_is_too_short_to_tell() {
    let rows: String =
        (0..30).map(|i| format!("tip,{:.3},{}\n", 1.0 + 0.001 * f64::from(i), i * 60)).collect();
    let log = format!("station,z,time_s\n{rows}");
    let run = soak(&log, &[]);
    assert_eq!(run.code, Some(1));
    let words = run.words();
    assert!(words.contains("too short to tell") && words.contains("No curvature is seen"), "{words}");
    // Twice the log's own length, not thousands of hours.
    assert!(words.contains("at least 58 min in all") && !words.contains(" h "), "{words}");
    let document = soak(&log, &["--json"]).json();
    let tip = &document["stations"][0];
    assert_eq!((&tip["result"], tip.get("tau_low_s")), (&"too-short".into(), Some(&Value::Null)), "{tip}");
}

#[test]
fn a_machine_that_does_not_move() {
    let log = |size: f64| {
        let rows = (0..30).map(|i| format!("tip,{},{}\n", size * f64::from(i * 7 % 5), i * 60));
        format!("station,z,time_s\n{}", rows.collect::<String>())
    };
    let still = soak(&log(0.0005), &["--json"]);
    assert_eq!((still.code, &still.json()["stations"][0]["result"]), (Some(0), &"still".into()));
    assert_eq!(number(&still.json(), "wait_s"), 0.0);
    assert!(soak(&log(0.0005), &[]).out.contains("No need to wait"));
    let noisy = soak(&log(0.05), &["--json"]);
    assert_eq!((noisy.code, &noisy.json()["stations"][0]["result"]), (Some(1), &"too-noisy".into()));
    // All the same height: nothing moves at all.
    assert_eq!(soak(&log(0.0), &[]).code, Some(0));
}

#[test]
fn an_exact_curve_is_found() {
    let rows: String = (0..40)
        .map(|i| format!("plate,{:.9},{}\n", 5.0 + 0.1 * (1.0 - (-f64::from(i) / 10.0).exp()), 1000 + i * 60))
        .collect();
    let document = soak(&format!("station,z,time_s\n{rows}"), &["--json"]).json();
    let plate = &document["stations"][0];
    assert!(
        (number(plate, "tau_s") - 600.0).abs() < 1e-3 && (number(plate, "growth") - 0.1).abs() < 1e-6,
        "{plate}"
    );
    assert!((number(plate, "start") - 5.0).abs() < 1e-6 && number(plate, "from_s") == 1000.0);
    assert!((number(&document, "wait_s") - 600.0 * 10.0_f64.ln()).abs() < 1e-2, "{document}");
}

#[test]
fn bad_logs_are_refused() {
    let folder = Folder::new();
    let refused = |log: &str, words: &[&str]| {
        let log = folder.write("soak.csv", log);
        for json in [&[][..], &["--json"]] {
            assert_refused(&run(&[&["soak", &log], json].concat()), words);
        }
    };
    let rows = |count: usize| (0..count).map(|i| format!("tip,1.{i},{i}\n")).collect::<String>();
    let log = |rows: &str| format!("station,z,time_s\n{rows}");
    refused("", &["soak.csv:1:1", "empty"]);
    refused(&log(&rows(5)), &["soak.csv", "5 counted touches", "at least 6"]);
    refused("station,z\ntip,1\ntip,2\n", &["soak.csv:2:5", "no time", "time_s"]);
    refused(&log(&format!("{}tip,1,\n", rows(6))), &["soak.csv:8:", "no time"]);
    refused(&log(&format!("{}tip,1,4.5\n", rows(6))), &["soak.csv:8:7", "line 7", "line 8", "4.5"]);
    refused(&log(&"tip,1,5\n".repeat(8)), &["soak.csv", "same time"]);
    refused(&log("tip,x,5\n"), &["soak.csv:2:5", "`z`"]);
    refused(&log("tip,1,inf\n"), &["soak.csv:2:7", "`time_s`"]);
    refused(&log("tip,1,2e9\n"), &["soak.csv:2:7", "`time_s`", "1e9"]);
    // Times count from the log's start, not from each run's.
    let two = "run,station,z,time_s\na,tip,1,5\nb,tip,1,0\n";
    refused(two, &["soak.csv:3:", "line 2", "line 3", "within the log"]);
}

#[test]
fn bad_arguments() {
    for args in [
        &[][..],
        &["-", "--left"],
        &["-", "--left", "0"],
        &["-", "--left=-0.01"],
        &["-", "--left", "nan"],
        &["-", "--left", "ten"],
        &["-", "-m", "x"],
    ] {
        let run = run_with(&[&["soak"], args].concat(), &demo_log(20));
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{args:?}");
        assert_eq!(run.err.matches("error: ").count(), 1, "{args:?}: {}", run.err);
    }
}

#[test]
fn extremes_do_not_break_it() {
    let rows = |f: &dyn Fn(i32) -> (f64, f64)| {
        let rows = (0..12).map(|i| {
            let (z, t) = f(i);
            format!("tip,{z:e},{t:e}\n")
        });
        format!("station,z,time_s\n{}", rows.collect::<String>())
    };
    for log in [
        rows(&|i| (1e27 * f64::from(i), 9e7 * f64::from(i))),
        rows(&|i| (1e-25 * f64::from(i * i), 1e-3 * f64::from(i))),
        rows(&|i| (f64::from(i32::from(i == 11)), f64::from(i))),
        rows(&|i| (f64::from(i), f64::from(i) / 11.0 - 1e9)),
        rows(&|i| (2_f64.powi(i), f64::from(i))),
        rows(&|i| (f64::from(i % 2), f64::from(i / 6))),
    ] {
        let run = soak(&log, &["--json"]);
        assert!(matches!(run.code, Some(0 | 1)), "{log}{run:?}");
        assert_eq!(run.json()["format"], 1);
        assert!(soak(&log, &[]).code.is_some_and(|code| code < 2));
    }
}

#[test]
fn the_page_fits_a_narrow_terminal() {
    for touches in [150, 37, 12] {
        let run = soak(&demo_log(touches), &[]);
        assert!(run.code.is_some_and(|code| code < 2) && !run.out.is_empty(), "{run:?}");
        for line in run.out.lines() {
            assert!(line.chars().count() <= 78 && !line.contains('\u{1b}'), "{line}");
        }
    }
}
