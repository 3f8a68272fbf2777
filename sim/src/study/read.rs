//! From a touch log to series: the counted touches of each run and station, of any length, in any unit.

use std::collections::{HashMap, HashSet};

use rust_decimal::Decimal;
use zdatum::Station;

use super::heights::Heights;
use crate::files::log::{Column, Log, LogRow};
use crate::text::Problem;
use crate::text::name::shown;

/// The counted touches of one run at one station, in their order; at least one.
#[derive(Clone, Debug)]
pub struct TouchGroup {
    /// The run's name.
    pub run: String,
    /// Where.
    pub station: Station,
    /// The plate that was fitted, where it is named.
    pub plate: Option<String>,
    /// Heights.
    pub z: Vec<Decimal>,
    /// The same as differences.
    pub heights: Heights,
    /// Approach speeds, above zero; empty where any is missing.
    pub speeds: Vec<f64>,
    /// Times, never backwards within the run; empty where any is missing.
    pub times: Vec<f64>,
    /// Their lines in the log.
    pub lines: Vec<usize>,
}

/// The series of a log.
#[derive(Clone, Debug)]
pub struct Groups {
    /// In the order in which they first appear.
    pub groups: Vec<TouchGroup>,
    /// Runs that go on behind another's touches.
    pub resumed: Vec<String>,
    /// Names of the runs, in the order in which they first appear.
    pub runs: Vec<String>,
}

impl Groups {
    /// The series at one station, in order.
    pub fn at(&self, station: Station) -> impl Iterator<Item = &TouchGroup> + Clone {
        self.groups.iter().filter(move |group| group.station == station)
    }

    /// Reads the series.
    ///
    /// # Errors
    /// Numbers that cannot be read or held, a speed that is not above zero, a run that goes back in time, two
    /// plates named in one run, no counted touch at all.
    pub fn of(log: &Log) -> Result<Self, Problem> {
        let mut drafts: Vec<SeriesDraft> = Vec::new();
        let mut places: HashMap<(&str, usize), usize> = HashMap::new();
        let mut runs: Vec<String> = Vec::new();
        let mut seen: HashMap<&str, RunChecks<'_>> = HashMap::new();
        let mut resumed: Vec<String> = Vec::new();
        let mut again: HashSet<&str> = HashSet::new();
        let mut current: Option<&str> = None;
        for (row, line) in log.rows.iter().zip(log.lines()) {
            let name = row.run.as_str();
            if current != Some(name) {
                if !seen.contains_key(name) {
                    runs.push(name.to_owned());
                } else if again.insert(name) {
                    resumed.push(name.to_owned());
                }
                current = Some(name);
            }
            let cells = Cells::read(log, row)?;
            let run = seen.entry(name).or_default();
            run.check_time(log, row, cells.time)?;
            run.check_plate(log, row)?;
            if !row.counted {
                continue;
            }
            let place = *places.entry((name, row.station as usize)).or_insert_with(|| {
                drafts.push(SeriesDraft::new(row));
                drafts.len() - 1
            });
            if let Some(draft) = drafts.get_mut(place) {
                draft.add(line, cells);
            }
        }
        let plate_of = |run: &str| seen.get(run).and_then(|run| run.plate.map(str::to_owned));
        let groups: Vec<TouchGroup> = drafts
            .into_iter()
            .filter_map(|draft| {
                let plate = plate_of(&draft.run);
                draft.close(plate)
            })
            .collect();
        if groups.is_empty() {
            let problem = match log.rows.first() {
                Some(row) => log.problem(row, Column::Station, "no touch in the log counts", "the first one"),
                None => Problem::new("no touch in the log counts"),
            };
            return Err(
                problem.remedy("fine touches count unless `counted` says `no`; others only if it says `yes`")
            );
        }
        Ok(Self { groups, resumed, runs })
    }
}

/// A row's numbers.
struct Cells {
    z: Decimal,
    speed: Option<f64>,
    time: Option<f64>,
}

impl Cells {
    /// Every cell is read, so that a log is either sound or refused, whichever touches count.
    fn read(log: &Log, row: &LogRow) -> Result<Self, Problem> {
        let z = log.value::<Decimal>(row, Column::Z)?;
        let speed = log.value::<f64>(row, Column::Speed)?;
        if speed.is_some_and(|speed| speed <= 0.0) {
            let problem = log.problem(row, Column::Speed, "column `speed`: must be above zero", "seen here");
            return Err(problem.remedy("leave the cell empty where the speed is not known"));
        }
        for column in [Column::Tool, Column::Bed, Column::Chamber] {
            log.value::<f64>(row, column)?;
        }
        let time = log.value::<f64>(row, Column::Time)?;
        let z = z.ok_or_else(|| {
            log.problem(row, Column::Z, "column `z`: the cell is empty", "every touch needs one")
        })?;
        Ok(Self { z, speed, time })
    }
}

/// What a run's rows must agree in.
#[derive(Default)]
struct RunChecks<'a> {
    latest: Option<(f64, &'a LogRow)>,
    plate: Option<&'a str>,
}

impl<'a> RunChecks<'a> {
    fn check_time(&mut self, log: &Log, row: &'a LogRow, time: Option<f64>) -> Result<(), Problem> {
        let Some(time) = time else { return Ok(()) };
        if let Some((_, before)) = self.latest.filter(|(latest, _)| time < *latest) {
            return Err(back_in_time(log, before, row, "within its run"));
        }
        self.latest = Some((time, row));
        Ok(())
    }

    fn check_plate(&mut self, log: &Log, row: &'a LogRow) -> Result<(), Problem> {
        let Some(plate) = row.plate.as_deref() else { return Ok(()) };
        match self.plate {
            Some(known) if known != plate => {
                let (run, known, plate) = (shown(&row.run), shown(known), shown(plate));
                let title = format!("run `{run}` names two plates: `{known}`, then `{plate}`");
                Err(log
                    .problem(row, Column::Plate, title, "the second")
                    .remedy("one run is one plate; give the touches on another plate a run of their own"))
            }
            _ => {
                self.plate = Some(plate);
                Ok(())
            }
        }
    }
}

/// A time before an earlier row's; `among` says among which rows.
pub(super) fn back_in_time(log: &Log, before: &LogRow, row: &LogRow, among: &str) -> Problem {
    let time = |row| shown(log.cell(row, Column::Time).unwrap_or(""));
    let title = format!(
        "column `time_s`: back from {} on line {} to {} on line {}, {among}",
        time(before),
        log.line(before),
        time(row),
        log.line(row)
    );
    log.problem(row, Column::Time, title, "earlier than the touch before it")
        .remedy("rows stand in the order in which the touches were taken; times count from the log's start")
}

/// A series being read.
struct SeriesDraft {
    run: String,
    station: Station,
    z: Vec<Decimal>,
    speeds: Vec<Option<f64>>,
    times: Vec<Option<f64>>,
    lines: Vec<usize>,
}

impl SeriesDraft {
    fn new(row: &LogRow) -> Self {
        let (run, station) = (row.run.clone(), row.station);
        Self { run, station, z: Vec::new(), speeds: Vec::new(), times: Vec::new(), lines: Vec::new() }
    }

    fn add(&mut self, line: usize, cells: Cells) {
        self.z.push(cells.z);
        self.speeds.push(cells.speed);
        self.times.push(cells.time);
        self.lines.push(line);
    }

    fn close(self, plate: Option<String>) -> Option<TouchGroup> {
        let all =
            |cells: Vec<Option<f64>>| cells.into_iter().collect::<Option<Vec<f64>>>().unwrap_or_default();
        Some(TouchGroup {
            heights: Heights::of(&self.z)?,
            run: self.run,
            station: self.station,
            plate,
            z: self.z,
            speeds: all(self.speeds),
            times: all(self.times),
            lines: self.lines,
        })
    }
}
