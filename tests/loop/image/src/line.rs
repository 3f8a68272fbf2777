//! The serial line: an LM3S6965's first UART (PL011), polled, with SysTick for its time-outs.

use zdatum_boards::board;
use zdatum_loop_wire::{Frame, MOST, Reader, encode};

/// Data, flags, line control, control (PrimeCell UART PL011, Arm DDI 0183).
const DATA: *mut u32 = 0x4000_C000 as *mut u32;
const FLAGS: *mut u32 = 0x4000_C018 as *mut u32;
const LINE_CONTROL: *mut u32 = 0x4000_C02C as *mut u32;
const CONTROL: *mut u32 = 0x4000_C030 as *mut u32;
const NOTHING_READ: u32 = 1 << 4;
const FULL: u32 = 1 << 5;

/// One try, ms, and in ticks of the processor's clock of 12.5 MHz.
const TRY_MS: u32 = 20;
const TRY: u32 = TRY_MS * 12_500;

/// Tries until the line is given up: twice the machine's dead-man, so that the tool has been lifted by then.
pub(crate) fn patience(dead_man: u16) -> u32 {
    (u32::from(dead_man) * 2).div_ceil(TRY_MS)
}

/// Tries of the outcome: ten seconds, then it is idle again.
pub(crate) const PATIENCE_AT_END: u32 = 10_000 / TRY_MS;

/// The line.
pub(crate) struct Line {
    reader: Reader,
}

impl Line {
    pub(crate) fn new() -> Self {
        // SAFETY: registers of the UART; 8 bits with FIFOs, then on in both directions.
        unsafe {
            LINE_CONTROL.write_volatile(0x70);
            CONTROL.write_volatile(0x301);
        }
        Self { reader: Reader::new() }
    }

    /// Says something again and again until what is waited for is heard.
    pub(crate) fn exchange(
        &mut self,
        said: &Frame,
        tries: u32,
        mut awaited: impl FnMut(&Frame) -> bool,
    ) -> Option<Frame> {
        let mut bytes = [0; MOST];
        let used = encode(said, &mut bytes)?;
        for _ in 0..tries {
            for byte in bytes.iter().take(used) {
                put(*byte);
            }
            let (mut before, mut waited) = (board::now(), 0_u32);
            while waited < TRY {
                let now = board::now();
                waited = waited.saturating_add(before.wrapping_sub(now) & 0xFF_FFFF);
                before = now;
                while let Some(byte) = get() {
                    if let Some(frame) = self.reader.take(byte).filter(&mut awaited) {
                        return Some(frame);
                    }
                }
            }
        }
        None
    }
}

fn put(byte: u8) {
    // SAFETY: registers of the UART.
    unsafe {
        while FLAGS.read_volatile() & FULL != 0 {}
        DATA.write_volatile(u32::from(byte));
    }
}

fn get() -> Option<u8> {
    // SAFETY: registers of the UART.
    unsafe { (FLAGS.read_volatile() & NOTHING_READ == 0).then(|| DATA.read_volatile() as u8) }
}
