//! Does the core's interval agree with the simulated one? JCGM 101:2008 (Supplement 1 to the GUM), 7.7, 7.9 and 8.1; their rules
//! *from memory*.

use super::tally::Estimate;

/// The core's interval beside the simulated one.
#[derive(Clone, Debug, PartialEq)]
pub struct Agreement {
    /// Coverage probability p, 0 to 1: the machine file's.
    pub coverage: f64,
    /// What the core states of its own error.
    pub stated: Stated,
    /// What the simulated machine shows.
    pub simulated: Simulated,
    /// With two significant digits of u, then with one.
    pub checks: Vec<Check>,
}

/// An interval as the law of propagation states it. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// The estimate: 0, since the core holds its landing to be right on average.
    pub y: f64,
    /// Its standard uncertainty: root of the mean u² over accepted cycles.
    pub u: f64,
    /// U: mean over accepted cycles.
    pub expanded: f64,
}

/// What blocks of trials come to, each with the standard error that the blocks show. Lengths in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Simulated {
    /// Blocks.
    pub blocks: u64,
    /// Trials in all.
    pub trials: u64,
    /// Of them accepted: those that have an error.
    pub accepted: u64,
    /// Mean.
    pub y: Estimate,
    /// Standard deviation.
    pub u: Estimate,
    /// Lower end of the probabilistically symmetric interval.
    pub low: Estimate,
    /// Upper end.
    pub high: Estimate,
    /// Whether all four are known to a fifth of the tolerance of two digits (7.9.4, as 8.1 asks); else the trials allowed ran out.
    pub stable: bool,
}

/// One comparison of 8.1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Check {
    /// Significant digits of u.
    pub digits: u32,
    /// The numerical tolerance δ, mm.
    pub delta: f64,
    /// |y − U − y_low|, with the standard error of y_low, mm.
    pub low: Estimate,
    /// |y + U − y_high|, with the standard error of y_high, mm.
    pub high: Estimate,
    /// The answer.
    pub agrees: Agrees,
}

/// Whether two intervals agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agrees {
    /// Both ends are within δ.
    Yes,
    /// One is not.
    No,
    /// An end is so near to δ that more trials would have to tell.
    TooClose,
}
