//! Conversions from and to `f64`, for hosts; behind the feature `float`. Nothing in the core computes with
//! them.

use crate::units::{
    Growth, Latency, Length, OutOfRange, Quantity, Ratio, Spec, Speed, Temperature, Uncertainty, Variance,
    Warming, Wide,
};

/// 2^exponent, exact, for exponents of a normal double.
const fn power_of_two(exponent: i32) -> f64 {
    f64::from_bits(((1023 + exponent) as u64) << 52)
}

/// The nearest bits of a value in the unit held; NaN and what the range cannot hold are *out of range*.
fn to_bits(value: f64, spec: &Spec) -> Result<i64, OutOfRange> {
    let scaled = libm::round(value * power_of_two(spec.fraction_bits as i32));
    // Ranges are whole numbers below 2^53, which a double compares exactly; NaN fails both.
    if scaled >= spec.min as f64 && scaled <= spec.max_i64() as f64 {
        Ok(scaled as i64)
    } else {
        Err(OutOfRange { quantity: spec.quantity })
    }
}

macro_rules! floats {
    ($($name:ident)*) => {$(
        impl $name {
            /// The nearest value to so many of the unit held (mm, mm/s, s, °C, mm/K); ties away from zero.
            ///
            /// # Errors
            /// *Out of range*, NaN included.
            pub fn from_f64(value: f64) -> Result<Self, OutOfRange> {
                Self::from_bits(to_bits(value, &Self::SPEC)?)
            }

            /// The value in the unit held, exact.
            pub fn to_f64(self) -> f64 {
                f64::from(self.to_bits()) * power_of_two(-(Self::SPEC.fraction_bits as i32))
            }
        }
    )*};
}

floats!(Length Speed Latency Temperature Warming Growth Uncertainty Ratio);

impl Wide {
    /// The value in mm, exact below 2²¹ mm.
    pub fn to_f64(self) -> f64 {
        self.to_bits() as f64 * power_of_two(-32)
    }
}

impl Variance {
    /// The nearest variance to so many mm².
    ///
    /// # Errors
    /// *Out of range* below 0, from 16 mm² up, or NaN.
    pub fn from_f64(value: f64) -> Result<Self, OutOfRange> {
        let scaled = libm::round(value * power_of_two(60));
        if scaled >= 0.0 && scaled < power_of_two(64) {
            Ok(Self::from_bits(scaled as u64))
        } else {
            Err(OutOfRange { quantity: Quantity::Variance })
        }
    }

    /// The value in mm², to the precision of a double.
    pub fn to_f64(self) -> f64 {
        self.to_bits() as f64 * power_of_two(-60)
    }
}
