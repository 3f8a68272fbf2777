//! Any bytes as a plate book's and a watch's saved state, as after a worn memory: refused, or the same again.

#![no_main]

use libfuzzer_sys::fuzz_target;
use zdatum::watch::{Charts, WORDS};

fuzz_target!(|bytes: &[u8]| {
    let mut words = [0_u32; WORDS];
    for (word, bytes) in words.iter_mut().zip(bytes.chunks(4)) {
        *word = bytes.iter().rev().fold(0, |word, byte| word << 8 | u32::from(*byte));
    }
    let Some(mut charts) = Charts::from_words(&words) else { return };
    assert_eq!(charts.to_words(), words);
    let _ = format!("{charts:?}");
    let _ = &mut charts;
});
