//! How good the switches are: statistics of recorded touches, for the desk.
//!
//! Heights are held exactly as decimals and worked on as differences from the middle one of their series, in
//! double precision: so heights of 10¹² with a noise of 0.1 lose nothing. Nothing here is used by a landing;
//! what a study finds goes into the machine file as its `[pooled]` table.

pub mod anova;
pub mod capability;
pub mod growth;
pub mod heights;
pub mod latency;
pub mod line;
pub mod normality;
pub mod outliers;
pub mod read;
pub mod seating;
pub mod series;
pub mod soak;
pub mod sums;
pub mod whole;

pub use read::{Groups, TouchGroup};
pub use whole::{StationStudy, Study};
