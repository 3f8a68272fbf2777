//! Keys of a TOML file with their places.

use std::ops::Range;

use toml_edit::{Item, TableLike, Value};

use super::file_text::FileText;
use crate::text::Problem;
use crate::text::name::shown;
use crate::text::written::{Written, unit_of};

/// Characters of a name that are looked at.
const LONGEST: usize = 64;

/// The name that is most like a given one.
pub(super) fn nearest<'a>(name: &str, known: &[&'a str]) -> Option<&'a str> {
    // What is far longer than any key is like none, and must not take long to be told so.
    let name: String = name.chars().take(LONGEST).collect();
    let likeness = |other: &str| strsim::normalized_damerau_levenshtein(&name, other);
    known.iter().copied().max_by(|a, b| likeness(a).total_cmp(&likeness(b)))
}

/// One table of the file: its keys are known before any is read.
pub(super) struct TomlSection<'a> {
    source: &'a FileText,
    /// Dotted path with a point behind it, or nothing for the file itself.
    path: String,
    table: &'a dyn TableLike,
    span: Range<usize>,
    known: &'static [&'static str],
}

impl<'a> TomlSection<'a> {
    /// A table whose keys must all be among `known`.
    pub(super) fn new(
        source: &'a FileText,
        path: String,
        table: &'a dyn TableLike,
        span: Range<usize>,
        known: &'static [&'static str],
    ) -> Result<Self, Problem> {
        let section = Self { source, path, table, span, known };
        for (key, _) in table.iter() {
            if !known.contains(&key) {
                let near = nearest(key, known).unwrap_or("");
                let title = format!("unknown key `{}{}`", section.path, shown(key));
                let place = section.key_span(key).unwrap_or_else(|| section.span.clone());
                return Err(source
                    .problem(place, title, format!("nearest known key: `{near}`"))
                    .remedy(format!("known here: {}", known.join(", "))));
            }
        }
        Ok(section)
    }

    /// A table that must be there.
    pub(super) fn section(
        &self,
        key: &str,
        known: &'static [&'static str],
    ) -> Result<TomlSection<'a>, Problem> {
        self.optional_section(key, known)?.ok_or_else(|| self.missing(key))
    }

    /// A table that may be left out.
    pub(super) fn optional_section(
        &self,
        key: &str,
        known: &'static [&'static str],
    ) -> Result<Option<TomlSection<'a>>, Problem> {
        let Some(item) = self.item(key) else { return Ok(None) };
        match item.as_table_like() {
            Some(table) => {
                let span = item.span().or_else(|| self.key_span(key)).unwrap_or_else(|| self.span.clone());
                let path = format!("{}{key}.", self.path);
                TomlSection::new(self.source, path, table, span, known).map(Some)
            }
            None => Err(self.wrong(key, item, &format!("must be a table, [{}{key}]", self.path))),
        }
    }

    /// Tables of one name, `[[key]]`; none where left out.
    pub(super) fn sections(
        &self,
        key: &str,
        known: &'static [&'static str],
    ) -> Result<Vec<TomlSection<'a>>, Problem> {
        let Some(item) = self.item(key) else { return Ok(Vec::new()) };
        let mut tables: Vec<(&dyn TableLike, Option<Range<usize>>)> = Vec::new();
        let wanted = format!("must be tables, each headed [[{}{key}]]", self.path);
        if let Some(array) = item.as_array_of_tables() {
            tables.extend(array.iter().map(|table| (table as &dyn TableLike, table.span())));
        } else if let Some(array) = item.as_array() {
            for value in array {
                match value.as_inline_table() {
                    Some(table) => tables.push((table, table.span())),
                    None => return Err(self.wrong(key, item, &wanted)),
                }
            }
        } else {
            return Err(self.wrong(key, item, &wanted));
        }
        let here = |span: Option<Range<usize>>| span.unwrap_or_else(|| self.span.clone());
        tables
            .into_iter()
            .map(|(table, span)| {
                TomlSection::new(self.source, format!("{}{key}.", self.path), table, here(span), known)
            })
            .collect()
    }

    /// A number.
    pub(super) fn number<T: Written>(&self, key: &str) -> Result<T, Problem> {
        self.optional_number(key)?.ok_or_else(|| self.missing(key))
    }

    /// A number that may be left out.
    pub(super) fn optional_number<T: Written>(&self, key: &str) -> Result<Option<T>, Problem> {
        match self.item(key) {
            None => Ok(None),
            Some(item) => self.read(key, item, item.as_value()).map(Some),
        }
    }

    /// Two numbers, such as lowest and highest.
    pub(super) fn pair<T: Written>(&self, key: &str) -> Result<(T, T), Problem> {
        let item = self.item(key).ok_or_else(|| self.missing(key))?;
        let values: Vec<&Value> = item.as_array().map(|array| array.iter().collect()).unwrap_or_default();
        match values.as_slice() {
            [first, second] => Ok((self.read(key, item, Some(first))?, self.read(key, item, Some(second))?)),
            _ => Err(self.wrong(key, item, "must be two numbers, [lowest, highest] or [x, y]")),
        }
    }

    /// Two whole numbers from 0 to `most`.
    pub(super) fn whole_pair(&self, key: &str, most: u32) -> Result<(u32, u32), Problem> {
        let item = self.item(key).ok_or_else(|| self.missing(key))?;
        let values: Vec<&Value> = item.as_array().map(|array| array.iter().collect()).unwrap_or_default();
        match values.as_slice() {
            [first, second] => Ok((
                self.read_whole(key, item, Some(first), 0, most)?,
                self.read_whole(key, item, Some(second), 0, most)?,
            )),
            _ => Err(self.wrong(key, item, "must be two whole numbers, [steps, mm]")),
        }
    }

    /// A whole number from `least` to `most`.
    pub(super) fn whole(&self, key: &str, least: u32, most: u32) -> Result<u32, Problem> {
        let item = self.item(key).ok_or_else(|| self.missing(key))?;
        self.read_whole(key, item, item.as_value(), least, most)
    }

    /// A text without control characters.
    pub(super) fn text(&self, key: &str) -> Result<&'a str, Problem> {
        let item = self.item(key).ok_or_else(|| self.missing(key))?;
        let text = item.as_str().ok_or_else(|| self.wrong(key, item, "must be text in quotes"))?;
        if text.chars().any(char::is_control) {
            return Err(self.wrong_here(
                key,
                item,
                "holds a control character",
                &format!("seen: `{}`", shown(text)),
            ));
        }
        Ok(text)
    }

    /// One of a few words, or the default.
    pub(super) fn word(&self, key: &str, words: &[&str]) -> Result<Option<usize>, Problem> {
        let Some(item) = self.item(key) else { return Ok(None) };
        let text = self.text(key)?;
        match words.iter().position(|word| *word == text) {
            Some(index) => Ok(Some(index)),
            None => {
                let near = nearest(text, words).unwrap_or("");
                let title = format!("must be one of: {}", words.join(", "));
                Err(self.wrong_here(key, item, &title, &format!("nearest: `{near}`")))
            }
        }
    }

    /// `true` or `false`, or `false` where left out.
    pub(super) fn flag(&self, key: &str) -> Result<bool, Problem> {
        match self.item(key) {
            None => Ok(false),
            Some(item) => item.as_bool().ok_or_else(|| self.wrong(key, item, "must be true or false")),
        }
    }

    /// Where a key's value stands, or its table where it has none.
    pub(super) fn span_of(&self, key: &str) -> Range<usize> {
        self.item(key).and_then(Item::span).unwrap_or_else(|| self.span.clone())
    }

    /// Whether a key is there.
    pub(super) fn has(&self, key: &str) -> bool {
        self.item(key).is_some()
    }

    /// A problem with a key's value.
    pub(super) fn wrong_value(&self, key: &str, what: &str, label: &str) -> Problem {
        self.source.problem(self.span_of(key), format!("`{}{key}` {what}", self.path), label)
    }

    /// A key that is needed.
    pub(super) fn missing(&self, key: &str) -> Problem {
        let full = format!("{}{key}", self.path);
        let problem = if self.path.is_empty() {
            Problem::new(format!("{}: the table [{full}] is missing", self.source.name))
        } else {
            let place = self.span.start..self.span.end;
            self.source.problem(place, format!("`{full}` is missing"), format!("no `{key}` here"))
        };
        problem.remedy("`zdatum setup --new` prints a file with every key and what it means")
    }

    fn item(&self, key: &str) -> Option<&'a Item> {
        debug_assert!(self.known.contains(&key), "{key} is not among the known keys");
        self.table.get(key).filter(|item| !item.is_none())
    }

    fn key_span(&self, key: &str) -> Option<Range<usize>> {
        self.table.get_key_value(key).and_then(|(key, _)| key.span())
    }

    fn read<T: Written>(&self, key: &str, item: &Item, value: Option<&Value>) -> Result<T, Problem> {
        let wanted = || format!("must be a number{}", unit_of::<T>());
        let Some(text) = value.and_then(|value| self.number_text(value)) else {
            return Err(self.wrong(key, item, &wanted()));
        };
        T::read(&text).map_err(|error| {
            let title = format!("`{}{key}`: {error}", self.path);
            let place =
                value.and_then(Value::span).or_else(|| item.span()).unwrap_or_else(|| self.span.clone());
            self.source.problem(place, title, "seen here").remedy(format!("`{key}` {}", wanted()))
        })
    }

    fn read_whole(
        &self,
        key: &str,
        item: &Item,
        value: Option<&Value>,
        least: u32,
        most: u32,
    ) -> Result<u32, Problem> {
        let whole = value.and_then(Value::as_integer).and_then(|number| u32::try_from(number).ok());
        whole.filter(|number| (least..=most).contains(number)).ok_or_else(|| {
            let label = if value.is_some_and(Value::is_integer) { "seen here" } else { kind_of(item) };
            self.wrong_here(key, item, &format!("must be a whole number from {least} to {most}"), label)
        })
    }

    /// A number's own digits, so that they reach fixed point without a float; `None` for what is no number.
    fn number_text(&self, value: &Value) -> Option<String> {
        match value {
            Value::Integer(whole) => Some(whole.value().to_string()),
            Value::Float(_) => {
                let text = self.source.text.get(value.span()?)?;
                Some(text.replace('_', ""))
            }
            _ => None,
        }
    }

    fn wrong(&self, key: &str, item: &Item, what: &str) -> Problem {
        self.wrong_here(key, item, what, &format!("found {}", kind_of(item)))
    }

    fn wrong_here(&self, key: &str, item: &Item, what: &str, label: &str) -> Problem {
        let place = item.span().or_else(|| self.key_span(key)).unwrap_or_else(|| self.span.clone());
        self.source.problem(place, format!("`{}{key}` {what}", self.path), label)
    }
}

/// What a value is, with its article.
fn kind_of(item: &Item) -> &'static str {
    match item.type_name() {
        "string" => "a text in quotes",
        "integer" => "a whole number",
        "float" => "a number with a point",
        "boolean" => "true or false",
        "datetime" => "a date",
        "array" => "a list",
        "table" | "inline table" => "a table",
        "array of tables" => "tables",
        _ => "something else",
    }
}

/// The place of a dotted path as the core names it, or of as much of it as there is.
pub(super) fn locate(table: &dyn TableLike, path: &str) -> Range<usize> {
    let mut found = 0..0;
    let mut current: Option<&dyn TableLike> = Some(table);
    for key in path.split('.') {
        let Some((name, item)) = current.and_then(|table| table.get_key_value(key)) else { break };
        found = item.span().or_else(|| name.span()).unwrap_or(found);
        current = item.as_table_like();
    }
    found
}
