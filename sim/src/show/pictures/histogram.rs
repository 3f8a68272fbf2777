//! The first-layer errors of many cycles, with the tolerance.

use maud::html;

use super::{percent, um};
use crate::show::chart::marks::{hatched, line, reach, rect};
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, labels, number, signed, text, ticks};
use zdatum_world::engine::histogram::Histogram;

/// Most bars.
const MOST: usize = 120;
/// Least reach on either side, mm: errors that are all alike have no width.
const THINNEST: f64 = 4e-6;

/// One bar: from, to (mm), errors in it, whether all of it is beyond the tolerance.
pub type HistogramBar = (f64, f64, u64, bool);

fn quantiles(errors: &Histogram, low: f64, high: f64) -> Option<(f64, f64)> {
    Some((errors.quantile(low)?.value, errors.quantile(high)?.value))
}

/// The bars that show a histogram: as wide as a whole part of the tolerance where that serves, so that no bar
/// stands on both sides of it, out to the widest of errors (99.9 % of them) and tolerance.
pub fn bars(errors: &Histogram, within: f64) -> Vec<HistogramBar> {
    let Some((low, high)) = quantiles(errors, 0.0005, 0.9995) else { return Vec::new() };
    let far = low.abs().max(high.abs()).max(THINNEST);
    // Eight bars from the middle to where nearly all errors end, or as many as make the tolerance an edge.
    let wanted = far / 9.0;
    let parts = libm::round(within / wanted).max(1.0);
    let aligned = within / parts;
    let reach = far.max(1.15 * within);
    let (width, is_aligned) =
        if 2.0 * reach / aligned <= MOST as f64 { (aligned, true) } else { (2.0 * reach / 41.0, false) };
    let half = libm::ceil(reach / width);
    let count = 2.0 * half;
    if !(count >= 2.0 && count <= 2.0 * MOST as f64) {
        return Vec::new();
    }
    let counts = errors.columns(-half * width, half * width, count as usize);
    counts
        .into_iter()
        .enumerate()
        .map(|(i, n)| {
            let (from, to) = ((i as f64 - half) * width, (i as f64 + 1.0 - half) * width);
            let slack = width * 1e-6;
            let outside = is_aligned && (from > within - slack || to < -within + slack);
            (from, to, n, outside)
        })
        .collect()
}

/// The axes of bars from one error to another, µm, the tallest of so many per cent.
fn plot(from: f64, to: f64, tallest: f64, width: Width) -> Plot {
    let (full, height) = (width.px(), if width == Width::Wide { 336.0 } else { 306.0 });
    let (left, right, top, bottom) = (42.0, full - 10.0, 68.0, height - Plot::BELOW - 26.0);
    let most = if width == Width::Wide { 13 } else { 7 };
    Plot {
        left,
        right,
        top,
        bottom,
        x: Axis {
            scale: Scale::linear(from, to, left, right),
            ticks: ticks::ticks(from, to, most),
            title: "first-layer error, µm".into(),
        },
        y: Axis::linear(0.0, tallest * 1.06, bottom, top, 6, ""),
    }
}

/// How much lies beyond the tolerance; empty where no bar lies wholly beyond it, and the bars do not tell.
fn beyond(bars: &[HistogramBar], errors: &Histogram, tolerance: &str) -> String {
    if !bars.iter().any(|bar| bar.3) {
        return String::new();
    }
    let total = errors.total().max(1) as f64;
    let inside: u64 = bars.iter().filter(|bar| !bar.3).map(|bar| bar.2).sum();
    let share = percent(errors.total().saturating_sub(inside) as f64 / total);
    format!(" Beyond the tolerance of ±{tolerance} µm lie {share} % of them.")
}

/// The picture; `None` without errors.
pub fn picture(errors: &Histogram, within: f64, width: Width) -> Option<Picture> {
    let bars = bars(errors, within);
    let (first, last) = (bars.first()?, bars.last()?);
    let total = errors.total().max(1) as f64;
    let tallest = bars.iter().map(|bar| bar.2).max()? as f64 / total * 100.0;
    let plot = plot(um(first.0), um(last.1), tallest, width);
    let (full, height) = (width.px(), plot.bottom + Plot::BELOW + 26.0);
    let (top, bottom) = (plot.top, plot.bottom);
    let (x, y) = (plot.x.scale, plot.y.scale);
    let (low, high) = quantiles(errors, 0.025, 0.975)?;
    let tolerance = |sign: f64| sign * um(within);
    let places = if um(within) < 10.0 || um(within).fract() > 1e-6 { 1 } else { 0 };
    // Two labels where there is room, else one for both lines.
    let half = labels::width(&format!("{} µm", signed(tolerance(1.0), places))) / 2.0;
    let roomy = x.at(tolerance(1.0)) - x.at(tolerance(-1.0)) > 2.0 * half + 6.0;
    let limit = |sign: f64| {
        let at = x.at(tolerance(sign));
        let label = format!("{} µm", signed(tolerance(sign), places));
        html! {
            (line(at, top - 14.0, at, bottom, "limit"))
            @if roomy { (text(at.clamp(half, full - half), top - 19.0, Anchor::Middle, "t2 strong \
                halo", &label)) }
        }
    };
    let middle = format!("95 %: {} to {} µm", signed(um(low), 1), signed(um(high), 1));
    let reached = (x.at(um(low)), x.at(um(high)));
    let span_y = bottom + Plot::BELOW + 6.0;
    let body = html! {
        (plot.frame())
        (text(4.0, 33.0, Anchor::Start, "title", "% of accepted cycles in each bar"))
        @for (from, to, n, outside) in &bars {
            @let (from, to, share) = (x.at(um(*from)), x.at(um(*to)), 100.0 * *n as f64 / total);
            @let gap = if to - from > 5.0 { 1.0 } else { 0.0 };
            @if *n > 0 {
                // What is there stays visible.
                @let y = y.at(share).min(bottom - 1.0);
                @if *outside && bottom - y > 5.0 { (hatched(from, y, to - from - gap, bottom - y, "b2")) }
                @else { (rect(from, y, to - from - gap, bottom - y, if *outside { "b2" } else { "b1" })) }
            }
        }
        (line(x.at(0.0), top, x.at(0.0), bottom, "rule"))
        (limit(-1.0)) (limit(1.0))
        @if !roomy {
            (text(x.at(0.0), top - 19.0, Anchor::Middle, "t2 strong halo", &format!("±{} \
                µm", number(um(within), places))))
        }
        (reach(reached.0, reached.1, span_y, "whisker"))
        (text((reached.0 + reached.1) / 2.0, span_y + 17.0, Anchor::Middle, "", &middle))
        (text(4.0, 13.0, Anchor::Start, "soft", "◂ tip too near the plate"))
        (text(full - 4.0, 13.0, Anchor::End, "soft", "tip too far from it ▸"))
    };
    let beyond = beyond(&bars, errors, &number(um(within), places));
    Some(Picture {
        name: "first-layer-error".into(),
        title: "First-layer error of accepted cycles".into(),
        summary: format!(
            "Bars of how often each error comes. The middle 95 % of the errors lie between {} and {} \
                µm.{beyond}",
            signed(um(low), 1),
            signed(um(high), 1)
        ),
        width: full,
        height,
        body,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn errors(values: &[f64]) -> Histogram {
        let mut errors = Histogram::default();
        values.iter().for_each(|x| errors.add(*x));
        errors
    }

    #[test]
    fn the_tolerance_is_an_edge_of_bars() {
        let values: Vec<f64> = (-1_000..1_000).map(|i| f64::from(i) * 3e-5).collect();
        let bars = bars(&errors(&values), 0.020);
        assert!(bars.iter().any(|(from, ..)| (from - 0.020).abs() < 1e-9), "{bars:?}");
        // All but what lies beyond the outermost thousandth.
        assert!((1_998..=2_000).contains(&bars.iter().map(|bar| bar.2).sum::<u64>()));
        let outside: u64 = bars.iter().filter(|bar| bar.3).map(|bar| bar.2).sum();
        let exact = values.iter().filter(|x| x.abs() > 0.020).count() as u64;
        assert!(outside.abs_diff(exact) <= 4, "{outside} {exact}");
    }

    #[test]
    fn any_errors_can_be_drawn() {
        for (values, within) in [
            (vec![0.0], 0.02),
            (vec![0.0; 9], 1e-4),
            (vec![-3.0, 5.0], 1e-4),
            (vec![1e-9, 2e-9], 100.0),
            (vec![1e4, -1e4], 0.02),
        ] {
            for width in [Width::Narrow, Width::Wide] {
                let drawn = picture(&errors(&values), within, width).expect("drawn").file();
                assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
                assert!(drawn.contains("class=\"limit\""));
            }
        }
        assert!(picture(&errors(&[]), 0.02, Width::Wide).is_none());
    }
}
