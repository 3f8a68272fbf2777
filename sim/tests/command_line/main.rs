//! The tool as a user runs it: exit code, standard output, standard error.

mod bad_log;
mod bad_machine;
mod beside;
mod coverage;
mod guide;
mod guide_history;
mod guide_terminal;
mod histogram;
mod history;
mod history_exchange;
mod history_whole;
mod land;
mod page;
mod plates_watch;
mod printing;
mod readme;
mod report;
mod report_whole;
mod setup;
mod simulate;
mod soak;
mod study;
mod tool;
mod trim;
