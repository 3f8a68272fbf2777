//! What the docs show of the way to a remembered machine is what the commands print.

use super::tool::{Folder, demo, finish, tool};

/// The lines of the block of text that begins so, without what a clock says.
fn block(page: &str, start: &str) -> Vec<String> {
    let from = page.find(start).unwrap_or_else(|| panic!("{start} on the page"));
    let block = page.get(from..).and_then(|rest| rest.split("```").next()).expect("a block");
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
fn the_readme_shows_what_its_first_command_prints() {
    let readme = std::fs::read_to_string(demo("../../README.md")).expect("the README");
    let shown = readme.split("```text\n").nth(1).and_then(|rest| rest.split("```").next()).expect("a block");
    let run = finish(tool().args(["land", &demo("touches.csv"), "--machine", &demo("machine.toml")]));
    assert_eq!(run.code, Some(0), "{run:?}");
    assert!(run.out.contains(shown), "what the README shows is not in\n{}", run.out);
}

#[test]
fn the_pages_of_guide_and_history_show_what_is_printed() {
    let page = |name: &str| std::fs::read_to_string(demo(name)).expect("a page");
    let (session, remembered) = (page("../guide.md"), page("../history.md"));
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
    for line in block(&session, "-----\nPRACTICE").iter().filter(|line| !["", "…"].contains(&line.as_str()))
    {
        assert!(guide.out.contains(line.as_str()), "{line}");
    }
    let (log, machine) = (demo("touches.csv"), demo("machine.toml"));
    within(&["land", &log, "--machine", &machine, "--keep", "--history", "demo.sqlite"]);
    assert_eq!(
        timeless(&within(&["plates", "--history", "demo.sqlite"])),
        block(&remembered, "Plates of demo.sqlite")
    );
    assert!(within(&["watch", "--history", "demo.sqlite"]).contains("EWMA   1.11"));
    within(&["history", "note", "nozzle", "--before", "6", "--history", "demo.sqlite"]);
    assert_eq!(
        timeless(&within(&["watch", "--history", "demo.sqlite"])),
        block(&remembered, "Watch over demo.sqlite")
    );
}
