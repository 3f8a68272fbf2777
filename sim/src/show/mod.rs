//! Text for people, JSON for programs.

pub mod budget;
pub mod campaign;
pub mod chart;
pub mod charts;
pub mod compare;
pub mod coverage;
pub mod explain;
pub mod faults;
pub mod figures;
mod histogram;
pub mod history;
pub mod land;
pub mod pictures;
pub mod plan;
pub mod plates;
pub mod refusal_sources;
pub mod report;
pub mod scrape;
pub mod soak;
pub mod study;
pub mod suggestion;
pub mod sweep;
pub mod trace;
pub mod trim;
pub mod watch;
