//! Sums of terms of every size.

use core::num::NonZeroU32;

use zdatum::budget::expand;
use zdatum::{Combined, Coverage, Dof, Source, Term, Variance};

use crate::digest::{self, Sink};
use crate::machine;
use crate::numbers::Numbers;

/// What goes in.
#[derive(Clone, Debug)]
pub struct Sum {
    /// Independent terms.
    pub terms: heapless::Vec<Term, 15>,
    /// Coverage asked for.
    pub coverage: Coverage,
}

impl Sum {
    /// Of a case.
    #[inline(never)]
    pub fn of(case: u32) -> Self {
        let mut numbers = Numbers::of(case, 0);
        let mut terms = heapless::Vec::new();
        // Alike in size, so that many terms count; or of any size.
        let top = 20 + numbers.below(41);
        let alike = numbers.one_in(2);
        for place in 0..1 + numbers.below(12) {
            let bits = if alike { numbers.sized(4) << (top - 4) } else { numbers.sized(top) };
            let nu = match numbers.below(8) {
                0 | 1 => 0,
                2 => numbers.sized(32) as u32,
                _ => 1 + numbers.below(60),
            };
            let dof = NonZeroU32::new(nu).map_or(Dof::INFINITE, Dof::new);
            let variance = Variance::from_bits(bits);
            let _ = terms.push(Term { source: Source::Other(place as u8), variance, dof });
        }
        Self { terms, coverage: machine::coverage(&mut numbers) }
    }
}

#[inline(never)]
pub(crate) fn run(case: u32, sink: &mut impl Sink) {
    let sum = Sum::of(case);
    match Combined::of(&sum.terms, sum.coverage) {
        Err(_) => sink.put("out of range", 1),
        Ok(seen) => {
            digest::combined(sink, &seen);
            digest::shares(sink, &seen, &sum.terms);
            for coverage in Coverage::ALL {
                let factor = coverage.factor(seen.dof);
                sink.put("k", factor.to_bits());
                sink.put("U", expand(seen.variance, factor).map_or(u32::MAX, |u| u.to_bits()));
            }
        }
    }
}
