//! Any lines as answers to the guide, in a session of practice.

use zdatum_sim::guide::{Guide, SessionPaths};

pub(crate) fn take(text: &str) {
    let folder = tempfile::tempdir().expect("a folder");
    let place = |name: &str| folder.path().join(name);
    let history = Some(place("history.sqlite"));
    let paths = SessionPaths { machine: place("machine.toml"), log: place("touches.csv"), history };
    let (mut guide, _) = Guide::open(paths.clone(), &place("state.json"), Some(1)).expect("a session begins");
    for line in text.lines().take(64) {
        if guide.over().is_some() {
            break;
        }
        let _ = guide.prompt();
        match line {
            "back" => drop(guide.back(None)),
            "again" => drop(guide.again()),
            line => drop(guide.take(line)),
        }
    }
    let answers = guide.answers().to_vec();
    if guide.over().is_none() {
        guide.save().expect("it is kept");
        drop(guide);
        let (taken_up, resumed) = Guide::open(paths, &place("state.json"), Some(1)).expect("it is taken up");
        assert!(resumed || answers.is_empty());
        assert_eq!(taken_up.answers(), answers);
    }
}
