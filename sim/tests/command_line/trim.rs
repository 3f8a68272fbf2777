//! `trim`: the contract of its JSON, and a machine file that is written whole or not at all.

use std::process::Command;

use serde_json::Value;

use super::tool::{Folder, MACHINE, assert_refused, demo, finish, run};

const CHECK: [&str; 4] = ["--gauge", "0.150", "--felt", "0.115"];

fn trim(machine: &str, args: &[&str]) -> super::tool::Run {
    let mut all = vec!["trim", "--machine", machine];
    all.extend(args);
    run(&all)
}

fn with<'a>(more: &[&'a str]) -> Vec<&'a str> {
    CHECK.iter().copied().chain(more.iter().copied()).collect()
}

fn close(document: &Value, key: &str, expected: f64, tolerance: f64) {
    let found = document[key].as_f64().unwrap_or_else(|| panic!("{key} in {document}"));
    assert!((found - expected).abs() <= tolerance, "{key}: {found} is not {expected}");
}

#[test]
fn the_formats_example() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let run = trim(&machine, &with(&["--json"]));
    assert_eq!(run.code, Some(0));
    let document = run.json();
    assert_eq!((&document["format"], &document["verdict"]), (&Value::from(1), &Value::from("accept")));
    close(&document, "trip_depth_before", 0.640, 1e-5);
    close(&document, "trip_depth", 0.642972, 2e-5);
    close(&document, "change", 0.002972, 2e-5);
    close(&document, "u_before", 0.005, 1e-7);
    close(&document, "u", 0.004923, 1e-6);
    close(&document, "weight", 0.0849, 5e-5);
    close(&document, "disagreement", 3.40, 5e-3);
    assert_eq!(document["trimmed_k"], serde_json::json!([]));
    assert_eq!(document["written"], false);
    assert_eq!(folder.read("machine.toml"), MACHINE);
}

#[test]
fn a_fresh_start_takes_all_of_it() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let document = trim(&machine, &with(&["--fresh", "--json"])).json();
    close(&document, "trip_depth", 0.675, 2e-5);
    close(&document, "weight", 1.0, 0.0);
}

#[test]
fn options_mean_what_they_say() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let json = |args: &[&str]| trim(&machine, &[args, &["--json"]].concat()).json();
    // c = 0.004, V = 25 - 16; a nudge has no gauge and feels to 0.015: A = 9, R = 225 + 9 - 16.
    let nudge = json(&["--nudge", "-0.020"]);
    close(&nudge, "weight", 9.0 / 227.0, 1e-4);
    close(&nudge, "change", 0.02 * 9.0 / 227.0, 4e-5);
    assert_eq!(
        nudge,
        json(&["--nudge=-0.02", "--gauge-u", "0", "--feel-u", "0.015", "--landing-u", "0.003"])
    );
    assert_eq!(
        json(&CHECK),
        json(&with(&[
            "--gauge-u",
            "0.002",
            "--feel-u",
            "0.01",
            "--landing-u",
            "0.003",
            "--made-with",
            "0.64",
            "--speed",
            "2"
        ]))
    );
    // i = (t0 - t) + (g - c) = -0.035 + 0.035.
    close(&json(&with(&["--made-with", "0.605"])), "disagreement", 0.0, 2e-3);
    // At 3 mm/s: (1·0.0005)² more doubt, R = 4 + 100 + 9 - 16, and of the 0.001 that the latency makes as large a part
    // as of the check.
    let prior = 9.0 + 0.25;
    let faster = json(&with(&["--speed", "3"]));
    close(&faster, "weight", prior / (prior + 97.0), 1e-4);
    close(&faster, "trip_depth", 0.640 + (0.035 - 0.001) * prior / (prior + 97.0), 4e-5);
}

#[test]
fn writing_keeps_every_other_byte() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let run = trim(&machine, &with(&["--write", "--json"]));
    assert_eq!((run.code, &run.json()["written"]), (Some(0), &Value::from(true)));
    let after = folder.read("machine.toml");
    let depth = run.json()["trip_depth"].to_string();
    let start = MACHINE
        .replace(
            "trip_depth   =   0.640      # t",
            &format!("trip_depth   =   {}      # t", depth.trim_end_matches('0')),
        )
        .replace("trip_depth_u = 0.005", &format!("trip_depth_u = {}", run.json()["u"]));
    assert!(after.starts_with(&start), "{after}");
    let added = after.strip_prefix(&start).expect("the old file");
    for line in ["[[gauge_check]]", "gauge = 0.15", "felt = 0.115", "made_with = 0.64", "speed = 2.0"] {
        assert!(added.lines().any(|l| l == line), "{line}: {added}");
    }
    assert_eq!(folder.names(), ["machine.toml"]);
    // What is read next is, to the bit, what was said.
    let next = trim(&machine, &["--nudge", "0", "--json"]).json();
    assert_eq!(
        (&next["trip_depth_before"], &next["u_before"]),
        (&run.json()["trip_depth"], &run.json()["u"])
    );
}

#[test]
fn the_demos_file_keeps_its_layout() {
    let folder = Folder::new();
    let before = std::fs::read_to_string(demo("machine.toml")).expect("the demo");
    for (name, text) in
        [("lf.toml", before.clone()), ("crlf.toml", format!("\u{feff}{}", before.replace('\n', "\r\n")))]
    {
        let machine = folder.write(name, &text);
        assert_eq!(trim(&machine, &["--gauge", "0.1", "--felt", "0.098", "--write"]).code, Some(0));
        let after = folder.read(name);
        let changed: Vec<_> =
            after.lines().filter(|line| !line.starts_with("trimmed_k")).zip(text.lines()).collect();
        let changed: Vec<_> = changed.iter().filter(|(new, old)| old != new).map(|(_, old)| old).collect();
        // The nozzle's warming is taken up and written on a line of its own; the posts have none. t and u(t) change; the
        // speed was and is 2.0.
        let written: Vec<_> = after.lines().filter(|line| line.starts_with("trimmed_k")).collect();
        assert!(matches!(written[..], [one] if one != "trimmed_k = 0.0"), "{written:?}");
        assert!(after.contains("um_per_c_u = 0.040\ntrimmed_k = ") || name == "crlf.toml", "{after}");
        assert_eq!(changed.len(), 2, "{changed:?}");
        assert!(changed.iter().all(|line| line.starts_with("trip_depth")), "{changed:?}");
        assert_eq!(
            after.matches("\r\n").count(),
            if name == "lf.toml" { 0 } else { after.matches('\n').count() }
        );
        assert_eq!(run(&["setup", &machine]).code, Some(0));
    }
}

#[test]
fn the_speed_is_written() {
    let folder = Folder::new();
    let machine =
        folder.write("machine.toml", MACHINE.replace("trimmed_at_speed = 2.0", "trimmed_at_speed = 0"));
    assert_eq!(trim(&machine, &with(&["--fresh", "--write"])).code, Some(0));
    assert!(folder.read("machine.toml").contains("trimmed_at_speed = 2.0        # v0"));
}

#[test]
fn the_same_check_does_not_count_twice() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    assert_eq!(trim(&machine, &with(&["--write"])).code, Some(0));
    let after = folder.read("machine.toml");
    // As it was typed; with other zeros; with what was meant by default; with other doubts.
    for same in [
        with(&["--write"]),
        vec!["--gauge", "0.15", "--felt", ".1150", "--write"],
        with(&["--made-with", "0.64", "--speed", "2", "--write"]),
        with(&["--feel-u", "0.02", "--fresh", "--write"]),
    ] {
        let run = trim(&machine, &same);
        assert_eq!(run.code, Some(1), "{same:?}: {}", run.out);
        assert!(run.out.contains("already applied"), "{}", run.out);
        assert_eq!(folder.read("machine.toml"), after);
    }
    let document = trim(&machine, &with(&["--write", "--json"])).json();
    assert_eq!(
        (&document["verdict"], &document["reason"]),
        (&Value::from("refuse"), &Value::from("already-applied"))
    );
    // Other checks are not the same: another reading, another landing, another speed, or said to be new.
    for new in [
        vec!["--gauge", "0.150", "--felt", "0.116"],
        vec!["--nudge=-0.035"],
        with(&["--made-with", "0.645"]),
        with(&["--speed", "2.5"]),
        with(&["--again"]),
    ] {
        assert_eq!(trim(&machine, &new).code, Some(0), "{new:?}");
    }
    assert_eq!(trim(&machine, &["--nudge", "-0.01", "--write"]).code, Some(0));
    assert_eq!(trim(&machine, &["--nudge", "-0.010", "--write"]).code, Some(1));
    assert_eq!(trim(&machine, &with(&["--write"])).code, Some(1));
}

#[test]
fn a_second_check_says_which_landing_it_is_taken_for() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let words = |args: &[&str]| {
        let run = trim(&machine, args);
        run.words()
    };
    // Nothing is remembered yet, so nothing can be meant but the file's.
    assert!(!words(&CHECK).contains("Note"));
    assert!(
        words(&with(&["--write"])).contains("make a new landing before the next check, or give --made-with")
    );
    let next = words(&["--gauge", "0.15", "--felt", "0.14"]);
    assert!(next.contains("made with 0.64297"), "{next}");
    assert!(next.contains("older, give --made-with 0.6400"), "{next}");
    let document = trim(&machine, &["--gauge", "0.15", "--felt", "0.14", "--json"]).json();
    assert!(document["notes"][0].as_str().is_some_and(|note| note.contains("0.6400")), "{document}");
    assert_eq!(document["made_with"], document["trip_depth_before"]);
    // Said is said.
    let said = trim(&machine, &["--gauge", "0.15", "--felt", "0.14", "--made-with", "0.64", "--json"]).json();
    assert!(said.get("notes").is_none(), "{said}");
    close(&said, "made_with", 0.64, 1e-5);
}

#[test]
fn a_refused_trim_does_not_look_applied() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let run = trim(&machine, &["--gauge", "0.150", "--felt", "0.100"]);
    let first = run.out.lines().next().expect("a line");
    assert!(first.contains("stays +0.6400") && !first.contains("change"), "{first}");
    assert!(run.out.contains("it would be +0.64"), "{}", run.out);
    assert!(!run.out.contains("next landing"), "{}", run.out);
}

#[test]
fn the_first_trim_says_how_the_next_landing_moves() {
    let folder = Folder::new();
    let machine =
        folder.write("machine.toml", MACHINE.replace("trimmed_at_speed = 2.0", "trimmed_at_speed = 0"));
    // t changes by 0.035 - 2·0.001; the landing at 2 mm/s, which had the 0.002 as a correction, by all of
    // 0.035.
    let run = trim(&machine, &with(&["--fresh"]));
    assert!(run.out.contains("change +0.0330"), "{}", run.out);
    assert!(run.out.contains("the next landing will be 0.0350 mm lower"), "{}", run.out);
    // Afresh, a disagreement decides nothing.
    assert!(run.out.contains("started afresh") && !run.out.contains("disagrees"), "{}", run.out);
}

#[test]
fn a_check_that_disagrees_is_refused() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let args = ["--gauge", "0.150", "--felt", "0.100", "--write"];
    let run = trim(&machine, &args);
    assert_eq!(run.code, Some(1));
    assert!(run.out.contains("Refuse") && run.out.contains("--fresh"), "{}", run.out);
    let document = trim(&machine, &[&args[..], &["--json"]].concat()).json();
    assert_eq!((&document["verdict"], &document["written"]), (&Value::from("refuse"), &Value::from(false)));
    assert_eq!(document["reason"], "disagreement");
    close(&document, "disagreement", 50.0 / 106.0_f64.sqrt(), 5e-3);
    assert_eq!(folder.read("machine.toml"), MACHINE);
}

#[test]
fn a_trim_that_would_make_a_bad_setup_is_not_done() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let args = ["--gauge", "0.150", "--felt", "-0.500", "--fresh", "--write"];
    for args in [&args[..], &args[..5]] {
        let run = trim(&machine, args);
        assert_refused(&run, &["machine.toml", "probe.trip_depth", "free_height", "limit 1.1 mm"]);
    }
    assert_eq!(folder.read("machine.toml"), MACHINE);
}

#[test]
fn a_read_only_file_is_left_alone() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let mut permissions = std::fs::metadata(&machine).expect("a file").permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&machine, permissions).expect("permissions");
    assert_refused(&trim(&machine, &with(&["--write"])), &["machine.toml", "read-only"]);
    assert_eq!(folder.read("machine.toml"), MACHINE);
    assert_eq!(folder.names(), ["machine.toml"]);
}

#[test]
fn bad_arguments() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    for args in [
        &[][..],
        &["--gauge", "0.15"],
        &["--felt", "0.15"],
        &["--gauge", "0.15", "--felt", "0.1", "--nudge", "0.1"],
        &["--gauge", "nan", "--felt", "0.1"],
        &["--gauge", "0.15", "--felt", "0.1mm"],
        &["--gauge", "0.15", "--felt", "40000"],
        &["--gauge", "0", "--felt", "0.1"],
        &["--gauge", "-0.1", "--felt", "0.1"],
        &["--nudge", "0.1", "--speed", "0"],
        &["--nudge", "0.1", "--speed", "-1"],
        &["--nudge", "0.1", "--feel-u", "-1"],
        &["--nudge", "0.1", "--feel-u", "5"],
        &["--nudge", "20000", "--made-with", "-20000"],
    ] {
        let run = trim(&machine, args);
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{args:?}");
        assert_eq!(run.err.matches("error: ").count(), 1, "{args:?}: {}", run.err);
    }
    assert_refused(&trim(&machine, &["--gauge", "1e3", "--felt", "0"]), &["65536 standard deviations"]);
}

#[cfg(unix)]
mod unix {
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    #[test]
    fn a_link_stays_a_link_and_permissions_stay() {
        let folder = Folder::new();
        let real = folder.write("real.toml", MACHINE);
        std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o640)).expect("permissions");
        let link = folder.path("link.toml");
        symlink("real.toml", &link).expect("a link");
        assert_eq!(trim(link.to_str().expect("UTF-8"), &with(&["--write"])).code, Some(0));
        assert!(std::fs::symlink_metadata(&link).expect("a link").is_symlink());
        assert_ne!(folder.read("real.toml"), MACHINE);
        assert_eq!(std::fs::metadata(&real).expect("a file").permissions().mode() & 0o777, 0o640);
        assert_eq!(folder.names(), ["link.toml", "real.toml"]);
    }

    #[test]
    fn the_old_file_is_replaced_not_written_into() {
        let folder = Folder::new();
        let machine = folder.write("machine.toml", MACHINE);
        let old = std::fs::File::open(&machine).expect("the old file");
        assert_eq!(trim(&machine, &with(&["--write"])).code, Some(0));
        // Whoever has the old file open still reads it whole: so would a crash at any instant.
        assert_eq!(std::io::read_to_string(old).expect("text"), MACHINE);
        assert_ne!(folder.read("machine.toml"), MACHINE);
    }

    /// Runs with files limited to a block, as on a full disk. `before` is for the shell.
    fn on_a_full_disk(folder: &Folder, before: &str, args: &str) -> super::super::tool::Run {
        let script = format!("{before} ulimit -f 1; exec \"$0\" {args}");
        let mut shell = Command::new("sh");
        shell.current_dir(folder.path("")).args(["-c", &script, env!("CARGO_BIN_EXE_zdatum")]);
        finish(&mut shell)
    }

    /// More than a block of comments.
    fn long_machine() -> String {
        format!("{MACHINE}\n{}", "# a long comment that says nothing at all\n".repeat(100))
    }

    const WRITE: &str = "trim -m machine.toml --gauge 0.150 --felt 0.115 --write";

    #[test]
    fn a_full_disk_leaves_the_old_file_whole() {
        let folder = Folder::new();
        folder.write("machine.toml", long_machine());
        let run = on_a_full_disk(&folder, "trap '' XFSZ;", WRITE);
        assert_refused(&run, &["machine.toml", "cannot be written", "as it was"]);
        assert_eq!(folder.read("machine.toml"), long_machine());
        assert_eq!(folder.names(), ["machine.toml"]);
        // The same without the limit does write: it was the disk.
        assert_eq!(
            trim(folder.path("machine.toml").to_str().expect("UTF-8"), &with(&["--write"])).code,
            Some(0)
        );
    }

    #[test]
    fn a_crash_while_writing_leaves_the_old_file_whole() {
        let folder = Folder::new();
        folder.write("machine.toml", long_machine());
        let run = on_a_full_disk(&folder, "", WRITE);
        assert_eq!(run.code, None, "ended by a signal: {run:?}");
        assert_eq!(folder.read("machine.toml"), long_machine());
    }

    #[test]
    fn a_new_file_is_written_whole_or_not_at_all() {
        let folder = Folder::new();
        let run = on_a_full_disk(&folder, "trap '' XFSZ;", "setup --new new.toml");
        assert_refused(&run, &["new.toml", "cannot be written"]);
        assert!(folder.names().is_empty());
    }
}
