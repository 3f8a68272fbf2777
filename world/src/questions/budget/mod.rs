//! The uncertainty budget: source by source what the core states and what the simulated machine shows,
//! whether the two intervals agree, and what makes cycles refused.

mod advice;
pub mod agreement;
mod examine;
mod lines;
pub mod refusals;
mod sources;

pub use agreement::{Agreement, Agrees};
pub use examine::{Examination, Examined, examine};
pub use lines::{Budget, BudgetLine, MoreTouches};
