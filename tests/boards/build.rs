//! Hands each image its board's memory map.

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR");
    println!("cargo::rerun-if-changed=link");
    let map = match std::env::var("TARGET").expect("cargo sets TARGET").as_str() {
        "thumbv6m-none-eabi" => "cortex-m0.ld",
        "thumbv7m-none-eabi" => "cortex-m3.ld",
        "thumbv7em-none-eabihf" => "cortex-m4f.ld",
        "riscv32imac-unknown-none-elf" => "rv32imac.ld",
        "avr-none" => return avr(&here),
        "wasm32-unknown-unknown" => return println!("cargo::rustc-link-arg-bins=--export=reset"),
        _ => return,
    };
    println!("cargo::rustc-link-search={here}/link");
    println!("cargo::rustc-link-arg-bins=-T{map}");
}

/// Two images hold every public function, with more constants than this board has RAM for.
fn avr(here: &str) {
    println!("cargo::rustc-link-search={here}/link");
    for image in ["proof", "use-everything"] {
        println!("cargo::rustc-link-arg-bin={image}=-Tatmega2560-whole.ld");
    }
    for image in [
        "vectors",
        "words",
        "counts",
        "use-nothing",
        "use-setup",
        "use-landing",
        "use-landing-and-trim",
        "use-cycle",
    ] {
        println!("cargo::rustc-link-arg-bin={image}=-Tatmega2560.ld");
    }
}
