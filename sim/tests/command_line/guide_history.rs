//! `guide`: its cycle goes into the history, from which the other commands follow on.

use super::guide::{answers, history, talk};
use super::tool::{Folder, Run, finish, run, run_with, tool};

fn document(folder: &Folder, command: &str) -> serde_json::Value {
    let run = run(&[command, "--history", &history(folder), "--json"]);
    serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{error}: {run:?}"))
}

/// The same answers with the last ones changed.
fn ending(last: &[&'static str]) -> Vec<&'static str> {
    let mut all = answers();
    all.truncate(all.len() - last.len());
    all.extend(last);
    all
}

#[test]
fn a_guided_cycle_is_remembered_and_the_other_commands_follow_on() {
    let folder = Folder::new();
    let run_ = talk(&folder, &answers());
    assert_eq!(run_.code, Some(0), "{}", run_.out);
    for part in [
        "With the new trip depth: accept",
        "Kept as entry 2 of",
        "zdatum plates --history",
        "zdatum watch --history",
    ] {
        assert!(run_.words().contains(part), "{part}: {}", run_.out);
    }
    let entries = document(&folder, "history")["entries"].clone();
    assert_eq!((&entries[0]["entry"], &entries[0]["what"]), (&"event".into(), &"trim".into()));
    assert_eq!((&entries[1]["plate"], &entries[1]["verdict"]), (&"slate".into(), &"accept".into()));
    assert_eq!(document(&folder, "plates")["plates"][0]["plate"], "slate");
    assert_eq!(document(&folder, "watch")["charts"][2]["plate"], "slate");
    // The log that was written is this very cycle, on its plate, by the machine file as it is now.
    let (log, machine) = (folder.path("m-touches.csv"), folder.path("m.toml"));
    let (log, machine) = (log.to_str().expect("UTF-8"), machine.to_str().expect("UTF-8"));
    let again = run(&["land", log, "-m", machine, "--keep", "--history", &history(&folder), "--json"]).json();
    assert_eq!(again["history"]["cycles"][0]["kept"], "before");
    let (kept, now) = (&entries[1]["landing"], &again["cycles"][0]["landing"]);
    assert!(kept == now && !now.is_null(), "{kept} {now}");

    // Another cycle on that plate is compared with it; here 0.2 mm of something lie under it.
    let mut next = answers();
    next.drain(1..28);
    for touch in next.iter_mut().filter(|text| text.starts_with("7.9")) {
        *touch = if *touch == "7.92" { "8.12" } else { "8.1225" };
    }
    let next = &next[..next.len() - 5];
    let run_ = talk(&folder, &[next, &["later", "yes"]].concat());
    assert!(run_.words().contains("refuse (moved too far)"), "{}", run_.out);
    assert!(run_.words().contains("compared with that of entry 2"), "{}", run_.out);
}

#[test]
fn nothing_is_kept_unasked_and_what_is_refused_not_by_default() {
    let folder = Folder::new();
    assert_eq!(talk(&folder, &ending(&["no"])).code, Some(0));
    assert_eq!(folder.names(), ["m-touches.csv", "m.toml"]);
    // Without a trim the first landing is too uncertain, and Enter keeps it not; asked for it is kept as it
    // is.
    for (answer, kept) in [("", false), ("yes", true)] {
        let folder = Folder::new();
        let run = talk(&folder, &ending(&["later", answer, "", "", ""])[..answers().len() - 3]);
        assert_eq!(run.code, Some(1), "{}", run.out);
        assert_eq!(folder.names().contains(&"h.sqlite".to_owned()), kept);
        if kept {
            assert_eq!(document(&folder, "history")["entries"][0]["verdict"], "refuse");
        }
    }
}

#[test]
fn a_plate_may_have_any_name_or_none() {
    let named = |plate: &'static str| -> (Folder, Run) {
        let folder = Folder::new();
        let typed: Vec<_> =
            answers().iter().map(|answer| if *answer == "slate" { plate } else { answer }).collect();
        let run = talk(&folder, &typed);
        assert_eq!(run.code, Some(0), "{}", run.out);
        (folder, run)
    };
    let (folder, _) = named("no");
    assert!(document(&folder, "history")["entries"][1]["plate"].is_null());
    let (folder, _) = named("=a, \"b\" é");
    assert_eq!(document(&folder, "history")["entries"][1]["plate"], "=a, \"b\" é");
    // In the log no spreadsheet runs it.
    assert!(
        folder.read("m-touches.csv").contains(",\"'=a, \"\"b\"\" é\""),
        "{}",
        folder.read("m-touches.csv")
    );
}

#[test]
fn what_cannot_be_kept_is_told_and_asked_again() {
    let folder = Folder::new();
    folder.write("h.sqlite", "mine\n");
    let all = ending(&["yes"]);
    let run = talk(&folder, &[&all[..], &["no"]].concat());
    assert_eq!(run.code, Some(0), "{}", run.out);
    assert!(run.words().contains("not a history of this tool"), "{}", run.out);
    assert_eq!(folder.read("h.sqlite"), "mine\n");
}

#[test]
fn invented_cycles_stay_among_themselves() {
    let folder = Folder::new();
    assert_eq!(talk(&folder, &answers()).code, Some(0));
    let practice = folder.path("p.toml").to_str().expect("UTF-8").to_owned();
    let enter = format!("{}no\n", "\n".repeat(80));
    let wrong = run_with(&["guide", &practice, "--practice", "--history", &history(&folder)], &enter);
    assert!(wrong.words().contains("holds cycles of a real machine"), "{}", wrong.out);
    assert_eq!(document(&folder, "history")["entries"].as_array().map(Vec::len), Some(2));
    // By itself practice keeps them beside its machine file.
    let folder = Folder::new();
    let practice = folder.path("p.toml").to_str().expect("UTF-8").to_owned();
    assert_eq!(run_with(&["guide", &practice, "--practice"], &"\n".repeat(90)).code, Some(0));
    assert_eq!(folder.names(), ["p-history.sqlite", "p-touches.csv", "p.toml"]);
}

/// Without `--history` it goes where `land --keep` puts it.
#[cfg(target_os = "linux")]
#[test]
fn the_usual_place_serves_where_none_is_named() {
    let folder = Folder::new();
    folder.write("lines", answers().iter().map(|answer| format!("{answer}\n")).collect::<String>());
    let lines = std::fs::File::open(folder.path("lines")).expect("the lines");
    let run = finish(
        tool()
            .args(["guide", "m.toml"])
            .current_dir(folder.path("."))
            .env("XDG_DATA_HOME", folder.path("data"))
            .stdin(lines),
    );
    assert_eq!(run.code, Some(0), "{}", run.out);
    assert!(folder.path("data/zdatum/history.sqlite").is_file(), "{}", run.out);
    assert!(run.out.contains("    zdatum plates\n"), "{}", run.out);
}
