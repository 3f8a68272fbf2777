//! The plate book (`docs/history.md`).

use zdatum::plates::{BookError, Named, PlateBook, Recognised, Saved};
use zdatum::{Length, Plate, Step, Uncertainty, Variance};

use crate::codes::{ZDATUM_NO_ROOM, ZDATUM_NOT_IN_BOOK, ZDATUM_OUT_OF_RANGE, ZDATUM_TAKEN, zdatum_code};
use crate::cycle::{last_span, zdatum_last_span};
use crate::memory::{No, Storage, code, read, start, started, started_mut, write};

/// Most plates that a book knows, and a watch charts.
pub const ZDATUM_PLATES: usize = 12;

/// Standard deviation of how a plate seats, where nothing is known yet, 2^-24 mm: 10 um (common practice).
pub const ZDATUM_SEATING: u32 = 167_772;

/// How many words a plate book's storage takes.
pub const ZDATUM_BOOK_WORDS: usize = 120;

/// Storage for the plate book; yours, and zeroed before its first use. Its contents belong to the library; to
/// keep it across a power cut, take each plate from `zdatum_book_plate`.
#[repr(C)]
pub struct zdatum_book {
    /// Do not touch.
    pub words: [u64; ZDATUM_BOOK_WORDS],
}

impl Storage for zdatum_book {
    type Inner = PlateBook<u32, ZDATUM_PLATES>;
    const TAG: u32 = 0x7A42_0001;
}

const _: () = zdatum_book::FITS;

/// One plate as plain numbers, to be kept across a power cut. Its fields belong together: change none.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_plate {
    /// Sum of the squared differences from `first`, 2^-44 mm².
    pub squares: u64,
    /// u² of the last accepted span, 2^-60 mm².
    pub variance: u64,
    /// Sum of the differences from `first`, 2^-16 mm.
    pub sum: i64,
    /// The first span, 2^-16 mm.
    pub first: i32,
    /// The last accepted span, 2^-16 mm.
    pub last: i32,
    /// The name that the firmware gave it.
    pub name: u32,
    /// How many spans the sums hold.
    pub count: u32,
    /// How many accepted cycles there were.
    pub visits: u32,
    /// When it was last seen: the firmware's own count or time.
    pub seen: u32,
}

impl zdatum_plate {
    fn of(plate: &Plate<u32>) -> Self {
        let Saved { first, count, sum, squares, last, variance, visits, seen } = plate.saved();
        Self { squares, variance, sum, first, last, name: *plate.name(), count, visits, seen }
    }

    const fn saved(&self) -> Saved {
        let Self { squares, variance, sum, first, last, name: _, count, visits, seen } = *self;
        Saved { first, count, sum, squares, last, variance, visits, seen }
    }
}

/// One plate fits, no other does: `name`.
pub const ZDATUM_ONE_FITS: u8 = 1;
/// Two plates or more fit, so nothing is guessed: `name` is the nearest.
pub const ZDATUM_TOO_NEAR: u8 = 2;
/// No plate fits: `name` is the nearest, unless the book is empty.
pub const ZDATUM_NONE_FITS: u8 = 3;
/// The book is empty.
pub const ZDATUM_EMPTY_BOOK: u8 = 4;

/// What a span says of the plate that is fitted.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_recognised {
    /// The plate; 0 for an empty book.
    pub name: u32,
    /// The span less that plate's last accepted one, 2^-16 mm.
    pub change: i32,
    /// ZDATUM_ONE_FITS to ZDATUM_EMPTY_BOOK.
    pub kind: u8,
}

fn no(error: BookError) -> No {
    No(match error {
        BookError::Full => ZDATUM_NO_ROOM,
        BookError::NotInBook => ZDATUM_NOT_IN_BOOK,
        BookError::NameTaken => ZDATUM_TAKEN,
        BookError::OutOfRange(_) | BookError::Damaged => ZDATUM_OUT_OF_RANGE,
    })
}

fn span(last: &zdatum_last_span) -> Result<(Length, Variance), No> {
    let last = last_span(last)?;
    Ok((last.span, last.variance))
}

/// Begins an empty book. `seating` is how plates seat from time to time, one standard deviation, 2^-24 mm:
/// ZDATUM_SEATING where unknown.
///
/// ZDATUM_OUT_OF_RANGE from 4 mm up; ZDATUM_NULL, ZDATUM_MISALIGNED. Then the storage is as it was before.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_start(book: *mut zdatum_book, seating: u32) -> zdatum_code {
    code(|| {
        let seating = Uncertainty::from_bits(i64::from(seating))?;
        seating.variance()?;
        // SAFETY: the crate's contract.
        unsafe { start(book, PlateBook::new(seating)) }
    })
}

/// Records the span of an accepted cycle under the plate's name, a number that the firmware chooses; `seen`
/// is its own count or time. A name that the book does not know yet is a new plate.
///
/// ZDATUM_NO_ROOM for a new plate where there are ZDATUM_PLATES; ZDATUM_OUT_OF_RANGE for a span 4 mm or more
/// from the plate's first; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_record(
    book: *mut zdatum_book,
    name: u32,
    accepted: *const zdatum_last_span,
    seen: u32,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (book, (span, variance)) = unsafe { (started_mut(book)?, self::span(&read(accepted)?)?) };
        book.record(name, span, variance, seen).map_err(no)
    })
}

/// What a plate's next span is compared with, for a job's `last` or for `zdatum_assess`: the last accepted span and,
/// from four accepted ones on, what the book expects. `steps` motor steps move the carriage by `mm` millimetres, as in the
/// setup.
///
/// ZDATUM_OUT_OF_RANGE for no such step; ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `last` is
/// not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_last(
    book: *const zdatum_book,
    name: u32,
    steps: u32,
    mm: u32,
    last: *mut zdatum_last_span,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let book = unsafe { started(book) }?;
        let known = book.last_span(&name, Step::new(steps, mm)?)?.ok_or(No(ZDATUM_NOT_IN_BOOK))?;
        let told = zdatum_last_span {
            variance: known.variance.to_bits(),
            span: known.span.to_bits(),
            expected_span: known.expected.map_or(0, |expected| expected.span.to_bits()),
            expected_limit: known.expected.map_or(0, |expected| expected.limit.to_bits()),
            has_expected: u8::from(known.expected.is_some()),
        };
        // SAFETY: the crate's contract.
        unsafe { write(last, told) }
    })
}

/// Which plate a span belongs to, where none was named.
///
/// ZDATUM_OUT_OF_RANGE where a value is out of range; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
/// Then `recognised` is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_recognise(
    book: *const zdatum_book,
    seen: *const zdatum_last_span,
    recognised: *mut zdatum_recognised,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (book, (span, variance)) = unsafe { (started(book)?, self::span(&read(seen)?)?) };
        let (kind, plate) = match book.recognise(span, variance)? {
            Recognised::Plate(plate) => (ZDATUM_ONE_FITS, Some(plate)),
            Recognised::TooNear { nearest, .. } => (ZDATUM_TOO_NEAR, Some(nearest)),
            Recognised::Unknown { nearest: Some((nearest, _)) } => (ZDATUM_NONE_FITS, Some(nearest)),
            Recognised::Unknown { nearest: None } => (ZDATUM_EMPTY_BOOK, None),
        };
        let told = match plate {
            Some(plate) => {
                let change = span.minus(plate.last().span)?.to_bits();
                zdatum_recognised { name: *plate.name(), change, kind }
            }
            None => zdatum_recognised { kind, ..zdatum_recognised::default() },
        };
        // SAFETY: the crate's contract.
        unsafe { write(recognised, told) }
    })
}

/// Whether a span fits the plate that was named: `fits` gets 1 or 0, `change` the span less the last accepted
/// one, 2^-16 mm: above zero what lies under the plate, below zero what it has lost.
///
/// ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_OUT_OF_RANGE where a value is out of range;
/// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing is written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_named(
    book: *const zdatum_book,
    name: u32,
    seen: *const zdatum_last_span,
    fits: *mut u8,
    change: *mut i32,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (book, (span, variance)) = unsafe { (started(book)?, self::span(&read(seen)?)?) };
        let (fit, by) = match book.named(&name, span, variance)? {
            Some(Named::Fits { change, .. }) => (1, change),
            Some(Named::DoesNotFit { change, .. }) => (0, change),
            None => return Err(No(ZDATUM_NOT_IN_BOOK)),
        };
        crate::memory::writable(change)?;
        // SAFETY: the crate's contract.
        unsafe { write(fits, fit) }?;
        // SAFETY: the crate's contract.
        unsafe { write(change, by.to_bits()) }
    })
}

/// Forgets a plate.
///
/// ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
/// changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_remove(book: *mut zdatum_book, name: u32) -> zdatum_code {
    // SAFETY: the crate's contract.
    code(|| unsafe { started_mut(book) }?.remove(&name).map_err(no))
}

/// The plate at a place, 0 to ZDATUM_PLATES - 1, in the order in which they came: to be shown, or kept across
/// a power cut.
///
/// ZDATUM_NOT_IN_BOOK where there are fewer; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `plate`
/// is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_plate(
    book: *const zdatum_book,
    place: u32,
    plate: *mut zdatum_plate,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let plates = unsafe { started(book) }?.plates();
        let known = usize::try_from(place).ok().and_then(|place| plates.get(place));
        let told = zdatum_plate::of(known.ok_or(No(ZDATUM_NOT_IN_BOOK))?);
        // SAFETY: the crate's contract.
        unsafe { write(plate, told) }
    })
}

/// Adds a plate as `zdatum_book_plate` returned it, after a power cut.
///
/// ZDATUM_TAKEN where its name is in the book; ZDATUM_NO_ROOM where there are ZDATUM_PLATES;
/// ZDATUM_OUT_OF_RANGE for numbers that it never returned; ZDATUM_NOT_STARTED, ZDATUM_NULL,
/// ZDATUM_MISALIGNED. Then nothing changes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_book_restore(
    book: *mut zdatum_book,
    plate: *const zdatum_plate,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let (book, plate) = unsafe { (started_mut(book)?, read(plate)?) };
        book.restore(plate.name, &plate.saved()).map_err(no)
    })
}
