//! What the tests share: the oracle in exact rationals, the table of allowed errors, case generators and two
//! invented machines.
//!
//! The oracle shares no code with the core. It takes the same quantised inputs, as whole numbers of bits, and
//! computes with rationals, so it never rounds unless a rule says so.

pub mod allowed;
pub mod case;
pub mod generate;
pub mod lives;
pub mod model;
pub mod oracle;

pub use zdatum_machines as machine;
