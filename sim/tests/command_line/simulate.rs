//! `zdatum simulate`: its document, its pages, what it refuses, and what Ctrl-C does.

use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use super::tool::{Folder, MACHINE, assert_refused, demo, run};

/// The fields of `docs/json.md`, in their order.
const FIELDS: [&str; 18] = [
    "format",
    "complete",
    "runs",
    "seed",
    "accepted",
    "refused",
    "error",
    "within",
    "p_outside",
    "p_outside_standard_error",
    "coverage",
    "coverage_standard_error",
    "touches_mean",
    "touches_standard_error",
    "cycle_s_mean",
    "cycle_s_standard_error",
    "elapsed_s",
    "runs_per_s",
];

pub(super) fn document(args: &[&str]) -> Value {
    let run = run(&[&["simulate", "--json"], args].concat());
    assert_eq!(run.code, Some(0), "{run:?}");
    assert_eq!(run.out.lines().count(), 1, "one document on one line");
    run.json()
}

/// What must not depend on the host's speed.
fn without_times(mut document: Value) -> Value {
    let fields = document.as_object_mut().expect("an object");
    for time in ["elapsed_s", "runs_per_s"] {
        assert!(fields.remove(time).expect("a time").as_f64().expect("a number") > 0.0);
    }
    document
}

fn names(value: &Value) -> Vec<&str> {
    let mut names: Vec<_> = value.as_object().expect("an object").keys().map(String::as_str).collect();
    names.sort_unstable();
    names
}

pub(super) fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn the_document_is_that_of_the_formats() {
    let run = run(&["simulate", "--json", "--runs", "5000", "--seed", "7"]);
    assert_eq!(run.code, Some(0));
    let document = run.json();
    let mut sorted = FIELDS.to_vec();
    sorted.sort_unstable();
    assert_eq!(names(&document), sorted);
    let mut at = 0;
    for field in FIELDS {
        let text = format!("\"{field}\":");
        at += run.out[at..].find(&text).unwrap_or_else(|| panic!("{field} is out of order: {}", run.out));
    }
    assert_eq!(document["format"], 1);
    assert_eq!(document["complete"], true);
    assert_eq!((&document["runs"], &document["seed"]), (&5000.into(), &7.into()));
    let refused = document["refused"].as_object().expect("an object");
    let refused_sum: u64 = refused.values().map(|count| count.as_u64().expect("a count")).sum();
    assert_eq!(document["accepted"].as_u64().expect("a count") + refused_sum, 5000);
    assert!(refused_sum > 0, "the demo's wild touches are seen");

    let error = &document["error"];
    let expected = [
        "max",
        "mean",
        "mean_standard_error",
        "min",
        "quantile_resolution",
        "quantile_standard_errors",
        "quantiles",
        "sd",
        "sd_standard_error",
    ];
    assert_eq!(names(error), expected);
    let quantiles = &error["quantiles"];
    assert_eq!(names(quantiles), ["0.001", "0.025", "0.5", "0.975", "0.999"]);
    let errors = &error["quantile_standard_errors"];
    assert_eq!(names(errors), names(quantiles));
    // 5 in 5,000 are below the first: 5 ± 2.2. About sd·√(p·(1 − p)/n)/density.
    for (name, low, high) in [("0.001", 0.3, 4.0), ("0.025", 0.02, 0.06), ("0.5", 0.01, 0.03)] {
        let relative = number(&errors[name]) / number(&error["sd"]);
        assert!((low / 2.0..high * 2.0).contains(&relative), "{name}: {relative}");
    }
    for (field, share) in [("p_outside", "accepted"), ("coverage", "accepted")] {
        let (p, n) = (number(&document[field]), number(&document[share]));
        let expected = (p * (1.0 - p) / n).sqrt();
        assert!((number(&document[format!("{field}_standard_error")]) / expected - 1.0).abs() < 1e-5);
    }
    assert!((0.001..0.1).contains(&number(&document["touches_standard_error"])), "{document}");
    assert!((0.001..0.1).contains(&number(&document["cycle_s_standard_error"])), "{document}");
    let ordered = [
        &error["min"],
        &quantiles["0.001"],
        &quantiles["0.025"],
        &quantiles["0.5"],
        &quantiles["0.975"],
        &quantiles["0.999"],
        &error["max"],
    ]
    .map(number);
    assert!(ordered.is_sorted(), "{ordered:?}");
    assert!((0.004..0.009).contains(&number(&error["sd"])), "{error}");
    assert!((0.94..0.985).contains(&number(&document["coverage"])), "{document}");
    assert_eq!(number(&document["within"]), 0.02);
    // Lengths carry at least six decimals.
    for field in ["mean", "sd", "min", "max", "0.5", "within"] {
        let (_, rest) = run.out.split_once(&format!("\"{field}\":")).expect("the field");
        let digits = rest.split([',', '}']).next().expect("a value").split_once('.').expect("decimals").1;
        assert!(digits.len() >= 6 && digits.bytes().all(|b| b.is_ascii_digit()), "{field}: {digits}");
    }
}

#[test]
fn the_same_seed_gives_the_same_document_with_any_number_of_threads() {
    let of = |threads: &str, seed: &str| {
        without_times(document(&["--runs", "7000", "--seed", seed, "--threads", threads]))
    };
    let one = of("1", "5");
    for threads in ["2", "3", "7"] {
        assert_eq!(of(threads, "5"), one);
    }
    assert_ne!(of("2", "6")["error"], one["error"]);
    // The demo's machine is what is taken where none is named.
    let named = document(&["--runs", "7000", "--seed", "5", "-m", &demo("machine.toml")]);
    assert_eq!(without_times(named), one);
}

#[test]
fn the_tolerance_sorts_the_errors() {
    let share = |within: &str| {
        let document = document(&["--runs", "3000", "--within", within]);
        (number(&document["within"]), number(&document["p_outside"]))
    };
    assert_eq!(share("100").1, 0.0);
    let (within, outside) = share("0.006");
    assert_eq!(within, 0.006);
    assert!((0.2..0.5).contains(&outside), "{outside}");
    assert!(share("0.0001").1 > 0.95);
}

#[test]
fn one_run_is_the_campaigns() {
    for seed in ["1", "99"] {
        let campaign = document(&["--runs", "1", "--seed", seed]);
        let one = run(&["simulate", "--one", "0", "--json", "--seed", seed]);
        assert_eq!(one.code, Some(0));
        let one = one.json();
        assert_eq!(one["error"], campaign["error"]["min"]);
        assert_eq!(one["error"], campaign["error"]["max"]);
        assert_eq!(number(&one["touches"]), number(&campaign["touches_mean"]));
        assert!((number(&one["cycle_s"]) - number(&campaign["cycle_s_mean"])).abs() < 0.001);
        assert_eq!((&one["format"], &one["run"], &one["verdict"]), (&1.into(), &0.into(), &"accept".into()));
        assert_eq!((number(&one["within"]), &one["outside"]), (0.02, &false.into()));
        let tight = run(&["simulate", "--one", "0", "--json", "--seed", seed, "--within", "0.00001"]).json();
        assert_eq!((number(&tight["within"]), &tight["outside"]), (0.000_01, &true.into()));
    }
}

#[test]
fn a_trace_has_one_object_a_line() {
    let trace = run(&["simulate", "--one", "17", "--trace", "--json"]);
    assert_eq!((trace.code, trace.err.as_str()), (Some(0), ""));
    let lines: Vec<Value> =
        trace.out.lines().map(|line| serde_json::from_str(line).expect("an object")).collect();
    let (last, steps) = lines.split_last().expect("lines");
    let fields = ["answered", "asked", "carriage", "format", "reported", "request", "seconds", "true_height"];
    let (mut seconds, mut touches) = (0.0, 0);
    for step in steps {
        assert_eq!(names(step), fields);
        assert_eq!(step["format"], 1);
        assert!(number(&step["seconds"]) >= seconds, "time goes on");
        seconds = number(&step["seconds"]);
        if step["request"] == "approach" {
            touches += 1;
            // Noise, latency and a step: some hundredths of a mm.
            assert!((number(&step["reported"]) - number(&step["true_height"])).abs() < 0.04, "{step}");
            assert!(number(&step["carriage"]) < number(&step["reported"]), "it stops below the edge");
        } else {
            assert_eq!((&step["reported"], &step["true_height"]), (&Value::Null, &Value::Null));
        }
    }
    assert_eq!(steps[0]["request"], "find probe");
    assert_eq!(touches, last["touches"].as_u64().expect("a count"));
    // The page has the same true heights: of the carriage on every line, of the switch where one was met.
    let page = run(&["simulate", "--one", "17", "--trace"]);
    for (line, step) in page.out.lines().skip(2).zip(steps) {
        let columns: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(columns[1], format!("{:.4}", number(&step["carriage"])));
        let met = step["true_height"].as_f64().map(|height| format!("{height:.4}"));
        assert_eq!(met.is_some().then_some(columns[2]), met.as_deref(), "{line}");
    }
    // Traced or not, it is the same run.
    let plain = run(&["simulate", "--one", "17", "--json"]);
    assert_eq!(plain.json(), *last);
    assert_eq!(
        run(&["simulate", "--trace", "--json"]).out,
        run(&["simulate", "--trace", "--one", "0", "--json"]).out
    );
}

/// The formats' machine with its study, which has this in its `[noise]`.
pub(super) fn machine(folder: &Folder, noise: &str) -> String {
    folder.write("machine.toml", format!("{MACHINE}\n[noise]\n{noise}\n"))
}

#[test]
fn a_refused_run_says_so() {
    let folder = Folder::new();
    let machine = machine(&folder, "plate_switch = 0.1");
    let one = run(&["simulate", "-m", &machine, "--one", "3", "--json"]);
    assert_eq!(one.code, Some(1), "{one:?}");
    let last = one.json();
    assert_eq!((&last["verdict"], &last["refused"]), (&"refuse".into(), &"unsteady".into()));
    assert_eq!((&last["error"], &last["expanded_u"]), (&Value::Null, &Value::Null));

    // A campaign is done whatever its runs came to.
    let document = document(&["-m", &machine, "--runs", "500"]);
    assert_eq!((&document["accepted"], &document["refused"]["unsteady"]), (&0.into(), &500.into()));
    for field in ["error", "p_outside", "coverage"] {
        assert_eq!(document[field], Value::Null, "{field}");
    }
    let page = run(&["simulate", "-m", &machine, "--runs", "500"]);
    assert_eq!(page.code, Some(0));
    assert!(page.out.contains("Fewer than two cycles were accepted"), "{}", page.out);
    let all = "Refused: all of 500 cycles (at 95 %: above 99.403 %), by their first reason:";
    assert!(page.out.contains(all), "{}", page.out);
}

#[test]
fn a_machine_without_noise_has_the_sizes_of_common_practice() {
    let folder = Folder::new();
    let file = folder.write("machine.toml", MACHINE);
    let document = document(&["-m", &file, "--runs", "500"]);
    assert!(number(&document["error"]["sd"]) > 0.003, "{document}");
    // A person is told whose figures they are.
    let told = run(&["simulate", "-m", &file, "--runs", "500"]).err;
    assert!(told.starts_with("no [noise] in ") && told.contains("common practice"), "{told}");
}

#[test]
fn pages_stay_within_a_hundred_columns() {
    let folder = Folder::new();
    let noisy = machine(&folder, "outlier_rate = 0.2\nreseat = 0.3\ntip_filament = 0.02");
    let pages: [&[&str]; 7] = [
        &["--runs", "20000"],
        &["--runs", "2"],
        &["--runs", "1"],
        &["--runs", "3000", "-m", &noisy],
        &["--one", "17", "--trace"],
        &["--one", "999999999999", "--seed", "18446744073709551615"],
        &["--one", "0", "--trace", "-m", &noisy],
    ];
    for args in pages {
        let run = run(&[&["simulate"], args].concat());
        assert_eq!(run.err, "");
        assert!(!run.out.is_empty());
        for line in run.out.lines().filter(|line| !line.starts_with("machine: ")) {
            assert!(line.width() <= 100, "{} columns: {line}", line.width());
        }
        assert!(!run.out.contains("NaN") && !run.out.contains("inf "), "{}", run.out);
        assert!(!run.out.contains('\u{1b}'), "no colours where nobody sees them");
    }
}

/// A number with its standard error to two digits.
fn with_error(value: &serde_json::Value, error: &serde_json::Value) -> String {
    let (value, error) = (number(value), number(error));
    let places = (1.0 - error.log10().floor()) as usize;
    format!("{value:.places$} ± {error:.places$}")
}

#[test]
fn a_page_says_what_the_document_says() {
    let page = run(&["simulate", "--runs", "4000", "--seed", "3"]).out;
    let document = document(&["--runs", "4000", "--seed", "3"]);
    let error = &document["error"];
    for text in [
        "over 4,000 cycles, seed 3".into(),
        format!(
            "mean         {:+.6} ± {:.6} mm",
            number(&error["mean"]),
            number(&error["mean_standard_error"])
        ),
        format!("sd            {:.6} ± {:.6} mm", number(&error["sd"]), number(&error["sd_standard_error"])),
        format!(
            "held the true landing in {:.3} % ± {:.3} % of accepted",
            100.0 * number(&document["coverage"]),
            100.0 * number(&document["coverage_standard_error"])
        ),
        format!("Beyond ±0.02 mm: {:.3} % ±", 100.0 * number(&document["p_outside"])),
        format!(
            "A cycle takes {} touches and {} s",
            with_error(&document["touches_mean"], &document["touches_standard_error"]),
            with_error(&document["cycle_s_mean"], &document["cycle_s_standard_error"])
        ),
        format!(
            "95 %         between {:+.5} ± {:.5} and {:+.5} ± {:.5} mm",
            number(&error["quantiles"]["0.025"]),
            number(&error["quantile_standard_errors"]["0.025"]),
            number(&error["quantiles"]["0.975"]),
            number(&error["quantile_standard_errors"]["0.975"])
        ),
    ] {
        assert!(page.contains(&text), "`{text}` is missing in:\n{page}");
    }
    for (word, count) in document["refused"].as_object().expect("an object") {
        let line = page.lines().find(|line| line.contains(word.as_str())).expect("a line for each refusal");
        assert!(line.contains(&count.to_string()), "{line}");
    }
}

#[test]
fn bad_arguments_do_nothing() {
    for (args, words) in [
        (&["--runs", "0"][..], &["--runs", "0"][..]),
        (&["--runs", "1e6"], &["--runs", "1e6"]),
        (&["--runs", "1000000000001"], &["--runs"]),
        (&["--runs=-5"], &["--runs", "-5"]),
        (&["--runs", "-1"], &["--runs", "invalid value '-1'"]),
        (&["--seed=-1"], &["--seed"]),
        (&["--seed", "-1"], &["--seed", "invalid value '-1'"]),
        (&["--threads", "-1"], &["--threads", "invalid value '-1'"]),
        (&["--one", "-1"], &["--one", "invalid value '-1'"]),
        (&["--within", "-0.02"], &["--within", "invalid value '-0.02'", "0.00001 mm or more"]),
        (&["--within", "0.0000001"], &["--within", "0.00001 mm or more"]),
        (&["--one", "10", "--runs", "10"], &["--one 10", "10 runs", "--one 9"]),
        (&["--trace", "--one", "7", "--runs", "1"], &["--one 7", "1 runs", "--one 0"]),
        (&["--seed", "18446744073709551616"], &["--seed"]),
        (&["--threads", "0"], &["--threads"]),
        (&["--threads", "1025"], &["--threads"]),
        (&["--within", "0"], &["--within", "0.00001 mm or more"]),
        (&["--within=-0.01"], &["--within", "0.00001 mm or more"]),
        (&["--within", "nan"], &["--within"]),
        (&["--within", "40000"], &["--within"]),
        (&["--one=-1"], &["--one"]),
        (&["--one", "x"], &["--one"]),
        (&["--wthin", "0.02"], &["--wthin"]),
        (&["machine.toml"], &["machine.toml"]),
        (&["--machine", "nowhere.toml"], &["nowhere.toml", "cannot be read"]),
        (&["--machine", "nowhere.toml", "--one", "0"], &["nowhere.toml", "cannot be read"]),
    ] {
        assert_refused(&run(&[&["simulate"], args].concat()), words);
        assert_refused(&run(&[&["simulate", "--json"], args].concat()), words);
    }
}

#[test]
fn bad_machine_files_do_nothing() {
    let refused = |content: &str, words: &[&str]| {
        let folder = Folder::new();
        let file = folder.write("machine.toml", content);
        for rest in [&["--runs", "10"][..], &["--runs", "10", "--json"], &["--one", "0", "--trace"]] {
            assert_refused(&run(&[&["simulate", "-m", &file], rest].concat()), words);
        }
        assert_eq!(folder.names(), ["machine.toml"]);
    };
    refused("[travel", &["machine.toml:1:"]);
    refused("", &["machine.toml", "[travel]"]);
    refused(&MACHINE.replace("overtravel = 2.0", "overtravel = 0.2"), &["machine.toml:", "overtravel"]);
    for (noise, words) in [
        ("tip_switch = -0.001", &["`noise.tip_switch`", "0 to 1000"][..]),
        ("tip_switch = \"1\"", &["`noise.tip_switch`"]),
        ("outlier_rate = 1.5", &["`noise.outlier_rate`", "0 to 1"]),
        ("tip_squash = -0.1", &["`noise.tip_squash`", "0 to 1"]),
        ("drift_tau_s = 0.0", &["`noise.drift_tau_s`"]),
        ("latency_jitter_s = 1.0", &["`noise.latency_jitter_s`", "0.1 s"]),
        ("reseat = nan", &["`noise.reseat`"]),
        ("print_delay_s = inf", &["`noise.print_delay_s`"]),
        ("outlier_rat = 0.1", &["`noise.outlier_rat`", "`outlier_rate`"]),
    ] {
        let content = format!("{MACHINE}\n[noise]\n{noise}\n");
        let line = format!("machine.toml:{}:", content.lines().count());
        refused(&content, &[words, &[line.as_str()]].concat());
    }
}

#[test]
fn threads_without_end_give_the_same_bits() {
    let few = document(&["--runs", "4000", "--threads", "2"]);
    let many = document(&["--runs", "4000", "--threads", "1024"]);
    assert_eq!(without_times(few), without_times(many));
}

/// Ctrl-C: exit 130 with what was done so far.
#[cfg(unix)]
#[test]
fn an_interrupted_campaign_reports_what_was_done() {
    for json in [true, false] {
        let mut args = vec!["simulate", "--runs", "1000000000000", "--threads", "2"];
        args.extend(json.then_some("--json"));
        let run = super::tool::interrupted(&args, 300);
        assert_eq!((run.code, run.err.as_str()), (Some(130), ""));
        let out = run.out;
        if json {
            let document: Value = serde_json::from_str(&out).expect("one document");
            assert_eq!(document["complete"], false);
            let runs = document["runs"].as_u64().expect("a count");
            assert!(runs > 0 && runs < 1_000_000_000_000, "{runs}");
            assert!(number(&document["error"]["sd"]) > 0.0);
            assert_eq!(names(&document).len(), FIELDS.len());
        } else {
            assert!(out.contains("Interrupted: 1,000,000,000,000 were asked for"), "{out}");
            assert!(out.contains("First-layer error over "), "{out}");
        }
    }
}
