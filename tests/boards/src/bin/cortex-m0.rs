//! The image for a Cortex-M0: vectors, start-up, one run through all calls, an exit by semihosting.
//!
//! Semihosting ("Semihosting for AArch32 and AArch64", Arm, SYS_EXIT) ends an emulation. Without a debugger the
//! breakpoint faults and the fault handler stays on it: the image is made for emulation and for reading its symbols.

#![no_std]
#![no_main]

use core::arch::asm;

/// Reasons of SYS_EXIT: an emulator turns the first into exit code 0, the others into 1.
const FINISHED: u32 = 0x20026;
const PANICKED: u32 = 0x20023;
const FAULTED: u32 = 0x20024;

/// The symbol that tells: whatever can panic brings it into the image.
#[unsafe(no_mangle)]
#[inline(never)]
extern "C" fn reached_a_panic() -> ! {
    exit(PANICKED)
}

#[panic_handler]
fn panic(info: &core::panic::PanicInfo) -> ! {
    // Else nobody reads the places, and the optimiser drops them.
    if cfg!(feature = "locate-panics") {
        zdatum_boards::keep(info.location());
    }
    reached_a_panic()
}

fn exit(reason: u32) -> ! {
    loop {
        // SAFETY: the breakpoint hands operation and reason to the host; nothing of ours is touched.
        unsafe { asm!("bkpt 0xab", inout("r0") 0x18 => _, in("r1") reason) }
    }
}

extern "C" fn fault() -> ! {
    exit(FAULTED)
}

unsafe extern "C" {
    static mut data_start: u32;
    static mut data_end: u32;
    static data_load: u32;
    static mut bss_start: u32;
    static mut bss_end: u32;
    static stack_top: u32;
}

#[unsafe(no_mangle)]
extern "C" fn reset() -> ! {
    // SAFETY: runs once, before anything reads a static; the bounds are the linker script's and whole words.
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
    zdatum_boards::all();
    exit(FINISHED)
}

/// Initial stack, reset, and the other exceptions of Armv6-M (Armv6-M Architecture Reference Manual, B1.5.2).
#[repr(C)]
struct Vectors {
    stack: *const u32,
    reset: extern "C" fn() -> !,
    exceptions: [extern "C" fn() -> !; 14],
}

// SAFETY: read by the processor alone.
unsafe impl Sync for Vectors {}

#[used]
#[unsafe(link_section = ".vectors")]
static VECTORS: Vectors = Vectors { stack: &raw const stack_top, reset, exceptions: [fault; 14] };
