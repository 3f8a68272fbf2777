//! How often cycles were refused, by their first reason.

use maud::html;
use zdatum::RefusalKind;

use crate::show::chart::marks::rect;
use crate::show::chart::{Anchor, Picture, Scale, Width, labels, text};
use zdatum_world::engine::Share;

/// The picture; `None` where nothing was refused.
pub fn picture(refusals: &[(RefusalKind, u64)], runs: u64, width: Width) -> Option<Picture> {
    let most = refusals.iter().map(|(_, count)| *count).max().filter(|count| *count > 0)?;
    let full = width.px();
    let widest = refusals.iter().map(|(kind, _)| labels::width(&words(*kind))).fold(0.0, f64::max);
    let (left, right) = (widest + 12.0, full - 136.0);
    let scale = Scale::linear(0.0, most as f64, left, right);
    let row = 26.0;
    let body = html! {
        @for (i, (kind, count)) in refusals.iter().enumerate() {
            @let y = 8.0 + row * i as f64;
            @let end = scale.at(*count as f64).max(left + 1.5);
            (text(left - 8.0, y + 13.0, Anchor::End, "", &words(*kind)))
            (rect(left, y, end - left, 18.0, "b2"))
            (text(end + 6.0, y + 13.0, Anchor::Start, "strong", &shown(*count, runs)))
        }
    };
    let told: Vec<String> =
        refusals.iter().map(|(kind, count)| format!("{} {}", words(*kind), shown(*count, runs))).collect();
    Some(Picture {
        name: "refusals".into(),
        title: "Refused cycles by their first reason".into(),
        summary: format!("Share of all cycles: {}.", told.join(", ")),
        width: full,
        height: 12.0 + row * refusals.len() as f64,
        body,
    })
}

/// A share of all cycles with its standard error.
fn shown(count: u64, runs: u64) -> String {
    Share::of(count, runs).map_or_else(|| "–".into(), |share| super::estimated_share(share.estimate()))
}

/// A refusal's word for people.
pub fn words(kind: RefusalKind) -> String {
    kind.word().replace('-', " ")
}
