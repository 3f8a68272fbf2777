//! One cycle in the world; many.

pub mod campaign;
pub mod cycle;
pub mod histogram;
pub mod tally;

pub use campaign::{Campaign, campaign};
pub use cycle::{Bench, Ran, run, run_block};
pub use tally::{Estimate, Tally};
