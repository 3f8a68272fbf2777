//! Touches as they were read: every cell's own text, from a log and back into one.

use zdatum::{Length, Speed, Station, Temperature};

use super::Digest;
use crate::files::file_text::FileText;
use crate::files::log::{Column, Log};
use crate::files::{LoggedCycle, cycles};
use crate::text::Problem;
use crate::text::name::{guarded, shown};
use crate::text::written::Written;

/// The columns of one touch; run and plate are the cycle's.
pub const COLUMNS: [Column; 9] = [
    Column::Station,
    Column::Z,
    Column::Kind,
    Column::Counted,
    Column::Time,
    Column::Speed,
    Column::Tool,
    Column::Bed,
    Column::Chamber,
];

/// One touch: its cells in the order of [`COLUMNS`], `None` where blank or missing.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct TouchCells {
    /// The cells.
    pub cells: [Option<String>; 9],
}

impl TouchCells {
    /// A touch of which the height alone is known.
    pub fn bare(station: Station, z: &str) -> Self {
        let mut touch = Self::default();
        let [at, height, ..] = &mut touch.cells;
        *at = Some(station.word().to_owned());
        *height = Some(z.to_owned());
        touch
    }

    /// Sets a cell; run and plate are the cycle's and have none here.
    pub fn set(&mut self, column: Column, text: &str) {
        let place = COLUMNS.iter().position(|known| *known == column);
        if let Some(cell) = place.and_then(|place| self.cells.get_mut(place)) {
            *cell = Some(text.to_owned());
        }
    }

    fn get(&self, column: Column) -> Option<&str> {
        let place = COLUMNS.iter().position(|known| *known == column)?;
        self.cells.get(place)?.as_deref()
    }
}

/// A cycle's touches with the names that stand beside them in a log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedTouches {
    /// Its run.
    pub run: String,
    /// Its plate.
    pub plate: Option<String>,
    /// Its touches, in their order.
    pub touches: Vec<TouchCells>,
}

/// A log's touches, cycle by cycle, as [`cycles::cycles`] groups them.
pub fn of_log(log: &Log) -> Vec<Vec<TouchCells>> {
    let mut found: Vec<Vec<TouchCells>> = Vec::new();
    let mut run = None;
    for row in &log.rows {
        if run != Some(&row.run) {
            found.push(Vec::new());
            run = Some(&row.run);
        }
        let cells = COLUMNS.map(|column| log.cell(row, column).map(str::to_owned));
        if let Some(touches) = found.last_mut() {
            touches.push(TouchCells { cells });
        }
    }
    found
}

/// The touches as a log, read back: what `land` makes of them, and whether it would.
///
/// # Errors
/// As of any log. Its places are of the text made here, named `name`.
pub fn cycle_of(named: &NamedTouches, name: &str) -> Result<(Log, LoggedCycle), Problem> {
    let log = Log::read(FileText::of(name, &csv(std::slice::from_ref(named))?))?;
    match cycles::cycles(&log)?.pop() {
        Some(cycle) => Ok((log, cycle)),
        None => Err(Problem::new(format!("{}: no touch", shown(name)))),
    }
}

/// A touch log. Columns that no touch has are left out; names that a spreadsheet would run as a formula are
/// [guarded].
///
/// # Errors
/// None that a text in memory could give.
pub fn csv(cycles: &[NamedTouches]) -> Result<String, Problem> {
    let all = || cycles.iter().flat_map(|cycle| &cycle.touches);
    let has_plates = cycles.iter().any(|cycle| cycle.plate.is_some());
    let columns: Vec<Column> = Column::ALL
        .into_iter()
        .filter(|column| match column {
            Column::Station | Column::Z | Column::Run => true,
            Column::Plate => has_plates,
            _ => all().any(|touch| touch.get(*column).is_some()),
        })
        .collect();
    let failed = |error: &dyn std::fmt::Display| Problem::new(format!("cannot write CSV: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(columns.iter().map(|column| column.name())).map_err(|error| failed(&error))?;
    for cycle in cycles {
        let (run, plate) = (guarded(&cycle.run), guarded(cycle.plate.as_deref().unwrap_or("")));
        for touch in &cycle.touches {
            let cells = columns.iter().map(|column| match column {
                Column::Run => run.as_ref(),
                Column::Plate => plate.as_ref(),
                column => touch.get(*column).unwrap_or(""),
            });
            writer.write_record(cells).map_err(|error| failed(&error))?;
        }
    }
    let bytes = writer.into_inner().map_err(|error| failed(&error))?;
    String::from_utf8(bytes).map_err(|error| failed(&error))
}

/// What the touches come to: their values, whatever the names, so that 0.5 and 0.500 are the same touch.
pub fn digest(touches: &[TouchCells]) -> Digest {
    let mut text = String::new();
    for touch in touches {
        let kind = touch.get(Column::Kind).unwrap_or("fine");
        let counted = touch.get(Column::Counted).unwrap_or(if kind == "fine" { "yes" } else { "no" });
        let temperature = |column| bits::<Temperature>(touch.get(column), |value| value.to_bits().into());
        let cells = [
            touch.get(Column::Station).unwrap_or("").to_owned(),
            bits::<Length>(touch.get(Column::Z), |value| value.to_bits().into()),
            kind.to_owned(),
            counted.to_owned(),
            bits::<f64>(touch.get(Column::Time), |value| value.to_bits().cast_signed()),
            bits::<Speed>(touch.get(Column::Speed), |value| value.to_bits().into()),
            temperature(Column::Tool),
            temperature(Column::Bed),
            temperature(Column::Chamber),
        ];
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    Digest::of(text.as_bytes())
}

/// A cell's value as text; what is no number stands for itself.
fn bits<T: Written>(cell: Option<&str>, of: fn(T) -> i64) -> String {
    let text = cell.unwrap_or("");
    T::read(text).map_or_else(|_| text.to_owned(), |value| of(value).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn log(text: &str) -> Log {
        Log::read(FileText::of("log.csv", text)).expect("a sound log")
    }

    fn named(run: &str, plate: Option<&str>) -> NamedTouches {
        let touches =
            vec![TouchCells::bare(Station::Tip, "-0.500"), TouchCells::bare(Station::Plate, "1.25")];
        NamedTouches { run: run.into(), plate: plate.map(str::to_owned), touches }
    }

    #[test]
    fn cells_are_kept_as_they_were_read() {
        let log = log(
            "run,station,z,kind,time_s,tool_c\na,tip,0.500,first,1.50,\na,plate,+1.0,, 2,150.0\nb,tip,1,,,\n",
        );
        let cycles = of_log(&log);
        assert_eq!(cycles.iter().map(Vec::len).collect::<Vec<_>>(), [2, 1]);
        let cells = |touch: &TouchCells| touch.cells.clone().map(|cell| cell.unwrap_or_default()).join("|");
        assert_eq!(cells(&cycles[0][0]), "tip|0.500|first||1.50||||");
        assert_eq!(cells(&cycles[0][1]), "plate|+1.0|||2||150.0||");
    }

    #[test]
    fn a_log_of_touches_reads_back() {
        for name in ["slate", "=1+1", "+a", "-a", "@a", "'=a", "'", "''", "a,\"b\"", "#a", "＝a", "'a", "a b"]
        {
            let before = named(name, Some(name));
            let text = csv(&[before.clone(), named("other", None)]).expect("CSV");
            let again = log(&text);
            assert_eq!(
                (again.rows[0].run.as_str(), again.rows[0].plate.as_deref()),
                (name, Some(name)),
                "{text}"
            );
            assert_eq!(of_log(&again)[0], before.touches);
            for cell in text.lines().flat_map(|line| line.split(',')) {
                let runs = cell.trim_start_matches('"').starts_with(['=', '@', '＝']);
                assert!(!runs, "{cell} in {text}");
            }
        }
    }

    #[test]
    fn columns_that_no_touch_has_are_left_out() {
        let text = csv(&[named("1", None)]).expect("CSV");
        assert_eq!(text, "station,z,run\ntip,-0.500,1\nplate,1.25,1\n");
    }

    #[test]
    fn the_digest_is_of_values() {
        let of = |text: &str| digest(&of_log(&log(text))[0]);
        let one = of("station,z,speed,time_s\ntip,0.5,2,1\nplate,1,2,2\n");
        assert_eq!(
            one,
            of("run,plate,time_s,station,speed,z,kind\nx,y,1.0,tip,2.0,0.500,fine\nx,y,2,plate,2,+1,\n")
        );
        for other in [
            "station,z,speed,time_s\ntip,0.5001,2,1\nplate,1,2,2\n",
            "station,z,speed,time_s\nplate,1,2,1\ntip,0.5,2,2\n",
            "station,z,speed,time_s\ntip,0.5,2,1\nplate,1,2,3\n",
            "station,z,speed,time_s\ntip,0.5,2,1\nplate,1,3,2\n",
            "station,z,speed,time_s,kind\ntip,0.5,2,1,settle\nplate,1,2,2,\n",
            "station,z,speed,time_s,counted\ntip,0.5,2,1,no\nplate,1,2,2,\n",
            "station,z,speed,time_s,bed_c\ntip,0.5,2,1,60\nplate,1,2,2,\n",
        ] {
            assert_ne!(one, of(other), "{other}");
        }
    }
}
