//! Weighed: see `zdatum_boards::uses`.

#![no_std]
#![no_main]

zdatum_boards::image!(zdatum_boards::uses::setup);
