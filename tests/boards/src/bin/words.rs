//! One block of the golden vectors word by word, to find the first that differs: `ZDATUM_BLOCK` says which.

#![no_std]
#![no_main]

use zdatum_boards::board;
use zdatum_boards_cases::{BLOCK, Sink, run};

zdatum_boards::image!(words);

/// Prints every word with what it is of.
struct Lines;

impl Sink for Lines {
    fn put(&mut self, what: &'static str, word: u32) {
        board::write_hex(word);
        board::write(" ");
        board::write(what);
        board::write("\n");
    }
}

fn words() {
    let number = option_env!("ZDATUM_BLOCK").unwrap_or_default();
    let block = number.bytes().fold(0_u32, |sum, digit| sum * 10 + u32::from(digit & 15));
    for case in block * BLOCK..(block + 1) * BLOCK {
        board::write("case ");
        board::write_decimal(case);
        board::write("\n");
        run(case, &mut Lines);
    }
}
