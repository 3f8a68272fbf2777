//! Quantiles in fixed memory: counts in bins that are fine near zero and a fixed share of the error further
//! out, with the exact ends kept beside. The bins are the same whatever comes, so nothing need be known of
//! the errors beforehand.

use std::ops::Range;

/// Bins a mm next to zero: 2¹⁹, each 1.9 nm wide.
const PER_MM: f64 = 524_288.0;
/// Bins in every further doubling: 2¹³.
const DOUBLING: u32 = 13;
/// Further from zero, mm, than any error that the core's lengths allow; what lies beyond counts as this.
const REACH: f64 = 131_072.0;
/// Bins on either side of zero: 2¹⁴ narrow ones, then 2¹³ for each doubling up to the reach of 2³⁶ narrow
/// ones.
const HALF: usize = (36 - DOUBLING as usize + 1) << DOUBLING;

/// A histogram of errors. 393,216 counts; only memory of the bins near to errors that occurred is ever
/// touched.
#[derive(Clone, Debug)]
pub struct Histogram {
    counts: Vec<u64>,
    total: u64,
    min: f64,
    max: f64,
}

/// A quantile with what is known of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantile {
    /// The middle of the bin that holds the ⌈p·n⌉-th smallest error, never beyond the ends; mm.
    pub value: f64,
    /// Half that bin: how far `value` can be from the ⌈p·n⌉-th smallest error itself, mm. At most 0.96 nm
    /// within ±31 µm, at most 1/16,384 of the error further out.
    pub bound: f64,
    /// Standard error, mm: half the distance between the errors whose ranks are one binomial standard
    /// deviation √(n·p·(1 − p)) below and above (the distribution-free interval of order statistics). `None`
    /// where so few errors lie beyond that one of them is missing.
    pub error: Option<f64>,
}

impl Default for Histogram {
    fn default() -> Self {
        Self { counts: vec![0; 2 * HALF], total: 0, min: f64::INFINITY, max: f64::NEG_INFINITY }
    }
}

/// The bin of an error, the lowest errors first.
#[inline]
fn bin_of(error: f64) -> usize {
    // A power of two: no rounding before the cut.
    let narrow = (error.abs() * PER_MM).min(REACH * PER_MM - 1.0) as u64;
    // Narrow bins to be taken together, as a power of two: 0 up to 2¹⁴ of them.
    let shift = (narrow >> DOUBLING | 1).ilog2();
    let bin = ((shift as usize) << DOUBLING) + (narrow >> shift) as usize;
    if error < 0.0 { HALF - 1 - bin } else { HALF + bin }
}

/// Lower and upper end of a bin, mm.
fn ends_of(bin: usize) -> (f64, f64) {
    let (negative, from_zero) = if bin < HALF { (true, HALF - 1 - bin) } else { (false, bin - HALF) };
    let shift = (from_zero >> DOUBLING).saturating_sub(1);
    let narrow = ((from_zero - (shift << DOUBLING)) as u64) << shift;
    let (near, far) = (narrow as f64 / PER_MM, (narrow + (1 << shift)) as f64 / PER_MM);
    if negative { (-far, -near) } else { (near, far) }
}

fn middle_of(bin: usize) -> f64 {
    let (low, high) = ends_of(bin);
    (low + high) / 2.0
}

impl Histogram {
    /// Counts an error.
    #[inline]
    pub fn add(&mut self, error: f64) {
        if let Some(count) = self.counts.get_mut(bin_of(error)) {
            *count += 1;
        }
        self.total += 1;
        self.min = self.min.min(error);
        self.max = self.max.max(error);
    }

    /// Adds another's counts.
    pub fn merge(&mut self, other: &Self) {
        if let (Some(mine), Some(theirs)) =
            (self.counts.get_mut(other.occupied()), other.counts.get(other.occupied()))
        {
            for (mine, theirs) in mine.iter_mut().zip(theirs) {
                // Memory that holds nothing but zeros is not written to, and so never made.
                if *theirs > 0 {
                    *mine += theirs;
                }
            }
        }
        self.total += other.total;
        self.min = self.min.min(other.min);
        self.max = self.max.max(other.max);
    }

    /// Errors counted.
    pub fn total(&self) -> u64 {
        self.total
    }

    /// Smallest and largest error, exact.
    pub fn extremes(&self) -> Option<(f64, f64)> {
        (self.total > 0).then_some((self.min, self.max))
    }

    /// The error below which a share `p` lies; `None` where nothing was counted.
    pub fn quantile(&self, p: f64) -> Option<Quantile> {
        let n = self.total as f64;
        let rank = libm::ceil(p * n).clamp(1.0, n.max(1.0));
        let off = libm::sqrt(n * p * (1.0 - p));
        let (low, high) = (libm::round(rank - off), libm::round(rank + off));
        let bins = [low, rank, high].map(|rank| rank.clamp(1.0, n.max(1.0)) as u64);
        let [below, bin, above] = self.bins_of(bins)?;
        let known = low >= 1.0 && high <= n && high > low;
        let (start, end) = ends_of(bin);
        Some(Quantile {
            value: middle_of(bin).clamp(self.min, self.max),
            bound: (end - start) / 2.0,
            error: known.then(|| (middle_of(above) - middle_of(below)) / 2.0),
        })
    }

    /// Second and fourth moment about a mean, of the bins' middles: mm², mm⁴.
    pub(crate) fn moments(&self, mean: f64) -> (f64, f64) {
        let n = self.total as f64;
        let (mut squares, mut fourths) = (0.0, 0.0);
        for (bin, count) in self.bins() {
            let off = middle_of(bin) - mean;
            squares += count as f64 * (off * off);
            fourths += count as f64 * (off * off) * (off * off);
        }
        (squares / n, fourths / n)
    }

    /// Half the width of the bin that an error falls into, mm.
    pub(crate) fn bound_at(&self, error: f64) -> f64 {
        let (low, high) = ends_of(bin_of(error));
        (high - low) / 2.0
    }

    /// Counts between two errors in `columns` equal columns, for a chart. Errors outside fall into none.
    pub fn columns(&self, low: f64, high: f64, columns: usize) -> Vec<u64> {
        let mut out = vec![0; columns];
        let scale = columns as f64 / (high - low);
        for (bin, count) in self.bins() {
            let column = libm::floor((middle_of(bin) - low) * scale);
            let inside = column >= 0.0 && (column as usize) < columns;
            if let Some(slot) = out.get_mut(column as usize).filter(|_| inside) {
                *slot += count;
            }
        }
        out
    }

    /// Counts of errors below `x`, to the bin that holds it.
    pub fn below(&self, x: f64) -> u64 {
        self.bins().filter(|(bin, _)| middle_of(*bin) < x).map(|(_, count)| count).sum()
    }

    /// Bins of the errors with these ranks, which must rise.
    fn bins_of(&self, ranks: [u64; 3]) -> Option<[usize; 3]> {
        let mut seen = 0;
        let mut bins = self.bins();
        let mut bin = None;
        let [a, b, c] = ranks.map(|rank| {
            while seen < rank {
                let (next, count) = bins.next()?;
                seen += count;
                bin = Some(next);
            }
            bin
        });
        Some([a?, b?, c?])
    }

    /// Bins that hold something, the lowest first.
    fn bins(&self) -> impl Iterator<Item = (usize, u64)> + '_ {
        let occupied = self.occupied();
        let first = occupied.start;
        let counts = self.counts.get(occupied).unwrap_or(&[]);
        counts.iter().enumerate().filter(|(_, count)| **count > 0).map(move |(i, count)| (first + i, *count))
    }

    fn occupied(&self) -> Range<usize> {
        if self.total == 0 { 0..0 } else { bin_of(self.min)..bin_of(self.max) + 1 }
    }
}

#[cfg(test)]
mod tests;
