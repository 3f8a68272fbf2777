//! The watch from whole lists of readings, in mm; logarithms by their series.

use num_bigint::BigInt;
use num_traits::{Signed, Zero};

use super::plates::{mean, scatter};
use super::{Exact, fraction, of_bits, root, to_f64, whole};

/// λ, L, k, h.
#[derive(Clone, Debug)]
pub struct Design {
    /// λ.
    pub weight: Exact,
    /// L.
    pub limit: Exact,
    /// k.
    pub reference: Exact,
    /// h.
    pub decision: Exact,
}

/// ln x for x ≥ 1, to 2^-120: x = 2^m·y, ln y = 2·atanh((y − 1)/(y + 1)).
pub fn ln(x: &Exact) -> Exact {
    let mut y = x.clone();
    let mut doublings = 0;
    while y >= whole(2) {
        y /= whole(2);
        doublings += 1;
    }
    atanh_twice(&y) + atanh_twice(&whole(2)) * whole(doublings)
}

fn atanh_twice(y: &Exact) -> Exact {
    const BITS: u32 = 160;
    let fixed = |x: &Exact| (x.numer() << BITS) / x.denom();
    let t = fixed(&((y - whole(1)) / (y + whole(1))));
    let square = (&t * &t) >> BITS;
    let (mut power, mut sum, mut n) = (t, BigInt::zero(), 1);
    while !power.is_zero() {
        sum += &power / BigInt::from(n);
        power = (&power * &square) >> BITS;
        n += 2;
    }
    of_bits(sum * 2, BITS)
}

/// To so many bits, rounded down: or the fractions grow without end.
fn cut(x: &Exact, bits: u32) -> Exact {
    of_bits(super::in_bits(x, bits).floor().to_integer(), bits)
}

/// |U| by the formula of the page: added I, base B, ν.
pub fn size(added: &Exact, base: &Exact, dof: u32) -> Exact {
    let nu = whole(dof);
    let front = &nu - fraction(2, 3) + fraction(1, 10) / &nu;
    front * root(&(ln(&(whole(1) + added / base)) / (nu - fraction(5, 6))))
}

/// The EWMA's limit.
pub fn ewma_limit(design: &Design) -> Exact {
    &design.limit * root(&(&design.weight / (whole(2) - &design.weight)))
}

/// The charts of one quantity.
#[derive(Clone, Debug, Default)]
pub struct Line {
    /// Readings learnt at this level.
    pub level: Vec<Exact>,
    /// Σ of squares at earlier levels, with its ν.
    pub earlier: (Option<Exact>, u32),
    /// Last u².
    pub floor: Option<Exact>,
    /// z, C⁺, C⁻.
    pub sums: [Option<Exact>; 3],
    /// Since C⁺, C⁻ last stood at 0: reading, and whether it was learnt.
    pub runs: [Vec<(Exact, bool)>; 2],
    /// Since the watch's alarm.
    pub since: Vec<Exact>,
    /// Up?, by the EWMA?
    pub alarm: Option<(bool, bool)>,
    /// A decision was so close that either answer passes.
    pub unsure: bool,
}

impl Line {
    /// Sum of squares with ν.
    pub fn scatter(&self) -> (Exact, u32) {
        let (sum, dof) = (self.earlier.0.clone().unwrap_or_else(Exact::zero), self.earlier.1);
        match self.level.len() as u32 {
            0 => (sum, dof),
            n => (sum + scatter(&self.level), dof + n - 1),
        }
    }

    fn base(&self, variance: &Exact) -> (Exact, u32) {
        let (sum, dof) = self.scatter();
        (sum.max(variance * whole(dof)), dof)
    }

    /// U of a reading; `None` where it is to learn from alone.
    pub fn score(&self, x: &Exact, variance: &Exact) -> Option<Exact> {
        let (base, dof) = self.base(variance);
        if self.level.is_empty() || dof < 4 {
            return None;
        }
        let (n, away) = (self.level.len(), x - mean(&self.level));
        let size = size(&(fraction(n, n + 1) * &away * &away), &base, dof);
        Some(if away.is_negative() { -size } else { size })
    }

    /// Charts a reading; returns U.
    pub fn chart(&mut self, design: &Design, x: &Exact, variance: &Exact) -> Option<Exact> {
        self.floor = Some(variance.clone());
        let score = self.score(x, variance)?;
        let [z, up, down] = &self.sums;
        let at = |x: &Option<Exact>| x.clone().unwrap_or_else(Exact::zero);
        let z = at(z) + &design.weight * (&score - at(z));
        let (up, down) = (at(up) + &score - &design.reference, at(down) - &score - &design.reference);
        let close = |x: &Exact, limit: &Exact| to_f64(&(x - limit).abs()) < 2e-3;
        let limit = ewma_limit(design);
        self.unsure |= close(&z.abs(), &limit);
        self.unsure |=
            [&up, &down].into_iter().any(|sum| close(sum, &design.decision) || close(sum, &whole(0)));
        let [up, down] = [up, down].map(|sum| sum.max(Exact::zero()));
        for (run, sum) in self.runs.iter_mut().zip([&up, &down]) {
            if sum.is_zero() {
                run.clear();
            } else {
                run.push((x.clone(), false));
            }
        }
        if self.alarm.is_none() {
            if z.abs() > limit {
                self.alarm = Some((z.is_positive(), true));
            } else if (&up).max(&down) > &design.decision {
                self.alarm = Some((up >= down, false));
            }
        }
        self.sums = [z, up, down].map(|sum| Some(cut(&sum, 90)));
        Some(score)
    }

    /// Learns the reading just charted, or keeps it as evidence.
    pub fn finish(&mut self, x: &Exact, alarm: bool) {
        if self.level.is_empty() || !alarm {
            for run in &mut self.runs {
                if let Some(last) = run.last_mut() {
                    last.1 = true;
                }
            }
            self.level.push(x.clone());
        } else {
            self.since.push(x.clone());
        }
    }

    /// Evidence is forgotten, and runs with it that hold readings which were not learnt.
    pub fn let_go(&mut self) {
        if !self.since.is_empty() {
            self.runs = Default::default();
            self.since.clear();
        }
    }

    /// A new level.
    pub fn begin_level(&mut self) {
        let (sum, dof) = self.scatter();
        *self = Line { earlier: (Some(cut(&sum, 160)), dof), floor: self.floor.clone(), ..Line::default() };
    }

    /// What has moved, with its u².
    pub fn moved(&mut self) -> Option<(Exact, Exact)> {
        let (base, dof) = self.base(&self.floor.clone()?);
        if dof < 4 || self.since.is_empty() || self.level.is_empty() {
            return None;
        }
        let s2 = cut(&(base / whole(dof)), 160);
        let u2 = |one: usize, other: usize| &s2 * (fraction(1, one) + fraction(1, other));
        let plain = (mean(&self.since) - mean(&self.level), u2(self.since.len(), self.level.len()));
        let significance = to_f64(&(&plain.0 * &plain.0 / &plain.1));
        self.unsure |= self.alarm.is_some() && (significance - 9.0).abs() < 1e-3;
        let Some((up, _)) = self.alarm.filter(|_| significance < 9.0) else { return Some(plain) };
        let run = &self.runs[usize::from(!up)];
        let learnt: Vec<_> = run.iter().filter(|(_, learnt)| *learnt).map(|(x, _)| x.clone()).collect();
        let before = self.level.len() - learnt.len();
        if run.len() < self.since.len() || before < 2 {
            return Some(plain);
        }
        let old = &self.level[..before];
        let run: Vec<_> = run.iter().map(|(x, _)| x.clone()).collect();
        Some((mean(&run) - mean(old), u2(run.len(), before)))
    }
}

/// A quantity's evidence: cᵢ, what it moved by, its u², whether in alarm.
pub type Evidence = (i32, Exact, Exact, bool);

/// δ and χ² of a cause; `None` where it does not apply.
pub fn fit(evidence: &[Evidence]) -> Option<(Exact, Exact)> {
    if evidence.iter().any(|(sign, _, _, alarmed)| *alarmed && *sign == 0) {
        return None;
    }
    let weights: Vec<_> =
        evidence.iter().map(|(_, _, variance, _)| cut(&(whole(1) / variance), 120)).collect();
    let (mut above, mut below) = (Exact::zero(), Exact::zero());
    for ((sign, by, ..), weight) in evidence.iter().zip(&weights).filter(|((sign, ..), _)| *sign != 0) {
        above += cut(&(whole(*sign) * by * weight), 160);
        below += weight;
    }
    if below.is_zero() {
        return None;
    }
    let delta = cut(&(above / below), 120);
    let mut misfit = Exact::zero();
    for ((sign, by, ..), weight) in evidence.iter().zip(&weights) {
        let left = by - whole(*sign) * &delta;
        misfit += cut(&(cut(&(&left * &left), 160) * weight), 90);
    }
    Some((delta, misfit))
}

/// The 99 % point of χ², by bisection on its exact tail sums.
pub fn chi_square_99(dof: usize) -> f64 {
    let (mut low, mut high) = (0.0, 400.0);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if chi_square_tail(middle, dof) > 0.01 { low = middle } else { high = middle }
    }
    high
}

/// P(χ² > x): Abramowitz & Stegun 26.4.5 (even) and 26.4.4 (odd).
fn chi_square_tail(x: f64, dof: usize) -> f64 {
    let even = dof.is_multiple_of(2);
    let mut term = if even { 1.0 } else { x.sqrt() * (2.0 / std::f64::consts::PI).sqrt() };
    let (mut sum, mut k) = (0.0, if even { 2 } else { 1 });
    while k <= dof {
        let last = !even && k == dof;
        if !last {
            sum += term;
        }
        term *= x / if even { k } else { k + 2 } as f64;
        k += 2;
    }
    let tail = if even { 0.0 } else { 1.0 - super::coverage::normal(x.sqrt()) };
    tail + sum * (-x / 2.0).exp()
}
