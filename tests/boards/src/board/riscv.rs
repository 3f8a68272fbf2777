//! RV32IMAC on the emulator's `virt` machine: a 16550 line at 0x1000_0000, a test finisher at 0x10_0000,
//! `minstret`.

use core::arch::{asm, global_asm};

use super::End;
pub use super::bare::END;
use super::bare::{fault, make_statics};
pub(super) use super::bare::{nop, nops};

const LINE: *mut u8 = 0x1000_0000 as *mut u8;
const FINISHER: *mut u32 = 0x10_0000 as *mut u32;

unsafe extern "C" {
    fn trap();
}

// Traps end the run; `mtvec` wants four-byte alignment (RISC-V Privileged Architectures, 3.1.7).
global_asm!(".balign 4", ".globl trap", "trap:", "j {fault}", fault = sym fault);

/// Makes the statics.
///
/// # Safety
/// Once, before anything reads a static.
#[inline(always)]
pub unsafe fn start() {
    // SAFETY: the bounds are the linker script's and whole words.
    unsafe {
        asm!("csrw mtvec, {}", in(reg) trap as *const ());
        make_statics();
    }
}

/// A byte to the world.
pub fn put(byte: u8) {
    // SAFETY: the line's register; the emulated one is always ready.
    unsafe { LINE.write_volatile(byte) }
}

/// The end of the emulation.
pub fn exit(end: End) -> ! {
    let code = if end == End::Finished { 0x5555 } else { 1 << 16 | 0x3333 };
    loop {
        // SAFETY: the finisher's register.
        unsafe { FINISHER.write_volatile(code) }
    }
}

/// Instructions retired, lower half.
#[inline(always)]
pub fn now() -> u32 {
    let count: u32;
    // SAFETY: reads a counter.
    unsafe { asm!("csrr {}, minstret", out(reg) count) }
    count
}

/// Between two readings.
pub(super) fn elapsed(before: u32, after: u32) -> u32 {
    after.wrapping_sub(before)
}

#[inline(always)]
pub(super) fn stack_pointer() -> *mut u8 {
    let pointer: *mut u8;
    // SAFETY: reads a register.
    unsafe { asm!("mv {}, sp", out(reg) pointer) }
    pointer
}
