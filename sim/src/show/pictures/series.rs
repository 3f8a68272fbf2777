//! One cycle's touches as points, station by station, with the band.

use maud::{Markup, html};
use zdatum::Station;

use super::um;
use crate::show::chart::marks::{PointShape, head, line, point, rect};
use crate::show::chart::ticks::{Tick, ticks};
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, labels, number, signed, text};

/// What a touch is to its series.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// It counts.
    Counted,
    /// The fast first approach.
    First,
    /// Thrown away.
    Settle,
    /// A slow touch that does not count.
    Dropped,
}

impl Role {
    /// All, in the order of the legend.
    pub const ALL: [Self; 4] = [Self::Counted, Self::First, Self::Settle, Self::Dropped];

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Counted => "counted",
            Self::First => "first, not counted",
            Self::Settle => "settle, not counted",
            Self::Dropped => "fine, not counted",
        }
    }

    const fn mark(self) -> (PointShape, &'static str) {
        match self {
            Self::Counted => (PointShape::Disc, "p1"),
            Self::First => (PointShape::Triangle, "pq"),
            Self::Settle => (PointShape::Diamond, "pq"),
            Self::Dropped => (PointShape::Cross, "pq"),
        }
    }
}

/// One station's touches in the order in which they were taken.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnSeries {
    /// Which.
    pub station: Station,
    /// Heights in mm.
    pub touches: Vec<(Role, f64)>,
    /// What stands for the series, mm.
    pub centre: f64,
}

impl DrawnSeries {
    /// Highest less lowest counted touch, µm.
    pub fn spread_um(&self) -> f64 {
        extremes(self).map_or(0.0, |(low, high)| um(high - low))
    }
}

/// Lowest and highest of the counted touches.
fn extremes(series: &DrawnSeries) -> Option<(f64, f64)> {
    let counted = || series.touches.iter().filter(|(role, _)| *role == Role::Counted).map(|(_, z)| *z);
    let (low, high) = (counted().fold(f64::INFINITY, f64::min), counted().fold(f64::NEG_INFINITY, f64::max));
    (low <= high).then_some((low, high))
}

/// The picture: a panel each, all on one scale of micrometres from the centre. `name` is the file's stem,
/// `run` the cycle's name as shown, `band` in mm.
pub fn picture(name: String, run: &str, all: &[DrawnSeries], band: f64, width: Width) -> Picture {
    let full = width.px();
    // Wide enough for the band wherever the counted touches lie in it, and for touches within another band of
    // it.
    let mut reach = um(band) * 0.6;
    for series in all {
        if let Some((low, high)) = extremes(series) {
            reach = reach.max(um(high - series.centre).abs()).max(um(low - series.centre).abs());
        }
    }
    let limit = reach + um(band) * 0.5;
    for (_, z) in
        all.iter().flat_map(|series| series.touches.iter().map(|(role, z)| (role, z - series.centre)))
    {
        if um(z).abs() <= limit {
            reach = reach.max(um(z).abs());
        }
    }
    reach *= 1.12;
    let panel_height = if width == Width::Wide { 212.0 } else { 176.0 };
    let count = all.len().max(1) as f64;
    let body = html! {
        @for (i, series) in all.iter().enumerate() {
            @let (left, top, right) = match width {
                Width::Wide => {
                    let step = (full - 40.0) / count;
                    (40.0 + step * i as f64, 46.0, 40.0 + step * (i as f64 + 1.0) - 12.0)
                }
                Width::Narrow => (44.0, 46.0 + (panel_height + 44.0) * i as f64, full - 8.0),
            };
            (panel(series, band, reach, (left, top, right, top + panel_height - 40.0), width == Width::Narrow || i == 0))
        }
        (legend(all, match width {
            Width::Wide => panel_height + 68.0,
            Width::Narrow => (panel_height + 44.0) * count + 24.0,
        }, width))
    };
    let told: Vec<String> = all
        .iter()
        .map(|series| {
            let counted = series.touches.iter().filter(|(role, _)| *role == Role::Counted).count();
            let spread = extremes(series).map_or(0.0, |(low, high)| um(high - low));
            format!(
                "{}: {counted} counted of {}, centre {} mm, spread {} µm",
                series.station.word(),
                series.touches.len(),
                signed(series.centre, 4),
                number(spread, 1)
            )
        })
        .collect();
    let rows = if width == Width::Wide { 1.0 } else { 2.0 };
    Picture {
        name,
        title: format!("Touches of run {run}"),
        summary: format!("{}. The band allows {} µm.", told.join("; "), number(um(band), 1)),
        width: full,
        height: match width {
            Width::Wide => panel_height + 48.0 + 18.0 * rows,
            Width::Narrow => (panel_height + 44.0) * count + 4.0 + 18.0 * rows,
        },
        body,
    }
}

fn panel(
    series: &DrawnSeries,
    band: f64,
    reach: f64,
    place: (f64, f64, f64, f64),
    with_scale: bool,
) -> Markup {
    let (left, top, right, bottom) = place;
    let touches = series.touches.len();
    let x_ticks = (1..=touches).map(|i| Tick { at: i as f64, label: i.to_string() }).collect();
    let mut y = Axis {
        scale: Scale::linear(-reach, reach, bottom, top),
        ticks: ticks(-reach, reach, 6),
        title: String::new(),
    };
    if !with_scale {
        for tick in &mut y.ticks {
            tick.label.clear();
        }
    }
    let x = Axis {
        scale: Scale::linear(0.4, touches.max(2) as f64 + 0.6, left, right),
        ticks: x_ticks,
        title: "touch".into(),
    };
    let plot = Plot { left, top, right, bottom, x, y };
    let (x, y) = (plot.x.scale, plot.y.scale);
    let spread = extremes(series);
    let title = format!("{} {} mm", series.station.word(), signed(series.centre, 4));
    html! {
        @if let Some((low, high)) = spread {
            // The band lies where the counted touches use it: from their middle half of it either way.
            @let middle = um((low + high) / 2.0 - series.centre);
            @let (up, down) = (y.at(middle + um(band) / 2.0), y.at(middle - um(band) / 2.0));
            (rect(left, up, right - left, down - up, "band"))
            (line(left, up, right, up, "band-edge")) (line(left, down, right, down, "band-edge"))
        }
        (plot.frame())
        @for (i, (role, z)) in series.touches.iter().enumerate() {
            @let off = um(z - series.centre);
            @let (shape, class) = role.mark();
            @let at = x.at(i as f64 + 1.0);
            @if y.holds(off) { (point(at, y.at(off), shape, class)) }
            @else { (beyond(at, off, (top, bottom), (left, right))) }
        }
        (text(left, top - 26.0, Anchor::Start, "strong", &title))
        @if let Some((low, high)) = spread {
            (text(left, top - 10.0, Anchor::Start, "soft small",
                &format!("spread {} of {} µm", number(um(high - low), 1), number(um(band), 1))))
        }
        @if with_scale { (text(left - 6.0, bottom + 17.0, Anchor::End, "soft small", "µm")) }
    }
}

/// A touch that is off the scale: an arrow at the edge with how far.
fn beyond(x: f64, off: f64, (top, bottom): (f64, f64), (left, right): (f64, f64)) -> Markup {
    let label = signed(off, 0);
    let half = labels::width(&label) / 2.0;
    let at = x.clamp(left + half, (right - half).max(left + half));
    let up = off > 0.0;
    html! {
        (head(x, if up { top + 1.0 } else { bottom - 1.0 }, up, "pq full"))
        (text(at, if up { top + 22.0 } else { bottom - 13.0 }, Anchor::Middle, "soft small halo", &label))
    }
}

fn legend(all: &[DrawnSeries], y: f64, width: Width) -> Markup {
    let used: Vec<Role> = Role::ALL
        .into_iter()
        .filter(|role| all.iter().any(|series| series.touches.iter().any(|(of, _)| of == role)))
        .collect();
    let (per_row, step) = if width == Width::Wide { (5, 140.0) } else { (2, 150.0) };
    html! {
        @for (i, role) in used.iter().enumerate() {
            @let (x, y) = (20.0 + step * (i % per_row) as f64, y + 18.0 * (i / per_row) as f64 - 8.0);
            @let (shape, class) = role.mark();
            (point(x, y - 4.0, shape, class))
            (text(x + 10.0, y, Anchor::Start, "soft", role.words()))
        }
    }
}
