//! Any bytes as a plate book's and a watch's saved state, as after a worn memory: refused, or taken and told the same from then on.

#![no_main]

use libfuzzer_sys::fuzz_target;
use zdatum::watch::{Charts, WORDS};

fuzz_target!(|bytes: &[u8]| {
    let mut words = [0_u32; WORDS];
    for (word, bytes) in words.iter_mut().zip(bytes.chunks(4)) {
        *word = bytes.iter().rev().fold(0, |word, byte| word << 8 | u32::from(*byte));
    }
    let Some(charts) = Charts::from_words(&words) else { return };
    // What was taken is what is told from then on.
    let told = charts.to_words();
    assert_eq!(Charts::from_words(&told).map(|charts| charts.to_words()), Some(told));
});
