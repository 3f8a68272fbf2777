//! The entries whose instructions are counted: each one function that is never inlined, run once on prepared
//! inputs.

use std::hint::black_box;

use zdatum::budget::Combined;
use zdatum::cycle::{Cycle, Do, Event, Job, Outcome, ProbeState, Temperatures};
use zdatum::landing::{self, Conditions, Landing, Touches};
use zdatum::series::{CannotClose, Method, Station, Summary};
use zdatum::trim::{self, Check, Depth, Trimmed, Weighing};
use zdatum::{Assessment, Centre, Length, OutOfRange, ParseError, Ratio, Setup, Text, TooFew, Uncertainty};

use crate::cases::{self, Numbers, ROOM, Stations, Switches};

/// Inputs, made before anything is counted.
#[derive(Clone, Debug)]
pub struct Prepared {
    unstudied: Setup,
    studied: Setup,
    five: Stations,
    nine: Stations,
    touches: Touches,
    combined: Combined,
    terms: Vec<zdatum::Term>,
    known: Depth,
    check: Check,
    length: Length,
    text: String,
}

impl Default for Prepared {
    fn default() -> Self {
        let mut numbers = Numbers::new(2);
        let (unstudied, studied) = (cases::machine(Switches::Unstudied), cases::machine(Switches::Studied));
        let (five, nine) = (cases::cycle(&mut numbers, 5, 2, 0), cases::cycle(&mut numbers, 9, 2, 0));
        let touches = close_all(&unstudied, &five).expect("five touches per station");
        let combined = Landing::of(&unstudied, &touches).expect("a landing in range").uncertainty;
        let terms = landing::budget(&unstudied, &touches).expect("a budget in range").to_vec();
        let probe = unstudied.draft().probe;
        let length = Length::parse("-12.34567").expect("a length");
        let u = |text| Uncertainty::parse(text).expect("an uncertainty");
        let prepared = Self {
            known: Depth { t: probe.trip_depth, u: probe.trip_depth_u, speed: probe.trimmed_at_speed },
            check: Check {
                too_high: Length::parse("0.012").expect("a length"),
                wish: Length::ZERO,
                made_with: probe.trip_depth,
                speed: unstudied.draft().touch.fine_speed,
                gauge_u: u("0.002"),
                feel_u: u("0.01"),
                landing_u: u("0.003"),
            },
            unstudied,
            studied,
            five,
            nine,
            touches,
            combined,
            terms,
            length,
            text: "-12.34567".to_owned(),
        };
        // What is counted is the way of an accepted cycle: no entry may end early.
        for setup in [&prepared.unstudied, &prepared.studied] {
            assert!(assess(setup, &prepared.five).is_ok_and(|a| a.accepted()), "an accepted cycle");
            assert!(whole_cycle(setup, &prepared.five).is_some_and(|o| o.accepted()), "an accepted cycle");
        }
        prepared
    }
}

fn method(setup: &Setup, centre: Centre) -> Method {
    Method { centre, ..setup.method(Station::Tip) }
}

fn close_all(setup: &Setup, stations: &Stations) -> Result<Touches, CannotClose> {
    let [tip, shoulder, plate] = stations;
    Ok(Touches {
        tip: tip.series.close(&setup.method(Station::Tip))?,
        shoulder: shoulder.series.close(&setup.method(Station::Shoulder))?,
        plate: plate.series.close(&setup.method(Station::Plate))?,
        conditions: Conditions::of(&tip.readings, &shoulder.readings, &plate.readings),
    })
}

fn assess(setup: &Setup, stations: &Stations) -> Result<Assessment, TooFew> {
    let [tip, shoulder, plate] = stations;
    Assessment::of(setup, tip, shoulder, plate, None)
}

/// A machine that does as asked and trips where the script says: once above for the first approach, once for
/// settling, then the touches in their order.
fn whole_cycle(setup: &Setup, script: &Stations) -> Option<Outcome> {
    let mut cycle = Cycle::<ROOM>::new(setup, Job::full()).ok()?;
    let mut taken = 0_usize;
    loop {
        let event = match cycle.poll() {
            Do::Finished => return cycle.outcome(),
            Do::FindProbe { .. } => Event::Probe(ProbeState::PutBack),
            Do::Lift { .. } => Event::Lifted { open: true },
            Do::Move { .. } => {
                taken = 0;
                Event::Done
            }
            Do::Approach { station, .. } => {
                let [tip, shoulder, plate] = script;
                let heights = match station {
                    Station::Tip => tip,
                    Station::Shoulder => shoulder,
                    Station::Plate => plate,
                };
                // The first approach and the settling touch do not count.
                let z = *heights.series.touches().get(taken.saturating_sub(2))?;
                taken += 1;
                let at = Temperatures {
                    tool: heights.readings.tool,
                    bed: heights.readings.bed,
                    chamber: heights.readings.chamber,
                };
                Event::Tripped { z, at }
            }
            _ => Event::Done,
        };
        cycle.handle(event).ok()?;
    }
}

/// One function whose instructions are counted.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// Its name, in the budget file and as a symbol.
    pub name: &'static str,
    /// What it does.
    pub what: &'static str,
    /// Runs it once.
    pub run: fn(&Prepared),
}

macro_rules! entries {
    ($($what:literal $name:ident($p:ident) -> $out:ty $body:block)*) => {
        /// The functions themselves: their names are what the counting tool looks for.
        mod entry {
            use super::*;

            $(#[inline(never)]
            pub(super) fn $name($p: &Prepared) -> $out $body)*
        }

        /// All entries, in the order of the budget file.
        pub const ENTRIES: &[Entry] = &[$(Entry {
            name: stringify!($name),
            what: $what,
            run: |prepared| { let _ = black_box(entry::$name(black_box(prepared))); },
        },)*];
    };
}

entries! {
    "a series of 5 closed, mean"
    series_mean(p) -> Result<Summary, CannotClose> {
        p.five[0].series.close(&method(&p.unstudied, Centre::Mean))
    }
    "a series of 5 closed, median"
    series_median(p) -> Result<Summary, CannotClose> {
        p.five[0].series.close(&method(&p.unstudied, Centre::Median))
    }
    "a series of 9 closed, Hodges-Lehmann"
    series_hodges_lehmann(p) -> Result<Summary, CannotClose> {
        p.nine[0].series.close(&method(&p.unstudied, Centre::HodgesLehmann))
    }
    "landing with u, nu, k, U from three closed series"
    landing_closed(p) -> Result<Landing, OutOfRange> {
        Landing::of(&p.unstudied, &p.touches)
    }
    "landing with u, nu, k, U from 3 x 5 touches"
    landing_whole(p) -> Option<Landing> {
        Landing::of(&p.unstudied, &close_all(&p.unstudied, &p.five).ok()?).ok()
    }
    "the same with verdict, s from the touches"
    verdict_unstudied(p) -> Result<Assessment, TooFew> {
        assess(&p.unstudied, &p.five)
    }
    "the same with verdict, s from a study"
    verdict_studied(p) -> Result<Assessment, TooFew> {
        assess(&p.studied, &p.five)
    }
    "the share of every source of the budget"
    shares(p) -> u32 {
        p.terms.iter().map(|term| p.combined.share(term)).map(Ratio::to_bits).fold(0, u32::wrapping_add)
    }
    "a gauge check to a trip depth"
    trim_weighed(p) -> Result<Trimmed, OutOfRange> {
        trim::trim(&p.known, &[], &p.unstudied.draft().probe.delay, &p.check, Weighing::Weighed)
    }
    "a length from text of 9 characters"
    length_parsed(p) -> Result<Length, ParseError> {
        Length::parse(&p.text)
    }
    "a length to its shortest text"
    length_printed(p) -> Text {
        p.length.text()
    }
    "a whole cycle of 3 x (1 + 1 + 5) touches with its outcome, s from the touches"
    cycle_unstudied(p) -> Option<Outcome> {
        whole_cycle(&p.unstudied, &p.five)
    }
    "the same, s from a study"
    cycle_studied(p) -> Option<Outcome> {
        whole_cycle(&p.studied, &p.five)
    }
}
