//! What must not compile: each file of `tests/compile_fail`, whose first line names the error that it must
//! end in.
//!
//! Codes, not the compiler's words: these change from one version to the next.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

#[test]
fn mixed_up_units_and_unchecked_setups_do_not_compile() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let project = Path::new(env!("CARGO_TARGET_TMPDIR")).join("compile_fail");
    let bins = project.join("src/bin");
    let _ = fs::remove_dir_all(&bins);
    fs::create_dir_all(&bins).unwrap();

    let core = here.join("../core").canonicalize().unwrap();
    let manifest = format!(
        "[workspace]\n[package]\nname = \"must-not-compile\"\nedition = \"2024\"\n[dependencies]\nzdatum = {{ path = {core:?} }}\n"
    );
    fs::write(project.join("Cargo.toml"), manifest).unwrap();
    fs::copy(here.join("../Cargo.lock"), project.join("Cargo.lock")).unwrap();

    let mut expected = BTreeSet::new();
    for entry in fs::read_dir(here.join("tests/compile_fail")).unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        let code = text.lines().next().unwrap().trim_start_matches("// ").to_owned();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        fs::write(bins.join(format!("{name}.rs")), &text).unwrap();
        expected.insert((name, code));
    }
    assert!(expected.len() >= 9, "the cases are gone: {expected:?}");

    let output = Command::new(env!("CARGO"))
        .args(["check", "--offline", "--bins", "--keep-going", "--message-format=json"])
        .current_dir(&project)
        .env("CARGO_TARGET_DIR", project.join("target"))
        .output()
        .unwrap();
    let errors = String::from_utf8(output.stdout).unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    for (name, code) in &expected {
        let (target, error) = (format!("\"name\":\"{name}\""), format!("\"code\":\"{code}\""));
        let found = errors.lines().any(|line| {
            line.contains("\"reason\":\"compiler-message\"")
                && line.contains("\"level\":\"error\"")
                && line.contains(&target)
                && line.contains(&error)
        });
        assert!(found, "{name} did not end in {code}:\n{said}");
    }
}
