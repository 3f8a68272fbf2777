//! What is counted: see `zdatum_boards::counted`.

#![no_std]
#![no_main]

zdatum_boards::image!(zdatum_boards::counted::all);
