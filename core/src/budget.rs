//! What each source adds; u, effective degrees of freedom, k and U.
//!
//! The law of propagation for independent inputs (JCGM 100:2008, 5.1.2), effective degrees of freedom by
//! Welch–Satterthwaite (G.4.1), coverage factor from Student's t (G.3). Each term comes as cᵢ²·u²(xᵢ) with
//! its degrees of freedom νᵢ:
//!
//! ```text
//!     u²  = Σ uᵢ²            ν = u⁴ / Σ (uᵢ⁴ / νᵢ)            U = k(ν)·u
//! ```

use core::num::NonZeroU32;

use crate::arith::{self, Bounded};
use crate::tables;
use crate::units::{OutOfRange, Ratio, Uncertainty, Variance};

/// Degrees of freedom: a whole number from 1 up, or infinite.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Dof(NonZeroU32);

impl Dof {
    /// Known exactly, as a rectangular limit from a data sheet is taken to be (JCGM 100:2008, G.4.3).
    pub const INFINITE: Self = Self(NonZeroU32::MAX);

    /// So many; the highest `u32` stands for infinite.
    pub const fn new(nu: NonZeroU32) -> Self {
        Self(nu)
    }

    /// The number, or `None` where infinite.
    pub const fn finite(self) -> Option<u32> {
        if self.0.get() == u32::MAX { None } else { Some(self.0.get()) }
    }
}

/// How often the stated interval shall hold the true value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Coverage {
    /// 90 %.
    P90,
    /// 95 %.
    #[default]
    P95,
    /// 99 %.
    P99,
}

impl Coverage {
    /// All that can be asked for.
    pub const ALL: [Coverage; 3] = [Coverage::P90, Coverage::P95, Coverage::P99];

    /// In per cent.
    pub const fn percent(self) -> u8 {
        match self {
            Coverage::P90 => 90,
            Coverage::P95 => 95,
            Coverage::P99 => 99,
        }
    }

    /// Two-sided coverage factor k of Student's t, the normal's where `dof` is infinite; within 0.02 % of the
    /// exact one.
    pub fn factor(self, dof: Dof) -> Ratio {
        let bits = match dof.finite() {
            None => pick(&tables::NORMAL_K, self),
            // Through `try_from`: where a `usize` has 16 bits, a cast would find a small ν's row for a large
            // one.
            Some(nu) => match usize::try_from(nu.wrapping_sub(1)).ok().and_then(|i| tables::STUDENT_T.get(i))
            {
                Some(row) => pick(row, self),
                None => student_by_series(self, nu),
            },
        };
        Ratio::from_bits(i64::from(bits)).unwrap_or(Ratio::ZERO)
    }
}

/// One coverage's entry of a row of tables.
fn pick(row: &[u32; 3], coverage: Coverage) -> u32 {
    let [p90, p95, p99] = row;
    *match coverage {
        Coverage::P90 => p90,
        Coverage::P95 => p95,
        Coverage::P99 => p99,
    }
}

/// What an uncertainty comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Scatter of the touches at a station.
    Touches(crate::series::Station),
    /// The probe's trip depth.
    TripDepth,
    /// Latency of the probe's switch, at a speed other than that of the trim.
    PlateLatency,
    /// Latency of the datum switch, with unequal speeds at tip and shoulder.
    DatumLatency,
    /// A part that grows between touch and print, by its place in the setup.
    Growth(u8),
    /// Readings of one sensor, which all parts that follow it share.
    Readings(crate::setup::Follows),
    /// Growth of the frame that is still to come.
    Soak,
    /// The tip's switch, from series to series, beyond the scatter within.
    TipBetween,
    /// Seat and switches between shoulder and plate, from series to series, beyond the scatter within.
    SpanBetween,
    /// What three touches cannot show.
    Unseen,
    /// Any other input, for sums that are not a landing's.
    Other(u8),
}

/// One input's share: cᵢ²·u²(xᵢ) with its degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Term {
    /// Where it comes from.
    pub source: Source,
    /// What it adds to u².
    pub variance: Variance,
    /// How well that is known.
    pub dof: Dof,
}

/// The combined standard uncertainty with what follows from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Combined {
    /// u², before any rounding to a length.
    pub variance: Variance,
    /// u.
    pub u: Uncertainty,
    /// ν, truncated to the next lower whole number; a value within 2⁻¹⁶ below a whole number counts as that
    /// number.
    pub dof: Dof,
    /// k at the asked coverage and this ν.
    pub factor: Ratio,
    /// U = k·u, formed from the wide root.
    pub expanded: Uncertainty,
}

impl Combined {
    /// Room for one that is yet to be combined.
    pub(crate) const OPEN: Self = Self {
        variance: Variance::ZERO,
        u: Uncertainty::ZERO,
        dof: Dof::INFINITE,
        factor: Ratio::ZERO,
        expanded: Uncertainty::ZERO,
    };

    /// Combines independent terms.
    ///
    /// # Errors
    /// *Out of range* where u is 4 mm or more, or U 256 mm or more.
    pub fn of(terms: &[Term], coverage: Coverage) -> Result<Self, OutOfRange> {
        let mut sum = Self::OPEN;
        sum.combine(Variance::ZERO, terms.iter().map(|term| (term.variance, term.dof)), coverage)?;
        Ok(sum)
    }

    /// Combines terms with `known`, the sum of all that have infinite degrees of freedom.
    #[inline]
    pub(crate) fn combine(
        &mut self,
        known: Variance,
        terms: impl Iterator<Item = (Variance, Dof)> + Clone,
        coverage: Coverage,
    ) -> Result<(), OutOfRange> {
        self.variance = known;
        for (own, _) in terms.clone() {
            self.variance = self.variance.plus(own)?;
        }
        self.dof = effective_dof(self.variance, terms);
        self.factor = coverage.factor(self.dof);
        let root = self.variance.root_bits();
        self.u = Uncertainty::of_root(root);
        self.expanded = expand_root(root, self.factor)?;
        Ok(())
    }

    /// A term's share of u², 0 to 1; 0 where u² is 0.
    pub fn share(&self, term: &Term) -> Ratio {
        if self.variance == Variance::ZERO {
            return Ratio::ZERO;
        }
        // Both are shifted to leave the doubling in `ratio_bits` its room.
        let (part, whole) = (term.variance.to_bits() >> 1, (self.variance.to_bits() >> 1).max(1));
        Ratio::from_bits(arith::ratio_bits(part, whole, 16) as i64).unwrap_or(Ratio::ONE)
    }
}

/// k·√variance, to the nearest 2⁻²⁴ mm.
///
/// # Errors
/// *Out of range* from 256 mm up.
pub fn expand(variance: Variance, factor: Ratio) -> Result<Uncertainty, OutOfRange> {
    expand_root(variance.root_bits(), factor)
}

/// [`expand`] from the root in 2⁻³⁰ mm.
fn expand_root(root: u32, factor: Ratio) -> Result<Uncertainty, OutOfRange> {
    // Root in 2^-30, factor in 2^-16: the product in 2^-46.
    let product = u64::from(root).times(u64::from(factor.to_bits()));
    Uncertainty::from_bits((product.saturating_add(1 << 21) >> 22) as i64)
}

/// Welch–Satterthwaite's ν over the terms whose degrees of freedom are finite, truncated.
///
/// Against exact arithmetic on the terms as given, each sum is off by at most about 3 · terms · ν / 2⁶² of
/// its value: up to ν = 2²⁰ the floor is exact but where the exact value lies within some 2⁻²⁰ of a boundary;
/// far above it is a few parts in 10⁸. From 2³² − 1 up ν counts as infinite.
#[inline]
fn effective_dof(total: Variance, terms: impl Iterator<Item = (Variance, Dof)>) -> Dof {
    // One common shift brings u² into [2^63, 2^64), so that no square loses more than the last of its 64
    // bits.
    let shift = total.to_bits().leading_zeros();
    let square_of = |v: Variance| arith::square_high(v.to_bits() << (shift & 63));
    // Squares of neighbours with equal ν are divided together: three stations of five touches cost one
    // division. All sums stay below u⁴.
    let (mut denominator, mut squares, mut nu) = (0_u64, 0_u64, 1_u32);
    let over = |squares: u64, nu: u32| arith::div_small(squares, nu).unwrap_or(0);
    for (variance, dof) in terms {
        if let Some(own) = dof.finite() {
            if own != nu {
                denominator = denominator.plus(over(squares, nu));
                (squares, nu) = (0, own);
            }
            squares = squares.plus(square_of(variance));
        }
    }
    denominator = denominator.plus(over(squares, nu));
    let numerator = square_of(total);
    let Some(whole) = arith::div_wide(numerator, denominator) else { return Dof::INFINITE };
    let rest = numerator.minus(whole.times(denominator));
    let nearly_next = denominator.minus(rest) <= denominator >> 16;
    let nu = whole.plus(u64::from(nearly_next));
    match u32::try_from(nu).ok().and_then(NonZeroU32::new) {
        Some(nu) => Dof::new(nu),
        // ν ≥ min νᵢ ≥ 1 by its formula: only the upper end can be left.
        None => Dof::INFINITE,
    }
}

/// Student's t for ν ≥ 33 by its expansion in 1/ν about the normal quantile (Abramowitz and Stegun, 26.7.5),
/// in Q16.
fn student_by_series(coverage: Coverage, nu: u32) -> u32 {
    let [p90, p95, p99] = &tables::T_SERIES;
    let [c1, c2, c3] = match coverage {
        Coverage::P90 => p90,
        Coverage::P95 => p95,
        Coverage::P99 => p99,
    };
    // 1/ν in Q20, below 2^15; coefficients are Q13 below 2^17, so every product fits 32 bits. The last shift
    // leads to Q16.
    let x = (1_u32 << 20).checked_div(nu).unwrap_or(0);
    let h = c2.plus(c3.times(x) >> 20);
    let h = c1.plus(h.times(x) >> 20);
    pick(&tables::NORMAL_K, coverage).plus(h.times(x) >> 17)
}
