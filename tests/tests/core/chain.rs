//! The chain of `docs/tables/chain.md`: every piece of code, constant and test that it names is there.

use std::path::Path;

/// Parts of the line that are set as code.
fn code(cell: &str) -> impl Iterator<Item = &str> {
    cell.split('`').skip(1).step_by(2)
}

/// Asserts that a cell of files, each followed by names in it, tells the truth; says how many names it has.
fn check(cell: &str, folder: &Path) -> usize {
    let (mut text, mut names) = (None, 0);
    for word in code(cell) {
        if word.ends_with(".rs") {
            text = Some(
                std::fs::read_to_string(folder.join(word)).unwrap_or_else(|error| panic!("{word}: {error}")),
            );
        } else {
            let text = text.as_ref().unwrap_or_else(|| panic!("{word}: in no file"));
            assert!(text.contains(word), "{word} is not where the chain says: {cell}");
            names += 1;
        }
    }
    names
}

#[test]
fn every_link_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the repository");
    let page = std::fs::read_to_string(root.join("docs/tables/chain.md")).expect("the page");
    let tables = std::fs::read_to_string(root.join("core/src/tables.rs")).expect("the tables");
    let rows: Vec<Vec<&str>> = page
        .lines()
        .filter(|line| line.starts_with("| ") && !line.starts_with("| formula"))
        .map(|line| line.trim_matches('|').split('|').collect())
        .collect();
    assert!(rows.len() >= 15, "{} rows", rows.len());
    for row in rows {
        let [_, source, own, constant, vector, exact] = row[..] else { panic!("{row:?}") };
        assert!(!source.trim().is_empty(), "{row:?}");
        assert!(check(own, &root.join("core/src")) > 0, "{row:?}");
        for tests in [vector, exact] {
            assert!(check(tests, &root.join("tests/tests/core")) > 0, "{row:?}");
        }
        let trim = std::fs::read_to_string(root.join("core/src/trim.rs")).expect("the trim");
        for name in code(constant) {
            let defined = |text: &str| {
                text.contains(&format!("static {name}:")) || text.contains(&format!("const {name}:"))
            };
            assert!(defined(&tables) || defined(&trim), "{name}: {row:?}");
        }
    }
}
