//! The simulated world against closed forms, its own rules and the project's promises: one program, so that it links once.

mod causes;
mod counting;
mod effects;
mod golden;
mod heat;
mod machines;
mod promises;
mod repeat;
mod sums;
mod supplement1;
mod truths;
