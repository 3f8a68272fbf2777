#![no_main]

#[path = "../../tests/corpus/saved.rs"]
mod saved;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| saved::take(bytes));
