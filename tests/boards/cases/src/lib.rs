//! Golden vectors that a board makes for itself: each case follows from its number alone, so flash does not
//! limit them.
//!
//! Every fourth case is a landing with its budget, a sum of terms, a gauge check or a whole cycle. What the
//! core makes of a case goes word by word into a [`Sink`]: a [`Digest`] on a board, which prints one for
//! every [`BLOCK`] cases. The host prints the same table, `tests/boards/golden.txt`, and its tests hold the
//! very same cases against exact rationals.

#![no_std]

pub mod budget;
pub mod cycle;
pub mod digest;
pub mod landing;
pub mod machine;
pub mod numbers;
pub mod trim;

pub use digest::{Digest, Sink};

/// How many cases there are.
pub const CASES: u32 = 24_000;

/// How many cases one digest covers.
pub const BLOCK: u32 = 100;

/// What a case is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A landing, its verdict and its budget.
    Landing,
    /// A sum of independent terms.
    Budget,
    /// A gauge check.
    Trim,
    /// A whole cycle.
    Cycle,
}

impl Kind {
    /// Of a case.
    pub const fn of(case: u32) -> Self {
        match case & 3 {
            0 => Kind::Landing,
            1 => Kind::Budget,
            2 => Kind::Trim,
            _ => Kind::Cycle,
        }
    }
}

/// Makes a case, runs it, and puts every bit of its results.
pub fn run(case: u32, sink: &mut impl Sink) {
    match Kind::of(case) {
        Kind::Landing => landing::run(case, sink),
        Kind::Budget => budget::run(case, sink),
        Kind::Trim => trim::run(case, sink),
        Kind::Cycle => cycle::run(case, sink),
    }
}

/// Digest of one block of cases.
#[inline(never)]
pub fn block(number: u32) -> u32 {
    let mut digest = Digest::new();
    let first = number.wrapping_mul(BLOCK);
    for case in first..first.wrapping_add(BLOCK) {
        run(case, &mut digest);
    }
    digest.value()
}

/// The same of sums and gauge checks alone, for a board whose compiler gets no further; see `docs/boards.md`.
#[inline(never)]
pub fn part_of_block(number: u32) -> u32 {
    let mut digest = Digest::new();
    let first = number.wrapping_mul(BLOCK);
    for case in first..first.wrapping_add(BLOCK) {
        match Kind::of(case) {
            Kind::Budget => budget::run(case, &mut digest),
            Kind::Trim => trim::run(case, &mut digest),
            Kind::Landing | Kind::Cycle => {}
        }
    }
    digest.value()
}
