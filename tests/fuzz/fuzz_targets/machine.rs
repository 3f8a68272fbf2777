#![no_main]

#[path = "../../tests/corpus/machine.rs"]
mod machine;

libfuzzer_sys::fuzz_target!(|text: &str| machine::take(text));
