//! What the README shows of the way to a remembered machine is what the commands print.

use super::tool::{Folder, demo, finish, tool};

/// The lines of the block of text that begins so, without what a clock says.
fn block(readme: &str, start: &str) -> Vec<String> {
    let from = readme.find(start).unwrap_or_else(|| panic!("{start} in the README"));
    let block = readme.get(from..).and_then(|rest| rest.split("```").next()).expect("a block");
    timeless(block)
}

fn timeless(text: &str) -> Vec<String> {
    let line = |line: &str| match line.rsplit_once("  20") {
        Some((before, _)) => before.trim_end().to_owned(),
        None => line.trim_end().to_owned(),
    };
    text.lines().map(line).collect()
}

#[test]
fn the_section_from_sheet_to_watch_shows_what_is_printed() {
    let readme = std::fs::read_to_string(demo("../../README.md")).expect("the README");
    let folder = Folder::new();
    let within = |args: &[&str]| {
        let run = finish(tool().args(args).current_dir(folder.path(".")));
        assert_eq!(run.code, Some(0), "{run:?}");
        run.out
    };
    folder.write("enter", "\n".repeat(90));
    let enter = std::fs::File::open(folder.path("enter")).expect("lines");
    let guide = finish(
        tool().args(["guide", "practice.toml", "--practice"]).current_dir(folder.path(".")).stdin(enter),
    );
    for line in block(&readme, "The trip depth\n").iter().filter(|line| !["", "…"].contains(&line.as_str()))
    {
        assert!(guide.out.contains(line.as_str()), "{line}");
    }
    let (log, machine) = (demo("touches.csv"), demo("machine.toml"));
    within(&["land", &log, "--machine", &machine, "--keep", "--history", "demo.sqlite"]);
    assert_eq!(
        timeless(&within(&["plates", "--history", "demo.sqlite"])),
        block(&readme, "Plates of demo.sqlite")
    );
    assert!(within(&["watch", "--history", "demo.sqlite"]).contains("EWMA   1.11"));
    within(&["history", "note", "nozzle", "--before", "6", "--history", "demo.sqlite"]);
    assert_eq!(
        timeless(&within(&["watch", "--history", "demo.sqlite"])),
        block(&readme, "Watch over demo.sqlite")
    );
}
