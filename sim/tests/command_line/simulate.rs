//! `zdatum simulate`: its document, its pages, what it refuses, and what Ctrl-C does.

use serde_json::Value;
use unicode_width::UnicodeWidthStr;

use super::tool::{Folder, MACHINE, assert_refused, demo, run};

/// The fields of `docs/formats.md`, in their order.
const FIELDS: [&str; 14] = [
    "format",
    "complete",
    "runs",
    "seed",
    "accepted",
    "refused",
    "error",
    "within",
    "p_outside",
    "coverage",
    "touches_mean",
    "cycle_s_mean",
    "elapsed_s",
    "runs_per_s",
];

fn document(args: &[&str]) -> Value {
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

fn number(value: &Value) -> f64 {
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
        "quantiles",
        "sd",
        "sd_standard_error",
    ];
    assert_eq!(names(error), expected);
    let quantiles = &error["quantiles"];
    assert_eq!(names(quantiles), ["0.001", "0.025", "0.5", "0.975", "0.999"]);
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
    }
}

#[test]
fn a_trace_has_one_object_a_line() {
    let trace = run(&["simulate", "--one", "17", "--trace", "--json"]);
    assert_eq!((trace.code, trace.err.as_str()), (Some(0), ""));
    let lines: Vec<Value> =
        trace.out.lines().map(|line| serde_json::from_str(line).expect("an object")).collect();
    let (last, steps) = lines.split_last().expect("lines");
    let fields = ["answered", "asked", "carriage", "reported", "request", "seconds", "true_height"];
    let (mut seconds, mut touches) = (0.0, 0);
    for step in steps {
        assert_eq!(names(step), fields);
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
    // Traced or not, it is the same run.
    let plain = run(&["simulate", "--one", "17", "--json"]);
    assert_eq!(plain.json(), *last);
    assert_eq!(
        run(&["simulate", "--trace", "--json"]).out,
        run(&["simulate", "--trace", "--one", "0", "--json"]).out
    );
}

/// The formats' machine with its study, which has this in its `[noise]`.
fn machine(folder: &Folder, noise: &str) -> String {
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
    assert!(page.out.contains("Refused: 100.000 %"), "{}", page.out);
}

#[test]
fn a_machine_without_noise_has_the_sizes_of_common_practice() {
    let folder = Folder::new();
    let file = folder.write("machine.toml", MACHINE);
    let document = document(&["-m", &file, "--runs", "500"]);
    assert!(number(&document["error"]["sd"]) > 0.003, "{document}");
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
        format!("held the true landing in {:.3} %", 100.0 * number(&document["coverage"])),
        format!("Beyond ±0.020 mm: {:.3} %", 100.0 * number(&document["p_outside"])),
        format!("A cycle takes {:.1} touches", number(&document["touches_mean"])),
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
        (&["--seed=-1"], &["--seed"]),
        (&["--seed", "18446744073709551616"], &["--seed"]),
        (&["--threads", "0"], &["--threads"]),
        (&["--threads", "1025"], &["--threads"]),
        (&["--within", "0"], &["--within", "above 0"]),
        (&["--within=-0.01"], &["--within", "above 0"]),
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

/// Ctrl-C: exit 130 with what was done so far.
#[cfg(unix)]
#[test]
fn an_interrupted_campaign_reports_what_was_done() {
    use super::tool::tool;
    use std::process::{Command, Stdio};
    use std::time::Duration;

    for json in [true, false] {
        let mut args = vec!["simulate", "--runs", "1000000000000", "--threads", "2"];
        args.extend(json.then_some("--json"));
        // Until its handler stands, Ctrl-C simply ends the program: on a busy host that may take a while.
        let output = [300, 2_000, 10_000].into_iter().find_map(|milliseconds| {
            let child = tool()
                .args(&args)
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .expect("the tool runs");
            std::thread::sleep(Duration::from_millis(milliseconds));
            let kill = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
            assert!(kill.expect("kill").success());
            let output = child.wait_with_output().expect("it ends");
            output.status.code().is_some().then_some(output)
        });
        let output = output.expect("a handler within ten seconds");
        assert_eq!(output.status.code(), Some(130));
        assert_eq!(String::from_utf8_lossy(&output.stderr), "");
        let out = String::from_utf8(output.stdout).expect("UTF-8");
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
