//! The ground floor: names and numbers as they are shown, problems as they are told, documents in JSON. It
//! knows no other room.

pub mod json;
pub(crate) mod lines;
pub mod name;
pub mod number;
pub(crate) mod object;
pub mod problem;
pub mod written;

pub use object::Object;
pub use problem::Problem;
