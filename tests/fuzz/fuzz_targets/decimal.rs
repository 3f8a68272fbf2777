//! Any text as a quantity: `cargo fuzz run decimal`. What reads, prints and reads back as the same bits.

#![no_main]

use libfuzzer_sys::fuzz_target;
use zdatum::{Growth, Latency, Length, Ratio, Speed, Temperature, Uncertainty};

macro_rules! reads_back {
    ($text:expr, $($quantity:ident),*) => {$(
        if let Ok(value) = $quantity::parse($text) {
            let text = value.text();
            assert_eq!($quantity::parse(&text), Ok(value), "{text}");
        }
    )*};
}

fuzz_target!(|text: &str| {
    reads_back!(text, Length, Speed, Latency, Temperature, Growth, Uncertainty, Ratio);
});
