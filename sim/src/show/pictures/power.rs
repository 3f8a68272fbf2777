//! How often each fault is caught, size by size: a small chart for each, all alike.

use maud::{Markup, html};

use crate::show::chart::marks::{line, through};
use crate::show::chart::{Anchor, Picture, Width, labels, text};
use crate::show::faults::{least, size};
use zdatum_world::questions::faulty::{Power, PowerPoint, Unit};

/// Height of one chart with its words, pixels.
const ROW: f64 = 104.0;
/// Height of what is drawn in it.
const TALL: f64 = 52.0;

/// The picture; `None` where no fault has sizes.
pub fn picture(powers: &[Power], width: Width) -> Option<Picture> {
    let sized: Vec<&Power> = powers.iter().filter(|power| power.kind.unit != Unit::None).collect();
    let columns = match width {
        Width::Narrow => 2,
        Width::Wide => 4,
    };
    let (full, rows) = (width.px(), sized.len().div_ceil(columns));
    let wide = full / columns as f64;
    let body = html! {
        (line(6.0, 10.0, 34.0, 10.0, "l1"))
        (text(40.0, 14.0, Anchor::Start, "t1 strong", "plate known"))
        (line(130.0, 10.0, 158.0, 10.0, "l2"))
        (text(164.0, 14.0, Anchor::Start, "t2 strong", "plate not known"))
        @for (i, power) in sized.iter().enumerate() {
            (one(power, (i % columns) as f64 * wide, 30.0 + (i / columns) as f64 * ROW, wide))
        }
    };
    let told = sized.iter().map(|power| {
        let words = |one| least(one, power.kind.unit);
        format!(
            "{}: from {}, plate known {}",
            power.kind.word,
            words(power.least_unknown),
            words(power.least_known)
        )
    });
    let told: Vec<String> = told.collect();
    (!sized.is_empty()).then(|| Picture {
        name: "fault-power".into(),
        title: "How often each fault is caught, size by size".into(),
        summary: format!("Caught 9 times in 10: {}.", told.join("; ")),
        width: full,
        height: 34.0 + ROW * rows as f64,
        body,
    })
}

fn one(power: &Power, x: f64, y: f64, wide: f64) -> Markup {
    let kind = power.kind;
    let (left, right, top) = (x + 6.0, x + wide - 10.0, y + 20.0);
    let bottom = top + TALL;
    let places = |points: &[PowerPoint]| -> Vec<(f64, f64)> {
        let at = |point: &PowerPoint| {
            (left + (right - left) * point.size / kind.largest, bottom - TALL * point.share())
        };
        points.iter().map(at).collect()
    };
    html! {
        (text(left, y + 12.0, Anchor::Start, "strong", &labels::fitting(&kind.word.replace('-', " \
            "), right - left)))
        (line(left, top, right, top, "grid"))
        (line(left, bottom - TALL * 0.9, right, bottom - TALL * 0.9, "band-edge"))
        (line(left, bottom, right, bottom, "axis"))
        // The dashed one above: where both are alike both are seen.
        (through(&places(&power.known), "l1"))
        (through(&places(&power.unknown), "l2"))
        (text(left, bottom + 14.0, Anchor::Start, "tick", "0"))
        (text(right, bottom + 14.0, Anchor::End, "tick", &size(kind.largest, kind.unit).replace('-', "−")))
    }
}
