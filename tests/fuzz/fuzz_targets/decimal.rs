#![no_main]

#[path = "../../tests/corpus/decimal.rs"]
mod decimal;

libfuzzer_sys::fuzz_target!(|text: &str| decimal::take(text));
