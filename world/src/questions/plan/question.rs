//! What a plan is asked for.

use crate::engine::Bench;

/// Largest chance to be beyond the tolerance, where none is named.
pub const RISK: f64 = 0.001;
/// What a refused cycle costs beside its own time, s, where nothing is said (our own choice).
pub const REFUSED_COSTS: f64 = 120.0;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct PlanQuestion<'a> {
    /// Names of growing parts, in the setup's order.
    pub growth_names: &'a [String],
    /// The machine in the world.
    pub bench: &'a Bench,
    /// Tolerance of the first-layer error, mm.
    pub within: f64,
    /// Largest chance that an accepted first layer is beyond it.
    pub risk: f64,
    /// What a refused cycle costs beside its own time, s.
    pub refused_costs: f64,
}
