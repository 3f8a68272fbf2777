//! `study`: the contract of its JSON, every kind of bad log, and a machine file that is written whole or not
//! at all.

use serde_json::Value;

use super::tool::{Folder, LOG, MACHINE, Run, assert_refused, demo, run, run_with};

fn study(log: &str, args: &[&str]) -> Run {
    run_with(&[&["study", "-"], args].concat(), log)
}

fn json(log: &str) -> Value {
    study(log, &["--json"]).json()
}

#[track_caller]
fn near(value: &Value, expected: f64) {
    let found = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((found - expected).abs() <= 1e-12 * expected.abs(), "{found} is not {expected}");
}

/// Three runs of three touches at one station, and one wild touch of twelve.
const RUNS: &str = "\
# a comment
run,station,kind,z,time_s
a,plate,first,9,0
a,plate,,1.1,1
a,plate,,1.2,2
a,plate,,1.3,3
b,plate,,1.3,4
b,plate,,1.5,5
b,plate,,1.4,6
";

#[test]
fn the_fields_of_the_contract() {
    let document = json(RUNS);
    assert_eq!(document["format"], 1);
    let series = document["series"].as_array().expect("series");
    assert_eq!(series.len(), 2);
    let one = &series[0];
    assert_eq!((&one["run"], &one["station"], &one["n"]), (&"a".into(), &"plate".into(), &3.into()));
    near(&one["mean"], 1.2);
    near(&one["s"], 0.1);
    near(&one["median"], 1.2);
    near(&one["spread"], 0.2);
    near(&one["lag1"], 0.0);
    near(&one["von_neumann"], 1.0);
    near(&series[1]["von_neumann"], (0.04 + 0.01) / 0.02);
    assert_eq!((&one["outliers"], &one["normality"]), (&Value::Array(vec![]), &Value::Null));
    // Means 1.2 and 1.4: SS between 6·0.1², within 2·0.02.
    let anova = &document["anova"]["plate"];
    near(&anova["ss_between"], 0.06);
    near(&anova["ss_within"], 0.04);
    assert_eq!((&anova["df_between"], &anova["df_within"]), (&1.into(), &4.into()));
    near(&anova["f"], 6.0);
    near(&anova["s_r"], 0.1);
    near(&anova["s_run"], ((0.06 - 0.01) / 3.0_f64).sqrt());
    near(&anova["s_intermediate"], (0.01 + 0.05 / 3.0_f64).sqrt());
    // F(1, 4) = 6 is t = √6 at ν = 4, whose tail is closed: ½ − ¾·x + ¼·x³ with x = t/√(4 + t²).
    let x = (6.0_f64 / 10.0).sqrt();
    near(&anova["p"], 1.0 - 1.5 * x + 0.5 * x.powi(3));
    near(&document["pooled"]["plate"]["s"], 0.1);
    assert_eq!(document["pooled"]["plate"]["dof"], 4);
    assert!(document.get("latency").is_none() && document.get("capability").is_none());
}

#[test]
fn an_outlier_is_placed() {
    let wild = "0.1 0.3 -0.2 0.0 0.2 -0.1 9.520 0.1 -0.3 0.2 -0.1 0.0";
    let rows: String = wild.split(' ').map(|z| format!("tip,{z}\n")).collect();
    let document = json(&format!("station,z\n{rows}"));
    let outliers = document["series"][0]["outliers"].as_array().expect("outliers");
    assert_eq!(outliers.len(), 1);
    assert_eq!((&outliers[0]["index"], &outliers[0]["line"]), (&6.into(), &8.into()));
    near(&outliers[0]["z"], 9.52);
    assert!(outliers[0]["r"].as_f64() > outliers[0]["critical"].as_f64());
    assert!(document["notes"][0].as_str().is_some_and(|note| note.contains("9.52 on line 8")), "{document}");
    assert_eq!(
        (&document["anova"], &document["series"][0]["run"]),
        (&Value::Object(Default::default()), &"1".into())
    );
}

/// NIST's SmLs07 by its rule: 10¹² and a noise of 0.1, through the command line.
#[test]
fn a_trillion_and_a_tenth() {
    let treatments = [4, 3, 5, 3, 5, 3, 5, 3, 5].iter().enumerate();
    let rows: String = treatments
        .flat_map(|(run, tenth)| {
            let height = move |i: i32| match i {
                0 => *tenth,
                i if i % 2 == 1 => tenth - 1,
                _ => tenth + 1,
            };
            (0..21).map(move |i| format!("{run},tip,1000000000000.{}\n", height(i)))
        })
        .collect();
    let document = json(&format!("run,station,z\n{rows}"));
    near(&document["anova"]["tip"]["f"], 21.0);
    near(&document["anova"]["tip"]["ss_between"], 1.68);
    near(&document["series"][0]["s"], 0.1);
    near(&document["series"][0]["mean"], 1_000_000_000_000.4);
    assert!(study(&format!("run,station,z\n{rows}"), &[]).out.contains("1000000000000.4000"));
}

#[test]
fn any_unit_length_and_station() {
    for log in [
        "station,z\nplate,1e-20\nplate,2e-20\n",
        "station,z\nplate,-7.9e28\nplate,7.9e28\n",
        "station,z\ntip,3\n",
        "z,station\n5,shoulder\n5,shoulder\n5,shoulder\n",
        "station,z,speed\ntip,0,1e-300\ntip,1,1e300\ntip,2,1\n",
        LOG,
    ] {
        let run = study(log, &["--within", "0.02"]);
        assert!(run.code.is_some_and(|code| code < 2) && run.err.is_empty(), "{log}: {run:?}");
        let json = study(log, &["--json"]);
        assert_eq!(json.code, Some(0), "{log}: {json:?}");
        assert_eq!(json.json()["format"], 1);
    }
    let many: String = (0..100_000).map(|i| format!("tip,{}\n", i * 7919 % 1000)).collect();
    assert_eq!(json(&format!("station,z\n{many}"))["series"][0]["n"], 100_000);
}

#[test]
fn bad_logs_are_refused() {
    let folder = Folder::new();
    let refused = |log: &[u8], words: &[&str]| {
        let log = folder.write("touches.csv", log);
        for json in [&[][..], &["--json"]] {
            assert_refused(&run(&[&["study", &log], json].concat()), words);
        }
    };
    let row = |cells: &str| format!("station,z,speed,tool_c,time_s,counted\n{cells}\n");
    for (cells, words) in [
        ("tip,nan,,,,", ["touches.csv:2:5", "`z`", "decimal number"]),
        ("tip,inf,,,,", ["touches.csv:2:5", "`z`", "decimal number"]),
        ("tip,0.5mm,,,,", ["touches.csv:2:5", "`z`", "decimal number"]),
        ("tip,1_000,,,,", ["touches.csv:2:5", "`z`", "decimal number"]),
        ("tip,1e29,,,,", ["touches.csv:2:5", "`z`", "7.9·10^28"]),
        ("tip,1e999,,,,", ["touches.csv:2:5", "`z`", "finite"]),
        ("tip,1,0,,,", ["touches.csv:2:7", "`speed`", "above zero"]),
        ("tip,1,-2,,,", ["touches.csv:2:7", "`speed`", "above zero"]),
        ("tip,1,inf,,,", ["touches.csv:2:7", "`speed`", "decimal number"]),
        ("tip,1,2,hot,,", ["touches.csv:2:9", "`tool_c`", "decimal number"]),
        ("tip,1,2,20,nan,", ["touches.csv:2:12", "`time_s`", "decimal number"]),
        ("tip,1,2,20,3,no", ["touches.csv:2:1", "no touch in the log counts", "counted"]),
        ("nose,1,2,20,3,", ["touches.csv:2:1", "`nose`", "tip, shoulder, plate"]),
    ] {
        refused(row(cells).as_bytes(), &words);
    }
    refused(b"", &["touches.csv:1:1", "empty"]);
    refused(b"station,z\n", &["touches.csv:2:1", "no touch"]);
    refused(b"station,z\ntip,\n", &["touches.csv:2:5", "`z`", "empty"]);
    refused(b"station,z\ntip,1,2\n", &["touches.csv:2:1", "3 cells"]);
    refused(b"station,height\ntip,1\n", &["touches.csv:1:9", "`height`"]);
    refused(b"station,z\ntip,\xff\n", &["touches.csv:2:5", "not UTF-8"]);
    refused(b"station,z\n\"tip,1\n", &["touches.csv:2:1", "never closed"]);
    refused(b"station,z,run\ntip,1,a\x1bb\n", &["touches.csv:2:7", "control character", "\\u{1b}"]);
    refused(b"station,z,time_s\ntip,1,3\ntip,1,2.5\n", &["touches.csv:3:7", "line 2", "line 3", "2.5"]);
    refused(b"station,z,plate\ntip,1,slate\ntip,1,copper\n", &["touches.csv:3:7", "two plates", "`copper`"]);
    // A touch that does not count is read all the same.
    refused(b"station,z,counted\ntip,x,no\ntip,1,yes\n", &["touches.csv:2:5", "`z`"]);
    let path = folder.path("nowhere.csv");
    assert_refused(&run(&["study", path.to_str().expect("UTF-8")]), &["nowhere.csv", "cannot be read"]);
}

#[test]
fn bad_arguments() {
    for args in [
        &[][..],
        &["-", "--within"],
        &["-", "--within", "0"],
        &["-", "--within", "-0.02"],
        &["-", "--within", "nan"],
        &["-", "--within", "1e9"],
        &["-", "--touches", "0"],
        &["-", "--touches", "65"],
        &["-", "--write"],
        &["-", "-m", "nowhere.toml"],
        &["-", "--loud"],
    ] {
        let run = run_with(&[&["study"], args].concat(), LOG);
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{args:?}");
        assert_eq!(run.err.matches("error: ").count(), 1, "{args:?}: {}", run.err);
    }
}

#[test]
fn a_tolerance_is_a_verdict() {
    let log = std::fs::read_to_string(demo("study.csv")).expect("the demo");
    let good = study(&log, &["--within", "0.020"]);
    assert_eq!(good.code, Some(0));
    assert!(good.out.contains("Good enough for ±0.02 mm."), "{}", good.out);
    assert!(good.out.contains("The worst part is the plate touches"), "{}", good.out);
    let bad = study(&log, &["--within", "0.005"]);
    assert_eq!(bad.code, Some(1));
    assert!(
        bad.out.contains("Not good enough") && bad.out.contains("touches per station would be enough"),
        "{}",
        bad.out
    );
    // U = 2·√(Σs²/n) of the pooled s; more touches make it smaller.
    let document = study(&log, &["--within", "0.005", "--touches", "9", "--json"]).json();
    let pooled = |station: &str| document["pooled"][station]["s"].as_f64().expect("s").powi(2);
    let expanded = 2.0 * ((pooled("tip") + pooled("shoulder") + pooled("plate")) / 9.0).sqrt();
    near(&document["capability"]["expanded_u"], expanded);
    near(&document["capability"]["share"], expanded / 0.005);
    let enough = document["capability"]["enough"].as_u64().expect("a number").to_string();
    assert_eq!(study(&log, &["--within", "0.005", "--touches", &enough]).code, Some(0));
    // The station's steps are a floor that no number of touches goes below.
    let machine = demo("machine.toml");
    let floored = study(&log, &["--within", "0.005", "--touches", "64", "-m", &machine, "--json"]).json();
    let step2 = (3.0_f64 / 1600.0).powi(2) / 12.0;
    near(&floored["capability"]["expanded_u"], 2.0 * (3.0 * step2).sqrt());
    // Where not even the most touches do: what they leave, the limit, and what would do, which then is
    // enough.
    let least = 2.0 * (3.0 * step2).sqrt();
    let never = study(&log, &["--within", "0.005", "-m", &machine]).words();
    let leaves = format!("leave U = {:.4}", least - 5e-5);
    assert!(never.contains(&format!("{:.0} % of the tolerance: the motor steps", least / 5e-5)), "{never}");
    assert!(never.contains("Even 64 touches per station"), "{never}");
    assert!(never.contains(&leaves) && never.contains("the motor steps alone"), "{never}");
    let would =
        never.split("a tolerance of ±").nth(1).and_then(|rest| rest.split(' ').next()).expect("a tolerance");
    assert_eq!(study(&log, &["--within", would, "--touches", "64", "-m", &machine]).code, Some(0));
    let noisy = study(&log, &["--within", "0.0005"]).words();
    assert!(noisy.contains("Even 64 touches") && noisy.contains("better switches"), "{noisy}");
    // One station: said as far as it goes.
    let tip: String = log
        .lines()
        .filter(|line| line.contains("tip") || line.contains("run,"))
        .map(|l| format!("{l}\n"))
        .collect();
    let part = study(&tip, &["--within", "0.020"]);
    assert!(
        part.out.contains("as far as the log tells") && part.out.contains("nothing of shoulder and plate")
    );
}

#[test]
fn latency_is_offered_where_speeds_take_turns() {
    let log = std::fs::read_to_string(demo("study.csv")).expect("the demo");
    let document = json(&log);
    // True in the world that recorded it: 0.603 ms and 0.964 ms.
    for (switch, truth) in [("datum_switch", 0.000603), ("plate_switch", 0.000964)] {
        let found = &document["latency"][switch];
        let (tau, u) = (found["latency_s"].as_f64().expect("τ"), found["latency_u_s"].as_f64().expect("u"));
        assert!((tau - truth).abs() < 2.0 * u && u < 0.0002, "{switch}: {tau} ± {u}");
        assert_eq!((&found["interleaved"], &found["offered"]), (&true.into(), &true.into()));
    }
    assert!(study(&log, &[]).out.contains("latency_u_s = 0.0000"));
    // The same touches in blocks: not offered, and said why.
    let mut rows: Vec<&str> = log.lines().filter(|line| line.contains("tip")).collect();
    let speed = |row: &str| row.rsplit(',').next().map(str::to_owned);
    rows.sort_by_key(|row| (row.split(',').next().map(str::to_owned), speed(row)));
    let blocks: String = rows
        .iter()
        .map(|row| {
            row.split(',')
                .enumerate()
                .filter(|(i, _)| *i != 3)
                .map(|(_, cell)| cell)
                .collect::<Vec<_>>()
                .join(",")
                + "\n"
        })
        .collect();
    let blocks = format!("run,station,z,speed\n{blocks}");
    let document = json(&blocks);
    assert_eq!(document["latency"]["datum_switch"]["offered"], false, "{document}");
    let page = study(&blocks, &[]).out;
    assert!(page.contains("not interleaved") && !page.contains("latency_s"), "{page}");
    // Pooled over runs at one speed: the residual about the slope, with one degree of freedom less.
    assert_eq!(document["pooled"]["tip"]["dof"], 72 - 6 - 1);
}

#[test]
fn seating_is_told_from_switch_noise() {
    let document = json(&std::fs::read_to_string(demo("study.csv")).expect("the demo"));
    let seating = &document["seating"];
    let number = |key: &str| seating[key].as_f64().expect("a number");
    // The demo's machine seats to 0.018.
    assert!(number("beyond_low") < 0.018 && 0.018 < number("beyond_high"), "{seating}");
    assert!(number("p") < 1e-6 && number("switches") < 0.001 && document["span"]["p"].as_f64() > Some(0.01));
}

#[test]
fn writing_keeps_every_other_byte() {
    let folder = Folder::new();
    let log = demo("study.csv");
    let lines = |run: &Run| -> Vec<String> {
        let pasted = run.out.lines().skip_while(|line| line.trim() != "[pooled]").skip(1).take(3);
        pasted.map(|line| line.trim().to_owned()).collect()
    };
    // No [pooled] yet: a table of its own at the end.
    let machine = folder.write("new.toml", MACHINE);
    let shown = run(&["study", &log, "-m", &machine]);
    assert_eq!((shown.code, folder.read("new.toml").as_str()), (Some(0), MACHINE));
    let written = run(&["study", &log, "-m", &machine, "--write"]);
    assert_eq!((written.code, lines(&written)), (Some(0), lines(&shown)));
    let after = folder.read("new.toml");
    let added = after.strip_prefix(MACHINE).expect("the old file");
    assert_eq!(
        added.lines().filter(|line| !line.is_empty() && !line.starts_with('#')).collect::<Vec<_>>(),
        {
            let mut lines: Vec<_> = lines(&shown);
            lines.insert(0, "[pooled]".into());
            lines
        }
    );
    assert_eq!(run(&["setup", &machine]).code, Some(0));
    // Twice is as once.
    assert_eq!(run(&["study", &log, "-m", &machine, "--write"]).code, Some(0));
    assert_eq!(folder.read("new.toml"), after);

    // The demo's own, with its comments; and with a mark and other line ends.
    let before = std::fs::read_to_string(demo("machine.toml")).expect("the demo");
    for (name, text) in
        [("lf.toml", before.clone()), ("crlf.toml", format!("\u{feff}{}", before.replace('\n', "\r\n")))]
    {
        let machine = folder.write(name, &text);
        assert_eq!(run(&["study", &log, "-m", &machine, "--write", "--json"]).json()["written"], true);
        let after = folder.read(name);
        let changed: Vec<_> = text.lines().zip(after.lines()).filter(|(old, new)| old != new).collect();
        assert_eq!(changed.len(), 3, "{changed:?}");
        for ((_, new), line) in changed.iter().zip(lines(&shown)) {
            assert_eq!(*new, line);
        }
        assert_eq!(
            (text.lines().count(), text.matches('\r').count()),
            (after.lines().count(), after.matches('\r').count())
        );
    }
    assert_eq!(folder.names(), ["crlf.toml", "lf.toml", "new.toml"]);
}

#[test]
fn other_layouts_of_pooled_are_understood() {
    let folder = Folder::new();
    for pooled in [
        "\n[pooled]\n# only one\nplate = { s = 0.0026, dof = 48 } # old\n",
        "\n[pooled.plate]\ns = 0.0026 # old\ndof = 48\n",
        "\n[pooled]\nplate.s = 0.0026\nplate.dof = 48\n",
        "\n [ pooled ] # here",
    ] {
        let machine = folder.write("machine.toml", format!("{MACHINE}{pooled}"));
        let run = run(&["study", &demo("study.csv"), "-m", &machine, "--write"]);
        if run.code == Some(2) {
            // A layout that cannot be written is left alone, and said so.
            assert_refused(&run, &["machine.toml", "nothing was written"]);
            assert_eq!(folder.read("machine.toml"), format!("{MACHINE}{pooled}"));
            assert!(pooled.contains("[pooled.plate]"), "{pooled}");
            continue;
        }
        assert_eq!(run.code, Some(0), "{pooled}: {}", run.err);
        let after = folder.read("machine.toml");
        for old in ["# only one", "# old", "# here"].iter().filter(|old| pooled.contains(**old)) {
            assert!(after.contains(old), "{after}");
        }
        assert!(!after.contains("48"), "{after}");
    }
}

#[test]
fn what_cannot_be_written_is_not() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let refused = |log: &str, words: &[&str]| {
        let log = folder.write("touches.csv", log);
        assert_refused(&run(&["study", &log, "-m", &machine, "--write"]), words);
        assert_eq!(folder.read("machine.toml"), MACHINE);
    };
    refused("station,z\ntip,1\ntip,2\nplate,1\n", &["`plate`", "single touch"]);
    refused("station,z\ntip,100\ntip,200\n", &["`tip`", "4 mm", "unit"]);
    let log = demo("study.csv");
    let mut permissions = std::fs::metadata(&machine).expect("a file").permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&machine, permissions).expect("permissions");
    assert_refused(&run(&["study", &log, "-m", &machine, "--write"]), &["machine.toml", "read-only"]);
    assert_eq!(folder.read("machine.toml"), MACHINE);
    assert!(folder.names().iter().all(|name| ["machine.toml", "touches.csv"].contains(&name.as_str())));
}

#[test]
fn the_page_fits_a_narrow_terminal_and_a_pipe() {
    let run = run(&["study", &demo("study.csv"), "--within", "0.020"]);
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""));
    for line in run.out.lines() {
        assert!(line.chars().count() <= 78, "{line}");
        assert!(!line.contains('\u{1b}'), "{line}");
    }
    assert!(run.out.starts_with("Study of 216 touches: 6 runs at tip, shoulder and plate\n"), "{}", run.out);
}

#[test]
fn names_are_shown_as_text() {
    let rows = |run: &str| (0..4).map(|i| format!("\"{run}\",tip,0.{i}\n")).collect::<String>();
    let log = format!("run,station,z\n{}{}", rows("a\u{202e}b"), rows("=1+1"));
    let page = study(&log, &[]).out;
    assert!(page.contains("a\\u{202e}b") && !page.contains('\u{202e}'), "{page}");
    let document = study(&log, &["--json"]);
    assert!(!document.out.contains('\u{202e}'));
    assert_eq!(document.json()["series"][0]["run"], "a\u{202e}b");
}

#[test]
fn a_run_that_goes_on_is_one_and_said_so() {
    let document = json("run,station,z\na,tip,1\nb,tip,1\na,tip,2\nb,tip,3\n");
    assert_eq!((&document["series"][0]["n"], &document["series"][1]["n"]), (&2.into(), &2.into()));
    let notes = document["notes"].as_array().expect("notes");
    assert_eq!(
        notes
            .iter()
            .filter(|note| note.as_str().is_some_and(|note| note.contains("continues after")))
            .count(),
        2
    );
}
