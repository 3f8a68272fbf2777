//! The history stays whole: killed at any moment, on a full disk, written by several at once, and kept apart
//! from files that are none.

use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use rusqlite::Connection;

use super::history::Desk;
use super::tool::{LOG, MACHINE, Run, assert_refused, cycle, finish, log, run, tool};

/// A cycle's touches.
const TOUCHES: i64 = 6;

/// Cycles that are all kept, or none.
const CYCLES: i64 = 40;

fn many(name: &str) -> String {
    let cycles: Vec<String> = (0..CYCLES).map(|n| cycle(&format!("{name}{n}"), "a", n as i32)).collect();
    log(&cycles)
}

/// How many cycles there are, after every check that SQLite and we can make.
fn count(desk: &Desk) -> i64 {
    if !desk.folder.path("h").exists() {
        return 0;
    }
    let listed = desk.history(&["--json"]);
    if listed.code == Some(2) {
        assert!(listed.err.contains("no history yet"), "{listed:?}");
        return 0;
    }
    let entries = listed.json()["entries"].as_array().expect("entries").len() as i64;
    let connection = Connection::open(desk.folder.path("h")).expect("it opens");
    let ask = |sql: &str| connection.query_row(sql, [], |row| row.get::<_, i64>(0)).expect("an answer");
    let sound: String =
        connection.query_row("PRAGMA integrity_check", [], |row| row.get(0)).expect("an answer");
    assert_eq!(sound, "ok");
    assert_eq!(ask("SELECT count(*) FROM pragma_foreign_key_check"), 0);
    assert_eq!(ask("SELECT count(*) FROM touch"), TOUCHES * entries);
    assert_eq!(ask("SELECT count(*) FROM cycle JOIN setup ON setup.id = cycle.setup"), entries);
    entries
}

fn keep(desk: &Desk, log: &str) -> Command {
    let mut command = tool();
    command.args(["land", log, "-m", &desk.machine, "--history", &desk.history, "--keep", "--again"]);
    command
}

/// The same under a limit of so many 512-byte blocks for every file that it writes. Beyond the limit a write
/// either fails, as on a full disk, or kills.
#[cfg(unix)]
fn limited(desk: &Desk, log: &str, blocks: u32, kills: bool) -> Run {
    finish(&mut under_limit(&keep(desk, log), blocks, kills))
}

#[cfg(unix)]
fn under_limit(whole: &Command, blocks: u32, kills: bool) -> Command {
    let trap = if kills { "" } else { "trap '' XFSZ; " };
    let script = format!("{trap}ulimit -c 0; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let mut command = Command::new("sh");
    command.arg("-c").arg(script).arg(whole.get_program()).args(whole.get_args());
    command
}

#[test]
#[cfg(unix)]
fn killed_at_any_write_it_holds_all_or_nothing() {
    let desk = Desk::new();
    let log = desk.folder.write("log.csv", many("x"));
    let mut kept = 0;
    let mut killed = 0;
    // Every page of the file, and of the journal that guards it, is once the one at which it dies.
    for blocks in (0..=400).step_by(4) {
        let run = limited(&desk, &log, blocks, true);
        match run.code {
            Some(_) => {
                assert_ne!(run.code, Some(2), "{run:?}");
                kept += CYCLES;
            }
            None => killed += 1,
        }
        assert_eq!(count(&desk), kept, "at {blocks} blocks");
    }
    assert!(killed > 10 && kept > 0, "{killed} killed, {kept} kept");
}

#[test]
#[cfg(unix)]
fn a_full_disk_leaves_it_as_it_was() {
    let desk = Desk::new();
    let log = desk.folder.write("log.csv", many("x"));
    // There is no room to begin one.
    for blocks in [0, 8, 40] {
        assert_refused(&limited(&desk, &log, blocks, false), &["h: cannot be", "nothing was kept"]);
        assert_eq!(count(&desk), 0);
    }
    assert_eq!(keep(&desk, &log).output().expect("it runs").status.code(), Some(0));
    let before = desk.folder.read_bytes("h");
    let size = before.len() as u32 / 512;
    let (mut refused, mut undone_later) = (0, 0);
    for blocks in (0..size * 3 / 2).step_by(16) {
        let run = limited(&desk, &log, blocks, false);
        assert_refused(&run, &["h: cannot be", "nothing was kept"]);
        refused += 1;
        // Below the file's own size the limit forbids the undoing too, which a full disk would not: the next
        // command does that.
        if blocks >= size {
            assert!(desk.folder.read_bytes("h") == before, "at {blocks} of {size} blocks");
        } else if desk.folder.path("h-journal").exists() {
            undone_later += 1;
        }
        assert_eq!(count(&desk), CYCLES);
        assert!(desk.folder.read_bytes("h") == before, "at {blocks} of {size} blocks");
        assert_eq!(desk.folder.names(), ["h", "log.csv", "machine.toml"]);
    }
    assert!(refused > 5 && undone_later > 0, "{refused} refused, {undone_later} undone later");
}

#[test]
#[cfg(unix)]
fn a_trim_on_a_full_disk_is_never_entered_without_being_made() {
    let (mut stopped, mut unentered, mut entered) = (0, 0, 0);
    for blocks in (0..=160).step_by(8) {
        let desk = Desk::new();
        desk.land(LOG, &["--keep"]);
        let mut trim = tool();
        trim.args(["trim", "-m", &desk.machine, "--nudge", "0.01", "--write", "--history", &desk.history]);
        let run = finish(&mut under_limit(&trim, blocks, false));
        let is_made = desk.folder.read("machine.toml") != MACHINE;
        let is_entered = desk.entries().len() == 2;
        match run.code {
            Some(0) if is_entered => {
                assert!(is_made && run.out.contains("Entered as 2"), "{run:?}");
                entered += 1;
            }
            Some(0) => {
                assert!(is_made && run.out.contains("not in the history"), "{run:?}");
                unentered += 1;
            }
            _ => {
                assert!(!is_made && !is_entered);
                assert_refused(&run, &["cannot be"]);
                stopped += 1;
            }
        }
    }
    assert!(
        stopped > 0 && unentered > 0 && entered > 0,
        "{stopped} stopped, {unentered} unentered, {entered} entered"
    );
}

#[test]
fn killed_at_any_time_it_holds_all_or_nothing() {
    let desk = Desk::new();
    let log = desk.folder.write("log.csv", many("x"));
    let begun = Instant::now();
    assert!(keep(&desk, &log).output().expect("it runs").status.success());
    let whole = begun.elapsed();
    let mut kept = CYCLES;
    const TIMES: u32 = 80;
    for n in 0..TIMES {
        let mut child =
            keep(&desk, &log).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("it runs");
        std::thread::sleep(whole * n / TIMES + Duration::from_micros(u64::from(n)));
        child.kill().expect("a signal");
        child.wait().expect("it ends");
        let now = count(&desk);
        assert!(now == kept || now == kept + CYCLES, "{kept} before, {now} after");
        kept = now;
    }
    // It goes on as if nothing had been.
    assert!(keep(&desk, &log).output().expect("it runs").status.success());
    assert_eq!(count(&desk), kept + CYCLES);
}

#[test]
fn several_at_once_lose_nothing_and_double_nothing() {
    let desk = Desk::new();
    let own: Vec<String> =
        (0..6).map(|n| desk.folder.write(&format!("{n}.csv"), many(&format!("{n}-")))).collect();
    // The first of them begins the file, whichever it is; the second time it is there. Meanwhile it is read.
    for round in 1..=2 {
        let children: Vec<_> = own
            .iter()
            .map(|log| {
                keep(&desk, log).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it runs")
            })
            .collect();
        for _ in 0..3 {
            let listed = desk.history(&["--json"]);
            assert!(
                listed.code == Some(0) || (round == 1 && listed.err.contains("no history yet")),
                "{listed:?}"
            );
        }
        for child in children {
            let output = child.wait_with_output().expect("it ends");
            assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        }
        assert_eq!(count(&desk), round * 6 * CYCLES);
    }
    // One log by all of them: each cycle is kept by one, and the others are told.
    let same = desk.folder.write("same.csv", log(&[cycle("s", "b", 600), cycle("t", "b", 700)]));
    let children: Vec<_> = (0..6)
        .map(|_| {
            let args = ["land", &same, "-m", &desk.machine, "--history", &desk.history, "--keep", "--json"];
            tool().args(args).stdout(Stdio::piped()).spawn().expect("it runs")
        })
        .collect();
    let mut now = 0;
    for child in children {
        let output = child.wait_with_output().expect("it ends");
        let document: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let cycles = document["history"]["cycles"].as_array().expect("cycles");
        now += cycles.iter().filter(|cycle| cycle["kept"] == "now").count();
    }
    assert_eq!(now, 2);
}

#[test]
fn files_that_are_none_are_refused_and_not_touched() {
    let desk = Desk::new();
    let database = |name: &str, sql: &str| {
        let path = desk.folder.path(name);
        Connection::open(&path).expect("a file").execute_batch(sql).expect("SQL");
        path.to_str().expect("UTF-8").to_owned()
    };
    let text = desk.folder.write("text", "Once upon a time there was a printer.\n".repeat(40));
    let short = desk.folder.write("short", "x");
    let foreign = database("foreign", "CREATE TABLE cycle (x); INSERT INTO cycle VALUES (1)");
    let other = database("other", "PRAGMA application_id = 7; CREATE TABLE entry (x)");
    let mut cases = vec![
        (text, "not a history"),
        (short, "not a history"),
        (foreign, "not a history"),
        (other, "not a history"),
    ];
    desk.land(LOG, &["--keep"]);
    std::fs::copy(desk.folder.path("h"), desk.folder.path("newer")).expect("a copy");
    cases.push((database("newer", "PRAGMA user_version = 99"), "newer version of this tool (schema 99"));
    let names = desk.folder.names();
    for (file, word) in &cases {
        let before = std::fs::read(file).expect("a file");
        let log = desk.folder.path("machine.toml");
        for args in [
            &["history", "--history", file][..],
            &["history", "--history", file, "note", "probe"],
            &["history", "--history", file, "forget", "1"],
            &["history", "--history", file, "export"],
            &[
                "land",
                "-m",
                &desk.machine,
                "--tip",
                "0,0",
                "--shoulder",
                "7,7",
                "--plate",
                "7,7",
                "--keep",
                "--history",
                file,
            ],
            &["trim", "-m", &desk.machine, "--nudge", "0.01", "--write", "--history", file],
        ] {
            assert_refused(&run(args), &[word]);
        }
        assert_eq!(std::fs::read(file).expect("a file"), before);
        assert_eq!(std::fs::read_to_string(log).expect("a file"), MACHINE);
    }
    assert_eq!(desk.folder.names(), names);
    // A folder, and a name in a folder that is not there.
    let folder = desk.folder.path("folder");
    std::fs::create_dir(&folder).expect("a folder");
    for (path, word) in [(folder.clone(), "not a regular file"), (folder.join("a/b"), "folder exists")] {
        let path = path.to_str().expect("UTF-8");
        assert_refused(&run(&["history", "--history", path, "note", "probe"]), &[word]);
    }
    assert_refused(
        &run(&["history", "--history", folder.join("none").to_str().expect("UTF-8")]),
        &["no history yet"],
    );
}

#[test]
fn a_damaged_file_is_told_and_an_empty_one_is_begun() {
    let desk = Desk::new();
    desk.land(&many("x"), &["--keep"]);
    let mut bytes = desk.folder.read_bytes("h");
    for byte in bytes.iter_mut().skip(4096 + 100) {
        *byte = 0x5a;
    }
    let damaged = desk.folder.write("damaged", &bytes);
    assert_refused(&run(&["history", "--history", &damaged]), &["damaged"]);
    let cut = desk.folder.write("cut", bytes.get(..200).expect("a part"));
    assert_eq!(run(&["history", "--history", &cut]).code, Some(2));

    let empty = desk.folder.write("empty", "");
    assert_refused(&run(&["history", "--history", &empty]), &["no history yet"]);
    assert_eq!(run(&["history", "--history", &empty, "note", "probe"]).code, Some(0));
    assert_eq!(run(&["history", "--history", &empty, "--json"]).json()["entries"][0]["what"], "probe");
}

#[test]
fn a_file_of_the_first_schema_is_read_and_written() {
    let desk = Desk::new();
    // Made by the first version of the tool that had a history; see the file.
    let connection = Connection::open(desk.folder.path("h")).expect("a file");
    connection.execute_batch(include_str!("../history-1.sql")).expect("SQL");
    drop(connection);
    let entries = desk.entries();
    let words: Vec<_> = entries
        .iter()
        .map(|e| (e["number"].as_i64(), e["run"].as_str().or(e["what"].as_str()), e["verdict"].as_str()))
        .collect();
    assert_eq!(
        words,
        [
            (Some(1), Some("1"), Some("accept")),
            (Some(4), Some("nozzle"), None),
            (Some(2), Some("2"), Some("refuse")),
        ]
    );
    assert_eq!(
        (entries[0]["landing"].as_f64(), entries[0]["kept"].as_str()),
        (Some(-0.059998), Some("2026-11-25T12:00:00.000000Z"))
    );
    assert_eq!(desk.history(&["show", "1", "--json"]).json()["touches"][0]["z"], "0.4980");
    assert!(!desk.history(&["show", "1"]).out.contains("otherwise"));
    // What is kept now is compared with what was kept then.
    let landed = desk.land(&log(&[cycle("3", "slate", 1)]), &["--keep", "--json"]).json();
    assert_eq!(landed["history"]["cycles"][0]["held_against"], 1);
    assert_eq!(landed["history"]["cycles"][0]["number"], 5);
    assert_eq!(desk.history(&["--all", "--json"]).json()["entries"].as_array().map(Vec::len), Some(5));
}
