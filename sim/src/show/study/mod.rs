//! A study for people and for programs: how good the switches are.

mod json;
mod page;
mod words;

pub use json::StudyJson;
pub(super) use page::enough;
pub use page::{StudyShown, page};
pub use words::findings;

use zdatum::Station;

use crate::files::pooled::PooledEntry;
use crate::study::Study;
use crate::study::latency::SwitchLatency;

/// Longest latency that a machine file holds, s.
const MOST_LATENCY: f64 = 0.1;

/// The `[pooled]` entries that a machine file can hold.
pub fn entries(study: &Study) -> Vec<PooledEntry> {
    let stations = study.stations.iter();
    stations.filter_map(|one| one.pooled.and_then(|(s, dof)| PooledEntry::of(one.station, s, dof))).collect()
}

/// A switch's latency as it may stand in a machine file, with its u; `None` where a drift may pass for it, or
/// where no file holds it.
pub fn latency_entry(switch: &SwitchLatency) -> Option<(f64, f64)> {
    let possible =
        switch.latency + 2.0 * switch.u >= 0.0 && switch.latency <= MOST_LATENCY && switch.u <= MOST_LATENCY;
    (switch.interleaved() && possible).then_some((switch.latency.max(0.0), switch.u))
}

/// Names of stations for a sentence.
fn named(stations: &[Station]) -> String {
    let words: Vec<&str> = stations.iter().map(|station| station.word()).collect();
    match words.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
