//! One plate of the book.

use crate::level::{LevelSums, mean_square, over};
use crate::units::{Length, OutOfRange, Uncertainty, Variance};
use crate::verdict::LastSpan;

/// What is known of one plate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plate<K> {
    pub(super) name: K,
    pub(super) history: LevelSums,
    last: LastSpan,
    visits: u32,
    seen: u32,
}

/// A plate's record as plain numbers, for a firmware's own memory. Made by [`Plate::saved`], taken back by
/// [`PlateBook::restore`](super::PlateBook::restore).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Saved {
    /// The first span of its history, in bits of [`Length`].
    pub first: i32,
    /// n of the sums.
    pub count: u32,
    /// Σδ, in bits of [`Length`].
    pub sum: i64,
    /// Σδ², in squared bits of [`Length`].
    pub squares: u64,
    /// The last accepted span, in bits of [`Length`].
    pub last: i32,
    /// Its u², in bits of [`Variance`].
    pub variance: u64,
    /// Accepted cycles in all.
    pub visits: u32,
    /// When it was last seen.
    pub seen: u32,
}

impl<K> Plate<K> {
    pub(super) const fn new(name: K, span: Length, variance: Variance, seen: u32) -> Self {
        Self { name, history: LevelSums::new(span), last: LastSpan::new(span, variance), visits: 1, seen }
    }

    pub(super) fn restored(name: K, saved: &Saved) -> Option<Self> {
        let length = |bits: i32| Length::from_bits(i64::from(bits)).ok();
        let history = LevelSums::restored(length(saved.first)?, saved.count, saved.sum, saved.squares)?;
        let last = LastSpan::new(length(saved.last)?, Variance::from_bits(saved.variance));
        if saved.visits < saved.count {
            return None;
        }
        Some(Self { name, history, last, visits: saved.visits, seen: saved.seen })
    }

    pub(super) fn record(&mut self, span: Length, variance: Variance, seen: u32) -> Result<(), OutOfRange> {
        let offset = self.history.offset(span)?;
        let _ = self.history.push(offset);
        self.last = LastSpan::new(span, variance);
        self.visits = self.visits.saturating_add(1);
        self.seen = seen;
        Ok(())
    }

    /// Its name.
    pub const fn name(&self) -> &K {
        &self.name
    }

    /// x̄: the mean of its accepted spans.
    ///
    /// # Errors
    /// *Out of range* beyond ±32,768 mm, which no mean of lengths reaches.
    pub fn span(&self) -> Result<Length, OutOfRange> {
        self.history.mean().round()
    }

    /// u(x̄) = √(max(s², u²(last)) / n), s its own spread.
    ///
    /// # Errors
    /// *Out of range* where s is 4 mm or more.
    pub fn u(&self) -> Result<Uncertainty, OutOfRange> {
        let own = mean_square(self.history.scatter(), self.history.dof())?.unwrap_or(Variance::ZERO);
        Ok(over(own.max(self.last.variance), self.history.count()).root())
    }

    /// s: how much its accepted spans scatter, one standard deviation; `None` for a single one.
    ///
    /// # Errors
    /// *Out of range* from 4 mm up.
    pub fn spread(&self) -> Result<Option<Uncertainty>, OutOfRange> {
        Ok(mean_square(self.history.scatter(), self.history.dof())?.map(Variance::root))
    }

    /// Accepted cycles so far.
    pub const fn count(&self) -> u32 {
        self.visits
    }

    /// The last accepted span with its u².
    pub const fn last(&self) -> LastSpan {
        self.last
    }

    /// When it was last seen, by the caller's own count.
    pub const fn last_seen(&self) -> u32 {
        self.seen
    }

    /// All that is known of it but its name, as plain numbers.
    pub const fn saved(&self) -> Saved {
        let (first, count, sum, squares) = self.history.parts();
        Saved {
            first: first.to_bits(),
            count,
            sum,
            squares,
            last: self.last.span.to_bits(),
            variance: self.last.variance.to_bits(),
            visits: self.visits,
            seen: self.seen,
        }
    }
}
