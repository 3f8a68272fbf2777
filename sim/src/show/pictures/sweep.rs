//! The error against a setting that is changed step by step.

use maud::html;

use super::um;
use crate::show::chart::labels::apart;
use crate::show::chart::marks::{PointShape, line, point, through};
use crate::show::chart::ticks::Tick;
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, number, text};
use zdatum_world::questions::sweep::{Sweep, Swept};

/// What is swept, in words for a title, an axis and a file.
fn words(swept: Swept) -> (&'static str, &'static str, &'static str) {
    match swept {
        Swept::Touches => (
            "Error against the number of touches",
            "counted touches at each station",
            "error-against-touches",
        ),
        Swept::Noise => (
            "Error against the noise of the switches",
            "noise of the switches, times the machine file’s",
            "error-against-noise",
        ),
    }
}

/// A number as it would be written by hand: no more decimals than it has.
pub fn short(x: f64) -> String {
    let text = number(x, 2);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// The picture; `None` with fewer than two points that have an error.
pub fn picture(sweep: &Sweep, width: Width) -> Option<Picture> {
    let known: Vec<_> = sweep.points.iter().filter_map(|point| Some((point, point.figures.sd?))).collect();
    let (first, last) = (known.first()?.0.at, known.last()?.0.at);
    if known.len() < 2 {
        return None;
    }
    let (title, axis, name) = words(sweep.swept);
    let (full, height) = (width.px(), 286.0);
    let most =
        known.iter().map(|(point, sd)| um(sd.value.max(point.core_u.unwrap_or(0.0)))).fold(0.0, f64::max);
    let (left, right, top, bottom) = (44.0, full - 92.0, 46.0, height - Plot::BELOW - 4.0);
    let margin = if sweep.swept == Swept::Touches { 0.5 } else { 0.0 };
    let scale = match sweep.swept {
        Swept::Touches => Scale::linear(first - margin, last + margin, left, right),
        Swept::Noise => Scale::logarithmic(first / 1.08, last * 1.08, left, right),
    };
    let ticks = known.iter().map(|(point, _)| Tick { at: point.at, label: short(point.at) }).collect();
    let plot = Plot {
        left,
        right,
        top,
        bottom,
        x: Axis { scale, ticks, title: axis.into() },
        y: Axis::linear(0.0, most * 1.08, bottom, top, 6, ""),
    };
    let (x, y) = (plot.x.scale, plot.y.scale);
    let simulated: Vec<_> = known.iter().map(|(point, sd)| (x.at(point.at), y.at(um(sd.value)))).collect();
    let core: Vec<_> =
        known.iter().filter_map(|(point, _)| Some((x.at(point.at), y.at(um(point.core_u?))))).collect();
    let end = |points: &[(f64, f64)]| points.last().map_or(bottom, |last| last.1);
    let ends = apart(&[end(&simulated), end(&core)], 16.0, top, bottom);
    let own = known.iter().find(|(point, _)| point.is_own);
    let body = html! {
        (plot.frame())
        (text(4.0, 13.0, Anchor::Start, "title", "one standard deviation of the error, µm"))
        @if let Some((own, _)) = own {
            (line(x.at(own.at), top - 2.0, x.at(own.at), bottom, "rule"))
            (text(x.at(own.at), top - 8.0, Anchor::Middle, "soft small halo", "this machine"))
        }
        (through(&core, "l1"))
        @for (x, y) in &core { (point(*x, *y, PointShape::Disc, "p1")) }
        (through(&simulated, "l2"))
        @for (x, y) in &simulated { (point(*x, *y, PointShape::Diamond, "p2")) }
        @if let [of_simulated, of_core] = ends.as_slice() {
            (text(right + 12.0, of_simulated + 4.0, Anchor::Start, "t2 strong", "simulated"))
            @if !core.is_empty() { (text(right + 12.0, of_core + 4.0, Anchor::Start, "t1 strong", "core’s \
                u")) }
        }
    };
    let told: Vec<String> = known
        .iter()
        .map(|(point, sd)| format!("{} at {}", number(um(sd.value), 2), short(point.at)))
        .collect();
    Some(Picture {
        name: name.into(),
        title: title.into(),
        summary: format!("Simulated standard deviation in µm: {}.", told.join(", ")),
        width: full,
        height,
        body,
    })
}
