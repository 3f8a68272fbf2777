//! Any text as a session file of the guide: refused, or taken up and worked on.

use zdatum_sim::guide::{Guide, SessionPaths};

pub(crate) fn take(text: &str) {
    let folder = tempfile::tempdir().expect("a folder");
    let place = |name: &str| folder.path().join(name);
    std::fs::write(place("state.json"), text).expect("it can be written");
    let history = Some(place("history.sqlite"));
    let paths = SessionPaths { machine: place("machine.toml"), log: place("touches.csv"), history };
    for practice in [Some(1), None] {
        let Ok((mut guide, resumed)) = Guide::open(paths.clone(), &place("state.json"), practice) else {
            // What is refused stays as it was.
            assert_eq!(std::fs::read_to_string(place("state.json")).expect("still there"), text);
            continue;
        };
        assert!(resumed || guide.answers().is_empty());
        let _ = guide.over();
        let _ = guide.prompt();
        for line in ["back", "yes", "0.5", "again", "2"] {
            if guide.over().is_some() {
                break;
            }
            match line {
                "back" => drop(guide.back(None)),
                "again" => drop(guide.again()),
                line => drop(guide.take(line)),
            }
            let _ = guide.prompt();
        }
        return;
    }
}
