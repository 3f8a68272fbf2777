//! The one table of allowed errors, and the ledger that holds results against it.

use std::cell::RefCell;

use proptest::test_runner::{TestCaseError, TestCaseResult};

macro_rules! operations {
    ($($(#[$doc:meta])* $name:ident: $limit:expr, $unit:literal;)*) => {
        /// What the core computes and the oracle checks.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Operation { $($(#[$doc])* $name,)* }

        impl Operation {
            /// All of them.
            pub const ALL: &'static [Operation] = &[$(Operation::$name,)*];

            /// Largest error against exact rational arithmetic on the quantised inputs, with its unit.
            pub const fn allowed(self) -> (f64, &'static str) {
                match self { $(Operation::$name => ($limit, $unit),)* }
            }
        }
    };
}

operations! {
    /// Mean of a series.
    Mean: 0.5, "2^-32 mm";
    /// Median of a series.
    Median: 0.0, "2^-32 mm";
    /// Hodges–Lehmann centre of a series.
    HodgesLehmann: 0.0, "2^-32 mm";
    /// u² of a series' centre.
    StationVariance: 1.5, "2^-60 mm²";
    /// Sample standard deviation.
    SampleDeviation: 1.0, "2^-24 mm";
    /// Least-squares slope per touch.
    Slope: 0.5, "2^-16 mm";
    /// How far a series walked.
    Walked: 0.5, "2^-16 mm";
    /// How far a series may walk, never stated too small.
    WalkLimit: 1.01, "2^-16 mm";
    /// von Neumann's ratio.
    VonNeumann: 0.5, "2^-16";
    /// L.
    Landing: 1.0, "2^-16 mm";
    /// d.
    Drop: 1.0, "2^-16 mm";
    /// r.
    Rise: 1.0, "2^-16 mm";
    /// P − S.
    Span: 1.0, "2^-16 mm";
    /// Correction for speed.
    SpeedCorrection: 1.0, "2^-16 mm";
    /// Correction for growth.
    GrowthCorrection: 1.0, "2^-16 mm";
    /// Correction for growth still to come.
    SoakCorrection: 0.5, "2^-16 mm";
    /// u.
    Uncertainty: 2.0, "2^-24 mm";
    /// u of the span.
    SpanUncertainty: 2.0, "2^-24 mm";
    /// √ of a budget term.
    Term: 1.0, "2^-24 mm";
    /// A source's share of u².
    Share: 1.0, "2^-16";
    /// ν up to 2²⁰: 0 where it is the exact floor.
    Dof: 0.0, "1";
    /// ν above 2²⁰, where k no longer depends on it.
    LargeDof: 1e-7, "relative";
    /// k at the ν found.
    Factor: 0.05, "%";
    /// U beyond 0.05 % of itself.
    Expanded: 2.0, "2^-24 mm beyond 0.05 %";
    /// U against the core's own k, so that 0.05 % hide nothing.
    ExpandedAtFactor: 2.0, "2^-24 mm";
    /// t after a check, from 0.1 µm of uncertainty in all up.
    TrimDepth: 1.0, "2^-16 mm";
    /// u(t) after a check; the most where a depth known to 4 mm is trimmed to 4 µm.
    TrimUncertainty: 5.0, "2^-24 mm";
    /// K, from 0.1 µm of uncertainty in all up.
    TrimWeight: 1.0, "2^-16";
    /// |i| in units of its standard uncertainty, from 0.1 µm of that up.
    TrimDisagreement: 1e-5, "relative, beyond 2^-16";
    /// Steps to a height.
    StepLength: 0.5, "2^-16 mm";
    /// Δ²/12.
    RoundingVariance: 0.5, "2^-60 mm²";
    /// An uncertainty squared.
    Square: 0.0, "2^-60 mm²";
    /// A rectangular half width to u².
    ThirdOfSquare: 0.5, "2^-60 mm²";
    /// The root of a variance.
    Root: 0.52, "2^-24 mm";
    /// An uncertainty as a length, never too small.
    Ceil: 1.0, "2^-16 mm";
    /// A wide length rounded, ties up.
    Round: 0.5, "2^-16 mm";
    /// Decimal text to bits: 0 where it is the nearest, ties away from zero.
    Parse: 0.0, "bits";
    /// Bits to decimal text and back.
    Text: 0.0, "bits";
    /// Floors and overruns, never on the unsafe side.
    Floor: 6.0, "2^-16 mm";
    /// Heights of lateral moves.
    Clear: 0.0, "2^-16 mm";
    /// Mean of a plate's spans.
    PlateSpan: 0.51, "2^-16 mm";
    /// Scatter of a plate's spans, and of the book's; the u of its mean.
    PlateSpread: 1.01, "2^-24 mm";
    /// How far two plates must stand apart, never too little, at the core's own k.
    PlatesApart: 2.1, "2^-16 mm";
    /// U of a reading by its formula, for readings from 0.1 µm of uncertainty up.
    Score: 2.0, "2^-16 beyond 1e-5";
    /// An EWMA.
    Ewma: 1.0, "2^-16";
    /// A CUSUM.
    Cusum: 0.0, "2^-16";
    /// An EWMA's limit.
    EwmaLimit: 1.0, "2^-16";
    /// What a cause has moved, beyond 0.02 %.
    Shift: 2.0, "2^-16 mm beyond 0.02 %";
    /// χ² of a cause.
    Misfit: 1e-3, "relative, beyond 0.01";
    /// A double to bits and back.
    Float: 0.5, "bits";
}

/// Worst errors of one test.
#[derive(Debug)]
pub struct Ledger {
    operations: &'static [Operation],
    seen: RefCell<Vec<(u64, f64)>>,
}

impl Ledger {
    /// For a test that covers these operations.
    pub fn new(operations: &'static [Operation]) -> Self {
        Self { operations, seen: RefCell::new(vec![(0, 0.0); operations.len()]) }
    }

    /// Records an error and holds it against the table.
    pub fn see(&self, operation: Operation, error: f64) -> TestCaseResult {
        let place = self.operations.iter().position(|o| *o == operation).expect("a declared operation");
        let (count, worst) = &mut self.seen.borrow_mut()[place];
        *count += 1;
        *worst = worst.max(error);
        let (limit, unit) = operation.allowed();
        if error <= limit {
            return Ok(());
        }
        Err(TestCaseError::fail(format!("{operation:?}: off by {error} [{unit}], allowed {limit}")))
    }

    /// Prints the worst errors; fails where an operation was declared and never checked.
    pub fn close(&self) {
        for (operation, (count, worst)) in self.operations.iter().zip(self.seen.borrow().iter()) {
            let (limit, unit) = operation.allowed();
            let shown = if *worst < 1e-3 { format!("{worst:.1e}") } else { format!("{worst:.4}") };
            println!("worst {operation:?}: {shown} of {limit} allowed, {unit}, {count} checks");
            assert!(*count > 0, "{operation:?} was never checked");
        }
    }
}
