#![no_main]

#[path = "../../tests/corpus/log.rs"]
mod log;

libfuzzer_sys::fuzz_target!(|text: &str| log::take(text));
