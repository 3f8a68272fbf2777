#![no_main]

#[path = "../../tests/corpus/cycle.rs"]
mod cycle;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| cycle::take(bytes));
