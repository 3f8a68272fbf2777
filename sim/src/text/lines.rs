//! Lines of text with their styles. Streams without colour strip the styles when the page is printed.

use anstyle::{AnsiColor, Style};

use super::name::wrapped;

/// Widest line of a paragraph: easier on the eye, and it fits a narrow terminal. Other lines have up to 100
/// columns.
pub(crate) const PARAGRAPH: usize = 78;

pub(crate) const BOLD: Style = Style::new().bold();
pub(crate) const FAINT: Style = Style::new().dimmed();
pub(crate) const YELLOW: Style = AnsiColor::Yellow.on_default();

/// Adds a line to a page. Writing to a string cannot fail.
macro_rules! line {
    ($out:expr) => { $out.push('\n') };
    ($out:expr, $($text:tt)*) => {{
        let _ = std::fmt::Write::write_fmt($out, format_args!($($text)*));
        $out.push('\n');
    }};
}
pub(crate) use line;

/// Adds a paragraph, broken at spaces.
pub(crate) fn paragraph(out: &mut String, text: &str, indent: usize, style: Style) {
    for text in wrapped(text, PARAGRAPH - indent) {
        line!(out, "{:indent$}{style}{text}{style:#}", "");
    }
}
