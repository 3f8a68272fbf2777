//! The errors of a campaign as rows of bars.

use super::campaign::thousands;
use super::charts::bar;
use crate::text::lines::{FAINT, line};
use crate::text::number::{shortest_mm, shortest_um};
use zdatum_world::engine::histogram::Histogram;

/// Rows, and the widest bar.
const ROWS: usize = 17;
const BAR: u32 = 44;
/// Zero and the tolerance are shown as long as the chart grows to at most so many times the width of 99.8 %
/// of the errors; beyond, these would all fall into one row.
const WIDEST: f64 = 5.0;
/// Thinnest chart, mm: errors that are all alike have no width.
const THINNEST: f64 = 1e-6;

/// What the chart covers, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
struct ChartRange {
    low: f64,
    high: f64,
}

impl ChartRange {
    /// 99.8 % of the errors and, where they are near enough, zero and both ends of the tolerance.
    fn of(errors: &Histogram, within: f64) -> Option<Self> {
        let (low, high) = (errors.quantile(0.001)?.value, errors.quantile(0.999)?.value);
        let pad = ((THINNEST - (high - low)) / 2.0).max(0.0);
        let errors = Self { low: low - pad, high: high + pad };
        let most = WIDEST * errors.width();
        let range = [0.0, -within, within].into_iter().fold(errors, |range, x| {
            let wider = Self { low: range.low.min(x), high: range.high.max(x) };
            if wider.width() <= most { wider } else { range }
        });
        // Half a row more on either side, so that zero and the tolerance stand in rows and not on the chart's
        // edge.
        let half = range.width() / (ROWS - 1) as f64 / 2.0;
        Some(Self { low: range.low - half, high: range.high + half })
    }

    fn width(self) -> f64 {
        self.high - self.low
    }

    fn holds(self, x: f64) -> bool {
        self.low <= x && x <= self.high
    }
}

/// Adds the chart of accepted errors, with what falls off either end and what the marks mean.
pub(super) fn chart(out: &mut String, errors: &Histogram, within: f64) {
    let Some(range) = ChartRange::of(errors, within) else { return };
    let counts = errors.columns(range.low, range.high, ROWS);
    let lower = errors.below(range.low);
    let higher = errors.total().saturating_sub(lower).saturating_sub(counts.iter().sum());
    let most = counts.iter().copied().max().unwrap_or(0).max(1);
    let width = range.width() / ROWS as f64;
    // One digit of a row's height is enough to tell the rows apart.
    let places = (-libm::floor(libm::log10(width * 1e3))).clamp(1.0, 6.0) as usize;
    let mut marked = false;
    for (row, count) in counts.iter().enumerate() {
        let middle = range.low + (row as f64 + 0.5) * width;
        let percent = 100.0 * *count as f64 / errors.total().max(1) as f64;
        let beyond = middle.abs() > within;
        marked |= beyond;
        let mark = if beyond { '!' } else { ' ' };
        let scaled = u32::try_from(u128::from(*count) * 1_000_000 / u128::from(most)).unwrap_or(0);
        // What is above zero never vanishes.
        let bar = bar(scaled.max(u32::from(*count > 0)), 1_000_000, BAR);
        line!(out, "  {:+9.places$} µm {mark}│{bar} {FAINT}{percent:.1} %{FAINT:#}", middle * 1e3);
    }
    if lower + higher > 0 {
        let (lower, higher) = (thousands(lower), thousands(higher));
        line!(out, "  {FAINT}off the chart: {lower} below, {higher} above{FAINT:#}");
    }
    if marked {
        line!(out, "  {FAINT}! beyond ±{} µm{FAINT:#}", shortest_um(within));
    } else if !range.holds(within) && !range.holds(-within) {
        line!(out, "  {FAINT}the tolerance of ±{} mm is wider than the chart{FAINT:#}", shortest_mm(within));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Evenly spread from `low` to `high`.
    fn even(low: f64, high: f64) -> Histogram {
        let mut errors = Histogram::default();
        for i in 0..=10_000 {
            errors.add(low + (high - low) * f64::from(i) / 10_000.0);
        }
        errors
    }

    #[test]
    fn the_chart_covers_the_errors_and_what_is_near_to_them() {
        let covers = |errors: &Histogram, within: f64, inside: &[f64], outside: &[f64]| {
            let range = ChartRange::of(errors, within).expect("errors");
            assert!(inside.iter().all(|x| range.holds(*x)), "{range:?}");
            assert!(!outside.iter().any(|x| range.holds(*x)), "{range:?}");
        };
        // Sound, biased a little, biased a lot, a tolerance out of sight, and no width at all.
        covers(&even(-0.01, 0.01), 0.02, &[-0.02, 0.02], &[-0.03, 0.03]);
        covers(&even(0.04, 0.08), 0.02, &[-0.02, 0.0, 0.04, 0.0799], &[-0.03, 0.09]);
        covers(&even(0.3, 0.31), 0.02, &[0.3001, 0.3099], &[0.02, 0.0]);
        covers(&even(-0.01, 0.01), 1.0, &[-0.0099, 0.0099], &[1.0, -1.0]);
        covers(&even(0.0, 0.0), 0.02, &[0.0], &[0.02, -0.02]);
        assert_eq!(ChartRange::of(&Histogram::default(), 0.02), None);
    }
}
