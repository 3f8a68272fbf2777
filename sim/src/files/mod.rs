//! Files: touch logs, machine files, and replacing a file so that a crash leaves it whole.

pub mod checks;
pub mod cycles;
pub mod file_text;
mod keys;
pub mod log;
pub mod machine;
pub mod pooled;
mod quotes;
mod remedies;
pub mod replace;
pub mod wish;

pub use cycles::LoggedCycle;
pub use file_text::FileText;
pub use machine::MachineFile;

/// A commented machine file to start from: what `setup --new` writes, and what the guide fills in.
pub const TEMPLATE: &str = include_str!("new.toml");
