//! The three touches and the landing, their heights to scale.

use maud::{Markup, html};

use crate::show::chart::labels::{apart, lines};
use crate::show::chart::marks::{Path, head, line, measure, rect};
use crate::show::chart::{Anchor, Picture, Px, Width, number, signed, text};

/// Heights to draw, in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct StationHeights {
    /// T, S, P as touched: centres of their stations.
    pub touched: [f64; 3],
    /// Their standard uncertainties, where they were measured.
    pub touched_u: Option<[f64; 3]>,
    /// L.
    pub landing: f64,
    /// Its U, with the coverage in per cent.
    pub landing_u: Option<(f64, u8)>,
    /// d.
    pub drop: f64,
    /// t with its standard uncertainty.
    pub trip_depth: (f64, f64),
    /// r.
    pub rise: f64,
    /// What speed and growth add to L.
    pub corrections: f64,
}

/// Sizes that are not to scale, in pixels.
const CARRIAGE: f64 = 40.0;
const TIP_BELOW: f64 = 88.0;
const SWITCH: f64 = 26.0;
const SWITCH_FOOT: f64 = 36.0;
const PLATE: f64 = 12.0;
/// The scale of heights at the left.
const SCALE_WIDTH: f64 = 52.0;

/// What of the probe presses something.
#[derive(Clone, Copy)]
enum Presses {
    Shoulder,
    Plunger,
}

/// Where things are in one row of views.
struct ViewRow<'a> {
    heights: &'a StationHeights,
    /// Pixels for each mm.
    per_mm: f64,
    /// Pixel row of the datum switch's trip height.
    trip: f64,
    /// Pixel row of the frame.
    ground: f64,
    left: f64,
    right: f64,
}

/// The picture. On a wide one the four views stand side by side, on a narrow one two and two.
pub fn picture(heights: &StationHeights, width: Width) -> Picture {
    let full = width.px();
    let above = |mm: f64| if mm.is_finite() { mm } else { 0.0 };
    let (d, t, r) = (above(heights.drop), above(heights.trip_depth.0), above(heights.rise));
    let top = [0.0, d, r, r + t + d, r + above(heights.corrections)].into_iter().fold(0.0, f64::max);
    let room = if width == Width::Wide { 230.0 } else { 190.0 };
    let span = top - r.min(0.0);
    let per_mm = if span > 1e-6 { room / span } else { 1.0 };
    let row_height = 52.0 + CARRIAGE + room + TIP_BELOW + SWITCH + SWITCH_FOOT + below(heights);
    let row = |number: f64| {
        let begin = number * row_height;
        let trip = begin + 52.0 + CARRIAGE + top * per_mm + TIP_BELOW;
        // The frame lies below the lowest plate as well.
        let ground = begin + 52.0 + CARRIAGE + room + TIP_BELOW + SWITCH + SWITCH_FOOT;
        ViewRow { heights, per_mm, trip, ground, left: SCALE_WIDTH, right: full - 4.0 }
    };
    let (body, height) = match width {
        Width::Wide => (row(0.0).views(&[1, 2, 3, 4]), row_height),
        Width::Narrow => (html! { (row(0.0).views(&[1, 2])) (row(1.0).views(&[3, 4])) }, 2.0 * row_height),
    };
    let equation = equation(heights, width, height + 16.0);
    Picture {
        name: "three-touches".into(),
        title: "The three touches and the landing".into(),
        summary: summary(heights),
        width: full,
        height: height + if width == Width::Wide { 66.0 } else { 84.0 },
        body: html! { (body) (equation) },
    }
}

/// Pixels for the figures below the frame.
fn below(heights: &StationHeights) -> f64 {
    if heights.touched_u.is_some() { 86.0 } else { 70.0 }
}

fn summary(heights: &StationHeights) -> String {
    let [t, s, p] = heights.touched;
    format!(
        "Heights of the carriage, to scale. One: the tip presses the datum switch, T is {} mm. Two: the \
            shoulder of \
            the probe presses \
         the datum switch, S is {} mm; the shoulder hangs d, {} mm, below the tip. Three: the plunger meets \
         the plate, \
         P is {} mm; \
         its end stands t, {} mm, below the shoulder when it trips. Four: the tip just meets the plate, the \
         landing L \
         is {} mm; \
         the plate stands r, {} mm, above the trip height of the datum switch.",
        signed(t, 4),
        signed(s, 4),
        number(heights.drop, 4),
        signed(p, 4),
        number(heights.trip_depth.0, 4),
        signed(heights.landing, 4),
        signed(heights.rise, 4)
    )
}

fn equation(heights: &StationHeights, width: Width, y: f64) -> Markup {
    let [t, s, p] = heights.touched;
    let correction = if number(heights.corrections, 4).chars().any(|c| c.is_ascii_digit() && c != '0') {
        let sign = if heights.corrections < 0.0 { '−' } else { '+' };
        Some(format!(" {sign} {}", number(heights.corrections.abs(), 4)))
    } else {
        None
    };
    let in_brackets = |x: f64| if x < 0.0 { format!("({})", number(x, 4)) } else { number(x, 4) };
    let numbers = format!(
        "{} = {} − ({} − {}) − {}",
        number(heights.landing, 4),
        number(p, 4),
        number(s, 4),
        in_brackets(t),
        number(heights.trip_depth.0, 4)
    );
    let middle = width.px() / 2.0;
    let corrections = correction.as_ref().map_or("", |_| " + corrections");
    html! {
        text x=(Px(middle)) y=(Px(y)) text-anchor="middle" class="eq" {
            tspan class="sym t1" { "L" } " = " tspan class="sym t1" { "P" } " − (" tspan class="sym \
                t1" { "S" } " − "
            tspan class="sym t1" { "T" } ") − " tspan class="sym t2" { "t" } (corrections)
        }
        @if width == Width::Wide {
            (text(middle, y + 22.0, Anchor::Middle, "", &format!("{numbers}{} \
                mm", correction.unwrap_or_default())))
            (text(middle, y + 42.0, Anchor::Middle, "soft small",
                "Heights of the carriage: blue. Lengths: orange. Heights to scale; carriage, nozzle, switch \
                    and widths \
                    are not."))
        } @else {
            (text(middle, y + 22.0, Anchor::Middle, "", &numbers))
            @if let Some(correction) = correction {
                (text(middle, y + 38.0, Anchor::Middle, "", &format!("{correction} mm (speed and growth)")))
            }
            (text(middle, y + 58.0, Anchor::Middle, "soft small", "Blue: carriage heights. Orange: lengths. \
                Heights to \
                scale."))
        }
    }
}

impl ViewRow<'_> {
    /// Pixel row of a height above the datum switch's trip height.
    fn y(&self, mm: f64) -> f64 {
        if mm.is_finite() { self.trip - mm * self.per_mm } else { self.trip }
    }

    /// Pixel row of the carriage's own mark when it stands at a height.
    fn carriage(&self, z: f64) -> f64 {
        self.y(z - self.heights.touched[0]) - TIP_BELOW
    }

    fn views(&self, which: &[u8]) -> Markup {
        let width = (self.right - self.left) / which.len() as f64;
        let views = which.iter().enumerate().map(|(i, view)| (self.left + width * i as f64, *view));
        html! {
            (self.scale(which, width))
            (line(self.left, self.ground, self.right, self.ground, "ground"))
            @for (x, view) in views { (self.view(x, width, view)) }
        }
    }

    /// The scale of carriage heights with a level for each view shown.
    fn scale(&self, which: &[u8], width: f64) -> Markup {
        let heights = self.heights;
        let [t, s, p] = heights.touched;
        let all = [(1, "T", t), (2, "S", s), (3, "P", p), (4, "L", heights.landing)];
        // The landing is read against T, so its row shows both.
        let shown: Vec<_> = all
            .into_iter()
            .filter(|(view, ..)| which.contains(view) || (*view == 1 && which.contains(&4)))
            .map(|(view, name, z)| (view, name, self.carriage(z)))
            .collect();
        let rows: Vec<f64> = shown.iter().map(|(_, _, y)| *y).collect();
        let top = rows.iter().copied().fold(f64::INFINITY, f64::min);
        let names = apart(&rows, 17.0, top - 12.0, self.ground);
        let x = 34.0;
        html! {
            (line(x, self.ground, x, top - 26.0, "z")) (head(x, top - 34.0, true, "z-head"))
            (text(x - 14.0, top - 26.0, Anchor::End, "sym t1", "Z"))
            @for ((view, name, y), label) in shown.iter().zip(names) {
                @let place = which.iter().position(|w| w == view);
                // A level runs to its view; T and L to the end, where r is read between them.
                @let end = match (place, view) {
                    (Some(i), 2 | 3) => self.left + width * i as f64 + 34.0,
                    _ if which.contains(&4) => self.right,
                    (Some(i), _) => self.left + width * i as f64 + 34.0,
                    (None, _) => self.right,
                };
                (line(x, *y, end, *y, "level"))
                (Path::from(x - 5.0, *y).line(x + 5.0, *y).draw("z"))
                @if (label - y).abs() > 2.0 { (Path::from(x - 5.0, *y).line(x - 12.0, label).draw("z")) }
                (text(x - 14.0, label + 6.0, Anchor::End, "sym t1", name))
            }
        }
    }

    fn view(&self, x: f64, width: f64, view: u8) -> Markup {
        let heights = self.heights;
        let [t, s, p] = heights.touched;
        let (title, z) = match view {
            1 => (["1  tip on", "datum switch"], t),
            2 => (["2  shoulder on", "datum switch"], s),
            3 => (["3  plunger", "on plate"], p),
            _ => (["landing: tip", "on plate"], heights.landing),
        };
        let reference = self.carriage(z);
        // The nozzle left of the middle, the probe right of it.
        let middle = x + width * 0.5 - if view == 4 { 16.0 } else { 0.0 };
        let probe = middle + 18.0;
        let nozzle = middle - if view == 1 { 0.0 } else { 10.0 };
        let tip = match view {
            1 => self.y(0.0),
            4 => self.y(heights.rise),
            _ => reference + TIP_BELOW,
        };
        let centre = if view == 1 || view == 4 { nozzle } else { (probe + nozzle) / 2.0 + 12.0 };
        let caption = |i: usize| title.get(i).copied().unwrap_or_default();
        html! {
            (text(x + width / 2.0, reference.min(self.carriage(p)) - CARRIAGE - 30.0, Anchor::Middle, "strong", caption(0)))
            (text(x + width / 2.0, reference.min(self.carriage(p)) - CARRIAGE - 15.0, Anchor::Middle, "strong", caption(1)))
            @match view {
                1 => (self.datum(nozzle)),
                2 => { (self.datum(probe)) },
                3 => { (self.bed(x + 8.0, x + width - 8.0)) },
                _ => { (self.bed(x + 8.0, x + width - 44.0)) },
            }
            (nozzle_shape(nozzle, reference, tip))
            @match view {
                1 => { (line(nozzle - 10.0, tip, nozzle + 10.0, tip, "hit")) },
                2 => { (self.probe(probe, reference, self.y(0.0), self.y(0.0) + 40.0, Presses::Shoulder)) (self.drop(probe, tip, nozzle)) },
                3 => {
                    @let shoulder = self.y(heights.rise + heights.trip_depth.0);
                    (self.probe(probe, reference, shoulder, self.y(heights.rise), Presses::Plunger))
                    (self.depth(probe))
                },
                _ => { (line(nozzle - 10.0, tip, nozzle + 10.0, tip, "hit")) (self.rise(x + width)) },
            }
            (rect(centre - 46.0, reference - CARRIAGE, 92.0, CARRIAGE, "part"))
            (text(centre, reference - CARRIAGE / 2.0 + 4.0, Anchor::Middle, "soft", "carriage"))
            (line(centre - 50.0, reference, centre + 50.0, reference, "ref"))
            (lines(x + width / 2.0, self.ground + 18.0, Anchor::Middle, "", &self.figures(view)))
        }
    }

    /// What is known of a view, below it.
    fn figures(&self, view: u8) -> Vec<String> {
        let heights = self.heights;
        let touched = |name: &str, i: usize| {
            let z = heights.touched.get(i).copied().unwrap_or(f64::NAN);
            let u = heights.touched_u.and_then(|all| all.get(i).copied());
            let height = format!("{name} {} mm", signed(z, 4));
            [Some(height), u.map(|u| format!("u {} mm", number(u, 4)))]
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
        };
        match view {
            1 => touched("T", 0).into_iter().collect(),
            2 => [touched("S", 1), vec![format!("d {} mm", number(heights.drop, 4))]].concat(),
            3 => {
                let (t, u) = heights.trip_depth;
                let depth = format!("t {} mm", number(t, 4));
                [touched("P", 2), vec![depth, format!("u {} mm", number(u, 4))]].concat()
            }
            _ => {
                let u = heights.landing_u.map(|(u, percent)| format!("U {} mm, {percent} %", number(u, 4)));
                let landing = format!("L {} mm", signed(heights.landing, 4));
                [Some(landing), u, Some(format!("r {} mm", signed(heights.rise, 4)))]
                    .into_iter()
                    .flatten()
                    .collect()
            }
        }
    }

    fn datum(&self, x: f64) -> Markup {
        let trip = self.y(0.0);
        html! {
            (rect(x - 17.0, self.ground - SWITCH_FOOT, 34.0, SWITCH_FOOT, "fixed"))
            (rect(x - 6.0, trip, 12.0, self.ground - SWITCH_FOOT - trip, "part"))
        }
    }

    fn bed(&self, left: f64, right: f64) -> Markup {
        let surface = self.y(self.heights.rise);
        html! {
            (rect(left + 8.0, surface + PLATE, right - left - 16.0, self.ground - surface - PLATE, "fixed"))
            (rect(left, surface, right - left, PLATE, "plate"))
        }
    }

    /// The probe's body down to its shoulder, with the plunger beside it.
    fn probe(&self, x: f64, reference: f64, shoulder: f64, plunger: f64, presses: Presses) -> Markup {
        let (left, right, y) = match presses {
            Presses::Shoulder => (x - 17.0, x + 15.0, shoulder),
            Presses::Plunger => (x + 15.0, x + 29.0, plunger),
        };
        html! {
            (rect(x + 17.0, shoulder - 4.0, 10.0, plunger - shoulder + 4.0, "part"))
            (rect(x - 17.0, reference, 48.0, (shoulder - reference).max(4.0), "part"))
            (text(x + 7.0, reference + 22.0, Anchor::Middle, "soft", "probe"))
            (line(left, y, right, y, "hit"))
        }
    }

    /// d between tip and shoulder.
    fn drop(&self, probe: f64, tip: f64, nozzle: f64) -> Markup {
        let (x, trip) = (nozzle - 26.0, self.y(0.0));
        html! {
            (line(x - 6.0, tip, nozzle - 5.0, tip, "ext")) (line(x - 6.0, trip, probe - 18.0, trip, "ext"))
            (measure(x, tip, trip))
            (text(x - 7.0, (tip + trip) / 2.0 + 6.0, Anchor::End, "sym t2 halo", "d"))
        }
    }

    /// t between the shoulder and the end of the plunger.
    fn depth(&self, probe: f64) -> Markup {
        let (x, plate) = (probe + 44.0, self.y(self.heights.rise));
        let shoulder = self.y(self.heights.rise + self.heights.trip_depth.0);
        html! {
            (line(probe + 31.0, shoulder, x + 6.0, shoulder, "ext"))
            (measure(x, shoulder, plate))
            (text(x + 7.0, (shoulder + plate) / 2.0 + 6.0, Anchor::Start, "sym t2 halo", "t"))
        }
    }

    /// r between the datum switch's trip height and the plate.
    fn rise(&self, end: f64) -> Markup {
        let (x, trip, plate) = (end - 26.0, self.y(0.0), self.y(self.heights.rise));
        html! {
            (line(self.left + 20.0, trip, end - 16.0, trip, "ext"))
            (line(end - 42.0, plate, end - 16.0, plate, "ext"))
            (measure(x, trip, plate))
            (text(x + 7.0, (trip + plate) / 2.0 + 6.0, Anchor::Start, "sym t2 halo", "r"))
        }
    }
}

fn nozzle_shape(x: f64, from: f64, tip: f64) -> Markup {
    let (wide, narrow) = (14.0, 4.0);
    Path::from(x - wide, from)
        .line(x - wide, tip - 32.0)
        .line(x - wide + 4.0, tip - 32.0)
        .line(x - narrow, tip - 4.0)
        .line(x - narrow, tip)
        .line(x + narrow, tip)
        .line(x + narrow, tip - 4.0)
        .line(x + wide - 4.0, tip - 32.0)
        .line(x + wide, tip - 32.0)
        .line(x + wide, from)
        .close()
        .draw("part")
}
