//! Cycles of the core's own in the simulated world: one, a campaign of them on all cores, and what they add
//! up to. What campaigns are run for stands in [`questions`](crate::questions).

pub mod campaign;
pub mod cycle;
pub mod figures;
pub(crate) mod gather;
pub mod histogram;
pub(crate) mod reasons;
pub mod tally;

pub use campaign::{Campaign, campaign};
pub use cycle::{Bench, Ran, run, run_block};
pub use figures::Figures;
pub use histogram::Histogram;
pub use tally::{Estimate, Share, Tally};

/// Told how many runs have been done since its last call, from any thread. One type for all, so that the code
/// of campaigns is made in this package.
pub type Progress<'a> = dyn Fn(u64) + Sync + 'a;
