#![no_main]

#[path = "../../tests/corpus/session.rs"]
mod session;

libfuzzer_sys::fuzz_target!(|text: &str| session::take(text));
