//! What stands on a chart: points, bars, lines, bands, whiskers, rules, arrows.

use maud::{Markup, html};

use super::Px;

/// The shape of a point; each is told from the others without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointShape {
    /// A filled disc.
    Disc,
    /// An empty circle.
    Ring,
    /// An empty diamond.
    Diamond,
    /// A filled diamond.
    FullDiamond,
    /// An empty triangle.
    Triangle,
    /// A filled square.
    Square,
    /// A diagonal cross.
    Cross,
}

/// Lines and curves, in the letters of SVG's `d`.
#[derive(Clone, Debug, Default)]
pub struct Path(String);

impl Path {
    /// From here.
    #[must_use]
    pub fn from(x: f64, y: f64) -> Self {
        Self::default().jump(x, y)
    }

    /// On to there without a line.
    #[must_use]
    pub fn jump(mut self, x: f64, y: f64) -> Self {
        self.0.push_str(&format!("M {} {} ", Px(x).number(), Px(y).number()));
        self
    }

    /// A line to there.
    #[must_use]
    pub fn line(mut self, x: f64, y: f64) -> Self {
        self.0.push_str(&format!("L {} {} ", Px(x).number(), Px(y).number()));
        self
    }

    /// Closed.
    #[must_use]
    pub fn close(mut self) -> Self {
        self.0.push('Z');
        self
    }

    /// Drawn.
    pub fn draw(&self, class: &str) -> Markup {
        html! { path class=(class) d=(self.0.trim_end()) {} }
    }
}

/// A straight line.
pub fn line(x1: f64, y1: f64, x2: f64, y2: f64, class: &str) -> Markup {
    Path::from(x1, y1).line(x2, y2).draw(class)
}

/// A line through points.
pub fn through(points: &[(f64, f64)], class: &str) -> Markup {
    let path = points.iter().fold(Path::default(), |path, (x, y)| {
        if path.0.is_empty() { path.jump(*x, *y) } else { path.line(*x, *y) }
    });
    html! { @if points.len() > 1 { (path.draw(class)) } }
}

/// A rectangle from a corner, its sizes never below zero.
pub fn rect(x: f64, y: f64, width: f64, height: f64, class: &str) -> Markup {
    html! { rect class=(class) x=(Px(x)) y=(Px(y)) width=(Px(width.max(0.0))) height=(Px(height.max(0.0))) {} }
}

/// A point of about nine pixels.
pub fn point(x: f64, y: f64, shape: PointShape, class: &str) -> Markup {
    let class = format!(
        "{class} {}",
        if matches!(shape, PointShape::Disc | PointShape::Square | PointShape::FullDiamond) {
            "full"
        } else {
            "open"
        }
    );
    let diamond = || Path::from(x, y - 5.5).line(x + 5.5, y).line(x, y + 5.5).line(x - 5.5, y).close();
    match shape {
        PointShape::Disc | PointShape::Ring => {
            html! { circle class=(class) cx=(Px(x)) cy=(Px(y)) r="4.5" {} }
        }
        PointShape::Diamond | PointShape::FullDiamond => diamond().draw(&class),
        PointShape::Triangle => {
            Path::from(x, y - 5.5).line(x + 5.2, y + 4.0).line(x - 5.2, y + 4.0).close().draw(&class)
        }
        PointShape::Square => rect(x - 4.0, y - 4.0, 8.0, 8.0, &class),
        PointShape::Cross => Path::from(x - 4.2, y - 4.2)
            .line(x + 4.2, y + 4.2)
            .jump(x + 4.2, y - 4.2)
            .line(x - 4.2, y + 4.2)
            .draw(&class),
    }
}

/// A vertical whisker with ends.
pub fn whisker(x: f64, y1: f64, y2: f64, class: &str) -> Markup {
    let (left, right) = (x - 4.0, x + 4.0);
    Path::from(x, y1).line(x, y2).jump(left, y1).line(right, y1).jump(left, y2).line(right, y2).draw(class)
}

/// A horizontal whisker with ends.
pub fn reach(x1: f64, x2: f64, y: f64, class: &str) -> Markup {
    let (up, down) = (y - 4.0, y + 4.0);
    Path::from(x1, y).line(x2, y).jump(x1, up).line(x1, down).jump(x2, up).line(x2, down).draw(class)
}

/// An arrow head with its tip at a place; `up` points to smaller y.
pub fn head(x: f64, y: f64, up: bool, class: &str) -> Markup {
    let back = if up { 8.0 } else { -8.0 };
    Path::from(x, y).line(x - 3.6, y + back).line(x + 3.6, y + back).close().draw(class)
}

/// A vertical measure from y1 down to y2: arrows between where there is room, else from outside.
pub fn measure(x: f64, y1: f64, y2: f64) -> Markup {
    let (top, bottom) = (y1.min(y2), y1.max(y2));
    html! {
        @if bottom - top >= 20.0 {
            (line(x, top + 4.0, x, bottom - 4.0, "dim"))
            (head(x, top, true, "dim-head")) (head(x, bottom, false, "dim-head"))
        } @else {
            (line(x, top - 16.0, x, top - 4.0, "dim")) (line(x, bottom + 4.0, x, bottom + 16.0, "dim"))
            (head(x, top, false, "dim-head")) (head(x, bottom, true, "dim-head"))
        }
    }
}

/// A bar that reaches beyond what is drawn, or something like it: hatched by lines of its own, since a
/// pattern would need a name.
pub fn hatched(x: f64, y: f64, width: f64, height: f64, class: &str) -> Markup {
    let (width, height) = (width.max(0.0), height.max(0.0));
    let mut path = Path::default();
    let mut offset = 4.0;
    // Lines x + y = offset, clipped to the rectangle. A picture is at most some thousand pixels wide.
    while offset < (width + height).min(4_000.0) {
        let (x1, y1) = if offset <= height { (0.0, offset) } else { (offset - height, height) };
        let (x2, y2) = if offset <= width { (offset, 0.0) } else { (width, offset - width) };
        path = path.jump(x + x1, y + y1).line(x + x2, y + y2);
        offset += 5.0;
    }
    html! {
        (rect(x, y, width, height, &format!("{class} hollow")))
        @if !path.0.is_empty() { (path.draw(&format!("{class} hatch"))) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measures_turn_their_arrows_where_there_is_no_room() {
        let roomy = measure(0.0, 10.0, 60.0).into_string();
        let tight = measure(0.0, 10.0, 14.0).into_string();
        assert!(roomy.contains("M 0 14 L 0 56"), "{roomy}");
        assert!(tight.contains("M 0 -6 L 0 6") && tight.contains("M 0 18 L 0 30"), "{tight}");
    }

    #[test]
    fn hatching_stays_inside() {
        let drawn = hatched(100.0, 50.0, 20.0, 7.0, "a").into_string();
        let numbers: Vec<f64> = drawn
            .split("d=\"")
            .nth(1)
            .unwrap_or("")
            .split('"')
            .next()
            .unwrap_or("")
            .split(['M', 'L', ' '])
            .filter_map(|n| n.parse().ok())
            .collect();
        assert!(numbers.len() > 8);
        for pair in numbers.chunks(2) {
            assert!(
                (100.0..=120.0).contains(&pair[0]) && (50.0..=57.0).contains(&pair[1]),
                "{pair:?} {drawn}"
            );
        }
        assert!(!hatched(0.0, 0.0, f64::NAN, f64::INFINITY, "a").into_string().contains("NaN"));
    }

    #[test]
    fn one_point_is_no_line() {
        assert_eq!(through(&[(1.0, 2.0)], "a").into_string(), "");
        assert_eq!(through(&[], "a").into_string(), "");
    }
}
