//! The simulated world against closed forms, its own rules and the project's promises: one program, so that
//! it links once.

mod agreement;
mod causes;
mod compared;
mod contract;
mod counting;
mod effects;
mod examined;
mod faulty;
mod golden;
mod heat;
mod machines;
mod normals;
mod owners;
mod promises;
mod quick;
mod rare;
mod repeat;
mod sums;
mod supplement1;
mod swept;
mod truths;
