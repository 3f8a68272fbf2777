//! The tool as a user runs it: exit code, standard output, standard error.

mod bad_log;
mod bad_machine;
mod beside;
mod guide;
mod guide_terminal;
mod histogram;
mod history;
mod history_exchange;
mod history_whole;
mod land;
mod page;
mod plan;
mod plates_watch;
mod printing;
mod report;
mod setup;
mod simulate;
mod soak;
mod study;
mod tool;
mod trim;
