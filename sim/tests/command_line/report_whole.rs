//! `zdatum report`: landings, study, soak and history in one page.

use super::report::{assert_sound, sections, text};
use super::tool::{Folder, MACHINE, assert_refused, cycle, demo, finish, log, run, run_with, tool};

/// `zdatum report`: everything in one page.
#[test]
fn one_page_of_everything() {
    let folder = Folder::new();
    let (log, machine, study, soak) =
        (demo("touches.csv"), demo("machine.toml"), demo("study.csv"), demo("soak.csv"));
    let (history, out) = (text(&folder.path("h.sqlite")), text(&folder.path("r.html")));
    let keep = ["land", &log, "--machine", &machine, "--keep", "--history", &history];
    assert_eq!(run(&keep).code, Some(0));
    let all = [
        "report",
        &out,
        "--land",
        &log,
        "--machine",
        &machine,
        "--study",
        &study,
        "--within",
        "0.020",
        "--soak",
        &soak,
        "--history",
        &history,
    ];
    let made = run(&all);
    assert_eq!((made.code, made.out.as_str()), (Some(0), ""), "{made:?}");
    assert!(made.err.contains("report in"), "{made:?}");
    let html = folder.read("r.html");
    assert_sound(&html);
    assert_eq!(
        sections(&html),
        [
            "in-short",
            "apply",
            "landings",
            "touches",
            "three-touches",
            "budget",
            "study",
            "study-touches",
            "soak",
            "in-short-history",
            "watch",
            "plates",
            "entries",
            "cautions",
            "words"
        ]
    );
    for needed in ["+0.9451", "Good enough for ±20.0", "Wait ", "No alarm active", "slate"] {
        assert!(html.contains(needed), "{needed}");
    }
    // The same again replaces it; each part serves alone; a refusal is told by the exit code.
    assert_eq!(run(&all).code, Some(0));
    assert_eq!(folder.read("r.html"), html);
    assert_eq!(run(&["report", &out, "--soak", &soak]).code, Some(0));
    assert_eq!(sections(&folder.read("r.html")), ["soak", "cautions", "words"]);
    let refused = demo("refused.csv");
    assert_eq!(run(&["report", &out, "--land", &refused, "-m", &machine]).code, Some(1));
    assert_sound(&folder.read("r.html"));
}

#[test]
fn a_report_of_nothing_or_over_something_else_is_not_written() {
    let folder = Folder::new();
    let out = text(&folder.path("r.html"));
    assert_refused(&run(&["report", &out]), &["nothing to report"]);
    assert_refused(&run(&["report", &out, "--study", "no-such.csv"]), &["no-such.csv"]);
    assert_refused(&run(&["report", &out, "--history", "no-such.sqlite"]), &["no-such.sqlite"]);
    assert_eq!(folder.names(), Vec::<String>::new());
    let notes = folder.write("notes.html", "<p>mine</p>");
    assert_refused(&run(&["report", &notes, "--soak", &demo("soak.csv")]), &["notes.html"]);
    assert_eq!(folder.read("notes.html"), "<p>mine</p>");
}

/// A run of the tool in that folder.
fn within(folder: &Folder, args: &[&str]) -> super::tool::Run {
    finish(tool().args(args).current_dir(folder.path(".")))
}

#[test]
fn a_report_has_a_file_and_lengths_may_be_below_zero_only_to_be_refused() {
    let folder = Folder::new();
    let (study, soak) = (demo("study.csv"), demo("soak.csv"));
    assert_refused(&within(&folder, &["report", "-", "--soak", &soak]), &["standard output", "name a file"]);
    for (option, log) in [("--within", ["--study", &study]), ("--left", ["--soak", &soak])] {
        let run = within(&folder, &[&["report", "r.html"], &log[..], &[option, "-0.02"]].concat());
        assert_refused(&run, &["0.00001 mm or more"]);
    }
    assert_eq!(folder.names(), Vec::<String>::new());
}

/// Without a file's name the history is where `land --keep` puts it.
#[cfg(target_os = "linux")]
#[test]
fn the_usual_history_needs_no_name() {
    let folder = Folder::new();
    let usual = |args: &[&str]| {
        finish(tool().args(args).current_dir(folder.path(".")).env("XDG_DATA_HOME", folder.path("data")))
    };
    assert_refused(&usual(&["report", "r.html", "--history"]), &["history.sqlite: no history yet"]);
    let (log, machine) = (demo("touches.csv"), demo("machine.toml"));
    assert_eq!(usual(&["land", &log, "-m", &machine, "--keep"]).code, Some(0));
    assert_eq!(usual(&["report", "r.html", "--history"]).code, Some(0));
    assert!(folder.read("r.html").contains("9 cycles are kept"), "{}", folder.read("r.html"));
}

/// The study asks the same question here as alone.
#[test]
fn a_study_is_asked_the_same_in_both() {
    let folder = Folder::new();
    let (study, machine, out) = (demo("study.csv"), demo("machine.toml"), text(&folder.path("r.html")));
    for with in [&[][..], &["-m", &machine]] {
        let alone = run(&[&["study", &study, "--within", "0.020", "--json"], with].concat());
        let capability = &alone.json()["capability"];
        let touches = format!("With {} touches per station", capability["touches"]);
        assert_eq!(
            run(&[&["report", &out, "--study", &study, "--within", "0.020"], with].concat()).code,
            alone.code
        );
        assert!(folder.read("r.html").contains(&touches), "{touches}");
    }
}

/// A backslash is escaped where a name is shown: once, not once more on each way to the page.
#[cfg(unix)]
#[test]
fn names_are_escaped_once() {
    const TURN: char = '\u{202e}';
    let folder = Folder::new();
    let machine = MACHINE.replace("format = 1", "format = 1\n[[growth]]\nname = \"g\\\\w\\u202E\"\nfollows = \"tool\"\num_per_c = 0.256\num_per_c_u = 0.04\ntouch_c = 150.0\nprint_c = 215.0\n");
    folder.write("m\\m", machine);
    folder.write("t\\t", log(&[cycle("r\\r", "p\\p", 0), cycle("s", "p\\p", 3000)]));
    folder.write("s\\s", std::fs::read(demo("study.csv")).expect("the study"));
    folder.write("w\\w", std::fs::read(demo("soak.csv")).expect("the soak"));
    let keep =
        within(&folder, &["land", "t\\t", "-m", "m\\m", "--history", "h\\h", "--keep", "--report", "land"]);
    assert!(keep.code.is_some_and(|code| code < 2), "{keep:?}");
    let args = [
        "report",
        "all",
        "--land",
        "t\\t",
        "-m",
        "m\\m",
        "--study",
        "s\\s",
        "--soak",
        "w\\w",
        "--history",
        "h\\h",
    ];
    assert!(within(&folder, &args).code.is_some_and(|code| code < 2));
    let simulated = ["simulate", "-m", "m\\m", "--runs", "2000", "--each", "500", "--report", "simulate"];
    assert_eq!(within(&folder, &simulated).code, Some(0));
    for (page, names) in [
        ("land", &["t", "m", "g", "r", "p"][..]),
        ("all", &["t", "m", "s", "w", "h", "r", "p"]),
        ("simulate", &["m", "g"]),
    ] {
        let html = folder.read(page);
        for name in names {
            let once = format!("{name}\\\\");
            assert!(html.contains(&once), "{page}: {once}");
        }
        assert!(!html.contains("\\\\\\"), "{page}");
        assert!(!html.contains(TURN), "{page}");
    }
}

/// Of more plates than are drawn the newest stay, and the axis begins with the oldest that is.
#[test]
fn the_newest_plates_are_drawn() {
    let folder = Folder::new();
    let (machine, history) = (folder.write("m.toml", MACHINE), text(&folder.path("h")));
    let cycles: Vec<String> =
        (1..=20).map(|n| cycle(&format!("run{n}"), &format!("plate{n:02}"), 20 * n)).collect();
    let keep = ["land", "-", "-m", &machine, "--history", &history, "--keep"];
    assert!(run_with(&keep, &log(&cycles)).code.is_some_and(|code| code < 2));
    let out = text(&folder.path("r.html"));
    assert_eq!(run(&["report", &out, "--history", &history]).code, Some(0));
    let html = folder.read("r.html");
    let plates = html.split("<section id=\"plates\"").nth(1).expect("the plates");
    let picture =
        plates.split("<svg ").nth(1).and_then(|rest| rest.split("</svg>").next()).expect("a picture");
    assert!(
        picture.contains("plate20") && picture.contains("plate09") && !picture.contains("plate08"),
        "{picture}"
    );
    let watch = html
        .split("<section id=\"watch\"")
        .nth(1)
        .and_then(|rest| rest.split("</svg>").next())
        .expect("the watch");
    for (name, there) in [
        ("tip height", true),
        ("span of plate20", true),
        ("span of plate11", true),
        ("span of plate01", false),
    ] {
        assert_eq!(watch.contains(name), there, "{name}: {watch}");
    }
    // Twelve of twenty runs are drawn, over the whole width.
    let first = picture.split("<circle").nth(1).expect("a disc");
    let x: f64 =
        first.split("cx=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("x").parse().expect("x");
    assert!(x < 120.0, "{first}");
}
