//! Builds the images of `tests/boards`, reads them, runs them in emulation.

pub mod boards;
pub mod budget;
pub mod builds;
pub mod counts;
pub mod emulate;
pub mod families;
pub mod ir;
pub mod profile;
pub mod report;
pub mod side_by_side;
pub mod sources;
pub mod symbols;
pub mod table;
pub mod vectors;
pub mod wasm;
