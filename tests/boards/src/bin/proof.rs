//! The image that calls every public function of the core, to prove what is not in it.

#![no_std]
#![no_main]

zdatum_boards::image!(zdatum_boards::all);
