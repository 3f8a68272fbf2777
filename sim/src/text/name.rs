//! Names from files, escaped and cut for where they are shown.

use std::borrow::Cow;
use std::path::Path;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Escapes what would not print as itself: control and formatting characters (those that turn the direction
/// of text among them), unassigned ones, and the backslash that escapes are made of.
pub fn shown(name: &str) -> String {
    let mut out = String::with_capacity(name.len());
    for c in name.chars() {
        if c == '\\' {
            out.push_str("\\\\");
        } else if is_plain(c) {
            out.push(c);
        } else {
            out.extend(c.escape_unicode());
        }
    }
    out
}

/// A file's name, escaped so.
pub fn shown_path(path: &Path) -> String {
    shown(&path.to_string_lossy())
}

/// The library's own list of what is printable decides; behind a letter it lets combining marks pass, as
/// names need.
fn is_plain(c: char) -> bool {
    let quote = c == '"' || c == '\'';
    let mut behind_a_letter = [0; 8];
    let text = ['a', c]
        .iter()
        .fold(0, |at, c| behind_a_letter.get_mut(at..).map_or(at, |room| at + c.encode_utf8(room).len()));
    let text = behind_a_letter.get(..text).and_then(|bytes| str::from_utf8(bytes).ok()).unwrap_or("");
    quote || text.escape_debug().count() == text.chars().count()
}

/// [`shown`], cut to so many columns with an ellipsis.
pub fn cut(name: &str, columns: usize) -> String {
    cut_shown(&shown(name), columns)
}

/// Text that is escaped already, cut so.
pub fn cut_shown(name: &str, columns: usize) -> String {
    if name.width() <= columns {
        return name.to_owned();
    }
    let mut out = String::new();
    let mut used = 1;
    for c in name.chars() {
        used += c.width().unwrap_or(0);
        if used > columns {
            break;
        }
        out.push(c);
    }
    out.push('…');
    out
}

/// A number of things, with the right plural: `1 cycle`, `2 cycles`.
pub fn counted(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

/// Text padded with spaces on the right to so many columns.
pub fn padded(text: &str, columns: usize) -> String {
    let gap = columns.saturating_sub(text.width());
    format!("{text}{}", " ".repeat(gap))
}

/// Breaks text at spaces into lines of at most so many columns; a longer word stays whole.
pub fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        if let Some(line) = lines.last_mut() {
            if line.is_empty() {
                line.push_str(word);
            } else if line.width() + 1 + word.width() <= columns {
                line.push(' ');
                line.push_str(word);
            } else {
                lines.push(word.to_owned());
            }
        }
    }
    lines
}

/// A name behind an apostrophe where a spreadsheet would take it for a formula, or where it begins like one
/// that was so guarded. OWASP, *CSV Injection* (from memory): cells that begin with = + - @ or their wide
/// forms; tabs and line ends no name has.
pub fn guarded(name: &str) -> Cow<'_, str> {
    if name.starts_with(runs_or_guards) { format!("'{name}").into() } else { name.into() }
}

/// Undoes [`guarded`].
pub fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(name) if name.starts_with(runs_or_guards) => name,
        _ => cell,
    }
}

fn runs_or_guards(first: char) -> bool {
    matches!(first, '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠' | '\'')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_not_print_is_escaped() {
        assert_eq!(shown("slate"), "slate");
        assert_eq!(shown("Blech \"A\" über"), "Blech \"A\" über");
        assert_eq!(shown("a\u{202e}b\u{7}"), "a\\u{202e}b\\u{7}");
        assert_eq!(shown("e\u{301}"), "e\u{301}");
        assert_eq!(shown("\\"), "\\\\");
    }

    #[test]
    fn names_are_cut_by_columns_not_characters() {
        assert_eq!(cut("abcdef", 6), "abcdef");
        assert_eq!(cut("abcdefg", 6), "abcde…");
        // Two columns each.
        assert_eq!(cut("板板板板", 6), "板板…");
        assert_eq!(padded("板", 4), "板  ");
    }

    #[test]
    fn text_is_broken_at_spaces() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("", 7), [""]);
    }
}
