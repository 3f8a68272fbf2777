//! Lines of text with their styles. Streams without colour strip the styles when the page is printed.

use anstyle::{AnsiColor, Style};

use super::name::wrapped;

/// Widest line of any page. Paragraphs are narrower: easier on the eye, and they fit a narrow terminal.
pub const COLUMNS: usize = 100;
/// Widest line of a paragraph.
pub(super) const PARAGRAPH: usize = 78;

pub(super) const BOLD: Style = Style::new().bold();
pub(super) const FAINT: Style = Style::new().dimmed();
pub(super) const YELLOW: Style = AnsiColor::Yellow.on_default();

/// Adds a line to a page. Writing to a string cannot fail.
macro_rules! line {
    ($out:expr) => { $out.push('\n') };
    ($out:expr, $($text:tt)*) => {{
        let _ = std::fmt::Write::write_fmt($out, format_args!($($text)*));
        $out.push('\n');
    }};
}
pub(super) use line;

/// Adds a paragraph, broken at spaces.
pub(super) fn paragraph(out: &mut String, text: &str, indent: usize, style: Style) {
    for text in wrapped(text, PARAGRAPH - indent) {
        line!(out, "{:indent$}{style}{text}{style:#}", "");
    }
}
