//! Any text as a quantity. What reads, prints and reads back as the same bits.

use zdatum::{Growth, Latency, Length, Ratio, Speed, Temperature, Uncertainty};

macro_rules! reads_back {
    ($text:expr, $($quantity:ident),*) => {$(
        if let Ok(value) = $quantity::parse($text) {
            let text = value.text();
            assert_eq!($quantity::parse(&text), Ok(value), "{text}");
        }
    )*};
}

pub(crate) fn take(text: &str) {
    reads_back!(text, Length, Speed, Latency, Temperature, Growth, Uncertainty, Ratio);
}
