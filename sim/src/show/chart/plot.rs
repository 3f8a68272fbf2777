//! The frame of a chart: two axes with their ticks, grid and titles.

use maud::{Markup, html};

use super::labels::{Anchor, LINE, text, width};
use super::marks::line;
use super::scale::Scale;
use super::ticks::{Tick, ticks};

/// One axis.
#[derive(Clone, Debug)]
pub struct Axis {
    /// From values to pixels.
    pub scale: Scale,
    /// Where it is marked.
    pub ticks: Vec<Tick>,
    /// What it shows, with the unit.
    pub title: String,
}

impl Axis {
    /// An even axis with round ticks, at most so many.
    pub fn linear(low: f64, high: f64, from: f64, to: f64, most: usize, title: impl Into<String>) -> Self {
        let scale = Scale::linear(low, high, from, to);
        Self { scale, ticks: ticks(scale.low(), scale.high(), most), title: title.into() }
    }
}

/// A chart's frame. The rectangle is where values are drawn; ticks and titles stand outside of it.
#[derive(Clone, Debug)]
pub struct Plot {
    /// Pixels.
    pub left: f64,
    /// Pixels.
    pub top: f64,
    /// Pixels.
    pub right: f64,
    /// Pixels.
    pub bottom: f64,
    /// To the right.
    pub x: Axis,
    /// Upwards; its title stands over its upper end, where it can be read without turning the head.
    pub y: Axis,
}

impl Plot {
    /// Pixels that ticks and title of the x axis need below the rectangle.
    pub const BELOW: f64 = 38.0;

    /// How far a tick's label may reach beyond the rectangle.
    const OVER: f64 = 8.0;

    /// Grid, axes, ticks and titles: to be drawn before what stands on them.
    pub fn frame(&self) -> Markup {
        html! {
            @for tick in &self.y.ticks {
                @let y = self.y.scale.at(tick.at);
                (line(self.left, y, self.right, y, if tick.at == 0.0 { "zero" } else { "grid" }))
                (text(self.left - 6.0, y + 4.0, Anchor::End, "tick", &tick.label))
            }
            (line(self.left, self.bottom, self.right, self.bottom, "axis"))
            @for (tick, shown) in self.x.ticks.iter().zip(clear(&self.x, self.right + Self::OVER)) {
                @let x = self.x.scale.at(tick.at);
                (line(x, self.bottom, x, self.bottom + if shown.is_some() { 5.0 } else { 3.0 }, "axis"))
                @if let Some(place) = shown { (text(place, self.bottom + 17.0, Anchor::Middle, "tick", &tick.label)) }
            }
            @if !self.y.title.is_empty() { (text(4.0, self.top - 10.0, Anchor::Start, "title", &self.y.title)) }
            @if !self.x.title.is_empty() {
                (text((self.left + self.right) / 2.0, self.bottom + 19.0 + LINE, Anchor::Middle, "title", &self.x.title))
            }
        }
    }
}

/// Where labels of an axis are written, none beyond `end`; `None` for one that would touch the one before it.
fn clear(axis: &Axis, end: f64) -> Vec<Option<f64>> {
    let mut free = f64::NEG_INFINITY;
    axis.ticks
        .iter()
        .map(|tick| {
            let half = width(&tick.label) / 2.0;
            let x = axis.scale.at(tick.at).min(end - half);
            if x - half < free {
                return None;
            }
            free = x + half + 4.0;
            Some(x)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_that_would_touch_are_left_out_their_marks_stay() {
        let ticks = (0..40).map(|i| Tick { at: f64::from(i), label: format!("run {i}") }).collect();
        let x = Axis { scale: Scale::linear(0.0, 39.0, 0.0, 200.0), ticks, title: "x".into() };
        let shown = clear(&x, 208.0);
        assert_eq!(shown[0], Some(0.0));
        let places: Vec<f64> = shown.iter().flatten().copied().collect();
        assert!(places.last().is_some_and(|last| last + width("run 39") / 2.0 <= 208.0));
        assert!((3..10).contains(&places.len()), "{places:?}");
        assert!(places.windows(2).all(|two| two[1] - two[0] > width("run 0")), "{places:?}");
        let y = Axis::linear(0.0, 1.0, 100.0, 0.0, 5, "");
        let plot = Plot { left: 0.0, top: 0.0, right: 200.0, bottom: 100.0, x, y };
        let drawn = plot.frame().into_string();
        assert_eq!(drawn.matches("class=\"axis\"").count(), 41);
    }
}
