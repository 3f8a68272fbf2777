//! Parts that sections are made of: pictures with their numbers, tables, key figures, numbers with their
//! uncertainty.

use maud::{Markup, html};

use crate::show::chart::{Picture, Width, number, signed};
pub(super) use crate::show::pictures::estimated_share as share;
use crate::show::pictures::places_for;
use zdatum_world::engine::Estimate;

/// A cell of a table.
#[derive(Clone, Debug)]
pub(super) enum TableCell {
    /// Words: to the left.
    Words(String),
    /// A number: to the right, in figures of equal width.
    Number(String),
}

/// A table: a row's first cell names it.
#[derive(Clone, Debug)]
pub(super) struct Table {
    pub(super) caption: String,
    pub(super) head: Vec<String>,
    pub(super) rows: Vec<Vec<TableCell>>,
}

impl Table {
    pub(super) fn new(caption: impl Into<String>, head: &[&str]) -> Self {
        Self {
            caption: caption.into(),
            head: head.iter().map(|text| (*text).to_owned()).collect(),
            rows: Vec::new(),
        }
    }

    /// The table; it scrolls by itself where the page is narrower.
    pub(super) fn markup(&self) -> Markup {
        let is_number =
            |column: usize| self.rows.iter().any(|row| matches!(row.get(column), Some(TableCell::Number(_))));
        html! {
            div.scroll tabindex="0" role="group" aria-label=(self.caption) {
                table {
                    caption { (self.caption) }
                    thead { tr {
                        @for (i, head) in self.head.iter().enumerate() {
                            th scope="col" class=[is_number(i).then_some("n")] { (head) }
                        }
                    } }
                    tbody { @for row in &self.rows { tr {
                        @for (i, cell) in row.iter().enumerate() {
                            @let (text, class) = match cell { TableCell::Words(text) => (text, None), TableCell::Number(text) => (text, Some("n")) };
                            @if i == 0 { th scope="row" class=[class] { (text) } } @else { td class=[class] { (text) } }
                        }
                    } } }
                }
            }
        }
    }
}

pub(super) fn words(text: impl Into<String>) -> TableCell {
    TableCell::Words(text.into())
}

pub(super) fn figure_of(text: impl Into<String>) -> TableCell {
    TableCell::Number(text.into())
}

/// A picture at both widths with what it says, and its numbers below it, to be opened.
pub(super) fn figure(draw: impl Fn(Width) -> Option<Picture>, caption: &Markup, numbers: &Table) -> Markup {
    let (Some(wide), Some(narrow)) = (draw(Width::Wide), draw(Width::Narrow)) else { return html! {} };
    html! {
        figure {
            (wide.inline("wide")) (narrow.inline("narrow"))
            figcaption { (caption) }
        }
        details { summary { "The numbers in this picture" } (numbers.markup()) }
    }
}

/// Figures that matter, each with its name and a word on it.
pub(super) fn key_figures(all: &[(&str, String, &str)]) -> Markup {
    html! {
        dl.figures { @for (name, value, says) in all {
            div { dt { (name) } dd { (value) @if !says.is_empty() { span { (says) } } } }
        } }
    }
}

/// µm with its standard error: as many decimals as the error needs for two digits, one to four.
pub(super) fn um(estimate: Estimate, with_sign: bool) -> String {
    let (value, error) = (estimate.value * 1e3, estimate.error * 1e3);
    if !error.is_finite() {
        return format!("{} µm", if with_sign { signed(value, 2) } else { number(value, 2) });
    }
    let places = places_for(error);
    let value = if with_sign { signed(value, places) } else { number(value, places) };
    format!("{value} ± {} µm", number(error, places))
}

/// The real minus sign in a number that was made with a hyphen.
pub(super) fn minus(text: &str) -> String {
    text.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn estimates_carry_the_digits_that_their_error_needs() {
        let of = |value, error| um(Estimate { value, error }, true);
        assert_eq!(of(-0.000_013, 0.000_006), "−0.0130 ± 0.0060 µm");
        assert_eq!(of(0.006_2, 0.000_044), "+6.200 ± 0.044 µm");
        assert_eq!(of(0.2, 0.003), "+200.0 ± 3.0 µm");
        assert_eq!(of(0.2, f64::NAN), "+200.00 µm");
        assert_eq!(share(Estimate { value: 0.5, error: 0.002 }), "50.00 ± 0.20 %");
        assert_eq!(share(Estimate { value: 0.0, error: 0.0 }), "0.000 ± 0.000 %");
    }

    #[test]
    fn tables_name_their_rows_and_escape() {
        let mut table = Table::new("a & b", &["<x>", "n"]);
        table.rows.push(vec![words("\"q\""), figure_of("1")]);
        let drawn = table.markup().into_string();
        assert!(drawn.contains("<th scope=\"row\">&quot;q&quot;</th><td class=\"n\">1</td>"), "{drawn}");
        assert!(
            drawn.contains("&lt;x&gt;") && drawn.contains("<th scope=\"col\" class=\"n\">n</th>"),
            "{drawn}"
        );
    }
}
