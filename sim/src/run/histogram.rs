//! Quantiles in fixed memory: counts in bins of equal width, with the exact ends kept beside.

use crate::world::switches::nearest_whole;

/// Bins on either side of zero.
const HALF: usize = 1 << 15;
/// Further from zero than any bin, and well within what can be rounded.
const REACH: f64 = (1 << 20) as f64;

/// A histogram of errors around zero. 65,536 counts, 512 KiB, however many errors come.
#[derive(Clone, Debug)]
pub struct Histogram {
    width: f64,
    per_mm: f64,
    counts: Vec<u64>,
    total: u64,
    min: f64,
    max: f64,
}

impl Histogram {
    /// For errors of about this standard deviation: bins of its 512th part, out to 64 of it; what lies beyond falls into the
    /// outermost bins.
    pub fn around(sd: f64) -> Self {
        let width = if sd > 0.0 { sd / 512.0 } else { 1e-6 };
        Self {
            width,
            per_mm: 1.0 / width,
            counts: vec![0; 2 * HALF],
            total: 0,
            min: f64::INFINITY,
            max: f64::NEG_INFINITY,
        }
    }

    /// Counts an error.
    #[inline]
    pub fn add(&mut self, error: f64) {
        // The nearest whole number to x − ½ is ⌊x⌋; an error on the very edge of a bin may fall to either side.
        let bin = nearest_whole((error * self.per_mm - 0.5).clamp(-REACH, REACH)) + HALF as i64;
        let bin = bin.clamp(0, 2 * HALF as i64 - 1) as usize;
        if let Some(count) = self.counts.get_mut(bin) {
            *count += 1;
        }
        self.total += 1;
        self.min = self.min.min(error);
        self.max = self.max.max(error);
    }

    /// Adds another's counts; both must have the same width.
    pub fn merge(&mut self, other: &Self) {
        for (mine, theirs) in self.counts.iter_mut().zip(&other.counts) {
            *mine += theirs;
        }
        self.total += other.total;
        self.min = self.min.min(other.min);
        self.max = self.max.max(other.max);
    }

    /// Half a bin: how far a quantile inside the histogram's reach can be off.
    pub fn resolution(&self) -> f64 {
        self.width / 2.0
    }

    /// Errors counted.
    pub fn total(&self) -> u64 {
        self.total
    }

    /// Smallest and largest error, exact.
    pub fn extremes(&self) -> Option<(f64, f64)> {
        (self.total > 0).then_some((self.min, self.max))
    }

    /// The error below which a share `p` lies: the middle of the bin that holds the ⌈p·n⌉-th smallest, never beyond the ends.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        if self.total == 0 {
            return None;
        }
        let rank = (libm::ceil(p * self.total as f64) as u64).clamp(1, self.total);
        let mut seen = 0;
        let bin = self.counts.iter().position(|count| {
            seen += count;
            seen >= rank
        })?;
        let middle = (bin as f64 - HALF as f64 + 0.5) * self.width;
        Some(middle.clamp(self.min, self.max))
    }

    /// Counts between two errors in `columns` equal columns, for a chart.
    pub fn columns(&self, low: f64, high: f64, columns: usize) -> Vec<u64> {
        let mut out = vec![0; columns];
        let scale = columns as f64 / (high - low);
        for (bin, count) in self.counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            let middle = (bin as f64 - HALF as f64 + 0.5) * self.width;
            let column = libm::floor((middle - low) * scale);
            let inside = column >= 0.0 && (column as usize) < columns;
            if let Some(slot) = out.get_mut(column as usize).filter(|_| inside) {
                *slot += count;
            }
        }
        out
    }
}
