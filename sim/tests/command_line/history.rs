//! `history`: what is kept, what is known again, what is compared with what, and what the owner enters.

use serde_json::Value;

use super::tool::{Folder, LOG, MACHINE, Run, assert_refused, cycle, demo, finish, log, run, run_with, tool};

/// A folder with a machine file; the history is `h` in it.
pub(super) struct Desk {
    pub(super) folder: Folder,
    pub(super) machine: String,
    pub(super) history: String,
}

impl Desk {
    pub(super) fn new() -> Self {
        let folder = Folder::new();
        let machine = folder.write("machine.toml", MACHINE);
        let history = folder.path("h").to_str().expect("UTF-8").to_owned();
        Self { folder, machine, history }
    }

    /// `land` of a log with this history.
    pub(super) fn land(&self, log: &str, more: &[&str]) -> Run {
        let args = ["land", "-", "-m", &self.machine, "--history", &self.history];
        run_with(&[&args[..], more].concat(), log)
    }

    /// `history …` with this history.
    pub(super) fn history(&self, args: &[&str]) -> Run {
        run(&[&["history", "--history", &self.history], args].concat())
    }

    /// All entries that count.
    pub(super) fn entries(&self) -> Vec<Value> {
        let run = self.history(&["--json"]);
        assert_eq!(run.code, Some(0), "{run:?}");
        run.json()["entries"].as_array().expect("entries").clone()
    }
}

fn verdicts(run: &Run) -> Vec<String> {
    let document = run.json();
    let cycles = document["cycles"].as_array().expect("cycles");
    cycles.iter().map(|cycle| cycle["verdict"].as_str().expect("a verdict").to_owned()).collect()
}

/// What is kept of a landed cycle: what was measured. A wish may change later.
fn without_wish(cycle: &Value) -> Value {
    let mut kept = cycle.clone();
    let fields = kept.as_object_mut().expect("a cycle");
    assert!(fields.remove("wish").is_some() && fields.remove("apply").is_some());
    kept
}

#[test]
fn a_kept_cycle_is_there_with_all_of_it() {
    let desk = Desk::new();
    let text = "# c\nrun,station,z,kind,time_s,tool_c,plate\n\
                7,tip,0.500,first,0.10,150.0,slate\n7,tip,0.498,,1,149.9,slate\n7,tip,+0.499,fine,2.50,,slate\n\
                7,shoulder,7.131,,3,,\n7,shoulder,7.133,,,,\n7,plate,7.214,,,,\n7,plate,7.213,,,,\n";
    let landed = desk.land(text, &["--keep", "--nozzle", "brass 0.4", "--json"]);
    assert_eq!(landed.code, Some(0), "{landed:?}");
    let document = landed.json();
    let cycle = &document["history"]["cycles"][0];
    assert_eq!(
        (&cycle["run"], &cycle["number"], &cycle["kept"], &cycle["held_against"]),
        (&"7".into(), &1.into(), &"now".into(), &Value::Null)
    );
    assert_eq!(document["history"]["file"], desk.history.as_str());

    let shown = desk.history(&["show", "1", "--json"]).json();
    // What was said stands there as it was said, and every cell as it was read.
    assert_eq!(shown["result"], without_wish(&document["cycles"][0]));
    let touches = shown["touches"].as_array().expect("touches");
    assert_eq!(touches.len(), 7);
    let first =
        serde_json::json!({"station":"tip","z":"0.500","kind":"first","time_s":"0.10","tool_c":"150.0"});
    assert_eq!(touches[0], first);
    assert_eq!(touches[2]["z"], "+0.499");
    assert_eq!(touches[6], serde_json::json!({"station":"plate","z":"7.213"}));
    for (key, value) in [("nozzle", "brass 0.4"), ("plate", "slate"), ("run", "7"), ("verdict", "accept")] {
        assert_eq!(shown[key], value, "{key}");
    }
    assert_eq!(shown["tool"], env!("CARGO_PKG_VERSION"));

    let listed = desk.entries();
    assert_eq!(listed.len(), 1);
    assert_eq!(listed[0]["landing"], document["cycles"][0]["landing"]);
    assert_eq!(listed[0]["span"], document["cycles"][0]["span"]);
    let text = desk.history(&["show", "1"]).out;
    assert!(
        text.contains("brass 0.4") && text.contains("Run 7 · plate slate") && !text.contains("otherwise"),
        "{text}"
    );
    assert!(!text.contains("G10"), "an old landing is not to be applied: {text}");
}

#[test]
fn the_setup_is_stored_once() {
    let desk = Desk::new();
    desk.land(&log(&[cycle("1", "a", 0), cycle("2", "a", 1)]), &["--keep"]);
    let machine = desk.folder.write("machine.toml", MACHINE.replace("band = 0.020", "band = 0.021"));
    assert_eq!(machine, desk.machine);
    desk.land(&log(&[cycle("3", "a", 2)]), &["--keep"]);
    let export = desk.history(&["export"]).out;
    assert_eq!(export.matches("\"entry\":\"setup\"").count(), 2);
    assert_eq!(export.matches("\"entry\":\"cycle\"").count(), 3);
    let setups: Vec<Value> = desk.entries().iter().map(|entry| entry["setup"].clone()).collect();
    assert!(setups[0] == setups[1] && setups[1] != setups[2], "{setups:?}");
}

#[test]
fn refused_cycles_are_kept_with_their_reasons_and_hold_nothing_back() {
    let desk = Desk::new();
    let run = desk.land(&log(&[cycle("1", "a", 0), cycle("2", "a", 400), cycle("3", "a", 10)]), &["--keep"]);
    assert_eq!(run.code, Some(1));
    let entries = desk.entries();
    let verdicts: Vec<_> = entries.iter().map(|e| e["verdict"].as_str().expect("one")).collect();
    assert_eq!(verdicts, ["accept", "refuse", "accept"]);
    assert_eq!(entries[1]["reasons"], serde_json::json!(["moved-too-far"]));
    assert!(entries[1]["landing"].is_null() && entries[1]["landing_seen"].is_number());
}

#[test]
fn the_plates_last_accepted_span_comes_from_the_history() {
    let desk = Desk::new();
    desk.land(&log(&[cycle("1", "a", 0)]), &["--keep"]);
    let moved = log(&[cycle("2", "a", 400)]);
    // Without the history nothing is known of the plate.
    let alone = run_with(&["land", "-", "-m", &desk.machine, "--json"], &moved);
    assert_eq!((alone.code, verdicts(&alone)[0].as_str()), (Some(0), "accept"));
    let with = desk.land(&moved, &["--json"]);
    assert_eq!(with.code, Some(1));
    let document = with.json();
    assert_eq!(document["cycles"][0]["reasons"][0]["refusal"], "moved-too-far");
    assert_eq!(document["history"]["cycles"][0]["held_against"], 1);
    assert!(document["history"]["cycles"][0]["kept"].is_null());
    // It was only asked.
    assert_eq!(desk.entries().len(), 1);
    // Another plate, and none.
    for log in [log(&[cycle("2", "b", 400)]), log(&[cycle("2", "", 400)])] {
        assert_eq!(desk.land(&log, &[]).code, Some(0));
    }
    // What is given outdoes it.
    assert_eq!(desk.land(&moved, &["--last-span", "0.4815"]).code, Some(0));
    // Said in words.
    let text = desk.land(&moved, &[]).words();
    assert!(text.contains("compared with that of entry 1") && text.contains("not kept"), "{text}");
}

#[test]
fn a_cycle_kept_twice_is_told_and_not_doubled() {
    let desk = Desk::new();
    let first = desk.land(&log(&[cycle("1", "a", 0), cycle("2", "a", 200)]), &["--keep", "--json"]);
    // The same touches, otherwise written, with more behind them.
    let more =
        log(&[cycle("x", "a", 0), cycle("y", "a", 200), cycle("z", "a", 390)]).replace("7.131\n", "7.1310\n");
    let second = desk.land(&more, &["--keep", "--json"]);
    let document = second.json();
    let fates: Vec<_> = document["history"]["cycles"]
        .as_array()
        .expect("cycles")
        .iter()
        .map(|cycle| (cycle["number"].as_i64(), cycle["kept"].as_str(), cycle["held_against"].as_i64()))
        .collect();
    let (before, now) = (Some("before"), Some("now"));
    assert_eq!(fates, [(Some(1), before, None), (Some(2), before, Some(1)), (Some(3), now, Some(2))]);
    // Judged as the first time.
    assert_eq!(document["cycles"][1]["span"], first.json()["cycles"][1]["span"]);
    assert_eq!(desk.entries().len(), 3);
    let text = desk.land(&more, &["--keep"]).words();
    assert!(text.contains("known, kept as entry 1 before; not kept twice"), "{text}");

    desk.land(&log(&[cycle("1", "a", 0)]), &["--keep", "--again"]);
    assert_eq!(desk.entries().len(), 4);
}

#[test]
fn known_touches_are_told_under_another_machine_file_too() {
    let desk = Desk::new();
    desk.land(LOG, &["--keep"]);
    desk.folder.write("machine.toml", MACHINE.replace("0.640  ", "0.645  "));
    let run = desk.land(LOG, &["--keep"]);
    assert!(run.words().contains("judged by another machine file"), "{}", run.out);
    assert_eq!(desk.entries().len(), 1);
}

#[test]
fn touches_given_as_arguments_are_kept_too() {
    let desk = Desk::new();
    let typed = ["--tip", "0.498, 0.499", "--shoulder", "7.131,7.133", "--plate", "7.214,7.213"];
    let args = [&["land", "-m", &desk.machine, "--history", &desk.history, "--keep"], &typed[..]].concat();
    assert_eq!(run(&args).code, Some(0));
    let touches = desk.history(&["show", "1", "--json"]).json()["touches"].clone();
    assert_eq!(touches[1], serde_json::json!({"station":"tip","z":"0.499"}));
    // The same heights from a log.
    assert!(desk.land(LOG, &["--keep"]).out.contains("known"));
}

#[test]
fn nothing_is_begun_for_what_cannot_be_judged() {
    let desk = Desk::new();
    assert_refused(&desk.land("station,z\ntip,1\n", &["--keep"]), &["counted touch"]);
    assert_refused(&desk.land("station,z\ntip,x\n", &["--keep"]), &["column `z`"]);
    assert_eq!(desk.folder.names(), ["machine.toml"]);
    desk.land(LOG, &["--keep"]);
    let before = desk.folder.read_bytes("h");
    assert_refused(&desk.land("station,z\ntip,1\n", &["--keep"]), &["counted touch"]);
    assert_eq!(desk.folder.read_bytes("h"), before);
}

#[test]
fn another_machine_is_noticed() {
    let desk = Desk::new();
    desk.land(LOG, &["--keep"]);
    desk.folder.write("machine.toml", MACHINE.replace("plate = [112.0, 120.0]", "plate = [100.0, 120.0]"));
    let run = desk.land(&log(&[cycle("1", "a", 3)]), &["--keep", "--json"]);
    assert!(
        run.json()["history"]["notes"][0].as_str().is_some_and(|note| note.contains("machine")),
        "{run:?}"
    );
    // Once it is this machine's, there is nothing to notice.
    let run = desk.land(&log(&[cycle("2", "a", 4)]), &["--keep", "--json"]);
    assert!(run.json()["history"].get("notes").is_none());
}

#[test]
fn a_forgotten_cycle_counts_no_more() {
    let desk = Desk::new();
    let (first, second) = (log(&[cycle("1", "a", 0)]), log(&[cycle("2", "a", 200)]));
    desk.land(&first, &["--keep"]);
    desk.land(&second, &["--keep"]);
    let held = || {
        desk.land(&log(&[cycle("3", "a", 240)]), &["--json"]).json()["history"]["cycles"][0]["held_against"]
            .clone()
    };
    assert_eq!(held(), 2);
    let run = desk.history(&["forget", "2"]);
    assert!(run.code == Some(0) && run.out.contains("forgotten"), "{run:?}");
    assert_eq!((held(), desk.entries().len()), (1.into(), 1));
    // It is still there for who asks, and comes back.
    let all = desk.history(&["--all", "--json"]).json();
    assert!(all["entries"][1]["forgotten"].is_string() && all["entries"][0].get("forgotten").is_none());
    assert!(desk.history(&["show", "2"]).out.contains("forgotten"));
    assert_eq!(desk.history(&["forget", "2", "--json"]).json()["already"], serde_json::json!([2]));
    desk.history(&["forget", "2", "--undo"]);
    assert_eq!((held(), desk.entries().len()), (2.into(), 2));
    // A forgotten cycle may be kept anew.
    desk.history(&["forget", "2"]);
    let again = desk.land(&second, &["--keep", "--json"]);
    assert_eq!(again.json()["history"]["cycles"][0]["number"], 3);
}

#[test]
fn numbers_that_are_none_change_nothing() {
    let desk = Desk::new();
    desk.land(LOG, &["--keep"]);
    assert_refused(&desk.history(&["forget", "1", "2"]), &["number 2"]);
    assert_eq!(desk.entries().len(), 1);
    assert_refused(&desk.history(&["show", "9"]), &["number 9"]);
    assert_refused(&desk.history(&["note", "nozzle", "--before", "9"]), &["number 9"]);
    assert_eq!(desk.history(&["forget"]).code, Some(2));
}

#[test]
fn what_was_done_is_entered_in_its_place() {
    let desk = Desk::new();
    desk.land(&log(&[cycle("1", "a", 0), cycle("2", "a", 1)]), &["--keep"]);
    let noted = desk.history(&["note", "nozzle", "--nozzle", "hard 0.4", "--json"]);
    assert_eq!(noted.json()["number"], 3);
    for what in ["probe", "datum-switch"] {
        desk.history(&["note", what, "--before", "2", "--text", "a screw"]);
    }
    let kinds: Vec<String> = desk
        .entries()
        .iter()
        .map(|entry| entry["what"].as_str().or(entry["run"].as_str()).expect("a word").to_owned())
        .collect();
    assert_eq!(kinds, ["1", "probe", "datum-switch", "2", "nozzle"]);
    assert_eq!(desk.entries()[4]["nozzle"], "hard 0.4");
    let text = desk.history(&[]).out;
    assert!(text.contains("hard 0.4") && text.contains("(a screw)"), "{text}");
    assert!(desk.history(&["show", "4"]).out.contains("a screw"));
}

#[test]
fn there_is_always_a_place_before() {
    let desk = Desk::new();
    desk.land(&log(&[cycle("1", "a", 0), cycle("2", "a", 1)]), &["--keep"]);
    for number in 3..=9 {
        let run = desk.history(&["note", "remark", "--text", &number.to_string(), "--before", "2", "--json"]);
        assert_eq!(run.json()["number"], number);
    }
    let numbers: Vec<_> = desk.entries().iter().map(|entry| entry["number"].as_i64().expect("one")).collect();
    assert_eq!(numbers, [1, 3, 4, 5, 6, 7, 8, 9, 2]);
    // Between two of one moment there are only so many; then it says so.
    let refused =
        (10..30).map(|_| desk.history(&["note", "probe", "--before", "2"])).find(|run| run.code != Some(0));
    assert_refused(&refused.expect("an end"), &["no place is left before entry 2"]);
}

#[test]
fn notes_that_say_nothing_are_refused() {
    let desk = Desk::new();
    for (args, word) in [
        (&["note", "plate"][..], "--plate"),
        (&["note", "remark"], "--text"),
        (&["note", "nozzle", "--plate", "a"], "--plate"),
        (&["note", "probe", "--nozzle", "a"], "--nozzle"),
        (&["note", "nozzle", "--nozzle", ""], "--nozzle"),
        (&["note", "nozzle", "--nozzle", "a\u{7}b"], "--nozzle"),
        (&["note", "nozzle", "--nozzle", " a"], "--nozzle"),
        (&["note", "gremlin"], "gremlin"),
        (&["note"], "WHAT"),
    ] {
        assert_refused(&desk.history(args), &[word]);
    }
    assert_eq!(desk.folder.names(), ["machine.toml"]);
}

#[test]
fn a_trim_is_entered() {
    let desk = Desk::new();
    let trim = |more: &[&str]| {
        let args = ["trim", "-m", &desk.machine, "--gauge", "0.15", "--felt", "0.14"];
        run(&[&args, more].concat())
    };
    let with = ["--write", "--history", &desk.history];
    let document = trim(&[&with[..], &["--json"]].concat()).json();
    assert_eq!((&document["history"]["number"], &document["written"]), (&1.into(), &true.into()));
    let entry = desk.entries()[0].clone();
    let text = entry["text"].as_str().expect("words").to_owned();
    assert_eq!(entry["what"], "trim");
    let depth = desk.folder.read("machine.toml");
    let depth =
        depth.lines().find_map(|line| line.trim_start().strip_prefix("trip_depth   =   ")).expect("the key");
    let depth = depth.split_whitespace().next().expect("a number");
    assert!(
        text.contains(&format!("trip depth {depth} mm")) && text.contains("it was 0.64"),
        "{text} and {depth}"
    );
    // The same check again is refused, and not entered.
    assert_eq!(trim(&with).code, Some(1));
    assert_eq!(desk.entries().len(), 1);
    // Without --write nothing is entered.
    assert_eq!(trim(&["--history", &desk.history]).code, Some(2));
    // A history that is none stops it.
    let before = desk.folder.read("machine.toml");
    let other = desk.folder.write("other", "not a history");
    assert_refused(&trim(&["--again", "--write", "--history", &other]), &["not a history"]);
    assert_eq!(desk.folder.read("machine.toml"), before);
}

// Elsewhere the place is not an environment variable's to say.
#[test]
#[cfg(target_os = "linux")]
fn the_usual_place_is_the_platforms() {
    let desk = Desk::new();
    let home = desk.folder.path("data");
    let at_home = |args: &[&str]| finish(tool().env("XDG_DATA_HOME", &home).args(args));
    assert_refused(&at_home(&["history"]), &["no history yet", "--keep"]);
    assert!(!home.exists());
    let log = desk.folder.write("log.csv", LOG);
    assert_eq!(at_home(&["land", &log, "-m", &desk.machine, "--keep"]).code, Some(0));
    let listed = at_home(&["history", "--json"]).json();
    assert_eq!(listed["entries"].as_array().map(Vec::len), Some(1));
    assert_eq!(listed["history"], home.join("zdatum/history.sqlite").to_str().expect("UTF-8"));
}

#[test]
fn the_demo_is_kept_and_shown_the_same() {
    let desk = Desk::new();
    let args = [
        "land",
        &demo("touches.csv"),
        "-m",
        &demo("machine.toml"),
        "--history",
        &desk.history,
        "--keep",
        "--json",
    ];
    let landed = run(&args).json();
    assert_eq!(desk.entries().len(), 9);
    for number in 1..=9 {
        let shown = desk.history(&["show", &number.to_string(), "--json"]).json();
        assert_eq!(shown["result"], without_wish(&landed["cycles"][number - 1]));
        let text = desk.history(&["show", &number.to_string()]).out;
        assert!(text.contains("Accept") && !text.contains("differently"), "{text}");
    }
    let text = desk.history(&["--plate", "slate"]).out;
    assert_eq!(text.matches("slate").count(), 4, "{text}");
}

#[test]
fn what_was_said_then_is_shown_where_today_says_otherwise() {
    let desk = Desk::new();
    desk.land(LOG, &["--keep"]);
    let alter = |sql: &str| {
        let connection = rusqlite::Connection::open(desk.folder.path("h")).expect("it opens");
        connection.execute_batch(sql).expect("SQL");
        desk.history(&["show", "1"]).words()
    };
    // A later version may have said more.
    let more = alter("UPDATE cycle SET result = replace(result, '{\"run\"', '{\"more\":1,\"run\"')");
    assert!(!more.contains("differently"), "{more}");
    let other = alter("UPDATE cycle SET result = replace(result, '-0.059998', '-0.059999')");
    assert!(
        other.contains("differently") && other.contains("-0.059999") && other.contains("Accept"),
        "{other}"
    );
    let unread = alter("UPDATE setup SET content = 'format = 2'");
    assert!(
        unread.contains("cannot read the machine file of that time") && unread.contains("-0.059999"),
        "{unread}"
    );
}

/// A nozzle is named at its first cycle, at one with another, and anew after a note that it was changed.
#[test]
fn a_list_names_the_nozzle_where_it_is_another() {
    let desk = Desk::new();
    let keep = |run: &str, moved: i32, nozzle: &str| {
        desk.land(&log(&[cycle(run, "a", moved)]), &["--keep", "--nozzle", nozzle]);
    };
    keep("1", 0, "brass 0.4");
    keep("2", 1, "brass 0.4");
    keep("3", 2, "steel 0.6");
    desk.history(&["note", "nozzle", "--nozzle", "brass 0.4"]);
    keep("4", 3, "steel 0.6");
    desk.history(&["note", "nozzle"]);
    keep("5", 4, "steel 0.6");
    desk.history(&["note", "probe", "--text", "mount tightened"]);
    keep("6", 5, "steel 0.6");
    let list = desk.history(&[]).out;
    let named: Vec<&str> = list.lines().map(str::trim).filter(|line| line.starts_with("nozzle ")).collect();
    assert_eq!(
        named,
        ["nozzle brass 0.4", "nozzle steel 0.6", "nozzle steel 0.6", "nozzle steel 0.6"],
        "{list}"
    );
}
