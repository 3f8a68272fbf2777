//! The history, to be browsed. It is opened for each request and never written.

use std::path::Path;

use zdatum::Uncertainty;

use crate::files::{FileText, MachineFile};
use crate::history::replay::{PlateReplay, Watched};
use crate::history::touches::{NamedTouches, cycle_of};
use crate::history::{History, What};
use crate::judged::judge_one;
use crate::show::history::{minute, words};
use crate::show::report::{self, LandReport};
use crate::text::Problem;
use crate::text::name::shown;

/// All of it.
///
/// # Errors
/// It cannot be read.
pub(super) fn all(path: &Path) -> Result<String, Problem> {
    let mut history = History::open(path)?;
    let entries = history.read(|reader| reader.entries(false))?;
    let (plates, watched) = (PlateReplay::of(&entries), Watched::of(&entries, Uncertainty::ZERO, true));
    let name = history.name();
    let of = report::HistoryReport {
        name: &name,
        entries: &entries,
        plates: &plates,
        watched: &watched,
        buttons: true,
    };
    Ok(of.sections().iter().map(report::Section::html).collect())
}

/// One entry: its touches judged by the machine file of then.
///
/// # Errors
/// It cannot be read, or there is no such entry.
pub(super) fn entry(path: &Path, number: i64) -> Result<String, Problem> {
    let mut history = History::open(path)?;
    history.read(|reader| {
        let entry = reader.entry(number)?;
        let head = |body| report::Section {
            id: "entry-head",
            title: format!("Entry {number}, kept {} UTC", minute(entry.at)),
            body,
        };
        let cycle = match &entry.what {
            What::Cycle(cycle) => cycle,
            What::Event(event) => return Ok(head(maud::html! { p { (shown(&words(event))) } }).html()),
        };
        let named = NamedTouches {
            run: cycle.run.clone(),
            plate: cycle.plate.clone(),
            touches: reader.touches(number)?,
        };
        let machine =
            MachineFile::of(FileText::of("machine file at the time", &reader.setup(&cycle.setup)?))?;
        let (log, touched) = cycle_of(&named, "touches at the time")?;
        let judged = judge_one(&machine, touched, cycle.last)
            .map_err(|_| Problem::new("a cycle has too few touches"))?;
        let judged = [judged];
        let of = LandReport { machine: &machine, log: Some(&log), judged: &judged };
        let mut html = head(maud::html! { p { "Judged again by the machine file in use at the \
        time." } })
        .html();
        html.extend(of.sections()?.iter().map(report::Section::html));
        Ok(html)
    })
}
