//! Hands each image its memory map.

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR");
    println!("cargo::rerun-if-changed=link");
    println!("cargo::rustc-link-arg-bin=cortex-m0=-T{here}/link/cortex-m0.ld");
}
