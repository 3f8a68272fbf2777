//! One forbidden thing per feature, nothing without any: proof that the check sees what it looks for.
//!
//! Each hangs on a value that only the running image knows, so it is there only as long as
//! [`given`](crate::given) and [`keep`](crate::keep) do their work.

/// What the features ask for.
pub fn all() {
    #[cfg(feature = "broken-overflow")]
    crate::keep(crate::given(1_u32) + crate::given(1));

    // The only one that goes wrong when it runs, too: the emulation must report it.
    #[cfg(feature = "broken-index")]
    crate::keep(crate::given([1, 2, 3])[crate::given(3)]);

    #[cfg(feature = "broken-unwrap")]
    crate::keep(crate::given(Some(1)).unwrap());

    #[cfg(feature = "broken-float")]
    crate::keep(crate::given(1.0_f32) + crate::given(1.0));

    #[cfg(feature = "broken-wide-multiply")]
    crate::keep(crate::given(1_u128).wrapping_mul(crate::given(1)));

    #[cfg(feature = "broken-wide-divide")]
    crate::keep(crate::given(1_u128).checked_div(crate::given(1)));

    #[cfg(feature = "broken-allocation")]
    allocation::allocate();
}

#[cfg(feature = "broken-allocation")]
mod allocation {
    use core::alloc::{GlobalAlloc, Layout};

    /// Never has any memory.
    struct Nothing;

    // SAFETY: `alloc` always fails, which the trait allows; so `dealloc` is never called.
    unsafe impl GlobalAlloc for Nothing {
        // Inlined, it would leave no symbol to find.
        #[inline(never)]
        unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
            crate::keep(layout.size());
            crate::given(core::ptr::null_mut())
        }

        unsafe fn dealloc(&self, _: *mut u8, _: Layout) {}
    }

    #[global_allocator]
    static NOTHING: Nothing = Nothing;

    pub(super) fn allocate() {
        // SAFETY: the layout has a size.
        crate::keep(unsafe { alloc::alloc::alloc(crate::given(Layout::new::<u32>())) });
    }
}
