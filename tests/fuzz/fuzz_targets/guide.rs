#![no_main]

#[path = "../../tests/corpus/guide.rs"]
mod guide;

libfuzzer_sys::fuzz_target!(|text: &str| guide::take(text));
