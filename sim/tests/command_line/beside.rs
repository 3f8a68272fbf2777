//! `zdatum simulate --compare`, `--budget`, `--sweep`: documents, pages, bad arguments.

use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use super::simulate::{document, number};
use super::tool::{Folder, MACHINE, assert_refused, run};

const ALL: [&str; 3] = ["--compare", "--budget", "--sweep"];
const FEW: [&str; 4] = ["--each", "300", "--runs", "20000"];

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap_or_else(|| panic!("{value} is no list"))
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("{value} is no text"))
}

/// The fields that figures have, `docs/json.md`.
#[track_caller]
fn assert_figures(object: &Value, runs: u64) {
    assert_eq!(object["runs"], runs);
    let refused: u64 =
        object["refused"].as_object().expect("an object").values().filter_map(Value::as_u64).sum();
    assert_eq!(object["accepted"].as_u64().expect("a count") + refused, runs);
    for field in ["p_refused", "touches_mean", "cycle_s_mean"] {
        assert!(number(&object[field]) >= 0.0, "{field}: {object}");
    }
    for field in ["mean", "sd", "p_outside", "p_refused", "touches", "cycle_s"] {
        assert!(number(&object[format!("{field}_standard_error")]) >= 0.0, "{field}: {object}");
    }
    let ordered = ["min", "low", "mean", "high", "max"].map(|field| number(&object[field]));
    assert!(ordered.is_sorted(), "{object}");
}

#[test]
fn a_comparison_is_that_of_the_formats() {
    let document = document(&[&["--compare"], &FEW[..]].concat());
    for other in ["budget", "agreement", "sweeps"] {
        assert!(document.get(other).is_none(), "{other} was not asked for");
    }
    // The campaign's own fields stay.
    assert_eq!((&document["runs"], &document["complete"]), (&20_000.into(), &true.into()));
    let compare = &document["compare"];
    assert_eq!(compare["runs"], 300);
    for (field, value) in [("within", 0.02), ("feel", 0.01)] {
        assert_eq!(number(&compare[field]), value, "{field}");
    }
    for (field, value) in [("holds", 0.01), ("risky", 0.1), ("refuses", 0.1)] {
        assert_eq!(number(&compare["thresholds"][field]), value, "{field}");
    }
    for field in ["plate", "nozzle", "seat", "frame_grown", "frame_to_come", "bed_grown"] {
        assert!(number(&compare["changes"][field]) > 0.0, "{field}");
    }
    assert!(list(&compare["left_out"]).is_empty());
    let methods = list(&compare["methods"]);
    let words: Vec<&str> = methods.iter().map(|method| text(&method["method"])).collect();
    assert_eq!(
        words,
        [
            "by-hand",
            "fixed-switch",
            "stored-height",
            "three-touches-1-mean",
            "three-touches-3-mean",
            "three-touches-5-mean",
            "three-touches-9-mean",
            "three-touches-5-median",
            "three-touches-5-hodges-lehmann",
            "fetched-twice"
        ]
    );
    for method in methods {
        let situations = list(&method["situations"]);
        let words: Vec<&str> = situations.iter().map(|at| text(&at["situation"])).collect();
        assert_eq!(words, ["nothing", "plate-swap", "nozzle-change", "re-seated", "warm-up"]);
        let is_core = text(&method["method"]).starts_with("three-touches");
        for situation in situations {
            assert_figures(situation, 300);
            assert_eq!(situation["coverage"].is_null(), !is_core, "{situation}");
        }
        let holds = situations.iter().all(|at| at["grade"] == "holds");
        assert_eq!(method["holds_throughout"], holds);
    }
    let grade = |method: usize, situation: usize| text(&methods[method]["situations"][situation]["grade"]);
    assert_eq!((grade(0, 1), grade(1, 1), grade(2, 1), grade(5, 1)), ("fails", "fails", "risky", "holds"));
    assert_eq!((grade(0, 2), grade(1, 2), grade(2, 2), grade(5, 2)), ("fails", "risky", "fails", "holds"));
    assert_eq!((grade(2, 3), grade(0, 4), grade(5, 3), grade(5, 4)), ("fails", "fails", "holds", "holds"));
}

#[test]
fn a_budget_and_its_agreement_are_those_of_the_formats() {
    let document = document(&[&["--budget"], &FEW[..]].concat());
    assert!(document.get("compare").is_none() && document.get("sweeps").is_none());
    let budget = &document["budget"];
    assert_eq!(budget["runs"], 300);
    assert!((number(&budget["core_u"]) - 0.006_23).abs() < 0.000_05, "{budget}");
    let sources = list(&budget["sources"]);
    let named = |name: &str| sources.iter().find(|source| source["source"] == name).expect("the source");
    assert_eq!(number(&named("trip depth")["core_u"]), 0.004_999_995);
    // A variance of some µm² keeps its digits.
    let variance = number(&named("trip depth")["variance"]);
    assert!((1.0e-5..4.0e-5).contains(&variance), "{variance}");
    assert_eq!(named("wild touches")["core_u"], Value::Null);
    assert_eq!(named("plate touches")["averaged_by_touches"], true);
    let shares: f64 = sources.iter().filter_map(|source| source["core_share"].as_f64()).sum();
    assert!((shares - 1.0).abs() < 1e-4, "{shares}");
    let more = &budget["more_touches"];
    assert_eq!((&more["now"], &more["then"]), (&5.into(), &10.into()));
    assert_figures(&more["figures_now"], 300);
    assert!(list(&budget["advice"]).iter().any(|advice| text(advice).starts_with("Fix first: trip depth")));

    let agreement = &document["agreement"];
    assert_eq!(number(&agreement["coverage"]), 0.95);
    assert_eq!(
        (&agreement["simulated"]["blocks"], &agreement["simulated"]["runs"]),
        (&2.into(), &20_000.into())
    );
    assert_eq!(number(&agreement["stated"]["y"]), 0.0);
    let checks = list(&agreement["checks"]);
    assert_eq!((checks.len(), &checks[0]["digits"], &checks[1]["digits"]), (2, &2.into(), &1.into()));
    assert_eq!((number(&checks[0]["delta"]), number(&checks[1]["delta"])), (0.000_05, 0.000_5));
    // Nothing is allowed for that is not there, so only more runs could tell the two apart.
    assert_eq!(checks[0]["agrees"], "too-close");
    let end = number(&agreement["stated"]["expanded_u"]) - number(&agreement["simulated"]["high"]);
    assert!((end.abs() - number(&checks[0]["d_high"])).abs() < 2e-9, "{agreement}");
}

#[test]
fn sweeps_are_those_of_the_formats() {
    let document = document(&[&["--sweep"], &FEW[..]].concat());
    let sweeps = list(&document["sweeps"]);
    assert_eq!(
        (sweeps.len(), &sweeps[0]["swept"], &sweeps[1]["swept"]),
        (2, &"touches".into(), &"noise".into())
    );
    for (sweep, count) in sweeps.iter().zip([16, 9]) {
        let points = list(&sweep["points"]);
        assert_eq!((points.len(), &sweep["runs"]), (count, &300.into()));
        assert_eq!(points.iter().filter(|point| point["own"] == true).count(), 1);
        assert!(points.iter().map(|point| number(&point["at"])).is_sorted());
        points.iter().for_each(|point| assert_figures(point, 300));
    }
}

#[test]
fn the_same_seed_gives_the_same_document_with_any_number_of_threads() {
    let of = |threads: &str, seed: &str| {
        let mut document = document(&[&ALL[..], &FEW, &["--threads", threads, "--seed", seed]].concat());
        let fields = document.as_object_mut().expect("an object");
        fields.remove("elapsed_s");
        fields.remove("runs_per_s");
        document
    };
    let one = of("1", "5");
    for threads in ["2", "5"] {
        assert_eq!(of(threads, "5"), one);
    }
    let other = of("2", "6");
    for field in ["compare", "budget", "agreement", "sweeps"] {
        assert_ne!(other[field], one[field], "{field}");
    }
}

#[test]
fn pages_fit_eighty_columns() {
    let folder = Folder::new();
    let noise =
        "[noise]\noutlier_rate = 0.2\nreseat = 0.3\ntip_filament = 0.02\nplate_switch = 0.02\ndrift = 2.0\n";
    let noisy = folder.write("machine.toml", format!("{MACHINE}\n{noise}"));
    let hopeless = folder.write("hopeless.toml", format!("{MACHINE}\n[noise]\nplate_switch = 0.5\n"));
    let studied = "[pooled]\ntip = { s = 0.001, dof = 40 }\nshoulder = { s = 0.001, dof = 40 }\nplate = { s = 0.003, dof = 40 }\n";
    let studied = folder.write("studied.toml", format!("{MACHINE}\n{studied}[noise]\nreseat = 0.05\n"));
    for machine in [&[][..], &["-m", &noisy], &["-m", &hopeless], &["-m", &studied]] {
        let run = run(&[&["simulate"], machine, &ALL, &FEW].concat());
        assert_eq!((run.code, run.err.as_str()), (Some(0), ""), "{run:?}");
        for line in run.out.lines().filter(|line| !line.starts_with("machine: ")) {
            assert!(line.width() <= 80, "{} columns: {line}", line.width());
            assert_eq!(line, line.trim_end(), "no blanks at a line's end");
        }
        assert!(!run.out.contains("NaN") && !run.out.contains("inf "), "{}", run.out);
        assert!(!run.out.contains('\u{1b}'), "no colours where nobody sees them");
    }
}

#[test]
fn a_machine_without_a_study_says_what_is_left_out() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let args = [&["--compare", "-m", &machine], &FEW[..]].concat();
    let compare = &document(&args)["compare"];
    let [left] = list(&compare["left_out"]).as_slice() else { panic!("{compare}") };
    assert_eq!(left["method"], "three-touches-1-mean");
    assert!(text(&left["why"]).contains("[pooled]"));
    assert_eq!(list(&compare["methods"]).len(), 9);
    let page = run(&[&["simulate"], &args[..]].concat()).out;
    assert!(page.contains("Left out, three touches, 1 each: a single touch"), "{page}");
}

#[test]
fn a_page_says_what_the_document_says() {
    let args = [&ALL[..], &FEW, &["--seed", "3"]].concat();
    let document = document(&args);
    let page = run(&[&["simulate"], &args[..]].concat()).out;
    let by_hand = &document["compare"]["methods"][0]["situations"][1];
    let um = |field: &str| 1e3 * number(&by_hand[field]);
    let row = format!("{:+.2}±{:.2}", um("mean"), um("mean_standard_error"));
    let sd = format!("{:.2}±{:.2}", um("sd"), um("sd_standard_error"));
    assert!(
        page.lines().any(|line| line.starts_with("by hand") && line.contains(&row) && line.contains(&sd)),
        "{page}"
    );
    let agreement = &document["agreement"];
    assert!(page.contains(&format!("{:.6}", number(&agreement["stated"]["expanded_u"]))));
    assert!(page.contains(&format!("{:.6}", number(&agreement["simulated"]["high"]))));
    // Paragraphs are broken at spaces.
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    for advice in list(&document["budget"]["advice"]) {
        assert!(words(&page).contains(&words(text(advice))), "`{advice}` is missing in:\n{page}");
    }
    let own = format!("{:.2}±", 1e3 * number(&document["sweeps"][0]["points"][4]["sd"]));
    assert!(page.lines().any(|line| line.starts_with(">      5") && line.contains(&own)), "{page}");
}

#[test]
fn too_few_runs_say_nothing_of_the_interval() {
    let args = ["--budget", "--each", "300", "--runs", "19999"];
    assert!(document(&args).get("agreement").is_none());
    let page = run(&[&["simulate"], &args[..]].concat()).out;
    assert!(page.contains("20,000 runs at 95 %"), "{page}");
}

#[test]
fn bad_arguments_do_nothing() {
    for (args, words) in [
        (&["--compare", "--each", "99"][..], &["--each", "99"][..]),
        (&["--compare", "--each", "10000001"], &["--each"]),
        (&["--budget", "--each", "x"], &["--each"]),
        (&["--compare", "--one", "3"], &["--compare", "--one"]),
        (&["--budget", "--trace"], &["--budget", "--trace"]),
        (&["--sweep", "--one", "3"], &["--sweep", "--one"]),
        (&["--compare", "now"], &["now"]),
        (&["--compare", "--machine", "nowhere.toml"], &["nowhere.toml", "cannot be read"]),
    ] {
        assert_refused(&run(&[&["simulate"], args].concat()), words);
        assert_refused(&run(&[&["simulate", "--json"], args].concat()), words);
    }
}

/// Ctrl-C: exit 130 with what was done so far.
#[cfg(unix)]
#[test]
fn an_interrupted_comparison_reports_what_was_done() {
    let args =
        ["simulate", "--json", "--runs", "1000", "--each", "10000000", "--compare", "--budget", "--sweep"];
    let run = super::tool::interrupted(&args, 500);
    assert_eq!(run.code, Some(130));
    let document: Value = serde_json::from_str(&run.out).expect("one document");
    assert_eq!(document["complete"], false);
    assert_eq!(document["runs"], 1_000);
    assert!(list(&document["compare"]["methods"]).len() < 10, "ten million runs a cell take minutes");
}
