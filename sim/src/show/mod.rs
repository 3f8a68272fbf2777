//! Text for people, JSON for programs.

pub mod budget;
pub mod campaign;
pub mod chart;
pub mod charts;
pub mod compare;
pub mod coverage;
pub mod explain;
pub mod figures;
pub mod guide;
mod histogram;
pub mod history;
pub mod json;
pub mod land;
pub mod name;
pub mod number;
pub mod page;
pub mod pictures;
pub mod plates;
pub mod problem;
pub mod report;
pub mod soak;
pub mod study;
pub mod suggestion;
pub mod sweep;
pub mod trace;
pub mod trim;
pub mod watch;
