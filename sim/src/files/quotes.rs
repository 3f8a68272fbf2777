//! Quotes in a CSV file as RFC 4180 has them: around a whole cell, doubled inside one, nowhere else. The
//! reader is more lenient than the standard, and what it makes of a stray quote is not what was meant.

use super::file_text::FileText;
use crate::text::Problem;

enum QuoteState {
    /// Before a record.
    Record,
    Comment,
    /// Before a cell.
    Cell,
    /// In a cell without quotes.
    Bare,
    /// In a quoted cell.
    Quoted,
    /// Behind a quote in a quoted cell: its end, or the first of two.
    Closed,
    /// In the blanks behind a quoted cell.
    Blank,
}

/// Refuses quotes that stand where none can.
///
/// # Errors
/// A quote that is never closed, one inside a cell without quotes, anything but blanks behind a quoted cell.
pub(super) fn check(source: &FileText) -> Result<(), Problem> {
    let mut state = QuoteState::Record;
    let mut opened = 0;
    for (at, byte) in source.text.bytes().enumerate() {
        state = match (state, byte) {
            (QuoteState::Comment, b'\n') => QuoteState::Record,
            (QuoteState::Comment, _) => QuoteState::Comment,
            (QuoteState::Quoted, b'"') => QuoteState::Closed,
            (QuoteState::Quoted, _) | (QuoteState::Closed, b'"') => QuoteState::Quoted,
            (_, b'\n' | b'\r') => QuoteState::Record,
            (QuoteState::Record, b'#') => QuoteState::Comment,
            (_, b',') => QuoteState::Cell,
            (QuoteState::Record | QuoteState::Cell, b'"') => {
                opened = at;
                QuoteState::Quoted
            }
            (QuoteState::Bare | QuoteState::Blank, b'"') => {
                return Err(stray(source, at, "a quote inside a cell"));
            }
            (QuoteState::Record | QuoteState::Cell | QuoteState::Bare, _) => QuoteState::Bare,
            (QuoteState::Closed | QuoteState::Blank, b' ' | b'\t') => QuoteState::Blank,
            (QuoteState::Closed | QuoteState::Blank, _) => {
                return Err(stray(source, at, "text behind a quoted cell"));
            }
        };
    }
    match state {
        QuoteState::Quoted => Err(source
            .problem(opened..opened + 1, "a quote that is never closed", "opened here")
            .remedy("close it, or take it out: cells need no quotes unless they hold a comma or a quote")),
        _ => Ok(()),
    }
}

fn stray(source: &FileText, at: usize, title: &str) -> Problem {
    source.problem(at..at + 1, title, "seen here").remedy(
        "quotes stand around a whole cell, with nothing before or behind them; a quote inside is written twice",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Line and column of the fault.
    fn fault(text: &str) -> Option<(usize, usize)> {
        let problem = check(&FileText::of("log.csv", text)).err()?;
        problem.place.map(|place| (place.line, place.span.start))
    }

    #[test]
    fn what_the_standard_allows() {
        for text in [
            "a,b\n",
            "\"a\",\"b\"",
            "\"a\"\r\n\"b\" ,c",
            "\"a\"\"b\",\"\"\n",
            "\"a,\nb\"\n",
            "# it's \"so\n\"a\"\n\n#\"",
            "",
        ] {
            assert_eq!(fault(text), None, "{text:?}");
        }
    }

    #[test]
    fn what_it_does_not() {
        for (text, place) in [
            ("a,\"b", (1, 2)),
            ("a\n\"b\n\nc,d\n", (2, 0)),
            ("a\n\"b\"\"", (2, 0)),
            ("a\"", (1, 1)),
            ("a\nb, \"c\"", (2, 3)),
            ("\"ti\"p\"", (1, 4)),
            ("\"a\" b", (1, 4)),
            ("\"a\" \"b\"", (1, 4)),
            ("a,b#\"", (1, 4)),
        ] {
            assert_eq!(fault(text), Some(place), "{text:?}");
        }
    }
}
