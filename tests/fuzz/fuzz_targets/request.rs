#![no_main]

#[path = "../../tests/corpus/request.rs"]
mod request;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| request::take(bytes));
