//! Every look through a pointer, in one place.

use core::mem::MaybeUninit;

use zdatum::OutOfRange;

use crate::codes::{
    ZDATUM_MISALIGNED, ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_OK, ZDATUM_OUT_OF_RANGE, zdatum_code,
};

/// The code of what did not work; never `ZDATUM_OK`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct No(pub(crate) zdatum_code);

impl From<OutOfRange> for No {
    fn from(_: OutOfRange) -> Self {
        No(ZDATUM_OUT_OF_RANGE)
    }
}

/// Turns an inner result into what C gets.
pub(crate) fn code(of: impl FnOnce() -> Result<(), No>) -> zdatum_code {
    match of() {
        Ok(()) => ZDATUM_OK,
        Err(No(code)) => code,
    }
}

/// A number that is one of a few.
pub(crate) fn flag(value: u8) -> Result<bool, No> {
    match value {
        0 => Ok(false),
        1 => Ok(true),
        _ => Err(No(ZDATUM_OUT_OF_RANGE)),
    }
}

fn look<T>(pointer: *const T) -> Result<(), No> {
    if pointer.is_null() {
        Err(No(ZDATUM_NULL))
    } else if !pointer.is_aligned() {
        Err(No(ZDATUM_MISALIGNED))
    } else {
        Ok(())
    }
}

/// Copies a plain struct in.
///
/// # Safety
/// The crate's contract; every bit pattern is a `T`.
pub(crate) unsafe fn read<T: Copy>(pointer: *const T) -> Result<T, No> {
    look(pointer)?;
    // SAFETY: neither null nor misaligned, so by the crate's contract a whole T.
    Ok(unsafe { pointer.read() })
}

/// Looks at a struct that is too large to be copied.
///
/// # Safety
/// As [`read`]; `'a` ends before the struct is written.
pub(crate) unsafe fn see<'a, T: Copy>(pointer: *const T) -> Result<&'a T, No> {
    look(pointer)?;
    // SAFETY: neither null nor misaligned, so by the crate's contract a whole T.
    Ok(unsafe { &*pointer })
}

/// Clears a struct that is too large to be copied, to be filled in place.
///
/// # Safety
/// The crate's contract; zeroes are a `T`, and nothing else looks at the struct during `'a`.
pub(crate) unsafe fn cleared<'a, T: Copy>(pointer: *mut T) -> Result<&'a mut T, No> {
    writable(pointer)?;
    // SAFETY: neither null nor misaligned, so by the crate's contract a whole T; zeroes are one.
    Ok(unsafe {
        pointer.write_bytes(0, 1);
        &mut *pointer
    })
}

/// Looks at a pointer that will be written to, before anything is worked out.
pub(crate) fn writable<T>(pointer: *mut T) -> Result<(), No> {
    look(pointer.cast_const())
}

/// Copies a plain struct out.
///
/// # Safety
/// The crate's contract.
pub(crate) unsafe fn write<T>(pointer: *mut T, value: T) -> Result<(), No> {
    writable(pointer)?;
    // SAFETY: neither null nor misaligned, so by the crate's contract a whole T.
    unsafe { pointer.write(value) };
    Ok(())
}

/// What a caller's storage is filled with. The tag comes first, so that zeroes are known for *not started*.
#[repr(C)]
pub(crate) struct Cell<T> {
    tag: u32,
    inner: MaybeUninit<T>,
}

/// A published storage.
pub(crate) trait Storage: Sized {
    /// What is kept in it.
    type Inner;
    /// Tells a started storage from zeroes and from another kind.
    const TAG: u32;
    /// Size and alignment as published are enough.
    const FITS: () = assert!(
        size_of::<Cell<Self::Inner>>() <= size_of::<Self>()
            && align_of::<Cell<Self::Inner>>() <= align_of::<Self>(),
        "the published storage is too small"
    );
}

fn cell<S: Storage>(storage: *mut S) -> Result<*mut Cell<S::Inner>, No> {
    let () = S::FITS;
    look(storage.cast_const())?;
    Ok(storage.cast())
}

/// Starts a storage, whatever was there before.
///
/// # Safety
/// The crate's contract.
pub(crate) unsafe fn start<S: Storage>(storage: *mut S, inner: S::Inner) -> Result<(), No> {
    let cell = cell(storage)?;
    // SAFETY: by the crate's contract a whole S, in which the cell fits. What was there needs no drop.
    unsafe { cell.write(Cell { tag: S::TAG, inner: MaybeUninit::new(inner) }) };
    Ok(())
}

/// What a started storage holds.
///
/// # Safety
/// The crate's contract; `'a` ends before the storage is written again.
pub(crate) unsafe fn started<'a, S: Storage>(storage: *const S) -> Result<&'a S::Inner, No> {
    let cell = cell(storage.cast_mut())?;
    // SAFETY: by the crate's contract a whole S, of which the tag is the first word.
    if unsafe { (&raw const (*cell).tag).read() } != S::TAG {
        return Err(No(ZDATUM_NOT_STARTED));
    }
    // SAFETY: the tag says that `start` has filled it.
    Ok(unsafe { (*cell).inner.assume_init_ref() })
}

/// The same, to be changed.
///
/// # Safety
/// As [`started`], and nothing else looks at the storage meanwhile.
pub(crate) unsafe fn started_mut<'a, S: Storage>(storage: *mut S) -> Result<&'a mut S::Inner, No> {
    // SAFETY: as the caller promises.
    unsafe { started::<S>(storage.cast_const()) }?;
    // SAFETY: the tag has just been seen.
    Ok(unsafe { (*cell(storage)?).inner.assume_init_mut() })
}
