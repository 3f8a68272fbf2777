//! Numbers for people and for JSON, from the bits: no float in between.

use zdatum::refusal::Amount;
use zdatum::units::Spec;
use zdatum::{Length, Ratio, Uncertainty, Wide};

/// `bits`/2^fraction_bits with so many decimal places, ties away from zero. Exact for what the core holds.
pub fn rounded(bits: i64, fraction_bits: u32, places: u32) -> String {
    let unit = 1_u128 << fraction_bits;
    let scaled = u128::from(bits.unsigned_abs()) * 10_u128.pow(places);
    let whole = (scaled + unit / 2) >> fraction_bits;
    let one = 10_u128.pow(places);
    let sign = if bits < 0 && whole > 0 { "-" } else { "" };
    if places == 0 {
        return format!("{sign}{whole}");
    }
    format!("{sign}{}.{:0width$}", whole / one, whole % one, width = places as usize)
}

fn of(bits: impl Into<i64>, spec: &Spec, places: u32) -> String {
    rounded(bits.into(), spec.fraction_bits, places)
}

/// A height, drop or change: always with its sign, to 0.1 µm.
pub fn signed(length: Length) -> String {
    with_sign(of(length.to_bits(), &Length::SPEC, 4))
}

/// [`signed`] for a centre.
pub fn signed_wide(length: Wide) -> String {
    with_sign(rounded(length.to_bits(), 32, 4))
}

fn with_sign(text: String) -> String {
    if text.starts_with('-') { text } else { format!("+{text}") }
}

/// A length that has no sign of its own, such as a spread or a limit, to 0.1 µm.
pub fn plain(length: Length) -> String {
    of(length.to_bits(), &Length::SPEC, 4)
}

/// An uncertainty, to 0.1 µm.
pub fn uncertainty(u: Uncertainty) -> String {
    of(u.to_bits(), &Uncertainty::SPEC, 4)
}

/// A length without its sign, to 0.1 µm.
pub fn size(length: Length) -> String {
    signed(length).trim_start_matches(['+', '-']).to_owned()
}

/// A ratio with so many places.
pub fn ratio(ratio: Ratio, places: u32) -> String {
    of(ratio.to_bits(), &Ratio::SPEC, places)
}

/// Degrees of freedom for people: `None` is infinite.
pub(crate) fn degrees_of_freedom(dof: Option<u32>) -> String {
    match dof {
        None => "ν ∞".into(),
        Some(dof) if dof > 1_000 => "ν > 1000".into(),
        Some(dof) => format!("ν {dof}"),
    }
}

/// A share in whole per cent.
pub fn percent(share: Ratio) -> String {
    rounded(i64::from(share.to_bits()) * 100, Ratio::SPEC.fraction_bits, 0)
}

/// What was seen or a limit, to four places, with its unit.
pub fn amount(amount: Amount) -> String {
    match amount {
        Amount::Length(x) => format!("{} mm", plain(x)),
        Amount::Uncertainty(x) => format!("{} mm", uncertainty(x)),
        Amount::Ratio(x) => ratio(x, 4),
    }
}

/// A length for JSON: its exact value to the nearest nanometre.
pub fn nanometres(length: Length) -> String {
    of(length.to_bits(), &Length::SPEC, 6)
}

/// An uncertainty for JSON: its exact value to a hundredth of a nanometre, finer than it is held.
pub fn fine_uncertainty(u: Uncertainty) -> String {
    of(u.to_bits(), &Uncertainty::SPEC, 8)
}

/// Decimal text filled up with zeros to so many decimals.
pub fn at_least(places: usize, text: &str) -> String {
    let decimals = text.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let point = if decimals == 0 && !text.contains('.') { "." } else { "" };
    format!("{text}{point}{}", "0".repeat(places.saturating_sub(decimals)))
}

/// A tolerance in mm as it was written: the shortest text that reads back as the same value.
pub(crate) fn shortest_mm(mm: f64) -> String {
    format!("{mm}")
}

/// [`shortest_mm`] in µm, to a millionth.
pub(crate) fn shortest_um(mm: f64) -> String {
    let text = format!("{:.6}", mm * 1e3);
    text.trim_end_matches('0').trim_end_matches('.').into()
}

/// A share in per cent with its standard error, to three places, to more where the error has its first two
/// digits beyond them.
pub(crate) fn share_percent(value: f64, error: f64) -> String {
    let (value, error) = (100.0 * value, 100.0 * error);
    let places = places_for(error).max(3);
    format!("{value:.places$} % ± {error:.places$} %")
}

/// Decimal places that show the first two digits of a standard error; at most nine.
pub(crate) fn places_for(error: f64) -> usize {
    if error > 0.0 { (1.0 - libm::floor(libm::log10(error))).clamp(0.0, 9.0) as usize } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(text: &str) -> Length {
        Length::parse(text).expect("a length")
    }

    #[test]
    fn lengths_are_signed_and_rounded_to_a_tenth_of_a_micrometre() {
        assert_eq!(signed(mm("0.55387")), "+0.5539");
        assert_eq!(signed(mm("-0.0372")), "-0.0372");
        assert_eq!(signed(Length::ZERO), "+0.0000");
        // Rounds to zero: no minus.
        assert_eq!(signed(mm("-0.00002")), "+0.0000");
        assert_eq!(signed(mm("-32768")), "-32768.0000");
        assert_eq!(rounded(3 << 15, 16, 0), "2");
        assert_eq!(rounded(-(5 << 15), 16, 0), "-3");
    }

    #[test]
    fn json_lengths_are_exact_to_their_last_digit() {
        // 7/65536 = 0.00010681…, whose shortest text is 0.0001.
        let seven = Length::from_bits(7).expect("a length");
        assert_eq!((seven.text().as_str(), nanometres(seven).as_str()), ("0.0001", "0.000107"));
        assert_eq!(nanometres(Length::ZERO.minus(seven).expect("a length")), "-0.000107");
        // 1/2^24 = 0.0000000596…
        let one = Uncertainty::from_bits(1).expect("an uncertainty");
        assert_eq!(fine_uncertainty(one), "0.00000006");
    }

    #[test]
    fn tolerances_are_shown_as_written() {
        for (mm, as_mm, as_um) in [
            (0.02, "0.02", "20"),
            (0.0125, "0.0125", "12.5"),
            (0.00001, "0.00001", "0.01"),
            (100.0, "100", "100000"),
            (0.017, "0.017", "17"),
        ] {
            assert_eq!((shortest_mm(mm).as_str(), shortest_um(mm).as_str()), (as_mm, as_um));
        }
    }

    #[test]
    fn shares_show_their_standard_error() {
        assert_eq!(share_percent(0.25, 0.004), "25.000 % ± 0.400 %");
        assert_eq!(share_percent(2e-6, 1.4e-6), "0.00020 % ± 0.00014 %");
        assert_eq!((places_for(0.012), places_for(0.98), places_for(3.0), places_for(0.0)), (3, 2, 1, 0));
        assert_eq!((places_for(1e-30), places_for(f64::MAX)), (9, 0));
    }

    #[test]
    fn decimals_are_filled_up() {
        for (text, padded) in
            [("0", "0.000000"), ("-1.5", "-1.500000"), ("0.1234567", "0.1234567"), ("12.", "12.000000")]
        {
            assert_eq!(at_least(6, text), padded);
        }
    }
}
