//! A problem with its place, as text for standard error.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::name::wrapped;
use crate::files::Problem;

/// Widest line of a message's own words; file names and excerpts may be wider.
const COLUMNS: usize = 90;

/// The message, with colours that a stream without colour strips.
pub fn render(problem: &Problem) -> String {
    let title = wrapped(&problem.title, COLUMNS).join("\n");
    let remedy = problem.remedy.as_deref().map(|text| wrapped(text, COLUMNS - 8).join("\n"));
    let help = remedy.map(|remedy| Group::with_title(Level::HELP.secondary_title(remedy)));
    let renderer = Renderer::styled().term_width(100);
    let mut text = match &problem.place {
        Some(place) => {
            let seen = Snippet::source(place.excerpt.as_str())
                .path(place.file.as_str())
                .line_start(place.line)
                .fold(false)
                .annotation(AnnotationKind::Primary.span(place.span.clone()).label(place.label.as_str()));
            let mut report = vec![Level::ERROR.primary_title(title).element(seen)];
            report.extend(help);
            renderer.render(&report)
        }
        // One after the other: in one report a bar would join them.
        None => {
            let mut text = renderer.render(&[Group::with_title(Level::ERROR.primary_title(title))]);
            if let Some(help) = help {
                text.push('\n');
                text.push_str(&renderer.render(&[help]));
            }
            text
        }
    };
    text.push('\n');
    text
}
