//! From the touches of a log to cycles: the counted touches of each station and the means of what was read
//! beside them.

use std::collections::HashMap;

use zdatum::units::OutOfRange;
use zdatum::{Length, Readings, Recorded, Speed, Station, Temperature, TooFew};

use super::log::{Column, Log, LogRow};
use crate::text::Problem;
use crate::text::name::shown;

/// Most counted touches per station.
pub const MOST: usize = zdatum::series::MOST_TOUCHES;

/// One cycle's counted touches.
#[derive(Clone, Debug)]
pub struct LoggedCycle {
    /// Its name.
    pub run: String,
    /// The plate that was fitted, where it is named.
    pub plate: Option<String>,
    /// Tip, shoulder, plate.
    pub stations: [Recorded<MOST>; 3],
    /// Its first row in the log, where it comes from one.
    first_row: usize,
    means: [[Mean; 4]; 3],
}

/// A mean of readings, in bits of their quantity.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum: i64,
    count: i64,
}

impl Mean {
    fn add(&mut self, bits: Option<i64>) {
        if let Some(bits) = bits {
            self.sum += bits;
            self.count += 1;
        }
    }

    /// To the nearest bit, ties up.
    fn bits(self) -> Option<i64> {
        let (doubled, half_up) = (2 * self.count, 2 * self.sum + self.count);
        let down = half_up.checked_div(doubled)?;
        Some(if half_up.checked_rem(doubled)? < 0 { down - 1 } else { down })
    }

    fn value<T>(self, from_bits: fn(i64) -> Result<T, OutOfRange>) -> Option<T> {
        // A mean lies between its values, so it is in range.
        self.bits().and_then(|bits| from_bits(bits).ok())
    }
}

impl LoggedCycle {
    /// A cycle without touches.
    pub fn new(run: &str) -> Self {
        let stations = [Recorded::default(), Recorded::default(), Recorded::default()];
        Self { run: run.to_owned(), plate: None, stations, first_row: 0, means: Default::default() }
    }

    /// A station's touches.
    pub fn station(&self, station: Station) -> &Recorded<MOST> {
        let [tip, shoulder, plate] = &self.stations;
        match station {
            Station::Tip => tip,
            Station::Shoulder => shoulder,
            Station::Plate => plate,
        }
    }

    /// The same, to change it.
    pub fn station_mut(&mut self, station: Station) -> &mut Recorded<MOST> {
        let [tip, shoulder, plate] = &mut self.stations;
        match station {
            Station::Tip => tip,
            Station::Shoulder => shoulder,
            Station::Plate => plate,
        }
    }

    /// A station that is missing or has too few touches, at the cycle's first line of the log.
    pub fn too_few(&self, log: Option<&Log>, few: TooFew) -> Problem {
        let station = few.station.word();
        // Without a log the touches were given as options, named as the stations.
        let place = log.map_or_else(|| format!("--{station}"), |_| format!("run `{}`", shown(&self.run)));
        let title = match few.count {
            0 => format!("{place}: no counted touch at station `{station}`"),
            1 => format!("{place}: a single counted touch at station `{station}`"),
            n => format!("{place}: only {n} counted touches at station `{station}`"),
        };
        let problem = match log.and_then(|log| log.rows.get(self.first_row).map(|row| (log, row))) {
            Some((log, row)) => log.problem(row, Column::Run, title, "the run begins here"),
            None => Problem::new(title),
        };
        problem.remedy(
            "a cycle needs two counted touches or more at each of tip, shoulder and plate; a single one \
             will do where the machine file has a study's s for that station under [pooled]",
        )
    }
}

/// Groups a log's touches by run, in the order in which runs first appear.
///
/// # Errors
/// Numbers that cannot be read or held, a run that goes on behind another's touches or back in time, two
/// plates named in one run, more than 64 counted touches at a station.
pub fn cycles(log: &Log) -> Result<Vec<LoggedCycle>, Problem> {
    let mut cycles: Vec<LoggedCycle> = Vec::new();
    // The last row of each run so far, and its latest time with the row that has it.
    let mut last_rows: HashMap<&str, &LogRow> = HashMap::new();
    let mut latest: Option<(f64, &LogRow)> = None;
    let mut run: Option<&str> = None;
    for (number, row) in log.rows.iter().enumerate() {
        if run != Some(row.run.as_str()) {
            if let Some(before) = last_rows.get(row.run.as_str()) {
                return Err(resumed(log, before, row));
            }
            cycles.push(LoggedCycle { first_row: number, ..LoggedCycle::new(&row.run) });
            (run, latest) = (Some(row.run.as_str()), None);
        }
        last_rows.insert(&row.run, row);
        if let Some(cycle) = cycles.last_mut() {
            add(log, row, cycle)?;
        }
        if let Some(time) = log.value::<f64>(row, Column::Time)? {
            if let Some((_, before)) = latest.filter(|(latest, _)| time < *latest) {
                return Err(back_in_time(log, before, row));
            }
            latest = Some((time, row));
        }
    }
    for cycle in &mut cycles {
        for (recorded, [speed, tool, bed, chamber]) in cycle.stations.iter_mut().zip(cycle.means) {
            recorded.readings = Readings {
                speed: speed.value(Speed::from_bits),
                tool: tool.value(Temperature::from_bits),
                bed: bed.value(Temperature::from_bits),
                chamber: chamber.value(Temperature::from_bits),
            };
        }
    }
    Ok(cycles)
}

/// Touches of two fetches under one name would pass for one cycle.
fn resumed(log: &Log, before: &LogRow, row: &LogRow) -> Problem {
    let (from, on) = (log.line(before), log.line(row));
    let title = format!(
        "run `{}` ends on line {from} and goes on, behind another run, on line {on}",
        shown(&row.run)
    );
    log.problem(row, Column::Run, title, "the name again").remedy(
        "give each cycle its own run name, and keep a cycle's rows together: touches of two fetches are two cycles",
    )
}

fn back_in_time(log: &Log, before: &LogRow, row: &LogRow) -> Problem {
    let time = |row| shown(log.cell(row, Column::Time).unwrap_or(""));
    let title = format!(
        "column `time_s`: back from {} on line {} to {} on line {}, within run `{}`",
        time(before),
        log.line(before),
        time(row),
        log.line(row),
        shown(&row.run)
    );
    log.problem(row, Column::Time, title, "earlier than the touch before it").remedy(
        "give each cycle its own run name; the rows of a cycle stand in the order in which the touches were taken",
    )
}

fn add(log: &Log, row: &LogRow, cycle: &mut LoggedCycle) -> Result<(), Problem> {
    // Every cell is read, so that a log is either sound or refused, whichever touches count.
    let z = log.value::<Length>(row, Column::Z)?;
    let speed = log.value::<Speed>(row, Column::Speed)?;
    if speed == Some(Speed::ZERO) {
        let problem = log.problem(row, Column::Speed, "column `speed`: must be above zero", "seen here");
        return Err(problem.remedy("leave the cell empty where the speed is not known"));
    }
    let temperature = |column| log.value::<Temperature>(row, column);
    let readings = [temperature(Column::Tool)?, temperature(Column::Bed)?, temperature(Column::Chamber)?];

    if let Some(plate) = &row.plate {
        match &cycle.plate {
            Some(known) if known != plate => {
                let title = format!(
                    "run `{}` names two plates: `{}`, then `{}`",
                    shown(&cycle.run),
                    shown(known),
                    shown(plate)
                );
                return Err(log
                    .problem(row, Column::Plate, title, "the second")
                    .remedy("one cycle is one plate; give the touches on another plate a run of their own"));
            }
            _ => cycle.plate = Some(plate.clone()),
        }
    }
    let (true, Some(z)) = (row.counted, z) else { return Ok(()) };
    if cycle.station_mut(row.station).series.push(z).is_err() {
        let (run, station) = (shown(&cycle.run), row.station.word());
        let title = format!("run `{run}`: more than {MOST} counted touches at station `{station}`");
        return Err(log
            .problem(row, Column::Station, title, "one too many")
            .remedy("mark some as not counted, or give them a run of their own"));
    }
    if let Some([of_speed, others @ ..]) = cycle.means.get_mut(row.station as usize) {
        of_speed.add(speed.map(|value| i64::from(value.to_bits())));
        for (mean, reading) in others.iter_mut().zip(readings) {
            mean.add(reading.map(|value| i64::from(value.to_bits())));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::FileText;

    fn read(text: &str) -> Result<Vec<LoggedCycle>, Problem> {
        cycles(&Log::read(FileText::of("log.csv", text)).expect("a sound log"))
    }

    #[test]
    fn runs_keep_their_order() {
        let cycles = read("run,station,z\nb,tip,1\nb,tip,3\na,tip,2\n").expect("good");
        let runs: Vec<_> =
            cycles.iter().map(|cycle| (cycle.run.as_str(), cycle.stations[0].series.len())).collect();
        assert_eq!(runs, [("b", 2), ("a", 1)]);
    }

    #[test]
    fn a_run_that_was_left_is_over() {
        let problem = read("run,station,z\n# c\nb,tip,1\na,tip,2\nb,tip,3\n").expect_err("resumed");
        assert!(problem.title.contains("line 3") && problem.title.contains("line 5"), "{}", problem.title);
        assert_eq!(problem.place.map(|place| place.line), Some(5));
    }

    #[test]
    fn time_runs_forward_within_a_run() {
        let log = |times: [&str; 4]| {
            let rows = times.iter().zip(["a", "a", "a", "b"]).map(|(t, run)| format!("{run},tip,1,{t}\n"));
            read(&format!("run,station,z,time_s\n{}", rows.collect::<String>()))
        };
        assert!(log(["5", "", "5", "0"]).is_ok());
        let problem = log(["5", "", "4.9", "0"]).expect_err("back in time");
        assert!(problem.title.contains("line 2") && problem.title.contains("line 4"), "{}", problem.title);
    }

    #[test]
    fn readings_are_means_over_counted_touches_that_carry_one() {
        let cycles = read(
            "station,z,counted,tool_c,speed\ntip,1,yes,150,\ntip,1,yes,,2\ntip,1,no,999,9\ntip,1,yes,150.5,1\n",
        )
        .expect("good");
        let readings = cycles[0].stations[0].readings;
        assert_eq!(readings.tool, Temperature::parse("150.25").ok());
        assert_eq!(readings.speed, Speed::parse("1.5").ok());
        assert_eq!(readings.bed, None);
    }

    #[test]
    fn a_mean_is_rounded_once_ties_up() {
        let mean = |values: &[i64]| {
            let mut mean = Mean::default();
            values.iter().for_each(|v| mean.add(Some(*v)));
            mean.bits()
        };
        assert_eq!(
            (mean(&[1, 2]), mean(&[-1, -2]), mean(&[-3, -3, -2]), mean(&[])),
            (Some(2), Some(-1), Some(-3), None)
        );
    }

    #[test]
    fn one_run_is_one_plate() {
        let problem =
            read("run,station,z,plate\n1,tip,1,slate\n1,tip,1,\n1,tip,1,copper\n").expect_err("two plates");
        assert_eq!(problem.place.as_ref().map(|place| place.line), Some(4));
        assert!(problem.title.contains("slate") && problem.title.contains("copper"));
    }

    #[test]
    fn sixty_four_touches_are_held() {
        let log = |n: usize| format!("station,z\n{}", "tip,1\n".repeat(n));
        assert!(read(&log(64)).is_ok());
        let problem = read(&log(65)).expect_err("too many");
        assert_eq!(problem.place.map(|place| place.line), Some(66));
    }

    #[test]
    fn cells_of_touches_that_do_not_count_are_read_too() {
        for cell in ["tip,x,no,1,1", "tip,1,no,0,1", "tip,1,no,1,inf"] {
            assert!(read(&format!("station,z,counted,speed,time_s\n{cell}\n")).is_err(), "{cell}");
        }
    }
}
