//! What a landing takes against how far the first layer may be off: the ways of touching that none other
//! beats in both.

use maud::html;

use super::um;
use crate::show::chart::labels::width as wide;
use crate::show::chart::marks::{PointShape, line, point, through};
use crate::show::chart::ticks::{Tick, ticks};
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, number, text};
use zdatum_world::questions::plan::{Front, Way};

/// Seconds that are marked.
const MARKS: [f64; 18] = [
    1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 80.0, 120.0, 180.0, 300.0, 600.0, 1200.0,
    3600.0,
];
/// Fewer marks say too little.
const FEWEST: usize = 3;
/// So many times the best reach are shown; what reaches further stands at the edge.
const SHOWN: f64 = 1.25;

/// The picture; `None` with fewer than two ways.
pub fn picture(front: &Front, width: Width) -> Option<Picture> {
    let (first, last) = (front.ways.first()?, front.ways.last()?);
    if front.ways.len() < 2 {
        return None;
    }
    let (full, height) = (width.px(), 300.0);
    let (left, right, top, bottom) = (44.0, full - 20.0, 34.0, height - Plot::BELOW - 4.0);
    let own = front.own.reach.is_finite().then_some(&front.own);
    let (within, least) = (um(front.within), um(last.reach));
    // A tolerance far from what is reached would leave nothing to be seen of the front.
    let is_near = within < 2.0 * SHOWN * least && within > least / (2.0 * SHOWN);
    let tolerance = is_near.then_some(within);
    let high = tolerance.into_iter().chain(own.map(|own| um(own.reach).min(2.0 * SHOWN * least)));
    let high = high.fold(SHOWN * least, f64::max) * 1.04;
    let y = Axis::linear(0.96 * tolerance.unwrap_or(least).min(least), high, bottom, top, 6, "");
    let seconds = front.ways.iter().chain(own).map(|way| way.seconds);
    let (from, to) =
        seconds.fold((first.seconds, last.seconds), |(from, to), s| (f64::min(from, s), f64::max(to, s)));
    let (from, to) = (from / 1.06, to * 1.06);
    let marks = || MARKS.into_iter().filter(|mark| from <= *mark && *mark <= to);
    let all = if marks().count() < FEWEST {
        ticks(from, to, 6)
    } else {
        marks().map(|at| Tick { at, label: number(at, 0) }).collect()
    };
    let scale = Scale::logarithmic(from, to, left, right);
    let x = Axis { scale, ticks: all, title: "seconds per landing, refused cycles included".into() };
    let plot = Plot { left, right, top, bottom, x, y };
    let at = |way: &Way| (plot.x.scale.at(way.seconds), plot.y.scale.at(um(way.reach)));
    let is_shown = |way: &&Way| plot.y.scale.holds(um(way.reach));
    let places: Vec<(f64, f64)> = front.ways.iter().map(at).collect();
    let beyond: Vec<&Way> = front.ways.iter().filter(|way| !is_shown(way)).collect();
    let body = html! {
        (plot.frame())
        (text(4.0, 13.0, Anchor::Start, "title", &heading(front.risk, width)))
        @if let Some(tolerance) = tolerance {
            @let y = plot.y.scale.at(tolerance);
            // Where the curve ends near the line or above it, there is room below.
            @let is_below = plot.y.scale.at(least) < y + 20.0;
            (line(left, y, right, y, "rule"))
            (text(right, if is_below { y + 15.0 } else { y - 6.0 }, Anchor::End, "strong halo", &format!("tolerance \
                ±{} µm", number(tolerance, 1))))
        }
        (through(&places, "l1"))
        @for way in front.ways.iter().filter(is_shown) { @let (x, y) = at(way); (point(x, y, PointShape::Disc, "p1")) }
        @for way in &beyond { @let (x, y) = at(way); (point(x, y + 5.0, PointShape::Triangle, "p1")) }
        @if let Some(way) = beyond.last() {
            @let (x, y) = at(way);
            (text(x + 10.0, y + 10.0, Anchor::Start, "t1 halo", &format!("up to {} µm", number(um(first.reach), 0))))
        }
        @if let Some(own) = own {
            @let (x, y) = at(own);
            @let label = "this machine";
            @let x_of = x.clamp(left + wide(label) / 2.0, right - wide(label) / 2.0);
            (point(x, y, PointShape::Diamond, "p2"))
            (text(x_of, y - 11.0, Anchor::Middle, "t2 strong halo", label))
        }
    };
    let told: Vec<String> = front
        .ways
        .iter()
        .map(|way| format!("{} µm in {} s", number(um(way.reach), 1), number(way.seconds, 1)))
        .collect();
    Some(Picture {
        name: "time-against-error".into(),
        title: "What a landing takes against how far the first layer may be off".into(),
        summary: format!("{}.", told.join(", ")),
        width: full,
        height,
        body,
    })
}

fn heading(risk: f64, width: Width) -> String {
    let one_in = number(1.0 / risk, 0);
    match width {
        Width::Narrow => format!("all but one in {one_in} stay within, µm"),
        Width::Wide => format!("all but one first layer in {one_in} stay within, µm"),
    }
}
