//! How deep a call goes: paint what lies below the stack, call, and see what is still painted.

use super::here::{END, stack_pointer};

const PAINT: u8 = 0xA5;

/// No further down than this is looked: a trace of the painting would be long.
const FAR: usize = 7_000;

/// Deepest stack of a run, in bytes below the caller's own; 0 where there is none to be painted.
#[inline(never)]
pub fn deepest(run: &mut dyn FnMut()) -> u32 {
    let top = stack_pointer();
    let bottom = END.max(top.wrapping_sub(FAR.min(top as usize)));
    let mut place = bottom;
    // SAFETY: from the end of the statics up to this function's own frame nothing is in use.
    unsafe {
        while place < top {
            place.write_volatile(PAINT);
            place = place.add(1);
        }
    }
    run();
    let mut place = bottom;
    // SAFETY: as above; only reads.
    unsafe {
        while place < top && place.read_volatile() == PAINT {
            place = place.add(1);
        }
    }
    (top as usize).saturating_sub(place as usize) as u32
}
