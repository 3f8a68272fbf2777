//! What is wrong with the input, with its place, and how that is told on standard error.

use std::ops::Range;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::name::wrapped;

/// Widest line of a message's own words; file names and excerpts may be wider.
const COLUMNS: usize = 90;

/// What is wrong with the input: nothing is done, exit code 2.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// What was seen, and the limit.
    pub title: String,
    /// Where.
    pub place: Option<Box<ProblemPlace>>,
    /// What to do about it.
    pub remedy: Option<String>,
}

/// A place in a file: the lines it touches, and which part of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProblemPlace {
    /// The file's name as shown.
    pub file: String,
    /// The lines.
    pub excerpt: String,
    /// Number of the first of them, from 1.
    pub line: usize,
    /// The part, in bytes of the excerpt.
    pub span: Range<usize>,
    /// What stands there.
    pub label: String,
}

impl Problem {
    /// A problem without a place.
    pub fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), place: None, remedy: None }
    }

    /// The same with what to do about it.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = Some(remedy.into());
        self
    }
}

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
