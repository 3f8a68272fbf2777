//! Text for people, JSON for programs.

pub mod campaign;
pub mod charts;
pub mod explain;
pub mod history;
pub mod json;
pub mod land;
pub mod name;
pub mod number;
pub mod page;
pub mod plates;
pub mod problem;
pub mod suggestion;
pub mod trace;
pub mod trim;
pub mod watch;
