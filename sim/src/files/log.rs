//! The touch log: RFC 4180, UTF-8, comment lines with `#`. Every cell is placed, so that a message can point
//! at it.

use std::ops::Range;

use zdatum::Station;

use super::file_text::FileText;
use crate::text::Problem;
use crate::text::name::shown;
use crate::text::name::unguarded;
use crate::text::written::{Written, unit_of};

/// A column's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Column {
    /// `tip`, `shoulder` or `plate`.
    Station,
    /// Carriage height at the edge.
    Z,
    /// Which cycle the touch belongs to.
    Run,
    /// `first`, `settle` or `fine`.
    Kind,
    /// `yes` or `no`.
    Counted,
    /// Seconds since the log's start.
    Time,
    /// Approach speed.
    Speed,
    /// Temperature of the tool.
    Tool,
    /// Temperature of the bed.
    Bed,
    /// Temperature of the chamber.
    Chamber,
    /// Name of the plate fitted.
    Plate,
}

impl Column {
    /// All columns.
    pub const ALL: [Column; 11] = [
        Column::Station,
        Column::Z,
        Column::Run,
        Column::Kind,
        Column::Counted,
        Column::Time,
        Column::Speed,
        Column::Tool,
        Column::Bed,
        Column::Chamber,
        Column::Plate,
    ];

    /// Its header.
    pub const fn name(self) -> &'static str {
        match self {
            Column::Station => "station",
            Column::Z => "z",
            Column::Run => "run",
            Column::Kind => "kind",
            Column::Counted => "counted",
            Column::Time => "time_s",
            Column::Speed => "speed",
            Column::Tool => "tool_c",
            Column::Bed => "bed_c",
            Column::Chamber => "chamber_c",
            Column::Plate => "plate",
        }
    }
}

/// Which of a series' touches one is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TouchKind {
    /// The fast first approach.
    First,
    /// A slow touch thrown away.
    Settle,
    /// A slow touch.
    Fine,
}

/// One touch as written.
#[derive(Clone, Debug)]
pub struct LogRow {
    /// Where.
    pub station: Station,
    /// Which.
    pub kind: TouchKind,
    /// Whether it counts.
    pub counted: bool,
    /// Name of its cycle; `1` in a log without the column.
    pub run: String,
    /// Name of the plate, where it is given.
    pub plate: Option<String>,
    cells: csv::StringRecord,
    /// Bytes of the log from the row's first on.
    start: usize,
}

/// A touch log.
#[derive(Clone, Debug)]
pub struct Log {
    /// The file.
    pub source: FileText,
    /// Its touches, in their order; at least one.
    pub rows: Vec<LogRow>,
    columns: Columns,
}

/// Where each column stands.
type Columns = [Option<usize>; Column::ALL.len()];

impl Log {
    /// Reads a log.
    ///
    /// # Errors
    /// Stray quotes, unknown, double or missing columns, rows of another length than the header, words that
    /// are none of the column's, names with control characters, no touch at all.
    pub fn read(source: FileText) -> Result<Self, Problem> {
        super::quotes::check(&source)?;
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(source.text.as_bytes());
        let mut header: Option<(usize, Columns)> = None;
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| Problem::new(format!("{}: {error}", source.name)))?;
            let start = start_of(&source.text, record.position().map_or(0, csv::Position::byte) as usize);
            match header {
                None => header = Some((record.len(), columns_of(&source, &record, start)?)),
                Some((length, columns)) => rows.push(row_of(&source, length, &columns, record, start)?),
            }
        }
        let end = source.text.len();
        let Some((_, columns)) = header else {
            return Err(source.problem(0..0, "the log is empty", "no header").remedy(
                "the first line names the columns, such as `station,z`; each line below is one touch",
            ));
        };
        if rows.is_empty() {
            return Err(source
                .problem(end..end, "the log has a header but no touch", "nothing below the header")
                .remedy("each line below the header is one touch"));
        }
        Ok(Self { source, rows, columns })
    }

    /// A cell as a quantity; `None` where the column is missing or the cell blank.
    ///
    /// # Errors
    /// Not a number, or out of range.
    pub fn value<T: Written>(&self, row: &LogRow, column: Column) -> Result<Option<T>, Problem> {
        match self.cell(row, column) {
            None => Ok(None),
            Some(text) => T::read(text).map(Some).map_err(|error| {
                self.problem(row, column, format!("column `{}`: {error}", column.name()), "seen here")
                    .remedy(format!("`{}` is a plain decimal number{}", column.name(), unit_of::<T>()))
            }),
        }
    }

    /// A cell's text; `None` where the column is missing or the cell blank.
    pub fn cell<'a>(&self, row: &'a LogRow, column: Column) -> Option<&'a str> {
        cell(&self.columns, &row.cells, column)
    }

    /// Whether the log has a column.
    pub fn has(&self, column: Column) -> bool {
        self.columns.get(column as usize).copied().flatten().is_some()
    }

    /// The line on which a row begins, from 1.
    pub fn line(&self, row: &LogRow) -> usize {
        1 + self.source.text.bytes().take(row.start).filter(|byte| *byte == b'\n').count()
    }

    /// The lines on which all rows begin, in one pass.
    pub fn lines(&self) -> Vec<usize> {
        let bytes = self.source.text.as_bytes();
        let (mut line, mut from) = (1, 0);
        self.rows
            .iter()
            .map(|row| {
                let between = bytes.get(from..row.start).unwrap_or(&[]);
                line += between.iter().filter(|byte| **byte == b'\n').count();
                from = row.start;
                line
            })
            .collect()
    }

    /// A problem at a row's cell.
    pub fn problem(&self, row: &LogRow, column: Column, title: impl Into<String>, label: &str) -> Problem {
        let index = self.columns.get(column as usize).copied().flatten();
        self.source.problem(span_of(&self.source.text, row.start, index), title, label)
    }
}

fn cell<'a>(columns: &Columns, cells: &'a csv::StringRecord, column: Column) -> Option<&'a str> {
    let index = columns.get(column as usize).copied().flatten()?;
    cells.get(index).filter(|text| !text.is_empty())
}

/// The first byte of a record: behind the blank lines and comments that the reader skips on its way to it.
fn start_of(text: &str, from: usize) -> usize {
    let mut at = from;
    while let Some(rest) = text.get(at..) {
        if rest.starts_with(['\n', '\r']) {
            at += 1;
        } else if rest.starts_with('#') {
            at += rest.find('\n').unwrap_or(rest.len());
        } else {
            break;
        }
    }
    at
}

/// The bytes of one cell, or of the whole line where quotes make cells hard to tell apart.
fn span_of(text: &str, start: usize, index: Option<usize>) -> Range<usize> {
    let rest = text.get(start..).unwrap_or("");
    let line = rest.split(['\n', '\r']).next().unwrap_or("");
    let whole = start..start + line.len();
    let (Some(index), false) = (index, line.contains('"')) else { return whole };
    let mut at = start;
    for (number, cell) in line.split(',').enumerate() {
        if number == index {
            let indent = cell.len() - cell.trim_start().len();
            return at + indent..at + indent + cell.trim().len();
        }
        at += cell.len() + 1;
    }
    whole
}

fn columns_of(source: &FileText, header: &csv::StringRecord, start: usize) -> Result<Columns, Problem> {
    let mut columns = Columns::default();
    for (index, name) in header.iter().enumerate() {
        let at = |title: String, label: String| {
            source.problem(span_of(&source.text, start, Some(index)), title, label)
        };
        let Some(column) = Column::ALL.into_iter().find(|column| column.name() == name) else {
            let all = Column::ALL.map(Column::name);
            let known = super::keys::nearest(name, &all).unwrap_or("station");
            return Err(at(
                format!("unknown column `{}`", shown(name)),
                format!("nearest known column: `{known}`"),
            )
            .remedy(format!("the columns are {}", all.join(", "))));
        };
        match columns.get_mut(column as usize) {
            Some(slot @ None) => *slot = Some(index),
            _ => return Err(at(format!("column `{name}` appears twice"), "the second".into())),
        }
    }
    for column in [Column::Station, Column::Z] {
        if columns.get(column as usize).copied().flatten().is_none() {
            let title = format!("the column `{}` is missing", column.name());
            return Err(source
                .problem(span_of(&source.text, start, None), title, "the header")
                .remedy("the first line names the columns; `station` and `z` are needed"));
        }
    }
    Ok(columns)
}

fn row_of(
    source: &FileText,
    length: usize,
    columns: &Columns,
    cells: csv::StringRecord,
    start: usize,
) -> Result<LogRow, Problem> {
    let at = |column: Option<Column>, title: String, label: &str| {
        let index = column.and_then(|column| columns.get(column as usize).copied().flatten());
        source.problem(span_of(&source.text, start, index), title, label)
    };
    if cells.len() != length {
        let title = format!("this row has {} cells, the header has {length}", cells.len());
        return Err(at(None, title, "a ragged row").remedy("leave a cell empty where nothing was read"));
    }
    let word = |column: Column, words: &[&str]| {
        let text = cell(columns, &cells, column)?;
        let found = words.iter().position(|word| *word == text);
        Some(found.ok_or_else(|| {
            at(Some(column), format!("`{}` is no {}", shown(text), column.name()), "seen here")
                .remedy(format!("`{}` is one of: {}", column.name(), words.join(", ")))
        }))
    };
    let name = |column: Column| match cell(columns, &cells, column) {
        Some(text) if text.chars().any(char::is_control) => Err(at(
            Some(column),
            format!("column `{}`: control character in the name `{}`", column.name(), shown(text)),
            "seen here",
        )
        .remedy("take the character out")),
        // A log that a history wrote guards names that a spreadsheet would run.
        text => Ok(text.map(|text| unguarded(text).to_owned())),
    };
    let missing = |column: Column| {
        at(Some(column), format!("column `{}`: the cell is empty", column.name()), "every touch needs one")
    };

    let station = match word(Column::Station, &Station::ALL.map(Station::word)).transpose()? {
        Some(index) => Station::ALL.get(index).copied().ok_or_else(|| missing(Column::Station))?,
        None => return Err(missing(Column::Station)),
    };
    let kind = match word(Column::Kind, &["first", "settle", "fine"]).transpose()? {
        Some(0) => TouchKind::First,
        Some(1) => TouchKind::Settle,
        _ => TouchKind::Fine,
    };
    let counted = match word(Column::Counted, &["yes", "no"]).transpose()? {
        Some(index) => index == 0,
        None => kind == TouchKind::Fine,
    };
    let run = match name(Column::Run)? {
        Some(run) => run,
        None if columns.get(Column::Run as usize).copied().flatten().is_some() => {
            return Err(missing(Column::Run));
        }
        None => "1".into(),
    };
    if cell(columns, &cells, Column::Z).is_none() {
        return Err(missing(Column::Z));
    }
    let plate = name(Column::Plate)?;
    Ok(LogRow { station, kind, counted, run, plate, cells, start })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Log, Problem> {
        Log::read(FileText::of("log.csv", text))
    }

    /// Line and marked text of the problem.
    fn place(text: &str) -> (usize, String, String) {
        let problem = read(text).expect_err("a bad log");
        let place = problem.place.expect("a place");
        (place.line, place.excerpt.get(place.span).expect("a part").to_owned(), problem.title)
    }

    #[test]
    fn defaults_follow_the_kind() {
        let log = read("kind,station,z,counted\nfirst,tip,1,\n,tip,2,\nsettle,plate,3,yes\nfine,tip,4,no\n")
            .expect("good");
        let counted: Vec<bool> = log.rows.iter().map(|row| row.counted).collect();
        assert_eq!(counted, [false, true, true, false]);
        assert!(log.rows.iter().all(|row| row.run == "1" && row.plate.is_none()));
    }

    #[test]
    fn comments_blank_lines_quotes_and_a_mark_are_fine() {
        let log = read("\u{feff}# about\n\nstation , z\r\n# more\r\n\"tip\", 1.5 \n\n").expect("good");
        assert_eq!(log.rows.len(), 1);
        assert_eq!(log.cell(&log.rows[0], Column::Z), Some("1.5"));
        assert_eq!((log.lines(), log.line(&log.rows[0])), (vec![5], 5));
    }

    #[test]
    fn problems_are_placed_behind_comments() {
        assert_eq!(place("# c\nstation,z\n# c\n\ntip,1\n# c\nnose,2\n").0, 7);
        let (line, part, title) = place("station,z\ntip,1\n#c\nnose,2\n");
        assert_eq!((line, part.as_str()), (4, "nose"));
        assert!(title.contains("`nose`"), "{title}");
    }

    #[test]
    fn headers_are_checked() {
        let (line, part, title) = place("station,z,chamber\ntip,1,2");
        assert_eq!((line, part.as_str(), title.as_str()), (1, "chamber", "unknown column `chamber`"));
        let (_, part, title) = place("station,z,z\ntip,1,2");
        assert_eq!((part.as_str(), title.as_str()), ("z", "column `z` appears twice"));
        assert!(place("z\n1").2.contains("`station` is missing"));
        assert!(place("").2.contains("empty"));
        assert!(place("# only a comment\n").2.contains("empty"));
        assert!(place("station,z\n").2.contains("no touch"));
    }

    #[test]
    fn rows_are_checked() {
        assert_eq!(place("station,z\ntip\n").1, "tip");
        assert_eq!(place("station,z\ntip,1,2\n").0, 2);
        assert!(place("station,z,run\ntip,1,\n").2.contains("`run`"));
        assert!(place("station,z\ntip,\n").2.contains("`z`"));
        assert!(place("station,z,run\ntip,1,a\u{7}b\n").2.contains("control character"));
        assert!(place("station,z,plate\ntip,1,\"a\nb\"\n").2.contains("control character"));
        assert!(place("station,z,counted\ntip,1,maybe\n").2.contains("`maybe` is no counted"));
    }

    #[test]
    fn numbers_are_read_where_they_are_asked_for() {
        let log = read("station,z,speed\ntip,1e12,nan\n").expect("good so far");
        let row = &log.rows[0];
        assert_eq!(log.value::<f64>(row, Column::Z), Ok(Some(1e12)));
        assert!(log.value::<zdatum::Length>(row, Column::Z).expect_err("too large").title.contains("32768"));
        assert!(log.value::<zdatum::Speed>(row, Column::Speed).is_err());
        assert_eq!(log.value::<zdatum::Temperature>(row, Column::Tool), Ok(None));
    }
}
