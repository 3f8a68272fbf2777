//! The core for C and C++: a static library, and the header `include/zdatum.h` that is made of this source.
//!
//! Every function takes its arguments as plain numbers, plain structs and pointers, checks each of them,
//! and answers with a [code](codes). Nothing is called back, nothing is allocated, nothing is kept but in the
//! caller's own storage.
//!
//! # Safety
//!
//! One contract holds for every function here, so it is written once. A pointer is null or misaligned, which
//! gets an error code, or else it points to a whole object of its type that nothing else touches during the
//! call. A setup stays where it is, and as it is, while a cycle that was started with it is in use.
#![cfg_attr(not(test), no_std)]
// The names of the header, and one contract instead of one for each function.
#![allow(non_camel_case_types, clippy::missing_safety_doc)]

pub mod codes;
pub mod cycle;
mod memory;
pub mod outcome;
pub mod plates;
pub mod refusal;
pub mod series;
pub mod setup;
#[cfg(test)]
mod tests;
pub mod trim;
pub mod units;
pub mod watch;

/// Nothing here panics, which is checked on a linked image by `core/c/check`; a static library must have a
/// handler all the same.
#[cfg(not(test))]
#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    loop {}
}
