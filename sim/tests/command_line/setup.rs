//! `setup`: what it explains, what it warns of, the file it writes.

use super::tool::{Folder, MACHINE, assert_refused, demo, finish, run, tool};

const POOLED: &str = "\n[pooled]\ntip = { s = 0.0012, dof = 48 }\nshoulder = { s = 0.0012, dof = 48 }\nplate = { s = 0.0026, dof = 48 }\n";

/// Keys that are warned of.
fn warned(machine: &str) -> Vec<String> {
    let folder = Folder::new();
    let path = folder.write("machine.toml", machine);
    let run = run(&["setup", &path, "--json"]);
    assert_eq!(run.code, Some(0), "{}", run.err);
    let document = run.json();
    let warnings = document["warnings"].as_array().expect("warnings").iter();
    warnings.map(|warning| warning["key"].as_str().expect("a key").to_owned()).collect()
}

/// A machine that is warned of nothing but what its plates' range brings.
fn studied() -> String {
    format!("{MACHINE}{POOLED}")
}

#[test]
fn floors_are_worked_out() {
    let folder = Folder::new();
    let path = folder.write("machine.toml", studied());
    let document = run(&["setup", &path, "--json"]).json();
    // e = 8·(0.0005 + 3·0.0002) + 0.1 + 0.00125 = 0.11005 and 8·(0.001 + 3·0.0005) + 0.1 + 0.00125 + 3·0.005
    // = 0.13625.
    let expected = [
        ("datum_overrun", 0.11005),
        ("plate_overrun", 0.13625),
        ("tip", 0.2 - 0.11005),
        ("shoulder_above_tip", 6.0 - 0.11005),
        ("plate_above_shoulder", -0.6 + 0.64 - 0.13625),
        ("clear", 0.9 + 0.8 + 0.5),
        ("clear_with_probe", 2.2 + 7.5 + 1.1),
    ];
    for (key, value) in expected {
        let found = document["floors"][key].as_f64().expect("a number");
        // Rounded to the safe side, part by part.
        assert!((found - value).abs() < 1.5e-4, "{key}: {found} is not {value}");
    }
    let press = document["dead_plunger"]["past_trip"].as_f64().expect("a number");
    assert!((press - (1.4 + 0.13625)).abs() < 1.5e-4, "{press}");
    let expected = document["expected"]["expanded_u"].as_f64().expect("a number");
    // 1.96·√(0.005² + (0.0012² + 0.0012² + 0.0026²)/5)
    assert!((expected - 0.010171).abs() < 2e-5, "{expected}");
}

#[test]
fn warnings_come_where_they_should_and_only_there() {
    assert_eq!(warned(&studied()), ["plates.rise"]);
    let change = |old: &str, new: &str| {
        assert!(studied().contains(old), "{old}");
        warned(&studied().replacen(old, new, 1))
    };
    let and_plates = |key: &str| vec![key.to_owned(), "plates.rise".to_owned()];
    assert_eq!(
        change("trimmed_at_speed = 2.0", "trimmed_at_speed = 0.0"),
        and_plates("probe.trimmed_at_speed")
    );
    assert_eq!(
        change("trimmed_at_speed = 2.0", "trimmed_at_speed = 3.0"),
        and_plates("probe.trimmed_at_speed")
    );
    // No trip is seen at once.
    for (old, new, key) in [
        (
            "latency_s = 0.0005\nlatency_u_s = 0.0002",
            "latency_s = 0\nlatency_u_s = 0",
            "datum_switch.latency_u_s",
        ),
        (
            "latency_s = 0.0010\nlatency_u_s = 0.0005",
            "latency_s = 0\nlatency_u_s = 0",
            "plate_switch.latency_u_s",
        ),
    ] {
        assert_eq!(change(old, new), and_plates(key));
        assert_eq!(change(old, &new.replace("u_s = 0", "u_s = 0.0005")), ["plates.rise"]);
    }
    // 6 · 0.0026 = 0.0156, and 6.5 · 0.0026 = 0.0169 from nine touches on.
    assert_eq!(change("band = 0.020", "band = 0.0157"), ["plates.rise"]);
    assert_eq!(change("band = 0.020", "band = 0.0155"), and_plates("touch.band"));
    let nine = studied().replacen("least = 5", "least = 9", 1);
    assert_eq!(warned(&nine.replacen("band = 0.020", "band = 0.0168", 1)), and_plates("touch.band"));
    assert_eq!(warned(&nine.replacen("band = 0.020", "band = 0.0170", 1)), ["plates.rise"]);
    assert_eq!(change("lift = 1.0", "lift = 0.2"), and_plates("touch.lift"));
    assert_eq!(change("least = 5", "least = 2"), and_plates("touch.least"));
    assert_eq!(change("expanded_u = 0.030", "expanded_u = 0.010"), and_plates("accept.expanded_u"));
    assert_eq!(change("landing = [-1.0, 1.5]", "landing = [0.0, 0.02]"), and_plates("accept.landing"));
    assert_eq!(change("shift = 0.25", "shift = 0.003"), and_plates("accept.shift"));
    assert_eq!(warned(MACHINE), and_plates("pooled"));
    assert_eq!(change("rise = [-0.6, 0.8]", "rise = [0.0, 0.4]"), Vec::<String>::new());
}

#[test]
fn a_walk_that_could_not_be_seen_is_said() {
    let folder = Folder::new();
    let text = |machine: &str| {
        let run = run(&["setup", &folder.write("machine.toml", machine)]);
        run.words()
    };
    assert!(text(MACHINE).contains("is judged weakly"));
    assert!(text(&MACHINE.replace("least = 5", "least = 4")).contains("could not be seen at all"));
    assert!(text(MACHINE).contains("from common practice"));
    assert!(
        text(&format!("{MACHINE}\n[noise]\ntip_switch = 0.002\n"))
            .contains("s = 0.0020 mm at the tip, from the file's [noise]")
    );
}

#[test]
fn an_interval_that_rests_on_few_touches_is_said() {
    let noisy = "trip_depth_u = 0.005";
    assert!(MACHINE.contains(noisy) && MACHINE.contains("least = 5"));
    let exact = MACHINE.replacen(noisy, "trip_depth_u = 0.0001", 1).replacen("least = 5", "least = 3", 1);
    let said = "rests on 3 touches of the plate without a study";
    let loud = format!("{exact}\n[noise]\nplate_switch = 0.010\n");
    assert!(words(&loud).contains(said), "{}", words(&loud));
    assert!(!words(&format!("{loud}{POOLED}")).contains("rests on"), "a study says enough");
    // The same of recorded touches.
    let folder = Folder::new();
    let log = "station,z\ntip,0.7000\ntip,0.7010\ntip,0.7005\nshoulder,5.8000\nshoulder,5.8010\nshoulder,5.8005\n\
               plate,6.5000\nplate,6.5090\nplate,6.5040\n";
    let (log, machine) = (folder.write("log.csv", log), folder.write("machine.toml", &loud));
    let landed = run(&["land", &log, "--machine", &machine]);
    assert!(landed.words().contains(said), "{}", landed.out);
}

/// The setup's page on one line.
fn words(machine: &str) -> String {
    let folder = Folder::new();
    let run = run(&["setup", &folder.write("machine.toml", machine)]);
    assert_eq!(run.code, Some(0), "{}", run.err);
    run.words()
}

#[test]
fn a_window_that_doubt_closes_is_said() {
    let change = |pairs: &[(&str, &str)]| {
        pairs.iter().fold(studied(), |text, (old, new)| {
            assert!(text.contains(old), "{old}");
            text.replacen(old, new, 1)
        })
    };
    // U = 1.96·0.2: the window [-1, 1.5] is left with -0.608 to 1.108, of landings from -0.4 to 1.5.
    let untrimmed =
        words(&change(&[("trip_depth_u = 0.005", "trip_depth_u = 0.2"), ("rise = [-0.6", "rise = [-0.3")]));
    assert!(untrimmed.contains("Warning accept.landing"), "{untrimmed}");
    assert!(
        untrimmed.contains("until a gauge check") && untrimmed.contains("widen accept.landing"),
        "{untrimmed}"
    );
    // A window of the same width that lies elsewhere.
    let elsewhere = words(&change(&[("landing = [-1.0, 1.5]", "landing = [-2.0, 0.5]")]));
    assert!(elsewhere.contains("a landing of about +0.6500 mm, which is outside the window"), "{elsewhere}");
    assert!(!elsewhere.contains("until a gauge check"), "{elsewhere}");
}

#[test]
fn a_dead_plungers_remedy_is_what_helps() {
    let sure = words(&studied());
    assert!(sure.contains("narrow the range of plates"), "{sure}");
    assert!(!sure.contains("gauge check (") && !sure.contains("lower touch.first_speed"), "{sure}");
    let unsure = words(&studied().replacen("trip_depth_u = 0.005", "trip_depth_u = 0.058", 1));
    assert!(unsure.contains("make a gauge check (0.1740 mm of it"), "{unsure}");
    // 40 · 0.0025 = 0.1 of 0.2 + 0.04 + … past the trip.
    let fast = studied().replacen("first_speed = 8.0", "first_speed = 100", 1).replacen(
        "rise = [-0.6, 0.8]",
        "rise = [-0.1, 0.3]",
        1,
    );
    assert!(words(&fast).contains("lower touch.first_speed"), "{}", words(&fast));
}

#[test]
fn a_target_that_cannot_be_met_is_said() {
    let with = |target: &str| {
        let text = studied().replacen("band = 0.020", &format!("band = 0.020\ntarget_u = {target}"), 1);
        words(&text)
    };
    // s/√most: 0.0026/√9 = 0.000867 at the plate, 0.0004 at the others.
    assert!(!with("0.00087").contains("target_u"));
    let plate = with("0.00086");
    assert!(plate.contains("cannot be met at the plate: 9 touches give 0.0009 mm"), "{plate}");
    assert!(!plate.contains("cannot be met at the tip"), "{plate}");
    // A step of 5 µm: Δ/√12 = 0.00144.
    let coarse = studied().replacen("band = 0.020", "band = 0.020\ntarget_u = 0.001", 1).replacen(
        "steps = [800, 1]",
        "steps = [200, 1]",
        1,
    );
    assert!(words(&coarse).contains("the motor step allows no better"), "{}", words(&coarse));
}

#[test]
fn the_demos_machine_is_sound() {
    let run = run(&["setup", &demo("machine.toml")]);
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""));
    assert!(run.out.contains("passes the checks"), "{}", run.out);
}

#[test]
fn a_new_file_passes_and_is_never_written_over_an_old_one() {
    let folder = Folder::new();
    let path = folder.path("new.toml");
    let path = path.to_str().expect("UTF-8");
    assert_eq!(run(&["setup", "--new", path]).code, Some(0));
    let written = folder.read("new.toml");
    assert_eq!(run(&["setup", "--new"]).out, written);
    let check = run(&["setup", path]);
    assert_eq!(check.code, Some(0), "{}", check.err);
    assert!(check.out.contains("never trimmed"), "{}", check.out);

    folder.write("new.toml", "mine");
    assert_refused(&run(&["setup", "--new", path]), &["new.toml", "exists already"]);
    assert_eq!(folder.read("new.toml"), "mine");
    let nowhere = folder.path("no/such/new.toml");
    assert_refused(&run(&["setup", "--new", nowhere.to_str().expect("UTF-8")]), &["cannot be written"]);
    assert_eq!(run(&["setup"]).code, Some(2));
}

#[test]
fn everything_the_new_file_leaves_as_a_comment_is_good_too() {
    let folder = Folder::new();
    let new = run(&["setup", "--new"]).out;
    let mut lines = Vec::new();
    let mut inside = false;
    for line in new.lines() {
        inside |= line == "# [pooled]" || line == "# [noise]";
        inside &= line.starts_with("# ");
        lines.push(if inside { line.trim_start_matches("# ") } else { line });
    }
    let all = lines.join("\n");
    assert!(all.contains("\n[pooled]\n") && all.contains("\n[noise]\n"));
    let run = run(&["setup", &folder.write("all.toml", all)]);
    assert_eq!(run.code, Some(0), "{}", run.err);
    assert!(!run.out.contains("assumed"));
}

#[test]
fn tables_may_be_written_in_other_ways() {
    let folder = Folder::new();
    let inline = studied()
        .replace("[plates]\nrise = [-0.6, 0.8]\nmargin = 0.5\n", "")
        .replace("format = 1", "format = 1\nplates = { rise = [-0.6, 0.8], margin = 0.5 }\nsoak.left = 0")
        .replace("first_speed = 8.0", "first_speed = 0x8")
        .replace("overtravel = 2.0", "overtravel = 2");
    let plain = run(&["setup", &folder.write("plain.toml", studied()), "--json"]);
    let other = run(&["setup", &folder.write("other.toml", inline), "--json"]);
    assert_eq!(plain.out, other.out, "{}", other.err);
}

const COMMANDS: [&str; 15] = [
    "land",
    "trim",
    "setup",
    "simulate",
    "faults",
    "plan",
    "study",
    "soak",
    "history",
    "plates",
    "watch",
    "page",
    "report",
    "guide",
    "completions",
];

#[test]
fn completions_and_help() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let run = run(&["completions", shell]);
        assert_eq!(run.code, Some(0));
        assert!(run.out.contains("last-span"), "{shell}");
    }
    assert_eq!(run(&["completions", "abacus"]).code, Some(2));
    for command in COMMANDS {
        let run = run(&[command, "--help"]);
        assert_eq!(run.code, Some(0));
        assert!(run.out.contains("Examples:\n  zdatum "), "{}", run.out);
        // Whatever the terminal: none, a narrow one, a wide one.
        for (columns, most) in [("", 100), ("80", 80), ("60", 80), ("250", 100)] {
            let run = finish(tool().env("COLUMNS", columns).args([command, "--help"]));
            assert!(run.out.lines().all(|line| line.chars().count() <= most), "{}", run.out);
        }
    }
    assert_eq!(run::<&str>(&[]).code, Some(2));
    assert_eq!(run(&["--version"]).code, Some(0));
    assert_eq!(run(&["landing"]).code, Some(2));
}
