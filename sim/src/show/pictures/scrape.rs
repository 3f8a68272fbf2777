//! The chance of a scraping nozzle against the free gap, on a scale of powers of ten.

use maud::html;

use crate::show::chart::marks::{PointShape, point, through, whisker};
use crate::show::chart::ticks::Tick;
use crate::show::chart::{Anchor, Axis, Picture, Plot, Scale, Width, number, text};
use crate::show::scrape::chance;
use zdatum_world::questions::scrape::Scrape;

/// The smallest power of ten that is drawn.
const LEAST: f64 = -15.0;
const POWERS: [(f64, &str); 6] =
    [(0.0, "1"), (-3.0, "10⁻³"), (-6.0, "10⁻⁶"), (-9.0, "10⁻⁹"), (-12.0, "10⁻¹²"), (-15.0, "10⁻¹⁵")];

/// The picture; `None` with fewer than two gaps at which anything scraped.
pub fn picture(curve: &[Scrape], width: Width) -> Option<Picture> {
    let known: Vec<&Scrape> = curve.iter().filter(|rare| rare.scraped > 0 && rare.p.value > 0.0).collect();
    let (first, last) = (known.first()?.gap * 1e3, known.last()?.gap * 1e3);
    if known.len() < 2 {
        return None;
    }
    let (full, height) = (width.px(), 286.0);
    let (left, right, top, bottom) = (52.0, full - 16.0, 34.0, height - Plot::BELOW - 4.0);
    let margin = (last - first) * 0.04;
    let x =
        Axis::linear((first - margin).max(0.0), last + margin, left, right, 7, "free gap of the layer, µm");
    let ticks = POWERS.iter().map(|(at, label)| Tick { at: *at, label: (*label).into() }).collect();
    let y = Axis { scale: Scale::linear(LEAST, 0.0, bottom, top), ticks, title: String::new() };
    let plot = Plot { left, right, top, bottom, x, y };
    let power = |p: f64| libm::log10(p.max(1e-300)).clamp(LEAST, 0.0);
    let at = |gap: f64, p: f64| (plot.x.scale.at(gap * 1e3), plot.y.scale.at(power(p)));
    let seen: Vec<_> = known.iter().map(|rare| at(rare.gap, rare.p.value)).collect();
    let normal: Vec<_> = known.iter().filter_map(|rare| Some(at(rare.gap, rare.normal?))).collect();
    let ends = known.iter().filter_map(|rare| {
        let (low, high) = rare.interval?;
        let (x, upper) = at(rare.gap, high);
        let (_, lower) = at(rare.gap, low);
        // Where it is narrower than the mark nothing would be seen of it.
        (lower - upper > 9.0).then_some((x, upper, lower))
    });
    let legend = right - 8.0;
    let body = html! {
        (plot.frame())
        (text(4.0, 13.0, Anchor::Start, "title", "chance per cycle"))
        (through(&normal, "l2"))
        (through(&seen, "l1"))
        @for (x, upper, lower) in ends { (whisker(x, upper, lower, "whisker")) }
        @for (x, y) in &seen { (point(*x, *y, PointShape::Disc, "p1")) }
        (text(legend, top + 16.0, Anchor::End, "t1 strong halo", "through the real cycle"))
        (text(legend, top + 34.0, Anchor::End, "t2 strong halo", "if all were normal (dashed)"))
    };
    let told: Vec<String> = known
        .iter()
        .map(|rare| format!("{} at {} µm", chance(rare.p.value), number(rare.gap * 1e3, 1)))
        .collect();
    Some(Picture {
        name: "scrape-chance".into(),
        title: "How often the nozzle scrapes, against the free gap".into(),
        summary: format!("Chance per cycle: {}.", told.join(", ")),
        width: full,
        height,
        body,
    })
}
