//! `guide`: what others wrote, before and between its questions.

use serde_json::Value;

use super::guide::{CYCLE, SETUP, answers, talk};
use super::tool::{Folder, MACHINE, run_with};

#[test]
fn other_peoples_files_are_never_written_over() {
    let folder = Folder::new();
    folder.write("m-touches.csv", "mine\n");
    let all = answers();
    let (ready, rest) = all.split_at(SETUP.len() + CYCLE.len());
    assert_eq!(talk(&folder, ready).code, Some(130));
    // Asked for by name it is not taken; the default is another name.
    let run = talk(&folder, &["m-touches.csv"]);
    assert!(run.words().contains("already exists") && run.out.contains("m-touches-2.csv"), "{}", run.out);
    assert_eq!(talk(&folder, rest.get(..4).expect("answers")).code, Some(130));
    // Somebody changes the machine file before the trim is written.
    let changed = folder.read("m.toml") + "# more\n";
    folder.write("m.toml", &changed);
    let run = talk(&folder, &["yes", "no", "no"]);
    assert_eq!(run.code, Some(0), "{}", run.out);
    assert!(run.words().contains("changed by something else"), "{}", run.out);
    assert_eq!((folder.read("m.toml"), folder.read("m-touches.csv")), (changed, "mine\n".into()));

    // A machine file that comes up between the questions.
    let folder = Folder::new();
    assert_eq!(talk(&folder, SETUP.get(..27).expect("answers")).code, Some(130));
    folder.write("m.toml", "mine\n");
    let run = talk(&folder, &["yes"]);
    assert!(run.code == Some(130) && run.words().contains("already exists"), "{}", run.out);
    assert_eq!(folder.read("m.toml"), "mine\n");
    // What it was about to write is kept first: a crash just behind the writing leaves no file that it does
    // not know.
    let state: Value = serde_json::from_str(&folder.read("m.guide.json")).expect("JSON");
    assert!(state["own"][0].as_str().is_some_and(|text| text.contains("trip_depth_u")), "{state}");

    // A state file that is none.
    let folder = Folder::new();
    for text in ["mine\n", "{}", "{\"format\":2}", ""] {
        folder.write("m.guide.json", text);
        let run = talk(&folder, &["yes"]);
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{text}");
        assert!(run.err.contains("m.guide.json") && run.err.contains("--state"), "{}", run.err);
        assert_eq!(folder.read("m.guide.json"), text);
    }
}

#[test]
fn a_session_changed_by_hand_is_refused() {
    let folder = Folder::new();
    assert_eq!(talk(&folder, SETUP.get(..5).expect("answers")).code, Some(130));
    let sound = folder.read("m.guide.json");
    folder.write("m.guide.json", sound.replace("\"travel-y\"", "\"travel-q\""));
    let run = talk(&folder, &[""]);
    assert_eq!(run.code, Some(2));
    assert!(run.err.contains("answer 3") && run.err.contains("travel-y"), "{}", run.err);
}

#[test]
fn a_machine_that_is_there_is_used() {
    let folder = Folder::new();
    folder.write("m.toml", MACHINE);
    let run = talk(&folder, &["yes", "slate", "away", "done", "done", "0.5"]);
    assert_eq!(run.code, Some(130), "{}", run.out);
    assert!(run.words().contains("used unchanged") && run.out.contains("touch 2"), "{}", run.out);
    assert_eq!(folder.read("m.toml"), MACHINE);

    folder.write("b.toml", MACHINE.replace("z = [-2.0, 200.0]", "z = [200.0, -2.0]"));
    let bad = run_with(&["guide", folder.path("b.toml").to_str().expect("UTF-8")], "yes\n");
    assert_eq!((bad.code, bad.out.as_str()), (Some(2), ""));
    assert!(bad.err.contains("travel.z"), "{}", bad.err);
    assert_eq!(folder.names(), ["b.toml", "m.guide.json", "m.toml"]);
}
