//! How pages look: their order, width, colours, and what becomes of a stream that closes.

use std::process::Stdio;

use unicode_width::UnicodeWidthStr;

use super::tool::{Folder, LOG, MACHINE, demo, finish, run, run_with, tool};

fn demo_args() -> [String; 4] {
    ["land".into(), demo("touches.csv"), "--machine".into(), demo("machine.toml")]
}

#[test]
fn the_landing_comes_first_then_the_verdict_then_what_it_rests_on() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let run = run_with(&["land", "-", "-m", &machine], LOG);
    let order = [
        "Landing -0.0600 mm, U 0.0101 mm",
        "Accept",
        "station ",
        "tip        2     +0.4985   0.0010",
        "shoulder   2     +7.1320",
        "plate      2     +7.2135",
        "drop     +6.6335   expected 6.0000 to 7.5000",
        "rise     -0.5585   expected -0.6000 to 0.8000",
        "span     +0.0815",
        "corrections",
        "uncertainty budget",
        "trip depth ",
        "█",
        "G10 L2 P1 Z-0.0600",
        "G90",
        "G92 Z10.0000",
        "Caution",
    ];
    let mut from = 0;
    for text in order {
        let at = run.out.get(from..).and_then(|rest| rest.find(text));
        from += at.unwrap_or_else(|| panic!("`{text}` is missing or out of order:\n{}", run.out));
    }
    assert!(run.out.contains("the tool sends nothing") && run.out.contains("The trip depth dominates"));
}

#[test]
fn several_cycles_have_an_overview_and_only_the_newest_is_to_be_applied() {
    let page = run(&demo_args()).out;
    assert_eq!(page.matches("\nRun ").count(), 9);
    assert_eq!(page.matches("uncertainty budget").count(), 9);
    assert_eq!(page.matches("To apply run 9").count(), 1);
    assert_eq!(page.matches("To apply").count(), 1);
    assert!(page.starts_with("run "), "{page}");

    let refused = run(&["land", &demo("refused.csv"), "-m", &demo("machine.toml")]);
    assert_eq!(refused.code, Some(1));
    assert!(!refused.out.contains("G10") && refused.out.contains("Nothing to apply"), "{}", refused.out);
    assert!(refused.out.contains("may serve a gauge check"));
    for word in
        ["unsteady at the plate", "walking at the tip", "moved too far", "seen 0.0356 mm, limit 0.0220 mm"]
    {
        assert!(refused.out.contains(word), "{word}");
    }
}

#[test]
fn an_untrimmed_machine_is_told_so() {
    let folder = Folder::new();
    let machine =
        folder.write("machine.toml", MACHINE.replace("trimmed_at_speed = 2.0", "trimmed_at_speed = 0.0"));
    assert!(run_with(&["land", "-", "-m", &machine], LOG).out.contains("never trimmed"));
}

#[test]
fn no_line_is_wider_than_a_hundred_columns() {
    let folder = Folder::new();
    let wide = "板".repeat(150);
    let part = format!(
        "\n[[growth]]\nname = \"{wide}\"\nfollows = \"tool\"\num_per_c = 9\num_per_c_u = 9\ntouch_c = 1\nprint_c = 200\n"
    );
    let machine = folder.write("machine.toml", format!("{MACHINE}{part}"));
    let rows = |run: &str| {
        LOG.lines().skip(1).map(|line| format!("{run}{wide},{wide},{line}\n")).collect::<String>()
    };
    let log = format!("run,plate,station,z\n{}{}", rows("1"), rows("2"));
    let pages = [
        run(&demo_args()),
        run(&["land", &demo("refused.csv"), "-m", &demo("machine.toml")]),
        run_with(&["land", "-", "-m", &machine], &log),
        run(&["setup", &demo("machine.toml")]),
        run(&["setup", &machine]),
        run(&["trim", "-m", &machine, "--nudge", "-0.3"]),
        run(&["trim", "-m", &machine, "--nudge", "-0.01"]),
    ];
    for page in pages {
        assert!(!page.out.is_empty(), "{}", page.err);
        for line in page.out.lines().filter(|line| !line.contains("machine.toml")) {
            assert!(line.width() <= 100, "{}: {line}", line.width());
            assert_eq!(line, line.trim_end(), "no blanks at the end");
        }
    }
}

#[test]
fn colours_are_for_terminals_alone() {
    assert!(!run(&demo_args()).out.contains('\u{1b}'));
    let forced = finish(tool().args(demo_args()).env("CLICOLOR_FORCE", "1"));
    assert!(forced.out.contains("\u{1b}["));
    let never = finish(tool().args(demo_args()).env("CLICOLOR_FORCE", "1").env("NO_COLOR", "1"));
    assert_eq!(never.out, run(&demo_args()).out);
    let missing = finish(tool().args(["setup", "nowhere"]));
    assert!(!missing.err.contains('\u{1b}'), "{}", missing.err);
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let child =
        tool().args(demo_args()).stdout(writer).stderr(Stdio::piped()).spawn().expect("the tool runs");
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_output_is_an_error() {
    let full = std::fs::File::options().write(true).open("/dev/full").expect("a device that is always full");
    let output = tool().args(demo_args()).stdout(full).output().expect("the tool runs");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot write to standard output"));
}
