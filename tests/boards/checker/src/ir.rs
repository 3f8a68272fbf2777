//! Reads the optimised program just before the board's code generator.
//!
//! Symbols alone are not enough: for a 32-bit processor the compiler writes 128-bit products and quotients
//! out in line and calls no routine for them, and it makes some of its own out of 32-bit partial products. In
//! LLVM's intermediate language ("LLVM Language Reference Manual") every value still shows its type.

use std::collections::BTreeSet;

use crate::families::{Family, Finding};

const FLOATS: [&str; 7] = ["half", "bfloat", "float", "double", "fp128", "x86_fp80", "ppc_fp128"];

/// Forbidden types in the bodies of functions, each named once with the function that holds it first.
pub fn findings(text: &str) -> Vec<Finding> {
    let mut seen = BTreeSet::new();
    let mut findings = Vec::new();
    for (function, line) in bodies(text) {
        for word in words(line) {
            let family = if FLOATS.contains(&word) {
                Family::Float
            } else if is_wide(word) {
                Family::Wide
            } else {
                continue;
            };
            if seen.insert((family, word)) {
                findings.push(Finding {
                    family,
                    what: format!("values of type {word} in {}", crate::symbols::readable(function)),
                });
            }
        }
    }
    findings
}

/// How many functions there are, to see that there was something to read.
pub fn functions(text: &str) -> usize {
    text.lines().filter(|line| line.starts_with("define ")).count()
}

/// Places of panics in the source, as file and line. They stay only where the panic handler reads them.
pub fn panic_places(text: &str) -> BTreeSet<(String, u32)> {
    let named = |line: &str| -> Option<(String, Vec<u8>)> {
        let (name, rest) = line.strip_prefix('@')?.split_once(" = ")?;
        let (_, bytes) = rest.split_once("x i8] c\"")?;
        Some((name.to_owned(), unescape(bytes.split('"').next()?)))
    };
    let constants: Vec<(String, Vec<u8>)> = text.lines().filter_map(named).collect();
    let mut places = BTreeSet::new();
    for line in text.lines() {
        // A place is a pointer to the file's name, then its length, the line and the column as 32-bit
        // numbers.
        let Some((_, place)) = line.split_once("<{ ptr @") else { continue };
        let Some((name, rest)) = place.split_once(", [12 x i8] c\"") else { continue };
        let bytes = unescape(rest.split('"').next().unwrap_or_default());
        let Some(file) = constants.iter().find(|(constant, _)| constant == name) else { continue };
        let number =
            |at: usize| bytes.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0, u32::from_le_bytes);
        let file = String::from_utf8_lossy(&file.1).trim_end_matches('\0').to_owned();
        places.insert((file, number(4)));
    }
    places
}

/// Every line of every function's body, with the function's name.
fn bodies(text: &str) -> impl Iterator<Item = (&str, &str)> {
    let mut function = None;
    text.lines().filter_map(move |line| {
        if line.starts_with("define ") {
            function = line
                .split_once('@')
                .map(|(_, name)| name.split('(').next().unwrap_or(name).trim_matches('"'));
        } else if line == "}" {
            function = None;
        }
        function.map(|function| (function, line))
    })
}

/// The words of a line outside of quotes and comments that are no names: names start with `@`, `%`, `!`, `#`
/// or `$`.
fn words(line: &str) -> impl Iterator<Item = &str> {
    let outside = line.split('"').step_by(2).map(|part| part.split(';').next().unwrap_or(part));
    outside.flat_map(|part| part.split(|c: char| !(c.is_ascii_alphanumeric() || "_.@%!#$-".contains(c))))
}

/// `iN` with N above 64. LLVM makes odd widths of its own, too: i65 where it sums a series in closed form.
fn is_wide(word: &str) -> bool {
    word.strip_prefix('i').and_then(|bits| bits.parse::<u32>().ok()).is_some_and(|bits| bits > 64)
}

/// A string constant: `\XX` is a byte in hexadecimal, `\\` a backslash.
fn unescape(text: &str) -> Vec<u8> {
    let mut out = Vec::new();
    let mut bytes = text.bytes();
    while let Some(byte) = bytes.next() {
        let byte = match byte {
            b'\\' => match bytes.next() {
                Some(b'\\') | None => b'\\',
                Some(high) => hex(high) * 16 + bytes.next().map_or(0, hex),
            },
            plain => plain,
        };
        out.push(byte);
    }
    out
}

fn hex(digit: u8) -> u8 {
    char::from(digit).to_digit(16).unwrap_or(0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    const PROGRAM: &str = r#"
@place.0 = private unnamed_addr constant [14 x i8] c"src/broken.rs\00", align 1
@place.1 = private unnamed_addr constant <{ ptr, [12 x i8] }> <{ ptr @place.0, [12 x i8] c"\0D\00\00\00\0D\00\00\00\11\00\00\00" }>, align 4
define void @float(ptr %double, i64 %x) #0 {
  %i128 = add i64 %x, 1 ; float
  call void asm sideeffect "float i128", "r"(ptr %double)
}
define void @"sums"(i64 %x) {
  %1 = mul i65 %2, %3
  %4 = insertelement <2 x float> %5
}
attributes #0 = { double }
@place.2 = private unnamed_addr constant <{ ptr, [12 x i8] }> <{ ptr @place.0, [12 x i8] c"\0D\00\00\00\\\01\00\00\11\00\00\00" }>, align 4
"#;

    #[test]
    fn types_are_found_and_names_are_not_taken_for_types() {
        let found = findings(PROGRAM);
        let families: Vec<Family> = found.iter().map(|finding| finding.family).collect();
        assert_eq!(families, [Family::Wide, Family::Float]);
        assert!(found.iter().all(|finding| finding.what.ends_with(" in sums")), "{found:?}");
        assert_eq!(functions(PROGRAM), 2);
    }

    #[test]
    fn a_panic_is_traced_to_its_line() {
        // 0x15C = 348, its lower byte a backslash.
        let places = [13, 348].map(|line| ("src/broken.rs".to_owned(), line));
        assert_eq!(Vec::from_iter(panic_places(PROGRAM)), places);
    }
}
