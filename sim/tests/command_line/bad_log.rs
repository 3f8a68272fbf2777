//! Every kind of bad touch log: exit code 2, the place named, nothing on standard output.

use super::tool::{Folder, LOG, MACHINE, assert_refused, run, run_with};

/// Runs `land` on a log and checks the message.
fn refused(log: impl AsRef<[u8]>, words: &[&str]) {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let log = folder.write("touches.csv", log);
    for json in [&[][..], &["--json"]] {
        let mut args = vec!["land", &log, "--machine", &machine];
        args.extend(json);
        assert_refused(&run(&args), words);
    }
}

#[test]
fn the_good_log_is_good() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let log = folder.write("touches.csv", LOG);
    assert_eq!(run(&["land", &log, "-m", &machine]).code, Some(0));
    assert_eq!(run_with(&["land", "-", "-m", &machine], LOG).code, Some(0));
}

#[test]
fn missing_file_and_folder() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let path = folder.path("nowhere.csv");
    let path = path.to_str().expect("UTF-8");
    assert_refused(&run(&["land", path, "-m", &machine]), &["nowhere.csv", "cannot be read"]);
    assert_refused(
        &run(&["land", path.trim_end_matches("nowhere.csv"), "-m", &machine]),
        &["cannot be read"],
    );
}

#[test]
fn ragged_rows() {
    refused(format!("{LOG}tip,1,2\n"), &["touches.csv:8:1", "3 cells", "2"]);
    refused(format!("{LOG}tip\n"), &["touches.csv:8:1", "1 cells"]);
}

#[test]
fn numbers() {
    for (text, words) in [
        ("nan", "not a decimal number"),
        ("NaN", "not a decimal number"),
        ("inf", "not a decimal number"),
        ("-Infinity", "not a decimal number"),
        ("0.5mm", "not a decimal number"),
        ("1_000", "not a decimal number"),
        ("half", "not a decimal number"),
        ("32768", "-32768 to 32767.9999 mm"),
        ("-1e300", "-32768 to 32767.9999 mm"),
    ] {
        refused(format!("{LOG}tip,{text}\n"), &["touches.csv:8:5", "`z`", words]);
    }
    let row = |cells: &str| format!("station,z,speed,tool_c,time_s\n{cells}\n");
    refused(row("tip,1,2000,,"), &["touches.csv:2:7", "`speed`", "1000 mm/s"]);
    refused(row("tip,1,-2,,"), &["touches.csv:2:7", "`speed`"]);
    refused(row("tip,1,0,,"), &["touches.csv:2:7", "`speed`", "above zero"]);
    refused(row("tip,1,2,-300,"), &["touches.csv:2:9", "`tool_c`", "-273.15"]);
    refused(row("tip,1,2,20,inf"), &["touches.csv:2:12", "`time_s`"]);
}

#[test]
fn unknown_names() {
    refused("station,z,count\ntip,1,2\n", &["touches.csv:1:11", "`count`", "nearest", "`counted`"]);
    refused("staton,z\ntip,1\n", &["touches.csv:1:1", "`staton`", "`station`"]);
    refused(format!("{LOG}nose,1\n"), &["touches.csv:8:1", "`nose`", "tip, shoulder, plate"]);
    refused("station,z,kind\ntip,1,slow\n", &["touches.csv:2:7", "`slow`", "first, settle, fine"]);
    refused("station,z,counted\ntip,1,true\n", &["touches.csv:2:7", "`true`", "yes, no"]);
    refused("station,z,z\ntip,1,2\n", &["touches.csv:1:11", "`z`", "twice"]);
    refused("station,kind\ntip,fine\n", &["touches.csv:1:1", "`z` is missing"]);
}

#[test]
fn control_characters_and_other_text() {
    refused("station,z,run\ntip,1,a\u{1b}[31mb\n", &["touches.csv:2:7", "control character", "\\u{1b}"]);
    refused("station,z,plate\ntip,1,a\u{85}b\n", &["touches.csv:2:7", "control character", "\\u{85}"]);
    refused("station,z,plate\ntip,1,\"two\nlines\"\n", &["touches.csv:2:1", "control character"]);
    refused(b"station,z\ntip,1\ntip,\xff\n", &["touches.csv:3:5", "not UTF-8"]);
    refused("s\0\u{1}\u{2}", &["touches.csv:1:1", "unknown column"]);
}

#[test]
fn stray_quotes() {
    refused("station,z\ntip,1\n\"tip,1\n", &["touches.csv:3:1", "never closed"]);
    refused("station,z\ntip,1\n\"ti\"p,1\n", &["touches.csv:3:5", "quoted cell"]);
    refused("station,z\nti\"p\",1\n", &["touches.csv:2:3", "a quote inside a cell"]);
}

#[test]
fn runs_that_mix_two_fetches() {
    refused(
        "run,station,z\na,tip,1\nb,tip,1\na,tip,1\n",
        &["touches.csv:4:1", "line 2", "line 4", "`a`", "its own run name"],
    );
    refused(
        "station,z,time_s\ntip,1,3\ntip,1,2.5\n",
        &["touches.csv:3:7", "`time_s`", "line 2", "line 3", "2.5"],
    );
}

#[test]
fn nothing_in_it() {
    refused("", &["touches.csv:1:1", "empty"]);
    refused("# a comment\n\n", &["touches.csv:1:1", "empty"]);
    refused("station,z\n", &["touches.csv:2:1", "no touch"]);
    refused("station,z,run\ntip,1,\n", &["touches.csv:2:7", "`run`", "empty"]);
    refused("station,z\ntip,\n", &["touches.csv:2:5", "`z`", "empty"]);
    refused("station,z\n,1\n", &["touches.csv:2:1", "`station`", "empty"]);
}

#[test]
fn too_few_and_too_many_touches() {
    let without_plate: String =
        LOG.lines().filter(|line| !line.starts_with("plate")).map(|l| format!("{l}\n")).collect();
    refused(&without_plate, &["touches.csv:2:1", "run `1`", "no counted touch", "`plate`"]);
    refused(format!("{without_plate}plate,7.2\n"), &["run `1`", "single", "`plate`"]);
    let second_run =
        "run,station,z\na,tip,1\na,tip,1\na,shoulder,7\na,shoulder,7\na,plate,7\na,plate,7\nb,tip,1\n";
    refused(second_run, &["touches.csv:8:1", "run `b`"]);
    refused(format!("{LOG}{}", "tip,0.498\n".repeat(63)), &["touches.csv:70:1", "64", "`tip`"]);
}

#[test]
fn a_single_touch_needs_a_study_at_its_station() {
    let folder = Folder::new();
    let study = "\n[pooled]\nplate = { s = 0.0026, dof = 48 }\n";
    let machine = folder.write("machine.toml", format!("{MACHINE}{study}"));
    let log = |left_out: &str| LOG.replace(left_out, "");
    let run = |log: &str| run_with(&["land", "-", "-m", &machine], log);
    assert_eq!(run(&log("plate,7.213\n")).code, Some(0));
    assert_refused(&run(&log("tip,0.499\n")), &["<standard input>:2:1", "single", "`tip`"]);
}

#[test]
fn two_plates_in_one_run() {
    refused(
        "station,z,plate\ntip,1,slate\ntip,1,\ntip,1,copper\n",
        &["touches.csv:4:7", "two plates", "`slate`", "`copper`"],
    );
}

#[test]
fn a_last_span_serves_one_cycle_only() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let rows = |run: &str| LOG.lines().skip(1).map(|line| format!("{run},{line}\n")).collect::<String>();
    let log = folder.write("touches.csv", format!("run,station,z\n{}{}", rows("a"), rows("b")));
    let result = run(&["land", &log, "-m", &machine, "--last-span", "0.08"]);
    assert_refused(&result, &["--last-span", "one cycle only"]);
}

#[test]
fn heights_as_arguments() {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", MACHINE);
    let land = |tip: &str, shoulder: &str| {
        run(&["land", "-m", &machine, "--tip", tip, "--shoulder", shoulder, "--plate=7.214,7.213"])
    };
    assert_refused(&land("0.498,x", "7.131,7.133"), &["--tip", "touch 2", "`x`"]);
    assert_refused(&land("0.498,0.499", "7.131,,7.133"), &["--shoulder", "touch 2"]);
    assert_refused(&land("0.498", "7.131,7.133"), &["--tip: a single", "`tip`"]);
    assert_refused(&land(&["0.498"; 65].join(","), "7.131,7.133"), &["--tip", "touch 65", "64"]);
    // Neither a log nor touches; both; not all three stations.
    assert_eq!(run(&["land", "-m", &machine]).code, Some(2));
    assert_eq!(
        run(&["land", "x.csv", "-m", &machine, "--tip", "1", "--shoulder", "1", "--plate", "1"]).code,
        Some(2)
    );
    assert_eq!(run(&["land", "-m", &machine, "--tip", "1,2", "--shoulder", "1,2"]).code, Some(2));
}
