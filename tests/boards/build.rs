//! Hands each image its board's memory map.

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR");
    println!("cargo::rerun-if-changed=link");
    let map = match std::env::var("TARGET").expect("cargo sets TARGET").as_str() {
        "thumbv6m-none-eabi" => "cortex-m0.ld",
        "thumbv7m-none-eabi" => "cortex-m3.ld",
        "thumbv7em-none-eabihf" => "cortex-m4f.ld",
        "riscv32imac-unknown-none-elf" => "rv32imac.ld",
        "avr-none" => "atmega2560.ld",
        "wasm32-unknown-unknown" => return println!("cargo::rustc-link-arg-bins=--export=reset"),
        _ => return,
    };
    println!("cargo::rustc-link-search={here}/link");
    println!("cargo::rustc-link-arg-bins=-T{map}");
}
