//! What a call returns.

use core::ffi::c_char;

/// What a call returns: `ZDATUM_OK`, or why it did nothing.
pub type zdatum_code = i32;

/// Declares the texts; the codes themselves stand written out for the header.
macro_rules! texts {
    ($($code:ident => $text:literal,)*) => {
        /// All codes with their texts, in their order.
        pub(crate) const TEXTS: &[(zdatum_code, &str)] = &[$(($code, $text),)*];
    };
}

/// Done.
pub const ZDATUM_OK: i32 = 0;
/// A pointer is null.
pub const ZDATUM_NULL: i32 = 1;
/// A pointer is not aligned for its type.
pub const ZDATUM_MISALIGNED: i32 = 2;
/// A number is outside its range, or not one of those listed. Usual cause: wrong units, or a struct that
/// was not filled.
pub const ZDATUM_OUT_OF_RANGE: i32 = 3;
/// The storage has not been started: it is zero, or was started by another version of the library.
pub const ZDATUM_NOT_STARTED: i32 = 4;
/// The event does not answer the pending request: poll again and answer that.
pub const ZDATUM_OUT_OF_TURN: i32 = 5;
/// The setup is refused; `zdatum_bad_setup` says which key and why.
pub const ZDATUM_BAD_SETUP: i32 = 6;
/// No room: `touch.most` is above ZDATUM_TOUCHES, a series, a book or a watch is full, or a buffer is
/// too small for the text.
pub const ZDATUM_NO_ROOM: i32 = 7;
/// The text is not a plain decimal number.
pub const ZDATUM_NOT_A_NUMBER: i32 = 8;
/// A station has no counted touch, or only one without a study of that station.
pub const ZDATUM_TOO_FEW: i32 = 9;
/// The cycle is not over yet.
pub const ZDATUM_NOT_FINISHED: i32 = 10;
/// The landing is refused, or there is none: it must not be used.
pub const ZDATUM_REFUSED: i32 = 11;
/// No plate of the book, or of the watch, has that name or place.
pub const ZDATUM_NOT_IN_BOOK: i32 = 12;
/// Another plate has that name already.
pub const ZDATUM_TAKEN: i32 = 13;

texts! {
    ZDATUM_OK => "done",
    ZDATUM_NULL => "a pointer is null",
    ZDATUM_MISALIGNED => "a pointer is not aligned for its type",
    ZDATUM_OUT_OF_RANGE => "a number is outside its range; check the units, and that every field is set",
    ZDATUM_NOT_STARTED => "the storage has not been started; start it first",
    ZDATUM_OUT_OF_TURN => "the event does not answer the pending request; poll again and answer that",
    ZDATUM_BAD_SETUP => "the setup is refused; see which key and why",
    ZDATUM_NO_ROOM => "no room; lower touch.most, start a new series, remove or forget a plate, or pass a \
        larger buffer",
    ZDATUM_NOT_A_NUMBER => "not a decimal number",
    ZDATUM_TOO_FEW => "a station has too few touches; take more, or add a study of that station to the setup",
    ZDATUM_NOT_FINISHED => "the cycle is not over; keep answering its requests until it asks for nothing \
        more",
    ZDATUM_REFUSED => "the landing is refused and must not be used; see the refusals",
    ZDATUM_NOT_IN_BOOK => "no plate has that name or place",
    ZDATUM_TAKEN => "another plate has that name already; remove it first",
}

/// Changes whenever a struct, a constant or the meaning of a function changes.
pub const ZDATUM_ABI: i32 = 4;

/// A text that lives as long as the program: ASCII or UTF-8, not terminated by a zero. Print it with `%.*s`.
#[derive(Clone, Copy)]
#[repr(C)]
pub struct zdatum_text {
    /// The first byte; never null.
    pub bytes: *const c_char,
    /// How many bytes there are; 0 for an empty text.
    pub length: usize,
}

impl zdatum_text {
    pub(crate) const fn of(text: &'static str) -> Self {
        Self { bytes: text.as_ptr().cast(), length: text.len() }
    }
}

/// The version of the library that is linked; compare it with ZDATUM_ABI of the header once, before anything
/// else.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_abi() -> i32 {
    ZDATUM_ABI
}

/// What a code means and what to do about it, in English; an empty text for an unknown code.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_code_text(code: zdatum_code) -> zdatum_text {
    let text = TEXTS.iter().find(|(known, _)| *known == code).map_or("", |(_, text)| text);
    zdatum_text::of(text)
}
