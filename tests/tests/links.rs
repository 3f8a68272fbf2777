//! Links between the pages: every file and every heading that a page points at is there.

use std::path::{Path, PathBuf};

/// Folders whose pages are looked at; what lies below them is too, build folders apart.
const FOLDERS: [&str; 4] = ["docs", "core", "world", "sim"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the repository").to_owned()
}

/// Pages in the root folder and below [`FOLDERS`].
fn pages() -> Vec<PathBuf> {
    let mut pages = Vec::new();
    gather(&root(), &mut pages, false);
    for folder in FOLDERS {
        gather(&root().join(folder), &mut pages, true);
    }
    pages
}

fn gather(folder: &Path, pages: &mut Vec<PathBuf>, below: bool) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|ending| ending == "md") {
            pages.push(path);
        } else if below && path.is_dir() && !path.ends_with("target") {
            gather(&path, pages, below);
        }
    }
}

/// Lines that are prose: code and printed output have no links and no headings.
fn prose(text: &str) -> impl Iterator<Item = &str> {
    let mut code = false;
    text.lines().filter(move |line| {
        let fence = line.trim_start().starts_with("```");
        code ^= fence;
        !code && !fence && !line.starts_with("    ")
    })
}

/// A heading as links name it, as the usual viewers make it: lower case, letters and digits kept, blanks to
/// hyphens.
fn anchor(heading: &str) -> String {
    heading
        .trim_start_matches('#')
        .trim()
        .chars()
        .filter(|letter| letter.is_alphanumeric() || " -_".contains(*letter))
        .map(|letter| if letter == ' ' { '-' } else { letter })
        .flat_map(char::to_lowercase)
        .collect()
}

/// What stands in the round brackets of links.
fn targets(line: &str) -> impl Iterator<Item = &str> {
    line.split("](").skip(1).filter_map(|rest| rest.split_once(')')).map(|(target, _)| target)
}

#[test]
fn every_link_between_pages_leads_somewhere() {
    let mut broken = Vec::new();
    let mut links = 0;
    for page in pages() {
        let text = std::fs::read_to_string(&page).expect("a page");
        let foreign = |target: &&str| !target.contains("://") && !target.starts_with("mailto:");
        for target in prose(&text).flat_map(targets).filter(foreign) {
            links += 1;
            let (file, heading) = target.split_once('#').unwrap_or((target, ""));
            let there = if file.is_empty() { page.clone() } else { page.with_file_name(file) };
            let text = there.is_dir().then(String::new).or_else(|| std::fs::read_to_string(&there).ok());
            let found = text.is_some_and(|text| {
                heading.is_empty()
                    || prose(&text).any(|line| line.starts_with('#') && anchor(line) == heading)
            });
            if !found {
                broken.push(format!("{}: {target}", page.strip_prefix(root()).unwrap_or(&page).display()));
            }
        }
    }
    assert!(links > 100, "{links} links found");
    assert!(broken.is_empty(), "broken links:\n{}", broken.join("\n"));
}

#[test]
fn a_heading_becomes_its_anchor() {
    for (heading, name) in [
        ("## Words", "words"),
        ("### Where coverage falls short", "where-coverage-falls-short"),
        ("## `land`", "land"),
        ("## Too uncertain: what then?", "too-uncertain-what-then"),
    ] {
        assert_eq!(anchor(heading), name);
    }
}
