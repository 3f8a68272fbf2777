//! The golden vectors: a digest of all result bits for every hundred cases, and how deep the stack went.

#![no_std]
#![no_main]

use zdatum_boards::board;
#[cfg(not(target_arch = "avr"))]
use zdatum_boards_cases::block as digest_of;
#[cfg(target_arch = "avr")]
use zdatum_boards_cases::part_of_block as digest_of;
use zdatum_boards_cases::{BLOCK, CASES};

zdatum_boards::image!(vectors);

fn vectors() {
    for number in 0..CASES / BLOCK {
        let mut digest = 0;
        let stack = board::deepest(&mut || digest = digest_of(number));
        board::write_decimal(number);
        board::write(" ");
        board::write_hex(digest);
        board::write(" ");
        board::write_decimal(stack);
        board::write("\n");
    }
}
