#![no_main]

#[path = "../../tests/corpus/import.rs"]
mod import;

libfuzzer_sys::fuzz_target!(|text: &str| import::take(text));
