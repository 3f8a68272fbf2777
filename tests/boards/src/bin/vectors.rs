//! The golden vectors: a digest of all result bits for every hundred cases, and how deep the stack went.

#![no_std]
#![no_main]

use zdatum_boards::board;
use zdatum_boards_cases::{BLOCK, CASES, block, part_of_block};

zdatum_boards::image!(vectors);

/// Sums and gauge checks alone, where the compiler is known to get no further.
const IS_PART: bool =
    matches!(option_env!("ZDATUM_VECTORS"), Some(part) if matches!(part.as_bytes(), b"part"));

fn digest_of(number: u32) -> u32 {
    if IS_PART { part_of_block(number) } else { block(number) }
}

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
