//! Hands the compiler's version to the budget: instruction counts hold for one compiler only.

use std::process::Command;

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let version = Command::new(rustc)
        .arg("--version")
        .output()
        .ok()
        .and_then(|out| String::from_utf8(out.stdout).ok())
        .map_or_else(|| "unknown".to_owned(), |text| text.trim().to_owned());
    let target = std::env::var("TARGET").unwrap_or_else(|_| "unknown".to_owned());
    println!("cargo::rustc-env=COMPILED_BY={version}");
    println!("cargo::rustc-env=COMPILED_FOR={target}");
}
