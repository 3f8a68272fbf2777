//! Cortex-M: the line and the end by semihosting ("Semihosting for AArch32 and AArch64", Arm), the counter by
//! SysTick.
//!
//! Without a debugger the breakpoint faults and the fault handler stays on it: images are made for emulation.

use core::arch::asm;

use super::End;
pub use super::bare::END;
use super::bare::{fault, make_statics};
pub(super) use super::bare::{nop, nops};

/// SYS_WRITEC and SYS_EXIT.
const WRITEC: u32 = 0x03;
const EXIT: u32 = 0x18;

/// SysTick (Armv6-M Architecture Reference Manual, B3.3): control, reload, current.
const TICK_CONTROL: *mut u32 = 0xE000_E010 as *mut u32;
const TICK_RELOAD: *mut u32 = 0xE000_E014 as *mut u32;
const TICK_NOW: *mut u32 = 0xE000_E018 as *mut u32;

/// Access to the floating-point unit (Armv7-M Architecture Reference Manual, B3.2.20).
#[cfg(target_abi = "eabihf")]
const COPROCESSOR_ACCESS: *mut u32 = 0xE000_ED88 as *mut u32;

unsafe extern "C" {
    static stack_top: u32;
}

/// Makes the statics.
///
/// # Safety
/// Once, before anything reads a static.
#[inline(always)]
pub unsafe fn start() {
    // SAFETY: the bounds are the linker script's and whole words; the registers are the processor's own.
    unsafe {
        make_statics();
        #[cfg(target_abi = "eabihf")]
        {
            COPROCESSOR_ACCESS.write_volatile(COPROCESSOR_ACCESS.read_volatile() | 0xF << 20);
            asm!("dsb", "isb");
        }
        TICK_RELOAD.write_volatile(0xFF_FFFF);
        TICK_NOW.write_volatile(0);
        // Enabled, the processor's clock, no interrupt.
        TICK_CONTROL.write_volatile(5);
    }
}

/// A byte to the world.
pub fn put(byte: u8) {
    // SAFETY: the breakpoint hands operation and address to the host, which reads the byte.
    unsafe { asm!("bkpt 0xab", inout("r0") WRITEC => _, in("r1") &raw const byte) }
}

/// The end of the emulation.
pub fn exit(end: End) -> ! {
    // An emulator turns the first into exit code 0, the others into 1.
    let reason: u32 = match end {
        End::Finished => 0x20026,
        End::Panicked => 0x20023,
        End::Faulted => 0x20024,
    };
    loop {
        // SAFETY: as above; nothing of ours is touched.
        unsafe { asm!("bkpt 0xab", inout("r0") EXIT => _, in("r1") reason) }
    }
}

/// The counter; it counts down.
#[inline(always)]
pub fn now() -> u32 {
    // SAFETY: a register of the processor.
    unsafe { TICK_NOW.read_volatile() }
}

/// Ticks between two readings, up to 2²⁴.
pub(super) fn elapsed(before: u32, after: u32) -> u32 {
    before.wrapping_sub(after) & 0xFF_FFFF
}

#[inline(always)]
pub(super) fn stack_pointer() -> *mut u8 {
    let pointer: *mut u8;
    // SAFETY: reads a register.
    unsafe { asm!("mov {}, sp", out(reg) pointer) }
    pointer
}

/// Initial stack, reset, and the other exceptions (Armv6-M Architecture Reference Manual, B1.5.2).
#[repr(C)]
pub struct Vectors {
    stack: *const u32,
    reset: extern "C" fn() -> !,
    exceptions: [extern "C" fn() -> !; 14],
}

impl Vectors {
    /// Leads to an image's entry; everything else is a fault.
    pub const fn new(reset: extern "C" fn() -> !) -> Self {
        Self { stack: &raw const stack_top, reset, exceptions: [fault; 14] }
    }
}

// SAFETY: read by the processor alone.
unsafe impl Sync for Vectors {}
