//! Centres, scatter and trend of a series, heights in bits.

use num_traits::Zero;

use super::{Exact, fraction, whole};

/// Which centre.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Centre {
    /// Arithmetic mean.
    Mean,
    /// Middle value, or the mean of the middle two.
    Median,
    /// Median of all pair means i ≤ j.
    HodgesLehmann,
}

/// The centre in bits.
pub fn centre(z: &[i64], which: Centre) -> Exact {
    match which {
        Centre::Mean => mean(z),
        Centre::Median => median(&z.iter().map(|z| whole(*z)).collect::<Vec<_>>()),
        Centre::HodgesLehmann => median(&pair_means(z)),
    }
}

/// Σz/n.
pub fn mean(z: &[i64]) -> Exact {
    fraction(z.iter().map(|z| i128::from(*z)).sum::<i128>(), z.len())
}

fn median(values: &[Exact]) -> Exact {
    let mut sorted = values.to_vec();
    sorted.sort();
    let n = sorted.len();
    if n % 2 == 1 { sorted[n / 2].clone() } else { (&sorted[n / 2 - 1] + &sorted[n / 2]) / whole(2) }
}

fn pair_means(z: &[i64]) -> Vec<Exact> {
    let mut means = Vec::new();
    for (i, a) in z.iter().enumerate() {
        for b in &z[i..] {
            means.push(fraction(a + b, 2));
        }
    }
    means
}

/// Σ(z − z̄)².
fn squares(z: &[i64]) -> Exact {
    let mean = mean(z);
    z.iter().fold(Exact::zero(), |sum, z| {
        let d = whole(*z) - &mean;
        sum + &d * &d
    })
}

/// s², from two values up.
pub fn sample_variance(z: &[i64]) -> Option<Exact> {
    if z.len() < 2 { None } else { Some(squares(z) / whole(z.len() - 1)) }
}

/// Σ(i − ī)².
pub fn index_squares(n: usize) -> Exact {
    squares(&(0..n as i64).collect::<Vec<_>>())
}

/// The least-squares slope per touch; 0 below two touches.
pub fn slope(z: &[i64]) -> Exact {
    if z.len() < 2 {
        return Exact::zero();
    }
    let (middle, mean) = (fraction(z.len() - 1, 2), mean(z));
    let products = z
        .iter()
        .enumerate()
        .fold(Exact::zero(), |sum, (i, z)| sum + (whole(i) - &middle) * (whole(*z) - &mean));
    products / index_squares(z.len())
}

/// Σ(zᵢ₊₁ − zᵢ)² / Σ(z − z̄)²; `None` where all are equal.
pub fn von_neumann(z: &[i64]) -> Option<Exact> {
    let below = squares(z);
    if below.is_zero() {
        return None;
    }
    let jumps = z.windows(2).fold(Exact::zero(), |sum, pair| {
        let d = whole(pair[1] - pair[0]);
        sum + &d * &d
    });
    Some(jumps / below)
}

/// Whether a series walks by the slope's rule: |b|·√Σ(i − ī)² > 3.6·f·√(s² + Δ²/12) and |b|·(n − 1) > 2Δ, n ≥
/// 3; all in mm and squared, so that no root is needed.
pub fn walks(z: &[i64], s: &Exact, step: &Exact, f: &Exact) -> bool {
    if z.len() < 3 {
        return false;
    }
    let b = slope(z) / whole(1_i64 << 16);
    let steepness = &b * &b * index_squares(z.len());
    let noise = s * s + step * step / whole(12);
    let way = &b * &b * whole((z.len() - 1) * (z.len() - 1));
    steepness > fraction(1296, 100) * f * f * noise && way > whole(4) * step * step
}

/// f(ν) = 1 + 3.5/ν + 11/ν² + 24/ν³.
pub fn tail_factor(dof: u32) -> Exact {
    let nu = || whole(dof);
    whole(1) + fraction(7, 2) / nu() + whole(11) / (nu() * nu()) + whole(24) / (nu() * nu() * nu())
}
