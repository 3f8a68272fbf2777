//! Landings in their order, a panel for each plate, each with its U.

use maud::{Markup, html};

use crate::show::chart::marks::{PointShape, line, point, whisker};
use crate::show::chart::ticks::Tick;
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, labels, number, signed, text};

/// With more landings than this in a panel, each is drawn small.
const CROWDED: usize = 60;

/// One cycle's landing.
#[derive(Clone, Debug, PartialEq)]
pub struct LandingMark {
    /// Place in the log, from 1.
    pub number: usize,
    /// The cycle's name as shown.
    pub run: String,
    /// Height seen, mm.
    pub height: f64,
    /// Its U, mm.
    pub expanded: f64,
    /// Whether it was accepted.
    pub accepted: bool,
}

/// A plate's landings, in their order; without a name where the log names none.
#[derive(Clone, Debug, PartialEq)]
pub struct PlatePanel {
    /// As shown.
    pub name: Option<String>,
    /// At least one.
    pub landings: Vec<LandingMark>,
}

/// Keeps so many plates, those that were used last; how many are left out.
pub fn keep_newest(plates: &mut Vec<PlatePanel>, most: usize) -> usize {
    let left_out = plates.len().saturating_sub(most);
    let last = |plate: &PlatePanel| plate.landings.last().map_or(0, |landing| landing.number);
    let mut ends: Vec<usize> = plates.iter().map(last).collect();
    ends.sort_unstable();
    let first_kept = ends.get(left_out).copied().unwrap_or(0);
    plates.retain(|plate| last(plate) >= first_kept);
    left_out
}

/// What the heights are, in words.
#[derive(Clone, Copy, Debug)]
pub struct Says {
    /// Stem of the picture's file.
    pub name: &'static str,
    /// What the picture is.
    pub title: &'static str,
    /// Over the axis of heights; short.
    pub axis: &'static str,
    /// Under the axis of cycles.
    pub order: &'static str,
    /// Beside the mark of what was accepted.
    pub accepted: &'static str,
}

const LANDINGS: Says = Says {
    name: "landings",
    title: "Landings for each plate",
    axis: "L in mm",
    order: "run, in the log’s order",
    accepted: "accepted, with ± U",
};

/// Spans over a history.
pub const SPANS: Says = Says {
    name: "plates",
    title: "Spans of each plate",
    axis: "mm",
    order: "run, in the history’s order",
    accepted: "accepted, with ± 2 u",
};

/// The picture; `None` without landings. `cycles` is how many the log has; the axis begins with the
/// first that is drawn. All panels have the same millimetres to the pixel, so that
/// a step here is as large as a step there.
pub fn picture(plates: &[PlatePanel], cycles: usize, width: Width) -> Option<Picture> {
    labelled(plates, cycles, &LANDINGS, width)
}

/// The same for another height of each cycle.
pub fn labelled(plates: &[PlatePanel], cycles: usize, says: &Says, width: Width) -> Option<Picture> {
    let ends = |plate: &PlatePanel| {
        plate.landings.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), landing| {
            (low.min(landing.height - landing.expanded), high.max(landing.height + landing.expanded))
        })
    };
    let plates: Vec<&PlatePanel> = plates.iter().filter(|plate| !plate.landings.is_empty()).collect();
    if plates.is_empty() {
        return None;
    }
    let first =
        plates.iter().flat_map(|plate| &plate.landings).map(|landing| landing.number).min().unwrap_or(1);
    let span =
        plates.iter().map(|plate| ends(plate)).map(|(low, high)| high - low).fold(1e-4, f64::max) * 1.15;
    let full = width.px();
    let (left, right, panel, gap) = (62.0, full - 12.0, 116.0, 48.0);
    let last = plates.len() - 1;
    let body = html! {
        @for (i, plate) in plates.iter().enumerate() {
            @let top = 26.0 + (panel + gap) * i as f64;
            @let (low, high) = ends(plate);
            @let middle = (low + high) / 2.0;
            @let ticks = plate.landings.iter().map(tick).collect();
            @let plot = Plot {
                left, right, top, bottom: top + panel,
                x: Axis {
                    scale: Scale::linear(first as f64 - 0.6, cycles as f64 + 0.6, left, right),
                    ticks,
                    title: if i == last { says.order.into() } else { String::new() },
                },
                y: Axis::linear(middle - span / 2.0, middle + span / 2.0, top + panel, top, 5, ""),
            };
            (plot.frame())
            @let name = plate.name.as_deref().map_or_else(|| "no plate \
                named".to_owned(), |name| format!("plate {name}"));
            (text(left, top - 9.0, Anchor::Start, "strong", &labels::fitting(&name, right - left - 30.0)))
            (text(left - 6.0, top - 9.0, Anchor::End, "title", says.axis))
            @if plate.landings.len() > CROWDED {
                @for landing in &plate.landings { (small(&plot, landing)) }
                // Last, so that nothing hides them.
                @for landing in plate.landings.iter().filter(|landing| !landing.accepted) { (one(&plot, landing)) }
            } @else {
                @for landing in &plate.landings { (one(&plot, landing)) }
            }
        }
        @let y = 26.0 + (panel + gap) * plates.len() as f64 + 14.0;
        (point(left + 6.0, y - 4.0, PointShape::Disc, "p1")) (text(left + 16.0, y, Anchor::Start, "soft", says.accepted))
        (point(left + 156.0, y - 4.0, PointShape::Cross, "p2")) (text(left + 166.0, y, Anchor::Start, "soft", "refused"))
    };
    let told: Vec<String> = plates
        .iter()
        .map(|plate| {
            let all: Vec<_> = plate
                .landings
                .iter()
                .map(|landing| {
                    let refused = if landing.accepted { "" } else { " refused" };
                    format!("{} ± {}{refused}", signed(landing.height, 4), number(landing.expanded, 4))
                })
                .collect();
            format!("{}: {}", plate.name.as_deref().unwrap_or("no plate named"), all.join(", "))
        })
        .collect();
    Some(Picture {
        name: says.name.into(),
        title: says.title.into(),
        summary: format!("In mm. {}.", told.join("; ")),
        width: full,
        height: 26.0 + (panel + gap) * plates.len() as f64 + 24.0,
        body,
    })
}

fn tick(landing: &LandingMark) -> Tick {
    Tick { at: landing.number as f64, label: labels::fitting(&landing.run, 120.0) }
}

/// An accepted one among many: a whisker without ends and a small disc.
fn small(plot: &Plot, landing: &LandingMark) -> Markup {
    let (x, y) = (plot.x.scale.at(landing.number as f64), &plot.y.scale);
    html! {
        @if landing.accepted {
            (line(x, y.at(landing.height + landing.expanded), x, y.at(landing.height - landing.expanded), "grid"))
            circle class="p1 \
                full" cx=(format!("{x:.2}")) cy=(format!("{:.2}", y.at(landing.height))) r="1.6" {}
        }
    }
}

fn one(plot: &Plot, landing: &LandingMark) -> Markup {
    let (x, y) = (plot.x.scale.at(landing.number as f64), &plot.y.scale);
    let (shape, class) = if landing.accepted { (PointShape::Disc, "p1") } else { (PointShape::Cross, "p2") };
    html! {
        (whisker(x, y.at(landing.height + landing.expanded), y.at(landing.height - landing.expanded), "whisker"))
        (point(x, y.at(landing.height), shape, class))
    }
}
