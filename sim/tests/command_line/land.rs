//! `land`: the contract of its JSON, the demo, and what readings, spans and arguments do.

use serde_json::Value;

use super::simulate::number;
use super::tool::{Folder, LOG, MACHINE, assert_refused, cycle, demo, log, run, run_with};

fn close(value: &Value, expected: f64) {
    // Each height is rounded to 15 nm, a sum of them to some tens.
    assert!((number(value) - expected).abs() < 5e-5, "{value} is not {expected}");
}

fn only_cycle(run: &super::tool::Run) -> Value {
    let document = run.json();
    assert_eq!(document["format"], 1);
    let cycles = document["cycles"].as_array().expect("cycles");
    assert_eq!(cycles.len(), 1);
    cycles[0].clone()
}

#[test]
fn one_cycle_field_by_field() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let run = run_with(&["land", "-", "-m", &machine, "--json"], LOG);
    assert_eq!(run.code, Some(0));
    assert_eq!(run.out.lines().count(), 1);
    let cycle = only_cycle(&run);
    let keys: Vec<&str> = cycle.as_object().expect("an object").keys().map(String::as_str).collect();
    let mut wanted = vec![
        "run",
        "plate",
        "verdict",
        "reasons",
        "landing",
        "landing_seen",
        "wish",
        "apply",
        "u",
        "expanded_u",
        "coverage_factor",
        "dof",
        "coverage",
        "drop",
        "rise",
        "span",
        "span_u",
        "stations",
        "corrections",
        "budget",
    ];
    // Read back, keys are sorted; in the text they stand in the order of the formats.
    let places: Vec<_> =
        wanted.iter().map(|key| run.out.find(&format!("\"{key}\":")).expect("a key")).collect();
    assert!(places.is_sorted(), "{}", run.out);
    wanted.sort_unstable();
    assert_eq!(keys, wanted);

    assert_eq!((&cycle["run"], &cycle["plate"]), (&Value::from("1"), &Value::Null));
    assert_eq!(
        (cycle["verdict"].as_str(), cycle["reasons"].as_array().map(Vec::len)),
        (Some("accept"), Some(0))
    );
    // T 0.4985, S 7.132, P 7.2135, t 0.640: worked by hand.
    close(&cycle["drop"], 6.6335);
    close(&cycle["span"], 0.0815);
    close(&cycle["rise"], -0.5585);
    close(&cycle["landing"], -0.06);
    assert_eq!(cycle["landing"], cycle["landing_seen"]);
    close(&cycle["stations"]["plate"]["centre"], 7.2135);
    close(&cycle["stations"]["plate"]["spread"], 0.001);
    // s = 0.001/√2 and 0.002/√2; u = s/√2, above the floor of 1.25 µm/√12 = 0.361 µm.
    close(&cycle["stations"]["shoulder"]["s"], 0.001414);
    close(&cycle["stations"]["shoulder"]["u"], 0.001);
    assert_eq!(cycle["stations"]["tip"]["n"], 2);
    // √(0.0005² + 0.001² + 0.0005² + 0.005²), and of P and S alone.
    close(&cycle["u"], 0.005148);
    close(&cycle["span_u"], 0.001118);
    assert_eq!(cycle["coverage"], 0.95);
    assert!(
        (number(&cycle["expanded_u"]) / number(&cycle["u"]) - number(&cycle["coverage_factor"])).abs() < 1e-3
    );
    // ν = u⁴ / Σ uᵢ⁴ with one degree of freedom each: 624.2, but for the rounding of heights to 15 nm.
    assert!((number(&cycle["dof"]) - 624.0).abs() <= 2.0, "{}", cycle["dof"]);
    close(&cycle["corrections"]["speed"], 0.0);
    let budget = cycle["budget"].as_array().expect("a budget");
    assert_eq!(budget[0]["source"], "trip depth");
    close(&budget[0]["u"], 0.005);
    let shares: Vec<f64> = budget.iter().map(|source| number(&source["share"])).collect();
    assert!(
        shares.is_sorted_by(|a, b| a >= b) && (shares.iter().sum::<f64>() - 1.0).abs() < 1e-3,
        "{shares:?}"
    );
}

#[test]
fn lengths_carry_six_decimals() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let run = run_with(&["land", "-", "-m", &machine, "--json"], LOG);
    for key in [
        "landing",
        "landing_seen",
        "u",
        "expanded_u",
        "drop",
        "rise",
        "span",
        "span_u",
        "centre",
        "spread",
        "s",
        "speed",
    ] {
        let text = run.out.split(&format!("\"{key}\":")).nth(1).expect("the key");
        let text = text.split([',', '}']).next().expect("a value");
        let decimals = text.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        assert!(decimals >= 6, "{key}: {text}");
    }
}

#[test]
fn touches_as_arguments_are_the_same_cycle() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let from_log = run_with(&["land", "-", "-m", &machine, "--json"], LOG);
    let typed = [
        "land",
        "-m",
        &machine,
        "--json",
        "--tip",
        "0.498,0.499",
        "--shoulder",
        "7.131,7.133",
        "--plate",
        "7.214, 7.213",
    ];
    assert_eq!(run(&typed).out, from_log.out);
}

#[test]
fn negative_heights_as_arguments() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    for plate in [&["--plate=-0.02,-0.03"][..], &["--plate", "-0.02,-0.03"]] {
        let mut args = vec!["land", "-m", &machine, "--json", "--tip", "-7,-7.001", "--shoulder=-0.1,-0.101"];
        args.extend(plate);
        let cycle = only_cycle(&run(&args));
        close(&cycle["stations"]["plate"]["centre"], -0.025);
        close(&cycle["stations"]["tip"]["centre"], -7.0005);
    }
}

#[test]
fn the_demo_is_accepted_throughout() {
    let run = run(&["land", &demo("touches.csv"), "--machine", &demo("machine.toml"), "--json"]);
    assert_eq!(run.code, Some(0));
    let document = run.json();
    let cycles = document["cycles"].as_array().expect("cycles");
    assert_eq!(cycles.len(), 9);
    // The true landings of the demo's README: each within U.
    let truth = [0.7982, 0.4436, 0.8112, 0.9907, 0.4555, 0.9521, 1.1244, 0.5914, 0.9437];
    for (cycle, truth) in cycles.iter().zip(truth) {
        assert_eq!(cycle["verdict"], "accept", "{cycle}");
        assert!((number(&cycle["landing"]) - truth).abs() < number(&cycle["expanded_u"]), "{cycle}");
    }
    let sources: Vec<_> =
        cycles[7]["budget"].as_array().expect("a budget").iter().map(|s| s["source"].clone()).collect();
    for source in [
        "trip depth",
        "hot nozzle",
        "tip touches",
        "shoulder touches",
        "plate touches",
        "plate switch latency",
    ] {
        assert!(sources.contains(&Value::from(source)), "{source}: {sources:?}");
    }
}

#[test]
fn each_mishandled_cycle_is_refused_for_its_own_reason() {
    let run = run(&["land", &demo("refused.csv"), "--machine", &demo("machine.toml"), "--json"]);
    assert_eq!(run.code, Some(1));
    let document = run.json();
    let found: Vec<(String, Vec<String>)> = document["cycles"]
        .as_array()
        .expect("cycles")
        .iter()
        .map(|cycle| {
            let reasons = cycle["reasons"].as_array().expect("reasons").iter();
            let words = reasons.map(|reason| reason["refusal"].as_str().expect("a word").to_owned());
            let refused = cycle["verdict"] == "refuse";
            assert_eq!(cycle["landing"].is_null(), refused, "{cycle}");
            assert!(cycle["landing_seen"].is_number(), "{cycle}");
            // Touches that disprove what U rests on have none.
            let disproved = matches!(cycle["run"].as_str(), Some("probe-mount-loose" | "filament-on-tip"));
            for key in ["u", "expanded_u", "coverage_factor"] {
                assert_eq!(cycle[key].is_null(), disproved, "{key}: {cycle}");
            }
            assert_eq!(cycle["budget"].as_array().is_some_and(Vec::is_empty), disproved, "{cycle}");
            assert_eq!(cycle["for_gauge_check"] == true, cycle["run"] == "touched-cold", "{cycle}");
            (cycle["run"].as_str().expect("a name").to_owned(), words.collect())
        })
        .collect();
    let expected: [(&str, &[&str]); 8] = [
        ("sound", &[]),
        ("probe-mount-loose", &["unsteady", "noisier-than-studied"]),
        ("filament-on-tip", &["walking", "noisier-than-studied"]),
        ("probe-half-seated", &["drop-out-of-place"]),
        ("two-plates-stacked", &["plate-out-of-place"]),
        ("homed-off", &["landing-out-of-window"]),
        ("debris-under-plate", &["moved-too-far"]),
        ("touched-cold", &["too-uncertain"]),
    ];
    let expected: Vec<(String, Vec<String>)> = expected
        .iter()
        .map(|(run, words)| ((*run).into(), words.iter().map(|w| (*w).into()).collect()))
        .collect();
    assert_eq!(found, expected);
    let loose = &document["cycles"][1]["reasons"][0];
    assert_eq!(loose["station"], "plate");
    assert!(
        number(&loose["seen"]) > number(&loose["limit"])
            && loose["advice"].as_str().is_some_and(|a| !a.is_empty())
    );
    assert!(document["cycles"][3]["reasons"][0].get("station").is_none());
}

#[test]
fn a_span_is_held_against_the_last_accepted_one() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let with = |last: &[&str]| {
        let mut args = vec!["land", "-", "-m", &machine, "--json"];
        args.extend(last);
        run_with(&args, LOG)
    };
    assert_eq!(with(&["--last-span", "0.0815"]).code, Some(0));
    let far = with(&["--last-span", "-0.2"]);
    assert_eq!(
        (far.code, only_cycle(&far)["reasons"][0]["refusal"].as_str()),
        (Some(1), Some("moved-too-far"))
    );
    // 0.2 away is inside the limit of 0.25, but not by a doubt of 2·0.05.
    assert_eq!(with(&["--last-span=-0.1185"]).code, Some(0));
    assert_eq!(with(&["--last-span=-0.1185", "--last-u", "0.05"]).code, Some(1));
    assert_eq!(with(&["--last-u", "0.05"]).code, Some(2));
}

#[test]
fn each_plate_is_held_against_its_own_last_accepted_span() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    // Slate moves too far at 3, and is back at 4: compared with 1, not with the refused 3. Copper is its
    // own.
    let log = log(&[
        cycle("1", "slate", 0),
        cycle("2", "copper", 400),
        cycle("3", "slate", 400),
        cycle("4", "slate", 100),
        cycle("5", "", 400),
        cycle("6", "slate", 300),
    ]);
    let run = run_with(&["land", "-", "-m", &machine, "--json"], &log);
    assert_eq!(run.code, Some(1));
    let document = run.json();
    let verdicts: Vec<_> = document["cycles"]
        .as_array()
        .expect("cycles")
        .iter()
        .map(|c| c["verdict"].as_str().expect("a verdict"))
        .collect();
    assert_eq!(verdicts, ["accept", "accept", "refuse", "accept", "accept", "accept"]);
    assert_eq!(document["cycles"][4]["plate"], Value::Null);
}

#[test]
fn what_was_read_counts() {
    let folder = Folder::new();
    let part = "\n[[growth]]\nname = \"hot nozzle\"\nfollows = \"tool\"\num_per_c = 0.25\num_per_c_u = 0\ntouch_c = 100\nprint_c = 200\n";
    let machine = folder.write("machine.toml", format!("{MACHINE}{part}"));
    let growth = |log: &str| {
        only_cycle(&run_with(&["land", "-", "-m", &machine, "--json"], log))["corrections"].clone()
    };
    close(&growth(LOG)["growth"], 0.025);
    let read = |cells: [&str; 3]| {
        let mut log = "station,z,tool_c,speed\n".to_owned();
        for (line, cells) in LOG.lines().skip(1).zip(cells.iter().flat_map(|c| [c, c])) {
            log.push_str(&format!("{line},{cells}\n"));
        }
        log
    };
    // Tool at the tip's touches: 160 °C, whatever it was at the plate's.
    close(&growth(&read(["160,", ",", "20,"]))["growth"], 0.01);
    // (v_P − v₀)·τ_plate = 2 · 0.001; − (v_S − v_T)·τ_datum = −2 · 0.0005.
    close(&growth(&read([",", ",", ",4"]))["speed"], 0.002);
    close(&growth(&read([",2", ",4", ",2"]))["speed"], -0.001);
}

#[test]
fn guarded_limits_say_what_they_were() {
    let folder = Folder::new();
    let text = |machine: &str, last: &[&str]| {
        let machine = folder.write("machine.toml", machine);
        let run = run_with(&[&["land", "-", "-m", &machine][..], last].concat(), LOG);
        assert_eq!(run.code, Some(1));
        run.words()
    };
    // U is 0.0101 at L = -0.06.
    let high = text(&MACHINE.replace("[-1.0, 1.5]", "[-1.0, -0.055]"), &[]);
    assert!(high.contains("limit -0.0651 mm (-0.0550 minus guard band 0.0101)"), "{high}");
    let low = text(&MACHINE.replace("[-1.0, 1.5]", "[-0.065, 1.5]"), &[]);
    assert!(low.contains("limit -0.0549 mm (-0.0650 plus guard band 0.0101)"), "{low}");
    let moved = text(MACHINE, &["--last-span", "-0.2", "--last-u", "0.01"]);
    assert!(moved.contains("limit 0.2302 mm (0.2500 minus guard band 0.0198)"), "{moved}");
}

#[test]
fn a_landing_that_only_doubt_refuses_is_said() {
    let folder = Folder::new();
    let land = |window: &str| {
        let machine = MACHINE
            .replace("trip_depth_u = 0.005", "trip_depth_u = 0.05")
            .replace("landing = [-1.0, 1.5]", window);
        let run = run_with(&["land", "-", "-m", &folder.write("machine.toml", machine)], LOG);
        assert_eq!(run.code, Some(1));
        run.words()
    };
    let said = "With a wider accept.landing it would serve the first gauge check";
    assert!(land("landing = [-0.1, 1.5]").contains(said));
    assert!(!land("landing = [-0.05, 1.5]").contains(said));
    assert!(land("landing = [-1.0, 1.5]").contains("may serve a gauge check"));
}

#[test]
fn more_touches_do_not_help_below_the_step() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let log = LOG.replace("0.499", "0.498");
    let cycle = only_cycle(&run_with(&["land", "-", "-m", &machine, "--json"], &log));
    let reduced: Vec<_> = cycle["budget"]
        .as_array()
        .expect("a budget")
        .iter()
        .map(|source| (source["source"].as_str(), source["reduced_by"].as_str()))
        .collect();
    assert!(reduced.contains(&(Some("tip touches"), Some("only a finer step"))), "{reduced:?}");
    assert!(reduced.contains(&(Some("plate touches"), Some("more touches, or a study"))), "{reduced:?}");
}

#[test]
fn names_are_escaped_where_they_are_shown() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let log = log(&[cycle("a\u{202e}b", "sl\u{e9}te", 0)]);
    let text = run_with(&["land", "-", "-m", &machine], &log);
    assert!(text.out.contains("Run a\\u{202e}b · plate sléte"), "{}", text.out);
    let json = run_with(&["land", "-", "-m", &machine, "--json"], &log);
    assert!(json.out.contains("a\\u202eb") && !json.out.contains('\u{202e}'), "{}", json.out);
    assert_eq!(only_cycle(&json)["run"], "a\u{202e}b");
}

/// Landing and wish are two numbers, and what is applied is their sum.
#[test]
fn a_wish_comes_on_top_of_the_landing_and_never_into_it() {
    let folder = Folder::new();
    let wishes =
        "\n[[wish]]\nplate = \"linen\"\noffset = -0.020\n[[wish]]\nfilament = \"soft\"\noffset = 0.030\n";
    let machine = folder.write("machine.toml", format!("{MACHINE}{wishes}"));
    let land = |more: &[&str]| run_with(&[&["land", "-", "-m", &machine], more].concat(), LOG);
    let of = |more: &[&str]| {
        let run = land(&[&["--json"], more].concat());
        let cycle = run.json()["cycles"][0].clone();
        (number(&cycle["landing"]), number(&cycle["wish"]), number(&cycle["apply"]), cycle["plate"].clone())
    };
    let (landing, wish, apply, plate) = of(&[]);
    assert_eq!((wish, apply, plate), (0.0, landing, Value::Null));
    let near = |seen: f64, due: f64| assert!((seen - due).abs() < 2e-5, "{seen} is not {due}");
    for (more, due) in [
        (&["--plate-name", "linen"][..], -0.020),
        (&["--filament", "soft"], 0.030),
        (&["--plate-name", "linen", "--filament", "soft"], 0.010),
    ] {
        let (same, wish, apply, _) = of(more);
        assert_eq!(same, landing, "the landing stays what was measured");
        near(wish, due);
        near(apply, landing + due);
        let only = land(&[more, &["--apply-only"]].concat());
        assert_eq!(only.code, Some(0));
        near(only.out.trim().parse().expect("a number and nothing else"), landing + due);
        let text = land(more);
        assert!(text.out.contains("the landing and a wish of"), "{}", text.out);
        assert!(text.out.contains("zero at landing and wish"), "{}", text.out);
    }
    assert_eq!(of(&["--plate-name", "linen"]).3, "linen");
    assert_refused(&land(&["--filament", "sott"]), &["sott", "`soft`"]);
    // Refused: nothing is applied, and nothing is printed.
    let refused = run(&["land", &demo("refused.csv"), "--machine", &demo("machine.toml"), "--apply-only"]);
    assert_eq!((refused.code, refused.out.as_str()), (Some(1), ""));
    // A log that names its plates is not named again.
    let named = run(&["land", &demo("touches.csv"), "--machine", &demo("machine.toml"), "--plate-name", "x"]);
    assert_refused(&named, &["--plate-name", "slate"]);
}

/// Print temperatures of one job in place of the machine file's.
#[test]
fn a_job_may_print_hotter() {
    let land = |more: &[&str]| {
        let (log, machine) = (demo("touches.csv"), demo("machine.toml"));
        run(&[&["land", &log, "--machine", &machine, "--json"][..], more].concat())
    };
    let growth = |run: &super::tool::Run| number(&run.json()["cycles"][8]["corrections"]["growth"]);
    // 15 K more for the nozzle's 0.267 µm/K.
    let hotter = growth(&land(&["--print-c", "tool=250"])) - growth(&land(&[]));
    assert!((hotter - 0.004_005).abs() < 2e-5, "{hotter}");
    let both = growth(&land(&["--print-c", "tool=250,bed=70"])) - growth(&land(&[]));
    assert!((both - 0.004_005 - 0.004_01).abs() < 4e-5, "{both}");
    assert_refused(&land(&["--print-c", "chamber=40"]), &["chamber", "[[growth]]"]);
    for bad in ["tool", "hob=3", "tool=warm", "tool=2000"] {
        assert_eq!(land(&["--print-c", bad]).code, Some(2), "{bad}");
    }
}
