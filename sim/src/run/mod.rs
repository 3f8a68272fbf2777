//! One cycle in the world; many.

pub mod campaign;
pub mod cycle;
pub mod demo;
pub mod histogram;
pub mod recorded;
pub mod tally;

pub use campaign::{Campaign, campaign};
pub use cycle::{Bench, Ran, run, run_block};
pub use tally::{Estimate, Tally};
