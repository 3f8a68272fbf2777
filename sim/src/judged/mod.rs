//! Cycles judged by the core, in their order, each plate against its own last accepted span.

pub mod explained;
pub mod few;
pub mod json;

use std::collections::HashMap;

use zdatum::landing::{self, Landing, Touches};
use zdatum::refusal::Refusal;
use zdatum::{
    Assessment, Combined, LastSpan, Length, Ratio, Setup, Source, Station, Summary, TooFew, Uncertainty,
};

use crate::files::{LoggedCycle, MachineFile};
use crate::text::json::number;
use few::Few;
use zdatum_world::words::{reduced_by, words};

/// A cycle with its verdict.
#[derive(Clone, Debug)]
pub struct Judged {
    /// What was read.
    pub cycle: LoggedCycle,
    /// What the core says.
    pub assessment: Assessment,
    /// The span it was compared with, where there was one.
    pub last: Option<LastSpan>,
    /// Tip, shoulder, plate; `None` where a series cannot be held.
    pub summaries: [Option<Summary>; 3],
    /// What is wanted on top of the landing.
    pub wish: Length,
    /// The uncertainty budget, largest share first; empty where there is no [`Judged::uncertainty`].
    pub budget: Vec<BudgetShare>,
}

/// One source's part of the uncertainty.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct BudgetShare {
    /// Which, as the core knows it.
    #[serde(skip)]
    pub kind: Source,
    /// Which, in words.
    pub source: String,
    /// Its standard uncertainty.
    #[serde(serialize_with = "number")]
    pub u: Uncertainty,
    /// Its share of u².
    #[serde(serialize_with = "number")]
    pub share: Ratio,
    /// What would reduce it.
    pub reduced_by: &'static str,
}

impl Judged {
    /// The landing as far as it could be computed.
    pub fn seen(&self) -> Option<&Landing> {
        self.assessment.landing_seen()
    }

    /// u, ν, k and U of the landing seen; `None` where there is none, or where the touches have disproved what they
    /// rest on.
    pub fn uncertainty(&self) -> Option<&Combined> {
        self.assessment.uncertainty()
    }

    /// What the plate's next cycle is compared with, where this one is accepted.
    pub fn accepted_span(&self) -> Option<LastSpan> {
        let landing = self.assessment.landing()?;
        Some(LastSpan::new(landing.span, landing.span_variance))
    }

    /// Whether its interval rests on few touches.
    pub fn rests_on_few(&self, setup: &Setup) -> Option<Few> {
        Few::of(setup, &self.budget, |station| {
            let [tip, shoulder, plate] = &self.summaries;
            let summary = match station {
                Station::Tip => tip,
                Station::Shoulder => shoulder,
                Station::Plate => plate,
            };
            summary.as_ref().map(Summary::count)
        })
    }

    /// What is to be applied, landing and wish; `None` where refused.
    pub fn apply(&self) -> Option<Length> {
        self.assessment.landing().and_then(|landing| landing.height.plus(self.wish).ok())
    }

    /// All reasons to refuse.
    pub fn refusals(&self) -> &[Refusal] {
        self.assessment.refusals()
    }
}

/// A station with too few touches, in the cycle of that number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Malformed {
    /// Place of the cycle in the log.
    pub cycle: usize,
    /// What is missing.
    pub few: TooFew,
}

/// Judges cycles in order. `last` is what the first named plate, or an only cycle, is compared with.
///
/// # Errors
/// The first cycle in which a station has too few touches.
pub fn judge(
    machine: &MachineFile,
    cycles: Vec<LoggedCycle>,
    last: Option<LastSpan>,
) -> Result<Vec<Judged>, Malformed> {
    let mut accepted: HashMap<String, LastSpan> = HashMap::new();
    let mut judged = Vec::with_capacity(cycles.len());
    for (number, cycle) in cycles.into_iter().enumerate() {
        let last = last.or_else(|| cycle.plate.as_ref().and_then(|plate| accepted.get(plate).copied()));
        let one = judge_one(machine, cycle, last).map_err(|few| Malformed { cycle: number, few })?;
        if let (Some(span), Some(plate)) = (one.accepted_span(), &one.cycle.plate) {
            accepted.insert(plate.clone(), span);
        }
        judged.push(one);
    }
    Ok(judged)
}

/// Judges one cycle against a span.
///
/// # Errors
/// A station with too few touches.
pub fn judge_one(
    machine: &MachineFile,
    cycle: LoggedCycle,
    last: Option<LastSpan>,
) -> Result<Judged, TooFew> {
    let [tip, shoulder, plate] = &cycle.stations;
    let assessment = Assessment::of(&machine.setup, tip, shoulder, plate, last.as_ref())?;
    let budget = match (assessment.touches(), assessment.landing_seen(), assessment.uncertainty()) {
        (Some(touches), Some(landing), Some(_)) => shares(machine, &machine.setup, touches, landing),
        _ => Vec::new(),
    };
    let summaries =
        Station::ALL.map(|station| cycle.station(station).series.close(&machine.setup.method(station)).ok());
    let wish = machine.wish(cycle.plate.as_deref());
    Ok(Judged { cycle, assessment, last, summaries, wish, budget })
}

/// The uncertainty budget of a landing, largest share first. `setup` is the machine's, or one derived from
/// it.
pub fn shares(
    machine: &MachineFile,
    setup: &Setup,
    touches: &Touches,
    landing: &Landing,
) -> Vec<BudgetShare> {
    let Ok(terms) = landing::budget(setup, touches) else { return Vec::new() };
    let mut terms: Vec<_> = terms.iter().collect();
    terms.sort_by_key(|term| std::cmp::Reverse(term.variance));
    terms
        .into_iter()
        .map(|term| BudgetShare {
            kind: term.source,
            source: words(&machine.growth_names, term.source),
            u: term.variance.root(),
            share: landing.uncertainty.share(term),
            reduced_by: match term.source {
                Source::Touches(station) if term.variance <= setup.method(station).floor => FINER,
                source => reduced_by(&machine.setup, source),
            },
        })
        .collect()
}

/// At the floor Δ²/12 more touches change nothing.
const FINER: &str = "only a finer step";
