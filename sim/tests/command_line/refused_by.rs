//! What `simulate --budget` says of refusals, and what interrupted campaigns tell.

use super::simulate::number;
use super::tool::run;

#[test]
fn the_budget_says_what_makes_cycles_refused() {
    let args = ["simulate", "--budget", "--runs", "20000", "--each", "2000"];
    let document = run(&[&args[..], &["--json"]].concat()).json();
    let refusals = &document["refusals"];
    assert_eq!((&refusals["complete"], &refusals["runs"]), (&true.into(), &2_048.into()));
    let sources = refusals["sources"].as_array().expect("the demo's cycles are refused now and then");
    assert_eq!(sources.len(), 10);
    for source in sources {
        for index in ["first", "total"] {
            let [low, value, high] = ["low", "value", "high"].map(|part| number(&source[index][part]));
            assert!(low <= value && value <= high, "{source}");
        }
    }
    // Wild touches and noise at the stations refuse.
    let total = |word: &str| {
        let found = sources.iter().find(|source| source["source"] == word);
        number(&found.unwrap_or_else(|| panic!("no {word}"))["total"]["value"])
    };
    assert!(total("plate-touches") > 0.1, "{refusals}");
    let page = run(&args);
    assert!(page.words().contains("What makes cycles refused"), "{}", page.out);
    assert!(page.out.lines().all(|line| line.chars().count() <= 80), "{}", page.out);
}

/// Ctrl-C: what was done so far is told, as of every command whose work is long.
#[cfg(unix)]
#[test]
fn interrupted_it_reports_what_was_done() {
    let long = [
        &["simulate", "--runs", "1000", "--budget", "--each", "10000000"][..],
        &["simulate", "--runs", "1000", "--coverage", "--each", "1000000"],
        &["simulate", "--runs", "1000", "--scrape", "0.05", "--each", "10000000"],
        &["faults", "--cycles", "100000000"],
    ];
    for args in long {
        let run = super::tool::interrupted(&[args, &["--json"]].concat(), 500);
        assert_eq!(run.code, Some(130), "{args:?}: {run:?}");
        assert_eq!(run.json()["complete"], false, "{args:?}");
    }
}
