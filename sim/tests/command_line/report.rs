//! `--report` and `--svg`: what is written, what never is, and that nobody's file is lost.

use std::path::Path;

use roxmltree::Document;

use super::tool::{Folder, LOG, MACHINE, Run, assert_refused, demo, run, run_with};

/// Campaigns small enough for a test.
const SMALL: [&str; 4] = ["--runs", "20000", "--each", "500"];
const HOSTILE: &str = "<script>&\"'";
const ESCAPED: &str = "&lt;script&gt;&amp;&quot;'";

pub(super) fn text(path: &Path) -> String {
    path.to_str().expect("UTF-8").to_owned()
}

/// The report that a command writes beside its answer.
fn report(folder: &Folder, args: &[&str]) -> (Run, String) {
    let path = text(&folder.path("r.html"));
    let run = run(&[args, &["--report", &path]].concat());
    assert!(run.code.is_some_and(|code| code <= 1), "{run:?}");
    (run, folder.read("r.html"))
}

fn simulated(folder: &Folder, args: &[&str]) -> (Run, String) {
    report(folder, &[&["simulate"], &SMALL[..], args].concat())
}

/// Its sections, in their order.
pub(super) fn sections(html: &str) -> Vec<&str> {
    html.split("<section id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

/// Holds for every report: a frame, pictures that are sound, no script, nothing that is no number.
pub(super) fn assert_sound(html: &str) {
    assert!(html.starts_with("<!DOCTYPE html>") && html.contains("<html lang=\"en\">"));
    assert!(html.contains("default-src 'none'"));
    for never in ["NaN", "inf ", "<script", "<link", "<img", "javascript:", " style=\"", "url("] {
        assert!(!html.contains(never), "`{never}` in {html}");
    }
    for once in ["<main>", "<h1>", "<title>"] {
        assert_eq!(html.matches(once).count(), 1, "{once}");
    }
    // Every id is one of a kind, and every link leads somewhere.
    let mut ids: Vec<_> = html.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    for link in html.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert!(ids.contains(&link), "{link}");
    }
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all);
    let pictures = html.split("<svg ").skip(1).filter_map(|rest| rest.split("</svg>").next());
    let mut count = 0;
    for picture in pictures {
        let picture = format!("<svg {picture}</svg>");
        let document = Document::parse(&picture).unwrap_or_else(|error| panic!("{error}: {picture}"));
        assert!(document.root_element().attribute("aria-label").is_some_and(|label| label.len() > 20));
        count += 1;
    }
    // Each twice: for a phone and for a desk.
    assert_eq!(count, 2 * html.matches("<figure>").count());
    assert!(count >= 2);
    assert_eq!(html.matches("<figure>").count(), html.matches("<details>").count());
}

#[test]
fn a_campaign_makes_a_page_with_each_section() {
    let folder = Folder::new();
    let (first, html) = simulated(&folder, &[]);
    assert_eq!(first.code, Some(0));
    assert_sound(&html);
    let expected = [
        "in-short",
        "refused",
        "three-touches",
        "error",
        "budget",
        "interval",
        "methods",
        "touches",
        "noise",
        "plan",
        "scrape",
        "faults",
        "cautions",
        "words",
    ];
    assert_eq!(sections(&html), expected);
    for words in [
        "cycles were refused",
        "of accepted cycles",
        "three touches, 5 each",
        "Fix first: trip depth",
        "JCGM 101:2008, 8.1",
        "one standard error",
        "Never leave a heated printer unattended",
    ] {
        assert!(html.contains(words), "{words}");
    }
    assert!(first.err.contains("r.html"), "{first:?}");
    // What was asked for is answered as ever; the same seed gives the same page.
    let plain = run(&[&["simulate"], &SMALL[..]].concat());
    let timeless =
        |out: &str| out.lines().filter(|line| !line.contains("simulated in")).collect::<Vec<_>>().join("\n");
    assert_eq!(timeless(&first.out), timeless(&plain.out));
    assert_eq!(simulated(&folder, &["--threads", "1"]).1, html);
}

/// What too few cycles cannot show is not claimed, and the reason for a refusal is that of the refusal.
#[test]
fn the_page_claims_no_more_than_it_saw() {
    let folder = Folder::new();
    let (_, one) = report(&folder, &["simulate", "--runs", "1", "--each", "100"]);
    assert!(!one.contains("off by more than") && !one.contains("beyond the tolerance</dt>"), "{one}");
    let (_, few) = report(&folder, &["simulate", "--runs", "50", "--each", "100", "--within", "1"]);
    assert!(few.contains("the share is below"), "{few}");
    let (_, many) = simulated(&folder, &[]);
    for words in ["any check fails", "Too much noise for the band", "trusts the study", "it claims 95 %"] {
        assert!(many.split_whitespace().collect::<Vec<_>>().join(" ").contains(words), "{words}");
    }
    let (_, land) = report(&folder, &["land", &demo("refused.csv"), "--machine", &demo("machine.toml")]);
    assert!(land.contains("if any check fails") && !land.contains("hold together"), "{land}");
}

/// Many landings: the plates used last stay, and what is refused is drawn over the rest.
#[test]
fn many_landings_stay_readable() {
    let folder = Folder::new();
    let log = std::fs::read_to_string(demo("touches.csv")).expect("the demo's log");
    let mut rows = log.lines().filter(|row| !row.starts_with('#'));
    let head: Vec<&str> = rows.next().expect("a head").split(',').collect();
    let column = |name: &str| head.iter().position(|field| *field == name).expect("a column");
    let (station, z) = (column("station"), column("z"));
    let first: Vec<Vec<&str>> = rows.map(|row| row.split(',').collect()).collect();
    let run_of = column("run");
    let cycle: Vec<_> = first.iter().filter(|row| row[run_of] == first[0][run_of]).collect();
    let made = |runs: usize, plate: &dyn Fn(usize) -> String| {
        let mut text = "run,plate,station,z\n".to_owned();
        for run in 0..runs {
            for row in &cycle {
                text.push_str(&format!("r{run},{},{},{}\n", plate(run), row[station], row[z]));
            }
        }
        text
    };
    let machine = demo("machine.toml");
    let crowd = folder.write("crowd.csv", made(70, &|_| "a".into()));
    let (_, html) = report(&folder, &["land", &crowd, "--machine", &machine]);
    assert_eq!(html.matches("r=\"1.6\"").count() % 140, 0, "each of 70, for a phone and a desk");
    assert!(html.contains("r=\"1.6\""));
    let plates = folder.write("plates.csv", made(14, &|run| format!("p{run}")));
    let (_, html) = report(&folder, &["land", &plates, "--machine", &machine]);
    assert!(html.contains(">plate p13<") && html.contains(">plate p2<"));
    assert!(!html.contains(">plate p0<") && !html.contains(">plate p1<"));
}

#[test]
fn json_stays_one_document_of_what_was_asked() {
    let folder = Folder::new();
    let plain = run(&[&["simulate", "--json"], &SMALL[..]].concat()).json();
    let (with_report, _) = simulated(&folder, &["--json"]);
    let document: serde_json::Value = serde_json::from_str(&with_report.out).expect("one document");
    let keys = |value: &serde_json::Value| {
        value.as_object().map(|object| object.keys().cloned().collect::<Vec<_>>())
    };
    assert_eq!(keys(&document), keys(&plain));
}

#[test]
fn recorded_touches_make_a_page_with_each_section() {
    let folder = Folder::new();
    let (machine, log) = (demo("machine.toml"), demo("touches.csv"));
    let (run, html) = report(&folder, &["land", &log, "--machine", &machine]);
    assert_eq!(run.code, Some(0));
    assert_sound(&html);
    let accepted =
        ["in-short", "apply", "landings", "touches", "three-touches", "budget", "cautions", "words"];
    assert_eq!(sections(&html), accepted);
    // The newest landing with its U, as in the answer, and the caution beside what might be applied.
    for words in [
        "L = +0.9451\u{a0}±\u{a0}0.0122\u{a0}mm",
        "G10 L2 P1 Z0.9451",
        "A wrong number can drive the nozzle into the plate",
        "first, not counted",
        "settle, not counted",
    ] {
        assert!(html.contains(words), "{words}");
    }

    let (run, html) = report(&folder, &["land", &demo("refused.csv"), "--machine", &machine]);
    assert_eq!(run.code, Some(1));
    assert_sound(&html);
    assert_eq!(sections(&html), accepted.map(|id| if id == "apply" { "refused" } else { id }));
    assert!(html.contains("7 of 8 cycles were refused") && !html.contains("G10 L2"));
    let reasons = html.split("id=\"refused\"").nth(1).and_then(|rest| rest.split("id=\"landings\"").next());
    let reasons = reasons.expect("a section");
    for words in
        ["unsteady at the plate", "walking at the tip", "moved too far", "Seen 0.0356", "What to do: "]
    {
        assert!(reasons.contains(words), "{words}: {reasons}");
    }
}

/// [`LOG`] with a run and a plate of such a name.
fn named(name: &str) -> String {
    let cell = format!("\"{}\"", name.replace('"', "\"\""));
    let row = |(i, line): (usize, &str)| {
        if i == 0 { format!("{line},run,plate\n") } else { format!("{line},{cell},{cell}\n") }
    };
    LOG.lines().enumerate().map(row).collect()
}

#[test]
fn every_text_from_a_file_is_escaped() {
    let folder = Folder::new();
    let growth = format!(
        "\n[[growth]]\nname = \"\"\"{HOSTILE}\"\"\"\nfollows = \"tool\"\num_per_c = 0.2\num_per_c_u = 0.1\ntouch_c = 150.0\n\
         print_c = 240.0\n"
    );
    let machine = folder.write("<b>&m.toml", format!("{MACHINE}{growth}"));
    let log = folder.write("<i>&l.csv", named(HOSTILE));
    let (_, html) = report(&folder, &["land", &log, "--machine", &machine]);
    assert_sound(&html);
    // Run and plate in headings, tables and pictures; the growing part in the budget.
    assert!(html.matches(ESCAPED).count() > 12, "{}", html.matches(ESCAPED).count());
    assert!(html.contains("&lt;b&gt;&amp;m.toml") && html.contains("&lt;i&gt;&amp;l.csv"));
    let pictures = text(&folder.path("svg"));
    run(&["land", &log, "--machine", &machine, "--svg", &pictures]);
    let budget = folder.read("svg/error-budget.svg");
    let document = Document::parse(&budget).expect("XML");
    assert!(document.descendants().any(|node| node.text() == Some(HOSTILE)), "{budget}");
    let (_, html) = simulated(&folder, &["--machine", &machine]);
    assert_sound(&html);
    assert!(html.contains(ESCAPED));
}

#[test]
fn pictures_are_files_of_their_own() {
    let folder = Folder::new();
    let pictures = text(&folder.path("a/b"));
    let machine = demo("machine.toml");
    let campaign = run(&[&["simulate", "--machine", &machine, "--svg", &pictures], &SMALL[..]].concat());
    assert_eq!(campaign.code, Some(0), "{campaign:?}");
    let log = demo("refused.csv");
    assert_eq!(run(&["land", &log, "--machine", &machine, "--svg", &pictures]).code, Some(1));
    let mut names: Vec<String> = std::fs::read_dir(&pictures)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("UTF-8"))
        .collect();
    names.sort();
    let mut expected: Vec<String> = [
        "error-against-noise",
        "error-against-touches",
        "error-budget",
        "fault-power",
        "first-layer-error",
        "landings",
        "methods-compared",
        "refusals",
        "scrape-chance",
        "three-touches",
        "time-against-error",
    ]
    .map(|name| format!("{name}.svg"))
    .into_iter()
    .chain((1..=8).map(|n| format!("touches-{n:03}.svg")))
    .collect();
    expected.sort();
    assert_eq!(names, expected);
    for name in names {
        let file = folder.read(&format!("a/b/{name}"));
        let document = Document::parse(&file).unwrap_or_else(|error| panic!("{name}: {error}"));
        let svg = "http://www.w3.org/2000/svg";
        let root = document.root_element();
        assert_eq!(root.tag_name().namespace(), Some(svg), "{name}");
        for tag in ["title", "desc", "style"] {
            assert!(root.children().any(|node| node.has_tag_name((svg, tag))), "{tag} in {name}");
        }
        assert!(file.contains("prefers-color-scheme: dark") && !file.contains("NaN"), "{name}");
    }
}

#[test]
fn extremes_make_sound_pages() {
    let folder = Folder::new();
    let machine = demo("machine.toml");
    let land = |folder: &Folder, tip: &str, shoulder: &str, plate: &str| {
        let [tip, shoulder, plate] =
            [("tip", tip), ("shoulder", shoulder), ("plate", plate)].map(|(name, z)| format!("--{name}={z}"));
        report(folder, &["land", "--machine", &machine, &tip, &shoulder, &plate])
    };
    // One touch a station, with a study; then touches that all agree.
    for z in ["0.7114", "0.7,0.7,0.7"] {
        let (_, html) = land(&folder, z, "5.8,5.8", "6.5,6.5");
        assert_sound(&html);
        assert!(html.contains("heights given as arguments"));
    }
    // Heights at the ends of what can be held.
    for plate in ["32767,32767", "-32768,-32768"] {
        let (run, html) = land(&folder, "-32768,-32768", "32767,-32768", plate);
        assert_eq!(run.code, Some(1));
        assert_sound(&html);
        assert!(html.contains("Refuse"));
    }
    // Nothing accepted; no noise at all; a single cycle; a tolerance far below and far above the errors.
    let file = std::fs::read_to_string(&machine).expect("the demo");
    let never = folder.write("never.toml", file.replace("expanded_u = 0.018", "expanded_u = 0.0001"));
    let (_, html) = simulated(&folder, &["--machine", &never]);
    assert_sound(&html);
    assert!(html.contains("Every cycle was refused") && !sections(&html).contains(&"error"));
    let still = folder.write("still.toml", file.split("[noise]").next().expect("a part"));
    for within in ["0.0001", "100"] {
        assert_sound(&simulated(&folder, &["--machine", &still, "--within", within]).1);
    }
    assert_sound(&report(&folder, &["simulate", "--runs", "1", "--each", "100"]).1);
}

#[test]
fn reports_replace_reports_and_nothing_else() {
    let folder = Folder::new();
    let (machine, log) = (demo("machine.toml"), demo("touches.csv"));
    let (_, first) = report(&folder, &["land", &log, "--machine", &machine]);
    let (_, second) = report(&folder, &["land", &demo("refused.csv"), "--machine", &machine]);
    assert_ne!(first, second);
    // An empty file may be taken; somebody's file may not.
    folder.write("r.html", "");
    let (_, third) = report(&folder, &["land", &log, "--machine", &machine]);
    assert_eq!(third, first);
    let mine = folder.write("mine.toml", MACHINE);
    for command in [vec!["simulate"], vec!["land", &log, "--machine", &machine]] {
        let run = run(&[&command[..], &["--report", &mine]].concat());
        assert_refused(&run, &["mine.toml", "was not made by this command", "give another name"]);
    }
    assert_eq!(folder.read("mine.toml"), MACHINE);
    assert_eq!(folder.names(), ["mine.toml", "r.html"]);
}

#[test]
fn what_cannot_be_written_is_named_and_nothing_is_left() {
    let folder = Folder::new();
    let (machine, log) = (demo("machine.toml"), demo("touches.csv"));
    let land = |option: &str, path: &str| {
        run(&["land", &log, "--machine", &machine, option, &text(&folder.path(path))])
    };
    assert_refused(&land("--report", "none/r.html"), &["none/r.html", "cannot be written"]);
    assert_refused(&land("--report", "."), &["not a regular file"]);
    folder.write("file", "x");
    assert_refused(&land("--svg", "file"), &["file", "it is not a folder"]);
    assert_refused(&land("--svg", "file/sub"), &["file/sub", "cannot be made"]);
    // Somebody's drawing among those that would be replaced: not one is written.
    std::fs::create_dir(folder.path("pictures")).expect("a folder");
    folder.write("pictures/touches-001.svg", "<svg>mine</svg>");
    let (pictures, page) = (text(&folder.path("pictures")), text(&folder.path("r.html")));
    let both = run(&["land", &log, "--machine", &machine, "--svg", &pictures, "--report", &page]);
    assert_refused(&both, &["touches-001.svg", "was not made by this command"]);
    assert_eq!(std::fs::read_dir(folder.path("pictures")).expect("a folder").count(), 1);
    assert_eq!(folder.read("pictures/touches-001.svg"), "<svg>mine</svg>");
    // A bad log writes nothing either.
    let bad = run_with(&["land", "-", "--machine", &machine, "--report", &page], "station,z\ntip,x\n");
    assert_eq!(bad.code, Some(2));
    assert_eq!(folder.names(), ["file", "pictures"]);
}

/// What stands in the way is found before a campaign that nobody could wait for.
#[test]
fn a_long_campaign_does_not_begin_in_vain() {
    let folder = Folder::new();
    std::fs::create_dir(folder.path("pictures")).expect("a folder");
    let long = |option: &str, path: &str| run(&["simulate", "--runs", "1000000000000", option, path]);
    for name in ["three-touches", "first-layer-error", "error-against-noise"] {
        let mine = folder.write(&format!("pictures/{name}.svg"), "<svg>mine</svg>");
        assert_refused(&long("--svg", &text(&folder.path("pictures"))), &[name, "was not made by this"]);
        std::fs::remove_file(mine).expect("removed");
    }
    assert_refused(&long("--report", "-"), &["standard output", "name a file"]);
}

/// All is written or nothing: a report without a place leaves no pictures behind.
#[cfg(unix)]
#[test]
fn a_link_that_leads_nowhere_leaves_nothing_behind() {
    let folder = Folder::new();
    let (machine, log) = (demo("machine.toml"), demo("touches.csv"));
    std::os::unix::fs::symlink(folder.path("gone/r.html"), folder.path("r.html")).expect("a link");
    let (pictures, page) = (text(&folder.path("pictures")), text(&folder.path("r.html")));
    let both = run(&["land", &log, "--machine", &machine, "--svg", &pictures, "--report", &page]);
    assert_refused(&both, &["r.html", "leads nowhere", "give another name"]);
    assert!(!folder.path("pictures").exists());
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link() {
    let folder = Folder::new();
    let (machine, log) = (demo("machine.toml"), demo("touches.csv"));
    folder.write("real.html", "");
    std::os::unix::fs::symlink(folder.path("real.html"), folder.path("r.html")).expect("a link");
    let (_, html) = report(&folder, &["land", &log, "--machine", &machine]);
    assert!(folder.path("r.html").is_symlink());
    assert_eq!(folder.read("real.html"), html);
}

#[test]
fn a_single_run_has_no_report() {
    let folder = Folder::new();
    for single in [vec!["--one", "3"], vec!["--trace"]] {
        for wanted in ["--report", "--svg"] {
            let run = run(&[&["simulate"], &single[..], &[wanted, &text(&folder.path("r"))]].concat());
            assert_refused(&run, &["--report and --svg", "--one and --trace"]);
        }
    }
    assert_eq!(folder.names(), Vec::<String>::new());
}

/// The pictures of the book are what the tool draws: `docs/report.md` has the commands.
#[test]
fn the_books_pictures_are_up_to_date() {
    let folder = Folder::new();
    let (machine, log) = (demo("machine.toml"), demo("refused.csv"));
    let (fresh, refused) = (text(&folder.path("fresh")), text(&folder.path("refused")));
    run(&["simulate", "--machine", &machine, "--runs", "200000", "--each", "10000", "--svg", &fresh]);
    run(&["land", &log, "--machine", &machine, "--svg", &refused]);
    let book = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/pictures");
    let mut seen = 0;
    for entry in std::fs::read_dir(&book).expect("docs/pictures") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().and_then(|name| name.to_str()).expect("UTF-8").to_owned();
        let kept = std::fs::read_to_string(&path).expect("a picture");
        let drawn = match name.strip_prefix("refused-") {
            Some(name) => folder.read(&format!("refused/{name}")),
            None => folder.read(&format!("fresh/{name}")),
        };
        assert!(
            kept == drawn,
            "docs/pictures/{name} is not what the tool draws: make it anew (docs/report.md)"
        );
        seen += 1;
    }
    assert_eq!(seen, 12);
}
