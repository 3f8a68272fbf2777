//! One cycle in the world; many; and what many are compared for.

mod advice;
pub mod agreement;
pub mod campaign;
pub mod compare;
pub mod coverage;
pub mod cycle;
pub mod faulty;
pub mod figures;
mod gather;
pub mod histogram;
pub mod methods;
pub mod plan;
pub mod rare;
mod reasons;
pub mod recorded;
pub mod sensitivity;
pub mod shares;
pub mod situations;
mod sources;
pub mod sweep;
pub mod tally;
pub mod trial;
pub mod words;

pub use agreement::Agreement;
pub use campaign::{Campaign, campaign};
pub use compare::{Cell, Comparison, Grade, compare};
pub use coverage::{Coverage, coverage};
pub use cycle::{Bench, Ran, run, run_block};
pub use figures::Figures;
pub use methods::Method;
pub use plan::{Plan, plan};
pub use rare::{Rare, rare};
pub use sensitivity::{Sensitivity, sensitivity};
pub use shares::{Budget, Examination, Examined, examine};
pub use situations::{Situation, Sizes};
pub use sweep::{Sweep, Swept, sweep};
pub use tally::{Estimate, Share, Tally};

/// Told how many runs have been done since its last call, from any thread. One type for all, so that the code of campaigns is made
/// in this package.
pub type Progress<'a> = dyn Fn(u64) + Sync + 'a;

#[cfg(test)]
mod tests;
