//! The memory map is the boards' own.

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR");
    println!("cargo::rerun-if-changed={here}/../../boards/link");
    println!("cargo::rustc-link-search={here}/../../boards/link");
    println!("cargo::rustc-link-arg-bins=-Tcortex-m3.ld");
}
