//! Files: touch logs, machine files, the history, and replacing a file so that a crash leaves it whole.

pub mod checks;
pub mod cycles;
pub mod history;
mod keys;
pub mod log;
pub mod machine;
pub mod pooled;
mod quotes;
mod remedies;
pub mod replace;
pub mod source;
pub mod written;

pub use cycles::Cycle;
pub use machine::Machine;
pub use source::{Problem, Source};
