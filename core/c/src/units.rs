//! Quantities: whole numbers that count a binary fraction of a unit.

use core::ffi::c_char;

use zdatum::units::{Quantity, Spec};
use zdatum::{
    Growth, Latency, Length, ParseError, Ratio, Speed, Step, Temperature, Text, Uncertainty, Warming,
};

use crate::codes::{
    ZDATUM_NO_ROOM, ZDATUM_NOT_A_NUMBER, ZDATUM_NULL, ZDATUM_OUT_OF_RANGE, zdatum_code, zdatum_text,
};
use crate::memory::{No, code, writable, write};

/// A length in mm: `int32_t`, one bit is 2^-16 mm, -32768 to 32767.99998.
pub const ZDATUM_LENGTH: u8 = 1;
/// A speed in mm/s: `uint32_t`, one bit is 2^-16 mm/s, 0 to 1000.
pub const ZDATUM_SPEED: u8 = 2;
/// A latency in s: `uint32_t`, one bit is 2^-32 s, 0 to 0.1.
pub const ZDATUM_LATENCY: u8 = 3;
/// A temperature in degrees Celsius: `int32_t`, one bit is 2^-16, -273.15 to 1000.
pub const ZDATUM_TEMPERATURE: u8 = 4;
/// A growth, written in um per kelvin: `int32_t`, one bit is 2^-32 mm/K, -62.5 to 62.5 um/K.
pub const ZDATUM_GROWTH: u8 = 5;
/// An uncertainty in mm: `uint32_t`, one bit is 2^-24 mm, 0 to 255.9999999.
pub const ZDATUM_UNCERTAINTY: u8 = 6;
/// A number without unit: `uint32_t`, one bit is 2^-16, 0 to 65535.9999.
pub const ZDATUM_RATIO: u8 = 7;
/// A difference of two temperatures in K: `int32_t`, one bit is 2^-16 K, -1280 to 1280.
pub const ZDATUM_WARMING: u8 = 8;

/// Room for the longest text of a number, including its terminating zero.
pub const ZDATUM_TEXT_ROOM: usize = 25;

fn quantity(number: u8) -> Result<Quantity, No> {
    Ok(match number {
        ZDATUM_LENGTH => Quantity::Length,
        ZDATUM_SPEED => Quantity::Speed,
        ZDATUM_LATENCY => Quantity::Latency,
        ZDATUM_TEMPERATURE => Quantity::Temperature,
        ZDATUM_GROWTH => Quantity::Growth,
        ZDATUM_UNCERTAINTY => Quantity::Uncertainty,
        ZDATUM_RATIO => Quantity::Ratio,
        ZDATUM_WARMING => Quantity::Warming,
        _ => return Err(No(ZDATUM_OUT_OF_RANGE)),
    })
}

fn spec(number: u8) -> Result<&'static Spec, No> {
    quantity(number).map(Quantity::spec)
}

fn parsed(number: u8, text: &str) -> Result<i64, No> {
    let bits = match quantity(number)? {
        Quantity::Length => Length::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Speed => Speed::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Latency => Latency::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Temperature => Temperature::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Growth => Growth::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Uncertainty => Uncertainty::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Ratio => Ratio::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Warming => Warming::parse(text).map(|x| i64::from(x.to_bits())),
        Quantity::Variance => return Err(No(ZDATUM_OUT_OF_RANGE)),
    };
    bits.map_err(|error| match error {
        ParseError::NotANumber => No(ZDATUM_NOT_A_NUMBER),
        ParseError::OutOfRange(_) => No(ZDATUM_OUT_OF_RANGE),
    })
}

fn written(number: u8, bits: i64) -> Result<Text, No> {
    Ok(match quantity(number)? {
        Quantity::Length => Length::from_bits(bits)?.text(),
        Quantity::Speed => Speed::from_bits(bits)?.text(),
        Quantity::Latency => Latency::from_bits(bits)?.text(),
        Quantity::Temperature => Temperature::from_bits(bits)?.text(),
        Quantity::Growth => Growth::from_bits(bits)?.text(),
        Quantity::Uncertainty => Uncertainty::from_bits(bits)?.text(),
        Quantity::Ratio => Ratio::from_bits(bits)?.text(),
        Quantity::Warming => Warming::from_bits(bits)?.text(),
        Quantity::Variance => return Err(No(ZDATUM_OUT_OF_RANGE)),
    })
}

/// Reads a decimal number in the quantity's unit (a growth in um per kelvin), rounded once to the nearest
/// bit, without a float.
///
/// `quantity` is ZDATUM_LENGTH to ZDATUM_WARMING; `text` has `length` bytes and needs no terminating zero;
/// `bits` gets the number, which fits the type that the quantity's constant names.
///
/// ZDATUM_NOT_A_NUMBER for other text, ZDATUM_OUT_OF_RANGE for a number outside the quantity's range or an
/// unknown quantity; ZDATUM_NULL, ZDATUM_MISALIGNED. Then `bits` is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_parse(
    quantity: u8,
    text: *const c_char,
    length: usize,
    bits: *mut i64,
) -> zdatum_code {
    code(|| {
        if text.is_null() {
            return Err(No(ZDATUM_NULL));
        }
        writable(bits)?;
        if isize::try_from(length).is_err() {
            return Err(No(ZDATUM_OUT_OF_RANGE));
        }
        // SAFETY: not null, `length` bytes by the crate's contract.
        let bytes = unsafe { core::slice::from_raw_parts(text.cast::<u8>(), length) };
        let text = core::str::from_utf8(bytes).map_err(|_| No(ZDATUM_NOT_A_NUMBER))?;
        let parsed = parsed(quantity, text)?;
        // SAFETY: the crate's contract.
        unsafe { write(bits, parsed) }
    })
}

/// Writes the shortest decimal text that reads back as the same bits, with a terminating zero, into `room`
/// bytes at `buffer`. ZDATUM_TEXT_ROOM bytes are always enough.
///
/// ZDATUM_OUT_OF_RANGE for bits outside the quantity's range or an unknown quantity, ZDATUM_NO_ROOM for a
/// buffer that is too small, ZDATUM_NULL. Then the buffer is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_write(
    quantity: u8,
    bits: i64,
    buffer: *mut c_char,
    room: usize,
) -> zdatum_code {
    code(|| {
        writable(buffer)?;
        let text = written(quantity, bits)?;
        let text = text.as_str();
        if text.len() >= room {
            return Err(No(ZDATUM_NO_ROOM));
        }
        // SAFETY: `room` bytes by the crate's contract, of which text and zero take at most all.
        unsafe {
            core::ptr::copy_nonoverlapping(text.as_ptr().cast(), buffer, text.len());
            buffer.add(text.len()).write(0);
        }
        Ok(())
    })
}

/// Lowest and highest value of a quantity, in bits.
///
/// ZDATUM_OUT_OF_RANGE for an unknown quantity; ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing is written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_range(quantity: u8, lowest: *mut i64, highest: *mut i64) -> zdatum_code {
    code(|| {
        let spec = spec(quantity)?;
        writable(lowest)?;
        writable(highest)?;
        // SAFETY: the crate's contract.
        unsafe { write(lowest, spec.min) }?;
        // SAFETY: the crate's contract.
        unsafe { write(highest, spec.max_i64()) }
    })
}

/// The unit of a quantity's text, such as `mm`; an empty text for an unknown quantity.
#[unsafe(no_mangle)]
pub extern "C" fn zdatum_unit(quantity: u8) -> zdatum_text {
    zdatum_text::of(spec(quantity).map_or("", |spec| spec.unit))
}

/// The length of `count` motor steps, where `steps` of them move the carriage by `mm` whole millimetres,
/// rounded once to the nearest 2^-16 mm. Give counts of steps, never lengths that were rounded before.
///
/// ZDATUM_OUT_OF_RANGE where `steps` or `mm` is not within 1 to 1048576, a step not within 2^-14 mm to 1 mm,
/// or the length beyond 32768 mm; ZDATUM_NULL, ZDATUM_MISALIGNED. Then `length` is not written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_steps(steps: u32, mm: u32, count: i32, length: *mut i32) -> zdatum_code {
    code(|| {
        let bits = Step::new(steps, mm)?.length(count)?.to_bits();
        // SAFETY: the crate's contract.
        unsafe { write(length, bits) }
    })
}
