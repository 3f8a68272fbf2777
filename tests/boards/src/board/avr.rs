//! ATmega2560: the C library's start-up, USART0 as the line, no counter of instructions.

use super::End;
pub(super) use super::bare::{nop, nops};

/// USART0 (ATmega640/1280/1281/2560/2561 datasheet, 22.10): control B and data.
const LINE_CONTROL: *mut u8 = 0xC1 as *mut u8;
const LINE_DATA: *mut u8 = 0xC6 as *mut u8;

/// Stack pointer, lower and upper half.
const STACK_LOW: *const u8 = 0x5D as *const u8;
const STACK_HIGH: *const u8 = 0x5E as *const u8;

unsafe extern "C" {
    static mut __heap_start: u8;
}

/// What the C library calls the end of the statics: the stack may grow down to it.
pub const END: *mut u8 = &raw mut __heap_start;

/// Turns the line on; the C library has made the statics.
///
/// # Safety
/// Once.
#[inline(always)]
pub unsafe fn start() {
    // SAFETY: the transmitter's enable bit.
    unsafe { LINE_CONTROL.write_volatile(1 << 3) }
}

/// A byte to the world.
pub fn put(byte: u8) {
    // SAFETY: the line's register; the emulated one is always ready.
    unsafe { LINE_DATA.write_volatile(byte) }
}

/// Stays here: whoever runs the emulation reads the last line and ends it.
pub fn exit(end: End) -> ! {
    crate::keep(end);
    loop {
        nop();
    }
}

/// There is none.
#[inline(always)]
pub fn now() -> u32 {
    0
}

/// There is none.
pub(super) fn elapsed(before: u32, after: u32) -> u32 {
    after.wrapping_sub(before)
}

#[inline(always)]
pub(super) fn stack_pointer() -> *mut u8 {
    // SAFETY: reads two registers.
    let (low, high) = unsafe { (STACK_LOW.read_volatile(), STACK_HIGH.read_volatile()) };
    u16::from_le_bytes([low, high]) as usize as *mut u8
}
