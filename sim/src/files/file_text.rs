//! A file as text, and what is wrong with it, with the place.

use std::fs::File;
use std::io::{self, Read};
use std::ops::Range;
use std::path::Path;

use crate::text::name::{shown, shown_path};
use crate::text::problem::{Problem, ProblemPlace};

/// Larger files are refused: no touch log of a machine comes near, and a device that never ends would.
const MOST_MIB: u64 = 64;

/// UTF-8's byte order mark.
pub const BOM: &str = "\u{feff}";

/// A file's text with the name it goes by in messages.
#[derive(Clone, Debug)]
pub struct FileText {
    /// Its path as given, or `<standard input>`; escaped for where it is shown.
    pub name: String,
    /// Its text, without a byte order mark.
    pub text: String,
    /// Whether a byte order mark stood before the text.
    pub has_bom: bool,
}

impl FileText {
    /// A source made of text.
    pub fn of(name: &str, text: &str) -> Self {
        let stripped = text.strip_prefix(BOM);
        Self { name: shown(name), text: stripped.unwrap_or(text).to_owned(), has_bom: stripped.is_some() }
    }

    /// Reads a file.
    ///
    /// # Errors
    /// Cannot be read, is larger than 64 MiB, or is not UTF-8.
    pub fn read(path: &Path) -> Result<Self, Problem> {
        Self::read_within(path, MOST_MIB)
    }

    /// The same for a file of at most so many MiB.
    ///
    /// # Errors
    /// As [`FileText::read`], with another limit.
    pub fn read_within(path: &Path, most_mib: u64) -> Result<Self, Problem> {
        let name = shown_path(path);
        match File::open(path) {
            Ok(file) => Self::from_reader(name, file, most_mib),
            Err(error) => Err(cannot_read(&name, &error)),
        }
    }

    /// Reads standard input to its end.
    ///
    /// # Errors
    /// As [`FileText::read`].
    pub fn read_stdin() -> Result<Self, Problem> {
        Self::from_reader("<standard input>".into(), io::stdin().lock(), MOST_MIB)
    }

    fn from_reader(name: String, reader: impl Read, most_mib: u64) -> Result<Self, Problem> {
        let mut bytes = Vec::new();
        let most = most_mib << 20;
        reader.take(most + 1).read_to_end(&mut bytes).map_err(|error| cannot_read(&name, &error))?;
        if bytes.len() as u64 > most {
            return Err(Problem::new(format!(
                "{name}: larger than the {most_mib} MiB that are read at most"
            )));
        }
        match String::from_utf8(bytes) {
            Ok(text) => {
                let stripped = text.strip_prefix(BOM).map(str::to_owned);
                let has_bom = stripped.is_some();
                Ok(Self { name, text: stripped.unwrap_or(text), has_bom })
            }
            Err(error) => Err(not_utf8(&name, error.as_bytes(), error.utf8_error().valid_up_to())),
        }
    }

    /// A problem at a range of bytes, which may reach beyond the text; `label` says what stands there.
    pub fn problem(&self, span: Range<usize>, title: impl Into<String>, label: impl Into<String>) -> Problem {
        let start = floor_char(&self.text, span.start);
        let end = floor_char(&self.text, span.end.max(start));
        let before = self.text.get(..start).unwrap_or("");
        let from = before.rfind('\n').map_or(0, |at| at + 1);
        // One line is enough to find the place; what spans several is marked to the end of the first.
        let to =
            self.text.get(start..).and_then(|rest| rest.find('\n')).map_or(self.text.len(), |n| start + n);
        let excerpt = self.text.get(from..to).unwrap_or("").trim_end_matches('\r').to_owned();
        let last = excerpt.len();
        Problem {
            title: title.into(),
            place: Some(Box::new(ProblemPlace {
                file: self.name.clone(),
                line: 1 + before.bytes().filter(|byte| *byte == b'\n').count(),
                span: (start - from).min(last)..(end - from).min(last),
                excerpt,
                label: label.into(),
            })),
            remedy: None,
        }
    }
}

fn cannot_read(name: &str, error: &io::Error) -> Problem {
    let problem = Problem::new(format!("{name}: cannot be read: {error}"));
    match error.kind() {
        io::ErrorKind::NotFound => {
            problem.remedy("check the path; a relative one starts from the current folder")
        }
        _ => problem,
    }
}

fn not_utf8(name: &str, bytes: &[u8], valid: usize) -> Problem {
    let text = String::from_utf8_lossy(bytes.get(..valid).unwrap_or(bytes)).into_owned();
    let rest = String::from_utf8_lossy(bytes.get(valid..).unwrap_or(&[])).into_owned();
    let bad = rest.chars().next().map_or(0, char::len_utf8);
    let line_rest = rest.split('\n').next().unwrap_or("");
    let source = FileText { name: name.to_owned(), text: format!("{text}{line_rest}"), has_bom: false };
    source
        .problem(valid..valid + bad, "not UTF-8 text", "this byte is not UTF-8")
        .remedy("save the file as UTF-8")
}

/// The nearest character boundary at or below `at`.
fn floor_char(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(text: &str, span: Range<usize>) -> ProblemPlace {
        *FileText::of("a.csv", text).problem(span, "t", "l").place.expect("a place")
    }

    #[test]
    fn names_the_line_and_marks_the_part() {
        let found = place("one\ntwo three\r\nfour", 8..13);
        assert_eq!((found.line, found.excerpt.as_str(), found.span), (2, "two three", 4..9));
        let last = place("one\ntwo", 40..50);
        assert_eq!((last.line, last.excerpt.as_str(), last.span), (2, "two", 3..3));
    }

    #[test]
    fn a_span_over_lines_ends_with_the_first() {
        assert_eq!(place("ab\ncd\nef", 4..8).span, 1..2);
    }

    #[test]
    fn bytes_that_are_not_text_are_placed() {
        let problem =
            FileText::from_reader("x".into(), &b"ok\nbad \xff here\n"[..], 1).expect_err("not UTF-8");
        let place = problem.place.expect("a place");
        assert_eq!((place.line, place.span.start), (2, 4));
        assert_eq!(place.excerpt, "bad \u{fffd} here");
    }

    #[test]
    fn a_byte_order_mark_is_remembered_and_left_out() {
        let source = FileText::of("x", "\u{feff}station,z");
        assert!(source.has_bom);
        assert_eq!(source.text, "station,z");
    }
}
