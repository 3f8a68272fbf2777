//! Weighed: every public function of the core.

#![no_std]
#![no_main]

zdatum_boards::image!(everything);

fn everything() {
    zdatum_boards::uses::nothing();
    zdatum_boards::all();
}
