//! A warming machine: touches over time, the curve that fits them, and when little enough is still to come.

use maud::html;

use super::um;
use crate::show::chart::marks::{PointShape, line, point, through};
use crate::show::chart::{Anchor, Axis, Picture, Plot, Width, signed, text};
use crate::show::soak::{at_least, minutes};

/// Touches drawn at most.
const MOST: usize = 100;
/// Parts of the curve.
const PARTS: usize = 120;

/// One station over time.
#[derive(Clone, Debug, PartialEq)]
pub struct SoakCurve {
    /// Its name.
    pub station: String,
    /// Seconds from the first touch on, and mm from its height.
    pub touches: Vec<(f64, f64)>,
    /// a, b (mm) and τ (s) of a + b·(1 − exp(−t/τ)), where a curve fits.
    pub fit: Option<(f64, f64, f64)>,
    /// Seconds after which little enough is still to come, surely.
    pub wait: Option<f64>,
}

/// The picture; `None` without touches.
pub fn picture(curve: &SoakCurve, width: Width) -> Option<Picture> {
    let last = curve.touches.iter().map(|touch| touch.0).filter(|t| t.is_finite()).fold(0.0, f64::max);
    let until = curve.wait.unwrap_or(0.0).clamp(0.0, 3.0 * last).max(last) / 60.0;
    if curve.touches.is_empty() {
        return None;
    }
    let at = |t: f64| curve.fit.map(|(a, b, tau)| a + b * (1.0 - libm::exp(-t / tau.max(1e-9))));
    let heights = || {
        curve
            .touches
            .iter()
            .map(|touch| touch.1)
            .chain(at(0.0))
            .chain(at(60.0 * until))
            .filter(|z| z.is_finite())
    };
    let (low, high) =
        heights().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
    let room = 0.08 * (high - low).max(1e-4);
    let (full, height) = (width.px(), 290.0);
    let (left, right, top, bottom) = (52.0, full - 14.0, 44.0, height - Plot::BELOW - 4.0);
    let plot = Plot {
        left,
        right,
        top,
        bottom,
        x: Axis::linear(
            0.0,
            until * 1.03,
            left,
            right,
            if width == Width::Wide { 9 } else { 6 },
            "minutes from the first touch on",
        ),
        y: Axis::linear(um(low - room), um(high + room), bottom, top, 6, ""),
    };
    let (x, y) = (plot.x.scale, plot.y.scale);
    let every = curve.touches.len().div_ceil(MOST).max(1);
    let line_of: Vec<(f64, f64)> = (0..=PARTS)
        .filter_map(|i| {
            let minute = until * i as f64 / PARTS as f64;
            Some((x.at(minute), y.at(um(at(60.0 * minute)?))))
        })
        .collect();
    let wait = curve.wait.filter(|wait| x.holds(wait / 60.0));
    let body = html! {
        (plot.frame())
        (text(4.0, 13.0, Anchor::Start, "title", "height from the first touch, µm"))
        @for (t, z) in curve.touches.iter().step_by(every) { (point(x.at(t / 60.0), y.at(um(*z)), PointShape::Ring, "p1")) }
        (through(&line_of, "l2"))
        @if let Some(wait) = wait {
            @let (at, label) = (x.at(wait / 60.0), format!("wait {}", at_least(wait)));
            (line(at, top, at, bottom, "rule"))
            (text(at.clamp(left + 40.0, right - 40.0), top - 8.0, Anchor::Middle, "strong halo", &label))
        }
    };
    let end = curve.touches.last().map_or(0.0, |touch| touch.1);
    let told = match curve.fit {
        Some((_, b, tau)) => format!(
            "the curve that fits grows by {} µm with a time constant of {}",
            signed(um(b), 1),
            minutes(tau)
        ),
        None => "no curve with an end fits".into(),
    };
    Some(Picture {
        name: format!("soak-{}", curve.station),
        title: format!("Growth while the machine warms, at the {}", curve.station),
        summary: format!(
            "{} touches; the last stands {} µm from the first; {told}.",
            curve.touches.len(),
            signed(um(end), 1)
        ),
        width: full,
        height,
        body,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_soak_can_be_drawn() {
        for (touches, fit, wait) in [
            (vec![(0.0, 0.0), (60.0, 0.01)], Some((0.0, 0.02, 90.0)), Some(100.0)),
            (vec![(0.0, 0.0)], None, None),
            (vec![(f64::NAN, f64::INFINITY), (1.0, 2.0)], Some((0.0, f64::NAN, 0.0)), Some(f64::MAX)),
        ] {
            let curve = SoakCurve { station: "tip".into(), touches, fit, wait };
            for width in [Width::Narrow, Width::Wide] {
                let drawn = picture(&curve, width).expect("a picture");
                assert!(!drawn.body.into_string().contains("NaN"));
            }
        }
        assert!(
            picture(
                &SoakCurve { station: "tip".into(), touches: Vec::new(), fit: None, wait: None },
                Width::Wide
            )
            .is_none()
        );
    }
}
