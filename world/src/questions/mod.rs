//! What many cycles are run for. Each question rests on the [`engine`](crate::engine), and none on another
//! but by the arrows below:
//!
//! - [`compare`]: which way of setting the height survives what may have changed;
//! - [`budget`]: which source makes the error, which makes cycles refused, and whether the stated interval
//!   agrees with the simulated one;
//! - [`sweep`]: one setting changed step by step;
//! - [`plan`]: which way of touching keeps a promise in the least time;
//! - [`coverage`]: how often the stated interval holds the true landing;
//! - [`scrape`]: how often an accepted landing lets the nozzle scrape;
//! - [`faulty`]: which faults are caught, and by what.
//!
//! Budget and sweep change the number of touches as the comparison does.

pub mod budget;
pub mod compare;
pub mod coverage;
pub mod faulty;
pub mod plan;
pub mod scrape;
pub mod sweep;
