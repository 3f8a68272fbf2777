//! The plate book from whole lists of spans, lengths in mm.

use num_traits::{Signed, ToPrimitive};

use super::{Exact, fraction, in_bits, root, whole};

/// Heights are whole numbers of 2⁻¹⁶ mm: their sums are whole too, which is fast.
fn in_whole_bits(heights: &[Exact]) -> Vec<i128> {
    let bits = |x: &Exact| {
        let bits = in_bits(x, 16);
        assert!(bits.is_integer(), "a height of whole bits");
        bits.to_integer().to_i128().expect("a height")
    };
    heights.iter().map(bits).collect()
}

/// Mean of a list.
pub fn mean(heights: &[Exact]) -> Exact {
    fraction(in_whole_bits(heights).iter().sum::<i128>(), heights.len() << 16)
}

/// Σ(x − x̄)² = (n·Σx² − (Σx)²)/n.
pub fn scatter(heights: &[Exact]) -> Exact {
    let (bits, n) = (in_whole_bits(heights), heights.len() as i128);
    let (sum, squares) = (bits.iter().sum::<i128>(), bits.iter().map(|x| x * x).sum::<i128>());
    fraction(n * squares - sum * sum, n << 32)
}

/// A book: for each plate all its spans.
#[derive(Clone, Debug)]
pub struct Book {
    /// u(seating).
    pub seating: Exact,
    /// Spans by plate.
    pub plates: Vec<Vec<Exact>>,
}

impl Book {
    /// s² and ν.
    pub fn pooled(&self) -> (Exact, u32) {
        let dof = 4 + self.plates.iter().map(|spans| spans.len() as u32 - 1).sum::<u32>();
        let guess = &self.seating * &self.seating * whole(4);
        let sum = self.plates.iter().map(|spans| scatter(spans)).fold(guess, |sum, x| sum + x);
        (sum / whole(dof), dof)
    }

    /// w of a plate for a reading with this u², with k₉₉ given.
    pub fn window(&self, plate: usize, reading: &Exact, k: &Exact) -> Exact {
        let (pooled, _) = self.pooled();
        let variance = pooled.max(reading.clone());
        let n = self.plates[plate].len();
        k * root(&(variance * (whole(1) + fraction(1, n))))
    }

    /// For each plate: how far the reading stands from it, over its w.
    pub fn reach(&self, span: &Exact, reading: &Exact, k: &Exact) -> Vec<Exact> {
        (0..self.plates.len())
            .map(|plate| (span - mean(&self.plates[plate])).abs() / self.window(plate, reading, k))
            .collect()
    }
}
