//! Sobol' indices with their intervals: what each source makes of the error, and of the refusals.

use maud::{Markup, html};

use crate::show::chart::marks::{Shape, line, point, reach};
use crate::show::chart::ticks::Tick;
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, number, text};
use crate::show::sensitivity::{Row, rows};
use zdatum_world::questions::budget::refusals::{Index, Pair, Sensitivity};

/// Height of one source, pixels.
const ROW: f64 = 30.0;
/// Room for its name.
const NAMES: f64 = 154.0;
/// Above all: what the marks mean.
const TOP: f64 = 28.0;
/// Above a panel: its title.
const HEAD: f64 = 26.0;
/// Whiskers shorter than this lie within the mark.
const LEAST: f64 = 11.0;

/// A panel: its title, and what it shows of a source.
type Panel = (&'static str, fn(&Row) -> Option<Pair>);

/// The picture; `None` where neither varies.
pub fn picture(found: &Sensitivity, width: Width) -> Option<Picture> {
    let rows: Vec<Row> = rows(found).into_iter().filter(Row::matters).collect();
    let panels: [Panel; 2] =
        [("of the first-layer error", |row| row.error), ("of being refused", |row| row.refusal)];
    let panels: Vec<Panel> =
        panels.into_iter().filter(|(_, of)| rows.iter().any(|row| of(row).is_some())).collect();
    if panels.is_empty() {
        return None;
    }
    let (full, deep) = (width.px(), ROW * rows.len() as f64);
    let beside = width == Width::Wide && panels.len() > 1;
    let gap = 34.0;
    let wide = if beside { (full - NAMES - gap - 14.0) / 2.0 } else { full - NAMES - 14.0 };
    let step = HEAD + deep + Plot::BELOW + 8.0;
    let ends = ends(&rows, &panels);
    let place = |i: usize| {
        let (x, y) = if beside { (i as f64 * (wide + gap), 0.0) } else { (0.0, i as f64 * step) };
        Place { left: NAMES + x, y: TOP + y, wide, named: i == 0 || !beside, ends }
    };
    let body = html! {
        (point(10.0, 9.0, Shape::Disc, "p1"))
        (text(20.0, 13.0, Anchor::Start, "t1 strong", "alone"))
        (point(82.0, 9.0, Shape::Diamond, "p2"))
        (text(92.0, 13.0, Anchor::Start, "t2 strong", "with all that it acts together with"))
        @for (i, one) in panels.iter().enumerate() { (panel(&rows, *one, &place(i))) }
    };
    let count = if beside { 1 } else { panels.len() };
    Some(Picture {
        name: "sensitivity".into(),
        title: "What each source makes of the error, and of the refusals".into(),
        summary: panels.iter().map(|panel| told(&rows, panel)).collect::<Vec<_>>().join(" "),
        width: full,
        height: TOP + step * count as f64,
        body,
    })
}

/// The ends of the axis, in per cent: estimates lie a little below none and above all by chance; what lies further out is cut off.
fn ends(rows: &[Row], panels: &[Panel]) -> (f64, f64) {
    let pairs = rows.iter().flat_map(|row| panels.iter().filter_map(|(_, of)| of(row)));
    let indices = pairs.flat_map(|pair| [pair.first, pair.total]);
    let (low, high) =
        indices.fold((0.0_f64, 1.0_f64), |(low, high), index| (low.min(index.low), high.max(index.high)));
    ((100.0 * low - 4.0).max(-40.0), (100.0 * high + 4.0).min(140.0))
}

/// Where a panel stands, and whether the sources' names stand beside it.
struct Place {
    left: f64,
    y: f64,
    wide: f64,
    named: bool,
    ends: (f64, f64),
}

fn panel(rows: &[Row], (title, of): Panel, place: &Place) -> Markup {
    let (left, right, top) = (place.left, place.left + place.wide, place.y + HEAD);
    let bottom = top + ROW * rows.len() as f64;
    let scale = Scale::linear(place.ends.0, place.ends.1, left, right);
    let ticks = [0.0, 25.0, 50.0, 75.0, 100.0].map(|at| Tick { at, label: number(at, 0) });
    let x = Axis { scale, ticks: ticks.to_vec(), title: "share of the variance, %".into() };
    let none = Axis { scale: Scale::linear(0.0, 1.0, bottom, top), ticks: Vec::new(), title: String::new() };
    let plot = Plot { left, right, top, bottom, x, y: none };
    html! {
        (text(left, top - 9.0, Anchor::Start, "strong", title))
        @for tick in &plot.x.ticks {
            @let x = scale.at(tick.at);
            (line(x, top, x, bottom, if tick.at == 0.0 { "zero" } else { "grid" }))
        }
        (plot.frame())
        @for (i, row) in rows.iter().enumerate() {
            @let middle = top + ROW * (i as f64 + 0.5);
            @if i > 0 { (line(left, top + ROW * i as f64, right, top + ROW * i as f64, "grid")) }
            @if place.named { (text(left - 10.0, middle + 4.0, Anchor::End, "", row.name)) }
            @if let Some(pair) = of(row) {
                (mark(&scale, &pair.first, middle - 6.0, Shape::Disc, "p1"))
                (mark(&scale, &pair.total, middle + 6.0, Shape::Diamond, "p2"))
            }
        }
    }
}

fn mark(scale: &Scale, index: &Index, y: f64, shape: Shape, class: &str) -> Markup {
    let at = |share: f64| scale.at(100.0 * share);
    let (low, high) = (at(index.low), at(index.high));
    html! {
        @if high - low > LEAST { (reach(low, high, y, "whisker")) }
        (point(at(index.value), y, shape, class))
    }
}

fn told(rows: &[Row], (title, of): &Panel) -> String {
    let of = |row: &Row| {
        let pair = of(row)?;
        let percent = |index: &Index| number(100.0 * index.value, 1);
        Some(format!("{} {} % alone, {} % with others", row.name, percent(&pair.first), percent(&pair.total)))
    };
    format!("Share of the variance {title}: {}.", rows.iter().filter_map(of).collect::<Vec<_>>().join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::picked::Drawn;

    fn index(value: f64, low: f64, high: f64) -> Index {
        Index { value, low, high }
    }

    fn found(error: Option<Vec<Pair>>, refusal: Option<Vec<Pair>>) -> Sensitivity {
        Sensitivity { runs: 256, error, refusal, sd: None, refused: 0.0, complete: true }
    }

    /// The first source makes all of it, the second a tenth with others and with doubt; the rest nothing.
    fn pairs() -> Vec<Pair> {
        let pair = |first, total| Pair { first, total };
        let mut all = vec![pair(index(0.0, 0.0, 0.0), index(0.001, 0.0, 0.002)); Drawn::ALL.len()];
        all[0] = pair(index(0.9, 0.899, 0.901), index(1.0, 0.999, 1.001));
        all[1] = pair(index(-0.01, -0.3, 0.2), index(0.1, 0.0, 0.4));
        all
    }

    #[test]
    fn where_nothing_varies_nothing_is_drawn() {
        assert!(picture(&found(None, None), Width::Wide).is_none());
        assert!(picture(&found(Some(pairs()), None), Width::Narrow).is_some());
    }

    #[test]
    fn each_source_that_matters_has_both_marks_and_whiskers_where_they_show() {
        for width in [Width::Narrow, Width::Wide] {
            let drawn = picture(&found(Some(pairs()), Some(pairs())), width).expect("a picture");
            let body = drawn.body.into_string();
            // A disc of each of two sources in two panels, and one in the legend.
            assert_eq!(body.matches("<circle").count(), 5);
            assert_eq!(body.matches("whisker").count(), 4);
            let names = body.matches(Drawn::ALL[0].name()).count();
            assert_eq!(names, if width == Width::Wide { 1 } else { 2 });
            assert!(!body.contains(Drawn::ALL[2].name()), "{body}");
            assert!(
                drawn.summary.contains("trip depth 90.0 % alone, 100.0 % with others"),
                "{}",
                drawn.summary
            );
        }
    }

    /// The one that makes most comes first.
    #[test]
    fn sources_stand_by_their_weight() {
        let mut turned = pairs();
        turned.swap(0, 4);
        let names: Vec<_> = rows(&found(Some(turned), None)).iter().map(|row| row.name).collect();
        assert_eq!(names[..2], [Drawn::ALL[4].name(), Drawn::ALL[1].name()]);
    }
}
