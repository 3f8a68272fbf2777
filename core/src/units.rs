//! Quantities: one newtype per physical quantity, one table for their ranges.
//!
//! Every quantity is an integer count of a binary fraction of its unit. The representation is chosen per
//! quantity, so that the products the landing needs are plain multiplications and shifts, and the same inputs
//! give the same bits on every processor. [`QUANTITIES`] is the one table: range checks, messages and test
//! generators all come from it.
//!
//! | type | unit | one bit | range | why this one |
//! |---|---|---|---|---|
//! | [`Length`] | mm | 2⁻¹⁶ (15.3 nm) | ±32,768 | one machine word, far finer than a motor step |
//! | [`Speed`] | mm/s | 2⁻¹⁶ | 0 to 1,000 | |
//! | [`Latency`] | s | 2⁻³² (0.23 ns) | 0 to 0.1 | times a speed: 2⁻⁴⁸ mm in 64 bits |
//! | [`Temperature`] | °C | 2⁻¹⁶ | −273.15 to 1,000 | |
//! | [`Warming`] | K | 2⁻¹⁶ | ±1,280 | the difference of two temperatures |
//! | [`Growth`] | µm/K, held as mm/K | 2⁻³² mm/K (0.23 pm/K) | ±62.5 µm/K | times a temperature: 2⁻⁴⁸ mm |
//! | [`Uncertainty`] | mm | 2⁻²⁴ (0.06 nm) | 0 to 256 | its square is a whole number of variance bits |
//! | [`Variance`] | mm² | 2⁻⁶⁰ | 0 to 16 | keeps (0.45 µm)² to eleven digits |
//! | [`Ratio`] | 1 | 2⁻¹⁶ | 0 to 65,536 | coverage factors, weights, test statistics |

mod step;

pub use step::Step;

use fixed::types::I16F16;

use crate::arith::{self, Bounded};
use crate::decimal::{self, ParseError, Text};

/// Names a quantity of the table, for messages.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// [`Length`].
    Length,
    /// [`Speed`].
    Speed,
    /// [`Latency`].
    Latency,
    /// [`Temperature`].
    Temperature,
    /// [`Warming`].
    Warming,
    /// [`Growth`].
    Growth,
    /// [`Uncertainty`].
    Uncertainty,
    /// [`Variance`].
    Variance,
    /// [`Ratio`].
    Ratio,
}

/// One row of the table of ranges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spec {
    /// Which quantity.
    pub quantity: Quantity,
    /// Its name in messages.
    pub name: &'static str,
    /// The unit in which people read and write it.
    pub unit: &'static str,
    /// Bits behind the binary point.
    pub fraction_bits: u32,
    /// Decimal places between the unit that is written and the unit that is held (3: written in µm, held in
    /// mm).
    pub decimal_shift: u8,
    /// Lowest value, in bits.
    pub min: i64,
    /// Highest value, in bits.
    pub max: u64,
    /// Lowest value, as it is written in messages.
    pub min_text: &'static str,
    /// Highest value, as it is written in messages.
    pub max_text: &'static str,
}

impl Spec {
    /// The highest value as a signed number; all but the variance's fit.
    pub const fn max_i64(&self) -> i64 {
        if self.max > i64::MAX as u64 { i64::MAX } else { self.max as i64 }
    }
}

impl Quantity {
    /// The quantity's row of the table.
    pub const fn spec(self) -> &'static Spec {
        match self {
            Quantity::Length => &Length::SPEC,
            Quantity::Speed => &Speed::SPEC,
            Quantity::Latency => &Latency::SPEC,
            Quantity::Temperature => &Temperature::SPEC,
            Quantity::Warming => &Warming::SPEC,
            Quantity::Growth => &Growth::SPEC,
            Quantity::Uncertainty => &Uncertainty::SPEC,
            Quantity::Variance => &Variance::SPEC,
            Quantity::Ratio => &Ratio::SPEC,
        }
    }
}

/// All quantities, in the order of the module's table.
pub const QUANTITIES: [Quantity; 9] = [
    Quantity::Length,
    Quantity::Speed,
    Quantity::Latency,
    Quantity::Temperature,
    Quantity::Warming,
    Quantity::Growth,
    Quantity::Uncertainty,
    Quantity::Variance,
    Quantity::Ratio,
];

/// A value that the arithmetic cannot hold. Usual cause: wrong units. Never a wrapped or clipped number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutOfRange {
    /// What could not be held.
    pub quantity: Quantity,
}

impl core::fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let spec = self.quantity.spec();
        for part in [spec.name, " outside ", spec.min_text, " to ", spec.max_text, " ", spec.unit] {
            f.write_str(part)?;
        }
        Ok(())
    }
}

impl core::error::Error for OutOfRange {}

/// Declares the newtypes and their rows of the table at once.
macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident($repr:ty) $label:literal [$unit:literal],
        bits $bits:literal, shift $shift:literal,
        $min:expr => $min_text:literal, $max:expr => $max_text:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
        pub struct $name($repr);

        impl $name {
            /// This quantity's row of the table.
            pub const SPEC: Spec = Spec {
                quantity: Quantity::$name, name: $label, unit: $unit,
                fraction_bits: $bits, decimal_shift: $shift,
                min: $min, max: $max, min_text: $min_text, max_text: $max_text,
            };
            /// Zero.
            pub const ZERO: Self = Self(0);

            /// The value of so many bits, or *out of range*.
            ///
            /// # Errors
            /// *Out of range* beyond [`Self::SPEC`].
            pub const fn from_bits(bits: i64) -> Result<Self, OutOfRange> {
                if bits < Self::SPEC.min || bits > Self::SPEC.max_i64() {
                    return Err(OutOfRange { quantity: Quantity::$name });
                }
                Ok(Self(bits as $repr))
            }

            /// The value in bits of [`Self::SPEC`].
            pub const fn to_bits(self) -> $repr {
                self.0
            }
        }
        quantities!(@text $name);
    )*};
    (@text $name:ident) => {
        impl $name {
            /// Reads decimal text in the table's unit, rounded once to the nearest bit, without a float in
            /// between.
            ///
            /// # Errors
            /// Text that is no plain decimal number, or a number outside the table's range.
            pub fn parse(text: &str) -> Result<Self, ParseError> {
                let bits = decimal::parse(text, &Self::SPEC)?;
                Self::from_bits(bits).map_err(ParseError::from)
            }

            /// The shortest decimal text that reads back as the same bits.
            pub fn text(self) -> Text {
                decimal::shortest(i64::from(self.to_bits()), &Self::SPEC)
            }
        }

        impl core::fmt::Display for $name {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                f.write_str(&self.text())
            }
        }
    };
}

quantities! {
    /// A speed of approach in mm/s; one bit is 2⁻¹⁶ mm/s.
    Speed(u32) "speed" ["mm/s"], bits 16, shift 0, 0 => "0", 1_000 << 16 => "1000";
    /// The time by which a switch's trip is seen late, in seconds; one bit is 2⁻³² s. Also its standard
    /// uncertainty.
    Latency(u32) "latency" ["s"], bits 32, shift 0, 0 => "0", 429_496_730 => "0.1";
    /// A temperature in °C; one bit is 2⁻¹⁶ °C.
    Temperature(i32) "temperature" ["°C"], bits 16, shift 0, -17_901_158 => "-273.15", 1_000 << 16 => "1000";
    /// A difference of two temperatures in K, such as print less touch; one bit is 2⁻¹⁶ K. Also its standard
    /// uncertainty.
    Warming(i32) "temperature difference" ["K"], bits 16, shift 0, -(1_280 << 16) => "-1280", 1_280 << 16 => "1280";
    /// How much a part grows per kelvin: written in µm/K, held in mm/K; one bit is 2⁻³² mm/K. Also its
    /// standard uncertainty.
    Growth(i32) "growth" ["µm/°C"], bits 32, shift 3, -(1 << 28) => "-62.5", 1 << 28 => "62.5";
    /// A standard or expanded uncertainty, or a standard deviation, in mm; one bit is 2⁻²⁴ mm.
    Uncertainty(u32) "uncertainty" ["mm"], bits 24, shift 0, 0 => "0", 0xFFFF_FFFF => "255.9999999";
    /// A number without unit; one bit is 2⁻¹⁶.
    Ratio(u32) "ratio" ["1"], bits 16, shift 0, 0 => "0", 0xFFFF_FFFF => "65535.9999";
}

/// A height, distance or width in mm: `fixed::types::I16F16`, one bit is 2⁻¹⁶ mm (15.3 nm), ±32,768 mm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Length(I16F16);

impl Length {
    /// This quantity's row of the table.
    pub const SPEC: Spec = Spec {
        quantity: Quantity::Length,
        name: "length",
        unit: "mm",
        fraction_bits: 16,
        decimal_shift: 0,
        min: i32::MIN as i64,
        max: i32::MAX as u64,
        min_text: "-32768",
        max_text: "32767.9999",
    };
    /// Zero.
    pub const ZERO: Self = Self(I16F16::ZERO);

    /// The length of so many 2⁻¹⁶ mm, or *out of range*.
    ///
    /// # Errors
    /// *Out of range* beyond [`Self::SPEC`].
    pub const fn from_bits(bits: i64) -> Result<Self, OutOfRange> {
        if bits < Self::SPEC.min || bits > Self::SPEC.max_i64() {
            return Err(OutOfRange { quantity: Quantity::Length });
        }
        Ok(Self(I16F16::from_bits(bits as i32)))
    }

    /// So many 2⁻¹⁶ mm: every word is one.
    pub(crate) const fn from_word(bits: i32) -> Self {
        Self(I16F16::from_bits(bits))
    }

    /// Whole millimetres.
    pub const fn from_mm(mm: i16) -> Self {
        Self(I16F16::from_bits((mm as i32) << 16))
    }

    /// The length in 2⁻¹⁶ mm.
    pub const fn to_bits(self) -> i32 {
        self.0.to_bits()
    }

    /// The fixed-point number itself, in mm.
    pub const fn to_fixed(self) -> I16F16 {
        self.0
    }

    /// Wraps a fixed-point number of mm.
    pub const fn from_fixed(mm: I16F16) -> Self {
        Self(mm)
    }

    /// The sum, or *out of range*.
    ///
    /// # Errors
    /// *Out of range* where the sum cannot be held.
    #[inline]
    pub fn plus(self, other: Self) -> Result<Self, OutOfRange> {
        self.0.checked_add(other.0).map(Self).ok_or(OutOfRange { quantity: Quantity::Length })
    }

    /// The difference, or *out of range*.
    ///
    /// # Errors
    /// *Out of range* where the difference cannot be held.
    #[inline]
    pub fn minus(self, other: Self) -> Result<Self, OutOfRange> {
        self.0.checked_sub(other.0).map(Self).ok_or(OutOfRange { quantity: Quantity::Length })
    }

    /// How far two heights stand apart, or *out of range*.
    pub(crate) fn distance(self, other: Self) -> Result<Self, OutOfRange> {
        self.max(other).minus(self.min(other))
    }

    /// With 16 more bits behind the point: exact.
    pub const fn widen(self) -> Wide {
        Wide((self.to_bits() as i64) << 16)
    }
}

quantities!(@text Length);

/// A length on the way: mm with 32 bits behind the point, so that a sum of means and corrections is rounded
/// only once.
///
/// Range ±2³¹ mm. Sums of the few terms a landing has cannot leave it: heights are
/// below 2¹⁵ mm, corrections below 2¹⁰.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Wide(i64);

impl Wide {
    /// Zero.
    pub const ZERO: Self = Self(0);

    /// So many 2⁻³² mm.
    pub(crate) const fn from_bits(bits: i64) -> Self {
        Self(bits)
    }

    /// The value in 2⁻³² mm.
    pub const fn to_bits(self) -> i64 {
        self.0
    }

    /// To the nearest 2⁻¹⁶ mm, ties up, or *out of range*.
    ///
    /// # Errors
    /// *Out of range* beyond ±32,768 mm.
    pub fn round(self) -> Result<Length, OutOfRange> {
        Length::from_bits(arith::shift_round(self.0, 16))
    }

    /// The sum.
    pub(crate) fn plus(self, other: Self) -> Self {
        Self(self.0.plus(other.0))
    }

    /// The difference, as [`Wide::plus`].
    pub(crate) fn minus(self, other: Self) -> Self {
        Self(self.0.minus(other.0))
    }
}

/// A squared uncertainty in mm²; one bit is 2⁻⁶⁰ mm², below 16 mm².
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Variance(u64);

impl Variance {
    /// This quantity's row of the table.
    pub const SPEC: Spec = Spec {
        quantity: Quantity::Variance,
        name: "variance",
        unit: "mm²",
        fraction_bits: 60,
        decimal_shift: 0,
        min: 0,
        max: u64::MAX,
        min_text: "0",
        max_text: "16",
    };
    /// Zero.
    pub const ZERO: Self = Self(0);

    /// So many 2⁻⁶⁰ mm².
    pub const fn from_bits(bits: u64) -> Self {
        Self(bits)
    }

    /// The value in 2⁻⁶⁰ mm².
    pub const fn to_bits(self) -> u64 {
        self.0
    }

    /// The sum, or *out of range*.
    ///
    /// # Errors
    /// *Out of range* where the sum cannot be held.
    pub const fn plus(self, other: Self) -> Result<Self, OutOfRange> {
        match self.0.checked_add(other.0) {
            Some(bits) => Ok(Self(bits)),
            None => Err(OutOfRange { quantity: Quantity::Variance }),
        }
    }

    /// The root, in 2⁻³⁰ mm, rounded to the nearest.
    pub(crate) fn root_bits(self) -> u32 {
        arith::root_round(self.0)
    }

    /// The root, to the nearest 2⁻²⁴ mm.
    pub fn root(self) -> Uncertainty {
        Uncertainty::of_root(self.root_bits())
    }

    /// `a` squared, where `a` is in 2⁻³⁰ mm. Always holds: below 4 mm by its type.
    pub(crate) const fn square_of(a: u32) -> Self {
        Self(arith::product(a, a))
    }

    /// Adds the square of `a · b`, a product in 2⁻⁴⁸ mm below 2^63: rounded to 2⁻³⁰ mm before, *out of range*
    /// from 4 mm up.
    #[inline]
    pub(crate) fn add_product(&mut self, a: u32, b: u32) -> Result<(), OutOfRange> {
        self.add_square(arith::product(a, b))
    }

    /// Adds the square of a length in 2⁻⁴⁸ mm below 2^63, as [`Variance::add_product`].
    #[inline]
    pub(crate) fn add_square(&mut self, length: u64) -> Result<(), OutOfRange> {
        let rounded = length.plus(1 << 17) >> 18;
        if rounded >> 32 != 0 {
            return Err(OutOfRange { quantity: Quantity::Variance });
        }
        *self = self.plus(Self::square_of(rounded as u32))?;
        Ok(())
    }
}

impl Uncertainty {
    /// One bit, 0.06 nm: stands for *known exactly* where a setup refuses 0.
    pub const LEAST: Self = Self(1);

    /// So many 2⁻²⁴ mm.
    pub(crate) const fn from_word(bits: u32) -> Self {
        Self(bits)
    }

    /// So many 2⁻³⁰ mm, to the nearest 2⁻²⁴ mm.
    pub(crate) fn of_root(bits: u32) -> Self {
        Self(((u64::from(bits) + 32) >> 6) as u32)
    }

    /// The square; *out of range* from 4 mm up.
    ///
    /// # Errors
    /// *Out of range* from 4 mm up.
    pub const fn variance(self) -> Result<Variance, OutOfRange> {
        if self.0 >= 4 << 24 {
            return Err(OutOfRange { quantity: Quantity::Variance });
        }
        Ok(Variance::square_of(self.0 << 6))
    }

    /// The standard uncertainty of a rectangular distribution with this half width, squared: a²/3 (JCGM
    /// 100:2008, 4.3.7).
    ///
    /// # Errors
    /// *Out of range* from 4 mm up.
    pub const fn third_of_square(self) -> Result<Variance, OutOfRange> {
        match self.variance() {
            Ok(v) => Ok(Variance((v.0 + 1) / 3)),
            Err(e) => Err(e),
        }
    }

    /// As a length, rounded up to the next 2⁻¹⁶ mm, so that a guard made of it never shrinks.
    pub fn ceil(self) -> Length {
        Length(I16F16::from_bits(((u64::from(self.0) + 255) >> 8) as i32))
    }
}

impl Warming {
    /// So many 2⁻¹⁶ K, within the range.
    pub(crate) const fn from_word(bits: i32) -> Self {
        Self(bits)
    }
}

impl Ratio {
    /// One.
    pub const ONE: Self = Self(1 << 16);

    /// So many 2⁻¹⁶.
    pub(crate) const fn from_word(bits: u32) -> Self {
        Self(bits)
    }
}
