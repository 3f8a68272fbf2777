//! Calls every public function of the core, for images whose symbols prove what is *not* in them.
//!
//! `tests/boards/check` builds the images, lists their symbols and fails on panic machinery, floating point,
//! allocation and arithmetic wider than 64 bits. Nothing here says whether a result is right: the tests
//! beside this folder do.

#![no_std]
// Inline assembly of that processor is not stable yet; it is built by a compiler that is told to allow it.
#![cfg_attr(target_arch = "avr", feature(asm_experimental_arch))]

#[cfg(feature = "broken-allocation")]
extern crate alloc;

pub mod board;
pub mod broken;
pub mod calls;
pub mod counted;
pub mod machine;
pub mod uses;

/// A value that the optimiser must take for unknown, so that nothing is worked out while compiling.
#[inline(always)]
pub fn given<T>(value: T) -> T {
    core::hint::black_box(value)
}

/// Counts as a use of the result, so that the call which made it stays in the image.
#[inline(always)]
pub fn keep<T>(result: T) {
    let _ = core::hint::black_box(result);
}

/// All that an image runs.
pub fn all() {
    calls::all();
    broken::all();
}
