//! Order statistics of a series: its median and the median of its pair means.

use crate::arith::Bounded;
use crate::units::Wide;

/// Sorted differences, at most 64, each below 2^24.
pub(super) struct Sorted<const N: usize> {
    pub(super) values: heapless::Vec<i32, N>,
}

impl<const N: usize> Sorted<N> {
    /// Insertion: at most 64 short moves, and no library sort to bring panics along.
    pub(super) fn insert(&mut self, value: i32) {
        let mut carried = value;
        for slot in self.values.iter_mut() {
            if carried < *slot {
                core::mem::swap(&mut carried, slot);
            }
        }
        let _ = self.values.push(carried);
    }

    /// The middle value, or the mean of the middle two.
    pub(super) fn median(&self) -> Wide {
        let n = self.values.len();
        let low = self.values.get(n.saturating_sub(1) / 2).copied().unwrap_or(0);
        let high = self.values.get(n / 2).copied().unwrap_or(0);
        Wide::from_bits(i64::from(low).plus(i64::from(high)) << 15)
    }

    /// The median of all pair means i ≤ j. No pair is stored: each order statistic is found by bisection over
    /// its value.
    pub(super) fn median_of_pair_means(&self) -> Wide {
        let n = self.values.len() as u32;
        let pairs = n.times(n.plus(1)) / 2;
        let low = self.pair_sum(pairs.saturating_sub(1) / 2);
        let high = self.pair_sum(pairs / 2);
        // A pair sum is twice its mean; two of them are averaged.
        Wide::from_bits(i64::from(low).plus(i64::from(high)) << 14)
    }

    /// The pair sum with `rank` others at or below it, counted from 0.
    fn pair_sum(&self, rank: u32) -> i32 {
        // Between twice the lowest and twice the highest value.
        let twice = |value: Option<&i32>| value.map_or(0, |value| value.times(2));
        let (mut low, mut high) = (twice(self.values.first()), twice(self.values.last()));
        while low < high {
            let middle = low.plus(high.minus(low) >> 1);
            if self.pairs_up_to(middle) > rank {
                high = middle;
            } else {
                low = middle.plus(1);
            }
        }
        low
    }

    /// How many pairs i ≤ j have a sum of at most `limit`.
    fn pairs_up_to(&self, limit: i32) -> u32 {
        let mut count = 0_u32;
        let mut from_i = self.values.iter();
        while let Some(a) = from_i.clone().next() {
            for b in from_i.clone() {
                if a.plus(*b) > limit {
                    break;
                }
                count = count.plus(1_u32);
            }
            from_i.next();
        }
        count
    }
}
