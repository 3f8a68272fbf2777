//! Every bit of a result, word by word, and a digest of them.

use zdatum::budget::Combined;
use zdatum::landing::Landing;
use zdatum::{Amount, Dof, Refusal, Station, Term, Variance};

/// Takes the words of a result.
pub trait Sink {
    /// One word and what it is of.
    fn put(&mut self, what: &'static str, word: u32);

    /// Two words, the lower one first.
    fn put_wide(&mut self, what: &'static str, value: u64) {
        self.put(what, value as u32);
        self.put(what, (value >> 32) as u32);
    }
}

/// A digest in which no single word can change without changing it: each word is added to the state by a step
/// that can be undone. Multiplier and rotation are those of common hash functions *(from memory)*; it guards
/// against chance, not malice.
#[derive(Clone, Copy, Debug, Default)]
pub struct Digest(u32);

impl Digest {
    /// Of nothing.
    pub const fn new() -> Self {
        Self(0x811C_9DC5)
    }

    /// So far.
    pub const fn value(&self) -> u32 {
        self.0
    }
}

impl Sink for Digest {
    #[inline(never)]
    fn put(&mut self, _: &'static str, word: u32) {
        self.0 = (self.0.rotate_left(5) ^ word).wrapping_mul(0x9E37_79B1);
    }
}

/// Degrees of freedom; infinite is 0, which no finite one is.
pub fn dof(sink: &mut impl Sink, what: &'static str, dof: Dof) {
    sink.put(what, dof.finite().unwrap_or(0));
}

/// A variance.
pub fn variance(sink: &mut impl Sink, what: &'static str, variance: Variance) {
    sink.put_wide(what, variance.to_bits());
}

/// u², u, ν, k, U.
pub fn combined(sink: &mut impl Sink, seen: &Combined) {
    variance(sink, "u²", seen.variance);
    sink.put("u", seen.u.to_bits());
    dof(sink, "ν", seen.dof);
    sink.put("k", seen.factor.to_bits());
    sink.put("U", seen.expanded.to_bits());
}

/// A landing.
pub fn landing(sink: &mut impl Sink, seen: &Landing) {
    for (what, length) in [
        ("L", seen.height),
        ("d", seen.drop),
        ("r", seen.rise),
        ("P - S", seen.span),
        ("speed", seen.corrections.speed),
        ("growth", seen.corrections.growth),
        ("soak", seen.corrections.soak),
    ] {
        sink.put(what, length.to_bits() as u32);
    }
    variance(sink, "u²(P - S)", seen.span_variance);
    combined(sink, &seen.uncertainty);
}

/// Reasons in their order, with what was seen and the limit.
pub fn refusals(sink: &mut impl Sink, seen: &[Refusal]) {
    sink.put("reasons", seen.len() as u32);
    for refusal in seen {
        sink.put("reason", u32::from(refusal.kind.code()));
        sink.put("at", refusal.station.map_or(0, station));
        amount(sink, "seen", refusal.seen());
        amount(sink, "limit", refusal.limit());
    }
}

/// A station as 1, 2, 3.
pub fn station(station: Station) -> u32 {
    match station {
        Station::Tip => 1,
        Station::Shoulder => 2,
        Station::Plate => 3,
    }
}

fn amount(sink: &mut impl Sink, what: &'static str, amount: Option<Amount>) {
    let (kind, bits) = match amount {
        None => (0, 0),
        Some(Amount::Length(x)) => (1, x.to_bits() as u32),
        Some(Amount::Uncertainty(x)) => (2, x.to_bits()),
        Some(Amount::Ratio(x)) => (3, x.to_bits()),
    };
    sink.put(what, kind);
    sink.put(what, bits);
}

/// Each term's share of a sum.
pub fn shares(sink: &mut impl Sink, sum: &Combined, terms: &[Term]) {
    for term in terms {
        variance(sink, "term", term.variance);
        dof(sink, "term's ν", term.dof);
        sink.put("share", sum.share(term).to_bits());
    }
}
