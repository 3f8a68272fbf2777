//! Touches of many runs: a panel for each station, each touch as a point, each run's mean as a bar.

use maud::{Markup, html};

use super::um;
use crate::show::chart::marks::{PointShape, line, point, rect};
use crate::show::chart::ticks::Tick;
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, labels, number, text};

/// One station's touches.
#[derive(Clone, Debug, PartialEq)]
pub struct RunsPanel {
    /// As shown.
    pub name: String,
    /// s of one touch, mm, where it is known: the band ± 2 s is shaded.
    pub s: Option<f64>,
    /// Runs with their touches, mm from the mean of all.
    pub runs: Vec<(String, Vec<f64>)>,
}

const PANEL: f64 = 130.0;
const GAP: f64 = 46.0;
/// Touches of a run that are drawn at most.
const MOST: usize = 60;

/// The picture; `None` without touches.
pub fn picture(panels: &[RunsPanel], width: Width) -> Option<Picture> {
    let panels: Vec<&RunsPanel> =
        panels.iter().filter(|panel| panel.runs.iter().any(|run| !run.1.is_empty())).collect();
    if panels.is_empty() {
        return None;
    }
    let full = width.px();
    let (left, right) = (48.0, full - 12.0);
    let end = panels.len() - 1;
    let body = html! {
        @for (i, panel) in panels.iter().enumerate() {
            @let top = 26.0 + (PANEL + GAP) * i as f64;
            @let all = panel.runs.iter().flat_map(|run| run.1.iter()).filter(|z| z.is_finite());
            @let far = all.fold(2.2 * panel.s.unwrap_or(0.0), |far, z| far.max(z.abs())).max(1e-5);
            @let ticks = panel.runs.iter().enumerate().map(|(i, run)| Tick { at: i as f64, label: labels::fitting(&run.0, 90.0) }).collect();
            @let plot = Plot {
                left, right, top, bottom: top + PANEL,
                x: Axis {
                    scale: Scale::linear(-0.5, panel.runs.len() as f64 - 0.5, left, right),
                    ticks,
                    title: if i == end { "run, in the log’s order".into() } else { String::new() },
                },
                y: Axis::linear(-1.08 * um(far), 1.08 * um(far), top + PANEL, top, 5, ""),
            };
            (one(&plot, panel))
        }
    };
    let told: Vec<String> = panels
        .iter()
        .map(|panel| {
            let s = panel.s.map_or_else(String::new, |s| format!(", s {} µm", number(um(s), 2)));
            let touches: usize = panel.runs.iter().map(|run| run.1.len()).sum();
            format!("{}: {touches} touches in {} runs{s}", panel.name, panel.runs.len())
        })
        .collect();
    Some(Picture {
        name: "study".into(),
        title: "Touches of each run about the mean of all".into(),
        summary: format!("{}.", told.join("; ")),
        width: full,
        height: 26.0 + (PANEL + GAP) * panels.len() as f64,
        body,
    })
}

fn one(plot: &Plot, panel: &RunsPanel) -> Markup {
    let (x, y) = (&plot.x.scale, &plot.y.scale);
    let edge = panel.s.map_or(0.0, |s| um(2.0 * s));
    html! {
        @if edge > 0.0 { (rect(plot.left, y.at(edge), plot.right - plot.left, y.at(-edge) - y.at(edge), "band")) }
        (plot.frame())
        (text(plot.left, plot.top - 9.0, Anchor::Start, "strong", &panel.name))
        (text(plot.left - 6.0, plot.top - 9.0, Anchor::End, "title", "µm"))
        @for (i, (_, touches)) in panel.runs.iter().enumerate() {
            @let drawn = touches.iter().take(MOST);
            @let count = drawn.len().max(1) as f64;
            @for (j, z) in drawn.enumerate() {
                (point(x.at(i as f64 - 0.3 + 0.6 * (j as f64 + 0.5) / count), y.at(um(*z)), PointShape::Ring, "p1"))
            }
            @let mean = touches.iter().sum::<f64>() / touches.len().max(1) as f64;
            @if !touches.is_empty() { (line(x.at(i as f64 - 0.38), y.at(um(mean)), x.at(i as f64 + 0.38), y.at(um(mean)), "hit")) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_runs_can_be_drawn() {
        let panel = |s, runs: &[&[f64]]| RunsPanel {
            name: "<tip>".into(),
            s,
            runs: runs.iter().map(|touches| ("\"1\"".to_owned(), touches.to_vec())).collect(),
        };
        for (s, runs) in [
            (Some(0.001), &[&[0.001, -0.002][..], &[]][..]),
            (None, &[&[0.0][..]][..]),
            (Some(f64::NAN), &[&[f64::NAN, 1e300][..]][..]),
        ] {
            for width in [Width::Narrow, Width::Wide] {
                let drawn = picture(&[panel(s, runs)], width).expect("a picture").file();
                assert!(
                    !drawn.contains("<tip>") && !drawn.contains("\"NaN") && !drawn.contains("inf"),
                    "{drawn}"
                );
                assert_eq!(drawn.matches("<circle").count(), runs.iter().map(|run| run.len()).sum::<usize>());
            }
        }
        assert!(picture(&[panel(None, &[])], Width::Wide).is_none());
    }
}
