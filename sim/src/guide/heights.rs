//! Finds the height in what a machine printed, whatever stands around it.
//!
//! A number behind the letter Z is the height. Without one, the only number that no other letter claims is;
//! or the one behind the station's own x and y. Anything else is ambiguous, and is asked for rather than
//! guessed.

use zdatum::Length;
use zdatum::setup::Place;

use crate::text::name::cut;
use crate::text::written::Written;

/// Longer lines are no machine's answer.
const MOST_BYTES: usize = 4_096;
/// Candidates that a message lists at most.
const MOST_SHOWN: usize = 6;

/// A number as written, and the letter that claims it.
#[derive(Clone, Debug, PartialEq, Eq)]
struct FoundNumber {
    letter: Option<char>,
    text: String,
    /// What is glued to its end, such as a unit.
    tail: String,
}

/// The height in a text, as a decimal number of mm; `place` is where the carriage stands.
///
/// # Errors
/// None, more than one, another unit, or out of range: what was seen and what to do.
pub fn height(text: &str, place: Option<Place>) -> Result<Length, String> {
    if text.len() > MOST_BYTES {
        return Err(format!("more than {MOST_BYTES} bytes: paste only the line with the height"));
    }
    let text = text.replace('\u{2212}', "-");
    if is_comma_decimal(text.trim()) {
        return Err(format!("`{}`: use a decimal point, not a comma", cut(text.trim(), 20)));
    }
    let found = numbers(&text)?;
    let chosen = choose(&found, place)?;
    let behind = text.split_once(chosen.text.as_str()).map_or("", |(_, rest)| rest);
    unit(&chosen.tail, behind)?;
    Length::read(&chosen.text).map_err(|error| format!("`{}`: {error}", cut(&chosen.text, 30)))
}

fn choose(found: &[FoundNumber], place: Option<Place>) -> Result<&FoundNumber, String> {
    let of = |letter: Option<char>| {
        let mut all: Vec<&FoundNumber> = found.iter().filter(|one| one.letter == letter).collect();
        all.dedup_by(|a, b| same(&a.text, &b.text));
        all
    };
    let named = of(Some('z'));
    match named.as_slice() {
        [only] => return Ok(only),
        [] => {}
        several => return Err(ambiguous("more than one Z", several)),
    }
    let bare = of(None);
    match bare.as_slice() {
        [only] => Ok(only),
        [] if found.is_empty() => {
            Err("no number found: paste the line with the height, or type the height".into())
        }
        [] => Err("no number here could be the height: type it alone".into()),
        several => place
            .and_then(|place| behind_place(several, place))
            .ok_or_else(|| ambiguous("more than one number", several)),
    }
}

/// The third of x, y and z, where the first two are where the carriage stands.
fn behind_place<'f>(found: &[&'f FoundNumber], place: Place) -> Option<&'f FoundNumber> {
    let is = |one: &FoundNumber, value: Length| Length::read(&one.text).is_ok_and(|read| read == value);
    let mut hits = found.windows(3).filter_map(|three| match three {
        [x, y, z] if is(x, place.x) && is(y, place.y) => Some(*z),
        _ => None,
    });
    let first = hits.next()?;
    hits.next().is_none().then_some(first)
}

fn ambiguous(what: &str, several: &[&FoundNumber]) -> String {
    let shown: Vec<String> = several.iter().take(MOST_SHOWN).map(|one| cut(&one.text, 20)).collect();
    let more = if several.len() > MOST_SHOWN { ", …" } else { "" };
    format!("{what} in it ({}{more}): type only the number that is the height", shown.join(", "))
}

fn same(a: &str, b: &str) -> bool {
    matches!((Length::read(a), Length::read(b)), (Ok(a), Ok(b)) if a == b)
}

fn is_comma_decimal(text: &str) -> bool {
    let text = text.trim_start_matches(['+', '-']);
    text.split_once(',').is_some_and(|(whole, part)| {
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        digits(whole) && digits(part)
    })
}

/// Refuses units other than millimetres.
fn unit(tail: &str, behind: &str) -> Result<(), String> {
    let word = if tail.is_empty() {
        let next = behind.trim_start().split(|c: char| !c.is_alphabetic() && c != '"').next();
        next.unwrap_or("")
    } else {
        tail
    };
    match word.to_lowercase().as_str() {
        "in" | "inch" | "inches" | "\"" | "um" | "µm" | "μm" | "cm" | "m" | "mil" | "micron" | "microns" => {
            Err(format!("`{}` cannot be used as a unit here: give the height in mm", cut(word, 10)))
        }
        _ => Ok(()),
    }
}

/// All numbers with the letters that claim them.
fn numbers(text: &str) -> Result<Vec<FoundNumber>, String> {
    let chars: Vec<char> = text.chars().collect();
    let at = |index: usize| chars.get(index).copied();
    let mut found = Vec::new();
    let mut i = 0;
    while let Some(c) = at(i) {
        let signed = (c == '-' || c == '+') && at(i + 1).is_some_and(|c| c.is_ascii_digit() || c == '.');
        let starts =
            c.is_ascii_digit() || signed || (c == '.' && at(i + 1).is_some_and(|c| c.is_ascii_digit()));
        if !starts {
            i += 1;
            continue;
        }
        let from = i;
        i += usize::from(signed);
        while at(i).is_some_and(|c| c.is_ascii_digit() || c == '.') {
            i += 1;
        }
        let number: String = chars.get(from..i).unwrap_or(&[]).iter().collect();
        let tail_from = i;
        while at(i).is_some_and(|c| c.is_alphabetic() || c == '"') {
            i += 1;
        }
        let tail: String = chars.get(tail_from..i).unwrap_or(&[]).iter().collect();
        let power = tail.eq_ignore_ascii_case("e")
            && at(i).is_some_and(|c| c.is_ascii_digit() || c == '-' || c == '+');
        if power {
            return Err(format!(
                "`{}e…`: give a plain decimal number of mm, without a power of ten",
                cut(&number, 20)
            ));
        }
        // A full stop ends a sentence; two points make a version or a date.
        let number = number.trim_end_matches('.').to_owned();
        let dashed = signed && from > 0 && at(from - 1).is_some_and(|c| c.is_ascii_digit());
        if number.matches('.').count() > 1 || dashed || number.is_empty() {
            continue;
        }
        let number = number.strip_prefix('+').unwrap_or(&number).to_owned();
        let glued: &str = tail.as_str();
        let (tail, next) = if glued.eq_ignore_ascii_case("z") { ("", true) } else { (glued, false) };
        if next {
            // `Y212Z0.5`: the letter belongs to the next number.
            i = tail_from;
        }
        found.push(FoundNumber { letter: letter_before(&chars, from), text: number, tail: tail.to_owned() });
    }
    Ok(found)
}

/// The letter or word that claims a number: directly before it, or with `=` or `:` or blanks between.
fn letter_before(chars: &[char], from: usize) -> Option<char> {
    let mut at = from;
    let mut joined = false;
    let mut blanks = false;
    while let Some(c) = at.checked_sub(1).and_then(|before| chars.get(before)) {
        match c {
            ':' | '=' if !joined => joined = true,
            ' ' | '\t' => blanks = true,
            _ => break,
        }
        at -= 1;
    }
    let word: String = {
        let end = at;
        while at.checked_sub(1).and_then(|before| chars.get(before)).is_some_and(|c| c.is_alphabetic()) {
            at -= 1;
        }
        chars.get(at..end).unwrap_or(&[]).iter().collect()
    };
    let lower = word.to_lowercase();
    match lower.as_str() {
        "z" => Some('z'),
        "" => None,
        // Any word glued to a number claims it; a single letter does so with `:`, `=` or a blank, too.
        _ if !joined && !blanks => lower.chars().next(),
        _ if lower.chars().count() == 1 => lower.chars().next(),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<String, String> {
        let mm = |text| Length::read(text).expect("a length");
        let place = Place { x: mm("204"), y: mm("187.5") };
        height(text, Some(place)).map(|z| z.text().to_string())
    }

    fn mm(text: &str) -> String {
        Length::read(text).expect("a length").text().to_string()
    }

    #[test]
    fn the_height_is_found_in_any_text() {
        for text in [
            "0.498",
            " +0.498 ",
            "0.498 mm",
            "0.498mm",
            "Z0.498",
            "z = 0.498",
            "Z: +0.498",
            "trip at X204.000 Y187.500 Z0.498 F120",
            "X:204.00 Y:187.50 Z:0.498 E:0.00",
            "height of the edge 0.498.",
            "N12 [204.000, 187.500, 0.498]",
            "at 204.000,187.500,0.498:1",
            "12:01:33 Z 0.498 ok 1",
            "X204Y187.5Z0.498",
            "Z0.498 then Z0.4980",
            "T0 tripped: 0.498",
        ] {
            assert_eq!(read(text), Ok(mm("0.498")), "{text}");
        }
        assert_eq!(read("Z-0.25"), Ok(mm("-0.25")));
        assert_eq!(read("\u{2212}0.25"), Ok(mm("-0.25")));
        assert_eq!(read("Z: .5"), Ok(mm("0.5")));
    }

    #[test]
    fn what_is_not_clear_is_asked_for() {
        for (text, part) in [
            ("", "no number"),
            ("ok", "no number"),
            ("1.2 3.4", "more than one number in it (1.2, 3.4)"),
            ("Z0.4 Z0.5", "more than one Z in it (0.4, 0.5)"),
            ("X204 Y187.5", "type it alone"),
            ("0,498", "a decimal point"),
            ("-0,498", "a decimal point"),
            ("0.0196 in", "mm"),
            ("498um", "mm"),
            ("Z498 µm", "mm"),
            ("0.0196\"", "mm"),
            ("4.98e-1", "power"),
            ("Z99999", "32768"),
            ("204 187.5 0.4 204 187.5 0.6", "more than one number"),
        ] {
            let error = read(text).expect_err(text);
            assert!(error.contains(part), "{text}: {error}");
        }
        assert!(read(&"1".repeat(5_000)).expect_err("long").contains("4096"));
    }
}
