//! What the bare processors have in common: instructions that do nothing, and, but for the AVR whose C
//! library sees to them, the statics and what a fault leads to.

use core::arch::asm;

#[inline(always)]
pub(super) fn nop() {
    // SAFETY: does nothing.
    unsafe { asm!("nop") }
}

/// So many of them, one after the other.
macro_rules! nops {
    ($count:literal) => {
        // SAFETY: does nothing.
        unsafe { core::arch::asm!(concat!(".rept ", $count), "nop", ".endr") }
    };
}
pub(super) use nops;

#[cfg(not(target_arch = "avr"))]
pub use made_here::END;
#[cfg(not(target_arch = "avr"))]
pub(super) use made_here::{fault, make_statics};

#[cfg(not(target_arch = "avr"))]
mod made_here {
    use super::super::{End, exit, write};

    unsafe extern "C" {
        static mut data_start: u32;
        static mut data_end: u32;
        static data_load: u32;
        static mut bss_start: u32;
        static mut bss_end: u32;
    }

    /// What the memory map calls the end of the statics: the stack may grow down to it.
    pub const END: *mut u8 = &raw mut bss_end as *mut u8;

    /// Makes the statics.
    ///
    /// # Safety
    /// Once, before anything reads a static.
    #[inline(always)]
    pub(in crate::board) unsafe fn make_statics() {
        // SAFETY: the bounds are the linker script's and whole words.
        unsafe {
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

    pub(in crate::board) extern "C" fn fault() -> ! {
        write("stopped: a fault\n");
        exit(End::Faulted)
    }
}
