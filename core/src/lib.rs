#![doc = include_str!("../README.md")]
#![no_std]
#![forbid(unsafe_code)]

#[cfg(feature = "float")]
mod float;

mod arith;
pub mod budget;
pub mod cycle;
mod decimal;
pub mod landing;
mod level;
pub mod plates;
pub mod refusal;
pub mod series;
pub mod setup;
mod tables;
pub mod trim;
pub mod units;
pub mod verdict;
pub mod watch;

pub use budget::{Combined, Coverage, Dof, Source, Term};
pub use decimal::{ParseError, Text};
pub use landing::{Landing, Touches};
pub use plates::{Name, Named, Plate, PlateBook, Recognised};
pub use refusal::{Amount, Refusal, RefusalKind, Refusals};
pub use series::{Centre, Pooled, Readings, Series, Station, Summary};
pub use setup::{BadSetup, Draft, Setup};
pub use units::{
    Growth, Latency, Length, OutOfRange, Ratio, Speed, Step, Temperature, Uncertainty, Variance, Warming,
    Wide,
};
pub use verdict::{Assessment, Expected, LastSpan, Recorded, TooFew};
pub use watch::{Cause, Change, Diagnosis, Observed, Watch};
