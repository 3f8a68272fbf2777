//! What the timings and the instruction counts share; see `benches/landing.rs` and `src/bin/budget.rs` for
//! the two commands.

pub mod cases;
pub mod counted;
pub mod generic;
