//! Every kind of bad machine file: exit code 2, file, line and key named, nothing on standard output.

use super::tool::{Folder, LOG, MACHINE, assert_refused, run, run_with};

/// Replaces one text of the machine file and checks what `setup` and `land` say.
fn refused(old: &str, new: &str, words: &[&str]) {
    assert!(MACHINE.contains(old), "{old}");
    file_refused(MACHINE.replacen(old, new, 1).as_bytes(), words);
}

fn file_refused(content: &[u8], words: &[&str]) {
    let folder = Folder::new();
    let machine = folder.write("machine.toml", content);
    assert_refused(&run(&["setup", &machine]), words);
    assert_refused(&run(&["setup", &machine, "--json"]), words);
    assert_refused(&run_with(&["land", "-", "-m", &machine], LOG), words);
    assert_refused(&run(&["trim", "-m", &machine, "--nudge", "-0.02", "--write"]), words);
    assert_eq!(folder.read_bytes("machine.toml"), content);
}

#[test]
fn not_toml_at_all() {
    file_refused(b"format = 1\n[probe\n", &["machine.toml:2:", "TOML"]);
    file_refused(b"format = 1\nformat = 1\n", &["machine.toml:2:1", "TOML", "format"]);
    file_refused(b"# caf\xe9\n", &["machine.toml:1:6", "not UTF-8"]);
    file_refused(b"", &["machine.toml", "[travel] is missing"]);
    let path = Folder::new().path("nowhere.toml");
    assert_refused(&run(&["setup", path.to_str().expect("UTF-8")]), &["nowhere.toml", "cannot be read"]);
}

#[test]
fn unknown_keys_name_the_nearest() {
    refused("free_height", "free_hight", &["machine.toml:30:1", "`probe.free_hight`", "`free_height`"]);
    refused("[plates]", "[plate]", &["machine.toml:32:2", "`plate`", "`plates`"]);
    refused("[accept]", "[noise]\nreset = 0.1\n[accept]", &["`noise.reset`", "`reseat`"]);
    refused("[accept]", "[pooled]\ntop = { s = 0.1, dof = 2 }\n[accept]", &["`pooled.top`", "`tip`"]);
    refused("[accept]", "[[growth]]\nnames = \"x\"\n[accept]", &["`growth.names`", "`name`"]);
}

#[test]
fn missing_keys() {
    refused("margin = 0.5", "", &["machine.toml:32:1", "`plates.margin` is missing"]);
    refused("coverage = 0.95", "", &["`accept.coverage` is missing"]);
    refused(
        "[accept]",
        "[[growth]]\num_per_c_u = 1\n[accept]",
        &["machine.toml:46:1", "`growth.follows` is missing"],
    );
    refused("[accept]", "[pooled.tip]\ns = 0.001\n[accept]", &["`pooled.tip.dof` is missing"]);
}

#[test]
fn wrong_types() {
    refused("0.640", "\"0.640\"", &["machine.toml:26:20", "`probe.trip_depth`", "number", "text"]);
    refused("0.640", "[0.640]", &["`probe.trip_depth`", "a list"]);
    refused("0.640", "true", &["`probe.trip_depth`", "number"]);
    refused("[-0.6, 0.8]", "0.8", &["machine.toml:33:8", "`plates.rise`", "two numbers"]);
    refused("[-0.6, 0.8]", "[-0.6, 0.2, 0.8]", &["`plates.rise`", "two numbers"]);
    refused("[-0.6, 0.8]", "[-0.6, \"0.8\"]", &["`plates.rise`", "number"]);
    refused("least = 5", "least = 5.0", &["`touch.least`", "whole number from 1 to 64"]);
    refused("most = 9", "most = 65", &["machine.toml:43:8", "`touch.most`", "64"]);
    refused("[800, 1]", "[800.0, 1]", &["`travel.steps`", "whole number"]);
    refused("[plates]", "plates = 3\n[other]", &["unknown key"]);
    refused("band = 0.020", "band = 0.02\ncentre = \"middle\"", &["`touch.centre`", "median"]);
    refused("band = 0.020", "band = 0.02\ntip_again = 1", &["`touch.tip_again`", "true or false"]);
    refused("format = 1", "format = 2", &["machine.toml:2:10", "`format` must be 1"]);
    refused("coverage = 0.95", "coverage = 0.96", &["`accept.coverage`", "0.90, 0.95 or 0.99"]);
    refused("# About", "growth = 1\n#", &["`growth`", "[[growth]]"]);
    refused("# About", "accept = 1\n#", &["TOML"]);
}

#[test]
fn values_that_cannot_be_held() {
    for value in ["nan", "inf", "-inf"] {
        refused("0.640", value, &["machine.toml:26:20", "`probe.trip_depth`", "not a decimal number"]);
    }
    refused("0.640", "40000.0", &["`probe.trip_depth`", "32767.9999 mm"]);
    refused("0.640", "1e400", &["machine.toml:26:20"]);
    refused("trip_depth_u = 0.005", "trip_depth_u = -0.005", &["`probe.trip_depth_u`", "uncertainty"]);
    refused(
        "trip_depth_u = 0.005",
        "trip_depth_u = 5",
        &["machine.toml:27:16", "`probe.trip_depth_u`", "too large to be meant", "limit 1 mm"],
    );
    refused("trip_depth_u = 0.005", "trip_depth_u = 0", &["`probe.trip_depth_u`", "above zero", "a / 1.73"]);
    refused("band = 0.020", "band = 20", &["`touch.band`", "too large to be meant"]);
    refused("stop = 0.1", "stop = 100", &["`touch.stop`", "too large to be meant"]);
    refused("fine_speed = 2.0", "fine_speed = 1001", &["`touch.fine_speed`", "1000 mm/s"]);
    refused("latency_s = 0.0005", "latency_s = 0.5", &["`datum_switch.latency_s`", "0.1 s"]);
    refused("[800, 1]", "[0, 1]", &["machine.toml:8:9", "`travel.steps`", "motor step"]);
    refused("[accept]", "[pooled]\ntip = { s = 0.001, dof = 0 }\n[accept]", &["`pooled.tip.dof`", "from 1"]);
    let part = "[[growth]]\nname = \"a\"\nfollows = \"bed\"\num_per_c = 1\num_per_c_u = 0\ntouch_c = 1\nprint_c = 2\n";
    refused("[accept]", &format!("{}[accept]", part.repeat(9)), &["`growth.name`", "at most 8"]);
    let negative = part.replace("um_per_c_u = 0", "um_per_c_u = -0.1");
    refused(
        "[accept]",
        &format!("{part}{negative}[accept]"),
        &["machine.toml:57:14", "`growth.um_per_c_u`", "below zero"],
    );
    refused("[accept]", "[noise]\noutlier_rate = 1.5\n[accept]", &["`noise.outlier_rate`", "0 to 1"]);
    refused("[accept]", "[noise]\nreseat = -1\n[accept]", &["`noise.reseat`"]);
}

#[test]
fn contradictions() {
    refused("[-0.6, 0.8]", "[0.8, -0.6]", &["machine.toml:33:8", "`plates.rise`", "lowest", "seen 0.8 mm"]);
    refused("least = 5", "least = 10", &["machine.toml:42:9", "`touch.least`", "touch.most"]);
    refused("least = 5", "least = 1", &["`touch.least`", "[pooled]"]);
    refused(
        "[204.0, 187.5]",
        "[204.0, 216.0]",
        &["machine.toml:12:12", "`stations.shoulder`", "seen 216 mm, limit 215 mm"],
    );
    refused("band = 0.020", "band = 0.02\ntarget_u = 0.001", &["`touch.target_u`", "[pooled]"]);
    refused(
        "free_height = 1.1",
        "free_height = 0.6",
        &["machine.toml:26:20", "`probe.trip_depth`", "free_height"],
    );
    refused("fine_speed = 2.0", "fine_speed = 9.0", &["`touch.fine_speed`", "first_speed"]);
    refused("band = 0.020", "band = 0.0", &["`touch.band`", "above zero"]);
}

#[test]
fn unsafe_floors() {
    refused(
        "overtravel = 2.0",
        "overtravel = 0.7",
        &["machine.toml:17:14", "`datum_switch.overtravel`", "tip could press"],
    );
    refused("overtravel = 2.0", "overtravel = 1.5", &["`datum_switch.overtravel`", "shoulder could press"]);
    refused(
        "drop = [6.0, 7.5]",
        "drop = [1.3, 1.4]",
        &["machine.toml:29:8", "`probe.drop`", "plates.margin", "limit 1.3 mm"],
    );
    refused(
        "rise = [-0.6, 0.8]",
        "rise = [-6.0, 0.8]",
        &["machine.toml:33:8", "`plates.rise`", "probe fell off"],
    );
    refused("z = [-2.0, 200.0]", "z = [-2.0, 10.0]", &["machine.toml:7:5", "`travel.z`"]);
}
