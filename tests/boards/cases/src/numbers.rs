//! The one small generator that host and boards share.

/// Marsaglia's xorshift of 32 bits with the shifts 13, 17, 5 ("Xorshift RNGs", Journal of Statistical
/// Software 8(14), 2003).
///
/// For test cases, never for statistics: shifts and sums alone, cheap on 8 bits.
#[derive(Clone, Copy, Debug)]
pub struct Numbers(u32);

/// Invented.
const SEED: u32 = 0x7A64_6174;

impl Numbers {
    /// The sequence of a case; `stream` parts independent uses in one case.
    pub const fn of(case: u32, stream: u32) -> Self {
        let mut state = SEED ^ case.wrapping_mul(0x9E37_79B1) ^ stream.wrapping_mul(0x85EB_CA6B);
        if state == 0 {
            state = SEED;
        }
        let mut numbers = Self(state);
        // Neighbouring cases start from states that differ in few bits.
        let mut turn = 0;
        while turn < 6 {
            numbers.step();
            turn += 1;
        }
        numbers
    }

    const fn step(&mut self) {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
    }

    /// The next 32 bits; never 0.
    pub const fn next(&mut self) -> u32 {
        self.step();
        // Sums spoil the linearity that shifts alone would leave.
        self.0.wrapping_add(self.0.rotate_left(11))
    }

    /// A whole number in `0..below`.
    pub const fn below(&mut self, below: u32) -> u32 {
        ((self.next() as u64 * below as u64) >> 32) as u32
    }

    /// A whole number from `low` to `high`, both included; at most 2³¹ apart.
    pub const fn from_to(&mut self, low: i32, high: i32) -> i32 {
        low.wrapping_add(self.below(high.wrapping_sub(low) as u32 + 1) as i32)
    }

    /// One in `n`.
    pub const fn one_in(&mut self, n: u32) -> bool {
        self.below(n) == 0
    }

    /// Of any size: `bits` bits at most, small ones as likely as large ones.
    pub const fn sized(&mut self, bits: u32) -> u64 {
        let high = self.next() as u64;
        let low = self.next() as u64;
        let size = self.below(bits + 1);
        if size == 0 { 0 } else { ((high << 32) | low) >> (64 - size) }
    }
}
