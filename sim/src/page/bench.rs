//! The live bench: a campaign, the methods and the budget of a machine as it is set, within a bound on
//! cycles.

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use super::MOST_CYCLES;
use super::controls::{Changed, changed};
use crate::files::MachineFile;
use crate::show::campaign::{CampaignResult, FurtherAnswers};
use crate::show::chart::number;
use crate::show::report::SimulateReport;
use crate::text::Problem;
use zdatum_world::engine::{Bench, Campaign, campaign};
use zdatum_world::questions::budget::{Examination, examine};
use zdatum_world::questions::compare::{Method, Situation, compare};

/// Every stream of random numbers follows from it: what moves on the page comes from what was changed, not
/// from chance.
const SEED: u64 = 1;
/// Cells of the comparison.
const CELLS: u64 = (Method::ALL.len() * Situation::ALL.len()) as u64;
/// Most rows of the budget: everything on, 7 sources of the core, 8 growing parts, 5 of the world, twice as
/// many touches (two rows).
const ROWS: u64 = 1 + 7 + 8 + 5 + 2;

/// What came of it: sections by their ids, and all of it in a sentence.
pub(super) struct BenchSeen {
    pub(super) parts: BTreeMap<&'static str, String>,
    pub(super) says: String,
    /// Cycles that were run.
    pub(super) cycles: u64,
}

/// How many cycles each part has, for so many in all.
#[derive(Clone, Copy, Debug)]
struct CyclePlan {
    runs: u64,
    cell: u64,
    row: u64,
}

impl CyclePlan {
    /// A quarter for the errors, half for the methods, a quarter for the budget.
    fn of(cycles: u64) -> Self {
        Self { runs: cycles / 4, cell: cycles / 2 / CELLS, row: cycles / 4 / ROWS }
    }

    /// At most so many cycles.
    fn most(&self) -> u64 {
        self.runs + CELLS * self.cell + ROWS * self.row
    }
}

/// Runs the bench on the current `rayon` pool; stops soon after `stop` is set.
///
/// # Errors
/// Too many cycles, or settings that no machine could have.
pub(super) fn run(
    machine: &MachineFile,
    name: &str,
    set: &Changed,
    cycles: u64,
    stop: &AtomicBool,
) -> Result<BenchSeen, Problem> {
    if !(1_000..=MOST_CYCLES).contains(&cycles) {
        return Err(Problem::new(format!(
            "a request may ask for 1,000 to {MOST_CYCLES} cycles; this one asks for {cycles}"
        )));
    }
    let begun = Instant::now();
    let (machine, within) = changed(machine, set)?;
    let bench = Bench::new(machine.setup.clone(), &machine.noise, SEED);
    let plan = CyclePlan::of(cycles);
    let quiet = &|_| {};
    let what = Campaign { bench: &bench, first: 0, runs: plan.runs, within };
    let tally = campaign(&what, stop, quiet);
    let comparison = compare(&bench, plan.cell, within, stop, quiet);
    // No agreement: it takes blocks of ten thousand.
    let examination =
        Examination { growth_names: &machine.growth_names, bench: &bench, runs: plan.row, most: 0, within };
    let examined = examine(&examination, stop, quiet);

    let further = FurtherAnswers {
        comparison: Some(comparison),
        examined: Some(examined),
        ..FurtherAnswers::default()
    };
    let coverage = bench.setup.draft().accept.coverage.percent();
    let elapsed = begun.elapsed();
    let shown = CampaignResult {
        machine: name,
        seed: SEED,
        asked: plan.runs,
        within,
        coverage,
        tally: &tally,
        elapsed,
    };
    let of = SimulateReport { machine: &machine, campaign: &shown, further: &further };
    let wanted = ["in-short", "error", "budget", "methods", "refused"];
    let mut parts: BTreeMap<&'static str, String> =
        wanted.into_iter().map(|id| (id, String::new())).collect();
    for section in of.sections() {
        if let Some(part) = parts.get_mut(section.id) {
            *part = section.html();
        }
    }
    let mut says = match (tally.p_outside(), tally.sd()) {
        (Some(outside), Some(sd)) => format!(
            "{} % of first layers beyond ±{} µm; standard deviation {} µm; ",
            number(100.0 * outside.value, 2),
            number(1e3 * within, 1),
            number(1e3 * sd.value, 2)
        ),
        _ => "No cycle was accepted; ".into(),
    };
    let refused = tally.p_refused().map_or(0.0, |refused| refused.value);
    says.push_str(&format!(
        "{} % of cycles refused; a cycle takes {} s.",
        number(100.0 * refused, 2),
        number(tally.cycle_s_mean(), 0)
    ));
    Ok(BenchSeen { parts, says, cycles: plan.most() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::FileText;

    #[test]
    fn no_plan_runs_more_than_it_was_asked_for() {
        for cycles in [1_000, 1_001, 5_000, 20_000, 51_200, 99_999, 100_000] {
            let plan = CyclePlan::of(cycles);
            assert!(plan.most() <= cycles, "{cycles}: {plan:?}");
            assert!(plan.runs > 0);
        }
        assert!(CyclePlan::of(MOST_CYCLES).most() > 80_000, "the room is used");
    }

    #[test]
    fn the_bench_follows_what_is_set() {
        let text = crate::demo::MACHINE;
        let machine = MachineFile::of(FileText::of("machine.toml", text))
            .unwrap_or_else(|problem| panic!("{problem:?}"));
        let run = |set: &[(&str, f64)], cycles| {
            let set: Changed = set.iter().map(|(key, value)| ((*key).to_owned(), *value)).collect();
            run(&machine, "demo", &set, cycles, &AtomicBool::new(false))
        };
        let Ok(own) = run(&[], 20_000) else { panic!("no bench") };
        assert!(own.parts.values().all(|part| part.starts_with("<section")), "{:?}", own.parts.keys());
        assert!(own.parts["error"].contains("<svg") && own.parts["methods"].contains("<svg"));
        let Ok(noisy) = run(&[("plate", 12.0)], 20_000) else { panic!("no bench") };
        assert_ne!(own.parts["error"], noisy.parts["error"]);
        assert_ne!(own.says, noisy.says);
        let Ok(again) = run(&[], 20_000) else { panic!("no bench") };
        assert_eq!(own.parts, again.parts);
        assert!(run(&[], 100_001).is_err() && run(&[], 0).is_err());
    }
}
