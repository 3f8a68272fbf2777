//! Charts as SVG: scales with their ticks, points, bars, lines, bands, and labels that keep clear of each
//! other. It knows nothing of pages, files or machines.
//!
//! A chart is drawn for a width in pixels and is shown at about that width, so that its text keeps its size:
//! what must serve a phone and a desk is drawn twice. Colours are classes of `chart.css`, so that a theme
//! reaches into the picture; what colour tells is told by shape, place or a label as well. Everything passes
//! through `maud`, which escapes all text.

pub mod labels;
pub mod marks;
pub mod plot;
pub mod scale;
pub mod ticks;

use maud::{Markup, PreEscaped, Render, html};

pub use labels::{Anchor, text};
pub use plot::{Axis, Plot};
pub use scale::Scale;

/// The classes used in charts, light and dark. Without characters that XML would have to escape.
pub const CSS: &str = include_str!("chart.css");

/// The first line of each file written: what may be replaced without asking.
pub const MARK: &str = "<!-- picture by zdatum -->";

/// Widths that charts are drawn for, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// A phone.
    Narrow,
    /// A desk, or a sheet of paper.
    Wide,
}

impl Width {
    /// In pixels.
    pub const fn px(self) -> f64 {
        match self {
            Self::Narrow => 336.0,
            Self::Wide => 720.0,
        }
    }
}

/// A coordinate or length in pixels: two decimals, trailing zeros left out, 0 for what is no number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Px(pub f64);

impl Px {
    fn number(self) -> String {
        // Nothing in a picture is further away than this.
        let held = if self.0.is_finite() { self.0.clamp(-1e6, 1e6) } else { 0.0 };
        let text = format!("{held:.2}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        if text == "-0" { "0".into() } else { text.to_owned() }
    }
}

impl Render for Px {
    fn render_to(&self, out: &mut String) {
        out.push_str(&self.number());
    }
}

/// One drawing.
#[derive(Clone, Debug)]
pub struct Picture {
    /// Stem of its file: lower-case letters, digits, hyphens.
    pub name: String,
    /// What it is.
    pub title: String,
    /// What it shows, in words, for whoever cannot see it.
    pub summary: String,
    /// Pixels.
    pub width: f64,
    /// Pixels.
    pub height: f64,
    /// What is drawn.
    pub body: Markup,
}

impl Picture {
    /// For a page that carries [`CSS`]. `class` is the page's own.
    pub fn inline(&self, class: &str) -> Markup {
        let view = format!("0 0 {} {}", Px(self.width).number(), Px(self.height).number());
        let says = format!("{}. {}", self.title, self.summary);
        html! {
            svg class={ "chart " (class) } viewBox=(view) width=(Px(self.width)) height=(Px(self.height))
                role="img" aria-label=(says) { (self.body) }
        }
    }

    /// A file of its own, with its style.
    pub fn file(&self) -> String {
        let view = format!("0 0 {} {}", Px(self.width).number(), Px(self.height).number());
        let svg = html! {
            svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox=(view) width=(Px(self.width))
                height=(Px(self.height)) role="img" aria-labelledby="title desc" {
                title id="title" { (self.title) }
                desc id="desc" { (self.summary) }
                style { (PreEscaped(CSS)) }
                rect class="paper" width=(Px(self.width)) height=(Px(self.height)) {}
                (self.body)
            }
        };
        // A line for each shape, so that changes can be read.
        let svg = svg.into_string().replace("></", ">\u{0}/").replace("><", ">\n<").replace(">\u{0}/", "></");
        format!("{MARK}\n{svg}\n")
    }
}

/// A number for people: so many decimals, a real minus sign, no minus before a zero.
pub fn number(x: f64, places: usize) -> String {
    if !x.is_finite() {
        return "?".into();
    }
    let text = format!("{x:.places$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_owned(),
        Some(digits) => format!("\u{2212}{digits}"),
        None => text,
    }
}

/// [`number`] with its sign, whatever it is; none before a zero.
pub fn signed(x: f64, places: usize) -> String {
    let text = number(x, places);
    let zero = text.chars().all(|c| c == '0' || c == '.');
    if text.starts_with('\u{2212}') || zero || !x.is_finite() { text } else { format!("+{text}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short_and_never_nonsense() {
        let shown = |x: f64| Px(x).number();
        assert_eq!(
            [shown(1.0), shown(-0.001), shown(2.345_6), shown(f64::NAN), shown(f64::INFINITY), shown(1e300)],
            ["1", "0", "2.35", "0", "0", "1000000"]
        );
    }

    #[test]
    fn numbers_have_a_real_minus() {
        assert_eq!(
            [number(-1.25, 1), number(-0.01, 1), signed(0.2, 1), signed(-0.01, 1)],
            ["−1.2", "0.0", "+0.2", "0.0"]
        );
        assert_eq!(number(f64::NAN, 2), "?");
    }

    #[test]
    fn a_file_is_xml_whatever_its_texts_are() {
        let picture = Picture {
            name: "x".into(),
            title: "<script>&\"'".into(),
            summary: "a < b & c".into(),
            width: 10.0,
            height: f64::NAN,
            body: html! { (text(1.0, 2.0, Anchor::Start, "t", "]]> \"<b>'")) },
        };
        let file = picture.file();
        let document = roxmltree::Document::parse(&file).expect("XML");
        let text = |tag: &str| {
            document.descendants().find(|node| node.tag_name().name() == tag).and_then(|node| node.text())
        };
        assert_eq!(text("title"), Some("<script>&\"'"));
        assert_eq!(text("desc"), Some("a < b & c"));
        assert_eq!(text("text"), Some("]]> \"<b>'"));
        assert!(!picture.inline("x").into_string().contains("<script"));
    }
}
