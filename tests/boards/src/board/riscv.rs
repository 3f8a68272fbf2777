//! RV32IMAC on the emulator's `virt` machine: a 16550 line at 0x1000_0000, a test finisher at 0x10_0000, `minstret`.

use core::arch::{asm, global_asm};

use super::End;

const LINE: *mut u8 = 0x1000_0000 as *mut u8;
const FINISHER: *mut u32 = 0x10_0000 as *mut u32;

unsafe extern "C" {
    static mut data_start: u32;
    static mut data_end: u32;
    static data_load: u32;
    static mut bss_start: u32;
    static mut bss_end: u32;
    fn trap();
}

// Traps end the run; `mtvec` wants four-byte alignment (RISC-V Privileged Architectures, 3.1.7).
global_asm!(".balign 4", ".globl trap", "trap:", "j {fault}", fault = sym fault);

/// What the memory map calls the end of the statics: the stack may grow down to it.
pub const END: *mut u8 = &raw mut bss_end as *mut u8;

/// Makes the statics.
///
/// # Safety
/// Once, before anything reads a static.
#[inline(always)]
pub unsafe fn start() {
    // SAFETY: the bounds are the linker script's and whole words.
    unsafe {
        asm!("csrw mtvec, {}", in(reg) trap as *const ());
        let (mut to, mut from) = (&raw mut data_start, &raw const data_load);
        while to < &raw mut data_end {
            to.write_volatile(from.read());
            (to, from) = (to.add(1), from.add(1));
        }
        let mut to = &raw mut bss_start;
        while to < &raw mut bss_end {
            to.write_volatile(0);
            to = to.add(1);
        }
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
pub(super) fn nop() {
    // SAFETY: does nothing.
    unsafe { asm!("nop") }
}

#[inline(always)]
pub(super) fn stack_pointer() -> *mut u8 {
    let pointer: *mut u8;
    // SAFETY: reads a register.
    unsafe { asm!("mv {}, sp", out(reg) pointer) }
    pointer
}

extern "C" fn fault() -> ! {
    super::write("stopped: a fault\n");
    exit(End::Faulted)
}

/// So many of them, one after the other.
macro_rules! nops {
    ($count:literal) => {
        // SAFETY: does nothing.
        unsafe { core::arch::asm!(concat!(".rept ", $count), "nop", ".endr") }
    };
}
pub(super) use nops;
