//! Uncertainty budgets as bars: what each source adds, from one side or from two.

use maud::html;

use crate::judged::BudgetShare;
use crate::show::chart::marks::{hatched, reach, rect};
use crate::show::chart::{Anchor, Picture, Scale, Width, labels, number, text};
use crate::text::name::shown;

/// One source.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetBar {
    /// In words.
    pub name: String,
    /// Its share of the core's u², 0 to 1.
    pub core: Option<f64>,
    /// Its share of the simulated variance with its standard error; not below zero but by chance.
    pub simulated: Option<(f64, f64)>,
}

impl BudgetBar {
    /// What the core states, with nothing simulated beside it.
    pub fn stated(share: &BudgetShare) -> Self {
        Self { name: shown(&share.source), core: Some(share.share.to_f64()), simulated: None }
    }
}

/// The picture; `None` without sources. One bar each where nothing is simulated, else two.
pub fn picture(sources: &[BudgetBar], width: Width) -> Option<Picture> {
    let most = sources
        .iter()
        .flat_map(|source| [source.core, source.simulated.map(|(share, error)| share + error)])
        .flatten()
        .filter(|share| share.is_finite())
        .fold(0.0, f64::max);
    if sources.is_empty() {
        return None;
    }
    let two = sources.iter().any(|source| source.simulated.is_some());
    let full = width.px();
    let label_room = if width == Width::Wide { 180.0 } else { 156.0 };
    let (left, right) = (label_room, full - 62.0);
    let scale = Scale::linear(0.0, most.max(0.01), left, right);
    let row = if two { 42.0 } else { 28.0 };
    let top = if two { 30.0 } else { 8.0 };
    let label = |share: f64| format!("{} %", super::percent(share.max(0.0)));
    let body = html! {
        @if two {
            (rect(left, 6.0, 22.0, 11.0, "b1")) (text(left + 28.0, 16.0, Anchor::Start, "", "core"))
            (hatched(left + 76.0, 6.0, 22.0, 11.0, "b2")) (text(left + 104.0, 16.0, Anchor::Start, "", "simulated"))
        }
        @for (i, source) in sources.iter().enumerate() {
            @let y = top + row * i as f64;
            @let name = labels::fitting(&source.name, label_room - 10.0);
            (text(left - 8.0, y + if two { 20.0 } else { 13.0 }, Anchor::End, "", &name))
            @if let Some(share) = source.core.filter(|share| share.is_finite()) {
                (rect(left, y, scale.at(share) - left, 15.0, "b1"))
                (text(scale.at(share) + 6.0, y + 12.0, Anchor::Start, "", &label(share)))
            } @else if two {
                (text(left + 4.0, y + 12.0, Anchor::Start, "soft small", "not in the core’s budget"))
            }
            @if let Some((share, error)) = source.simulated.filter(|(share, error)| share.is_finite() && error.is_finite()) {
                @let (low, high) = (scale.at(share - error), scale.at(share + error));
                (hatched(left, y + 18.0, scale.at(share) - left, 15.0, "b2"))
                @if high - low > 6.0 { (reach(low, high, y + 25.5, "whisker")) }
                (text(high.max(scale.at(share)) + 6.0, y + 30.0, Anchor::Start, "", &label(share)))
            }
        }
    };
    let told: Vec<String> = sources
        .iter()
        .map(|source| {
            let core = source
                .core
                .map_or_else(|| "not in the core's budget".into(), |x| format!("{} %", number(100.0 * x, 1)));
            match source.simulated {
                Some((x, _)) => format!("{}: {core}, simulated {} %", source.name, number(100.0 * x, 1)),
                None => format!("{}: {core}", source.name),
            }
        })
        .collect();
    Some(Picture {
        name: "error-budget".into(),
        title: "Uncertainty budget: each source's share of the squared uncertainty".into(),
        summary: format!("{}.", told.join("; ")),
        width: full,
        height: top + row * sources.len() as f64 + 4.0,
        body,
    })
}
