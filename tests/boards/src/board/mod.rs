//! What an image needs of its board: start-up, a line to the world, an end, a counter and a look at the
//! stack.
//!
//! Made for emulation. The processor is told by the target; `link/` holds the memory map of each.

#[cfg(not(target_family = "wasm"))]
mod bare;
#[cfg_attr(target_arch = "arm", path = "cortex.rs")]
#[cfg_attr(target_arch = "riscv32", path = "riscv.rs")]
#[cfg_attr(target_arch = "avr", path = "avr.rs")]
#[cfg_attr(target_family = "wasm", path = "wasm.rs")]
mod here;
mod stack;

#[cfg(target_arch = "arm")]
pub use here::Vectors;
pub use here::{END, exit, now, put, start};
pub use stack::deepest;

/// How an image ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// It came to its own end.
    Finished,
    /// It panicked.
    Panicked,
    /// The processor faulted.
    Faulted,
}

/// Text to the world.
pub fn write(text: &str) {
    for byte in text.bytes() {
        put(byte);
    }
}

/// Eight hexadecimal digits.
pub fn write_hex(value: u32) {
    for place in (0..8).rev() {
        let digit = (value >> (place * 4) & 15) as u8;
        put(if digit < 10 { b'0' + digit } else { b'a' + digit - 10 });
    }
}

/// A decimal number.
pub fn write_decimal(value: u32) {
    let (mut left, mut divisor, mut begun) = (value, 1_000_000_000, false);
    while divisor > 0 {
        let mut digit = b'0';
        while left >= divisor {
            left -= divisor;
            digit += 1;
        }
        begun |= digit > b'0' || divisor == 1;
        if begun {
            put(digit);
        }
        divisor /= 10;
    }
}

/// Where a trace begins to count; never in line, so that it has an address.
#[unsafe(no_mangle)]
#[inline(never)]
pub extern "C" fn count_begins() {
    here::nop();
}

/// Where a trace ceases to count. Differs from the other, or the compiler would make one of both.
#[unsafe(no_mangle)]
#[inline(never)]
pub extern "C" fn count_ends() {
    here::nop();
    here::nop();
}

/// Counter ticks of one run; what one tick is, and what calling costs, is found by running `nop`s.
#[inline(never)]
pub fn ticks(run: &mut dyn FnMut()) -> u32 {
    let before = now();
    count_begins();
    run();
    count_ends();
    here::elapsed(before, now())
}

/// None: what the call alone takes.
#[inline(never)]
pub fn no_nops() {
    here::nops!("0");
}

/// A hundred instructions that do nothing.
#[inline(never)]
pub fn hundred_nops() {
    here::nops!("100");
}

/// Ten thousand of them.
#[inline(never)]
pub fn ten_thousand_nops() {
    here::nops!("10000");
}

/// Comes from the panic handler alone, so its name tells whether anything in an image can panic. Not so on
/// WebAssembly, where what is not mangled is handed out and so stays: there the mangled name tells.
#[cfg_attr(not(target_family = "wasm"), unsafe(no_mangle))]
#[inline(never)]
extern "C" fn reached_a_panic() -> ! {
    write("stopped: a panic\n");
    exit(End::Panicked)
}

#[panic_handler]
fn panic(info: &core::panic::PanicInfo) -> ! {
    // Else nobody reads the places, and the optimiser drops them.
    if cfg!(feature = "locate-panics") {
        crate::keep(info.location());
    }
    reached_a_panic()
}

/// Makes an image of a function: the board's entry, then the function, then the end.
#[macro_export]
macro_rules! image {
    ($main:path) => {
        /// Start-up; on an AVR called by the C library's.
        #[unsafe(no_mangle)]
        #[cfg_attr(target_arch = "avr", unsafe(export_name = "main"))]
        extern "C" fn reset() -> ! {
            // SAFETY: runs once, before anything else.
            unsafe { $crate::board::start() };
            $main();
            $crate::board::write("finished\n");
            $crate::board::exit($crate::board::End::Finished)
        }

        #[cfg(target_arch = "arm")]
        #[used]
        #[unsafe(link_section = ".vectors")]
        static VECTORS: $crate::board::Vectors = $crate::board::Vectors::new(reset);

        #[cfg(target_arch = "riscv32")]
        core::arch::global_asm!(
            ".section .start,\"ax\",@progbits",
            ".globl begin",
            "begin:",
            "la sp, stack_top",
            "j {reset}",
            reset = sym reset
        );
    };
}
