//! The watch: a panel for each quantity, the moving average between its limits, alarms marked.

use maud::{Markup, html};

use crate::show::chart::marks::{PointShape, line, point, rect, through};
use crate::show::chart::ticks::Tick;
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, labels, number, text};

/// What one quantity did.
#[derive(Clone, Debug, PartialEq)]
pub struct TrackPicture {
    /// As shown.
    pub name: String,
    /// In their order, the oldest first.
    pub points: Vec<WatchPoint>,
}

/// One cycle of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WatchPoint {
    /// The entry's number.
    pub number: i64,
    /// The moving average in standard deviations; `None` while the chart still learns.
    pub average: Option<f64>,
    /// Whether the chart is in alarm.
    pub alarm: bool,
    /// Whether something that the owner entered began a new level here.
    pub begins: bool,
}

const PANEL: f64 = 104.0;
const GAP: f64 = 44.0;

/// The picture; `None` without points. `limit` is the average's, in standard deviations.
pub fn picture(tracks: &[TrackPicture], limit: f64, width: Width) -> Option<Picture> {
    let tracks: Vec<&TrackPicture> = tracks.iter().filter(|track| !track.points.is_empty()).collect();
    let numbers = || tracks.iter().flat_map(|track| track.points.iter().map(|point| point.number));
    let (first, last) = (numbers().min()?, numbers().max()?);
    let averages = tracks.iter().flat_map(|track| track.points.iter().filter_map(|point| point.average));
    let most = averages.filter(|x| x.is_finite()).map(f64::abs).fold(1.4 * limit, f64::max).min(6.0 * limit);
    let full = width.px();
    let (left, right) = (40.0, full - 12.0);
    let end = tracks.len() - 1;
    let body = html! {
        @for (i, track) in tracks.iter().enumerate() {
            @let top = 26.0 + (PANEL + GAP) * i as f64;
            @let ticks = track.points.iter().map(|point| Tick { at: point.number as f64, label: point.number.to_string() }).collect();
            @let plot = Plot {
                left, right, top, bottom: top + PANEL,
                x: Axis {
                    scale: Scale::linear(first as f64 - 0.6, last as f64 + 0.6, left, right),
                    ticks,
                    title: if i == end { "entry of the history".into() } else { String::new() },
                },
                y: Axis::linear(-most, most, top + PANEL, top, 5, ""),
            };
            (one(&plot, track, limit))
        }
        @let y = 26.0 + (PANEL + GAP) * tracks.len() as f64 + 14.0;
        (point(left + 6.0, y - 4.0, PointShape::Disc, "p1")) (text(left + 16.0, y, Anchor::Start, "soft", "steady"))
        (point(left + 76.0, y - 4.0, PointShape::Cross, "p2")) (text(left + 86.0, y, Anchor::Start, "soft", "in \
            alarm"))
        (point(left + 152.0, y - 4.0, PointShape::Ring, "pq")) (text(left + 162.0, y, Anchor::Start, "soft", "still \
            learning"))
    };
    let told: Vec<String> = tracks
        .iter()
        .map(|track| {
            let alarms = track.points.iter().filter(|point| point.alarm).count();
            let last = track.points.iter().rev().find_map(|point| point.average);
            let last = last.map_or_else(|| "still learning".into(), |x| format!("last {}", number(x, 2)));
            format!("{}: {last}, {alarms} of {} in alarm", track.name, track.points.len())
        })
        .collect();
    Some(Picture {
        name: "watch".into(),
        title: "Watch: moving average of each quantity between its limits".into(),
        summary: format!("In standard deviations, limits ±{}. {}.", number(limit, 2), told.join("; ")),
        width: full,
        height: 26.0 + (PANEL + GAP) * tracks.len() as f64 + 22.0,
        body,
    })
}

fn one(plot: &Plot, track: &TrackPicture, limit: f64) -> Markup {
    let (x, y) = (&plot.x.scale, &plot.y.scale);
    let known: Vec<(f64, f64)> = track
        .points
        .iter()
        .filter_map(|point| Some((x.at(point.number as f64), y.at(point.average?))))
        .collect();
    html! {
        (rect(plot.left, y.at(limit), plot.right - plot.left, y.at(-limit) - y.at(limit), "band"))
        (plot.frame())
        (line(plot.left, y.at(limit), plot.right, y.at(limit), "limit"))
        (line(plot.left, y.at(-limit), plot.right, y.at(-limit), "limit"))
        (text(plot.left, plot.top - 9.0, Anchor::Start, "strong", &labels::fitting(&track.name, plot.right - plot.left - 40.0)))
        (text(plot.left - 6.0, plot.top - 9.0, Anchor::End, "title", "s"))
        (through(&known, "l1"))
        @for one in &track.points {
            @let at = x.at(one.number as f64);
            @if one.begins { (line(at - 5.0, plot.top, at - 5.0, plot.bottom, "rule")) }
            @match (one.average, one.alarm) {
                (Some(average), true) => (point(at, y.at(average), PointShape::Cross, "p2")),
                (Some(average), false) => (point(at, y.at(average), PointShape::Disc, "p1")),
                (None, _) => (point(at, y.at(0.0), PointShape::Ring, "pq")),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_track_can_be_drawn() {
        let at = |number, average, alarm| WatchPoint { number, average, alarm, begins: number == 2 };
        let tracks = [
            TrackPicture {
                name: "<tip>".into(),
                points: vec![at(1, None, false), at(2, Some(0.1), false), at(9, Some(f64::MAX), true)],
            },
            TrackPicture { name: "drop".into(), points: vec![at(1, Some(f64::NAN), true)] },
            TrackPicture { name: "none".into(), points: Vec::new() },
        ];
        for width in [Width::Narrow, Width::Wide] {
            let drawn = picture(&tracks, 2.9, width).expect("a picture").file();
            assert!(!drawn.contains("NaN") && !drawn.contains("inf") && !drawn.contains("<tip>"), "{drawn}");
            assert_eq!(drawn.matches("class=\"limit\"").count(), 4);
            assert!(drawn.contains("1 of 3 in alarm"));
        }
        assert!(picture(&tracks[2..], 2.9, Width::Wide).is_none());
    }
}
