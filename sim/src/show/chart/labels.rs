//! Text in pictures, and keeping it clear of itself.

use maud::{Markup, html};
use unicode_width::UnicodeWidthChar;

use super::Px;

/// Size of ordinary text in pixels; `chart.css` has the same.
pub const SIZE: f64 = 12.0;
/// Height of a line of it.
pub const LINE: f64 = 15.0;

/// Which part of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

impl Anchor {
    const fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// A line of text with its base line at y.
pub fn text(x: f64, y: f64, anchor: Anchor, class: &str, text: &str) -> Markup {
    html! { text x=(Px(x)) y=(Px(y)) text-anchor=(anchor.word()) class=(class) { (text) } }
}

/// Lines of text below each other, the first with its base line at y.
pub fn lines(x: f64, y: f64, anchor: Anchor, class: &str, all: &[String]) -> Markup {
    html! { @for (i, line) in all.iter().enumerate() { (text(x, y + i as f64 * LINE, anchor, class, line)) } }
}

/// About how wide a text of ordinary size is, rather too wide: fonts differ from reader to reader.
pub fn width(text: &str) -> f64 {
    text.chars().map(width_of).sum()
}

/// Text as shown, of at most so many pixels, cut with an ellipsis.
pub fn fitting(text: &str, px: f64) -> String {
    if width(text) <= px {
        return text.to_owned();
    }
    let mut used = width_of('…');
    let fits = |c: &char| {
        used += width_of(*c);
        used <= px
    };
    let mut out: String = text.chars().take_while(fits).collect();
    out.push('…');
    out
}

/// Capitals are wider than small letters, and M and W wider than other capitals.
fn width_of(c: char) -> f64 {
    let em = match c {
        'M' | 'W' | '@' | '%' | '—' => 1.0,
        'm' | 'w' => 0.9,
        c if c.is_uppercase() => 0.8,
        c => c.width().unwrap_or(0) as f64 * 0.6,
    };
    em * SIZE
}

/// Places as near as can be to the ones wanted, in their order, at least `gap` apart, between `low` and
/// `high` where there is room. Groups that would overlap spread about their common middle.
pub fn apart(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    let value = |i: usize| wanted.get(i).copied().filter(|x| x.is_finite()).unwrap_or(low);
    order.sort_by(|a, b| value(*a).total_cmp(&value(*b)));
    // Groups of neighbours: how many, and the sum of where their first would have to stand.
    let mut groups: Vec<(usize, f64)> = Vec::new();
    for i in &order {
        let mut new = (1, value(*i));
        while let Some(last) = groups.last().copied() {
            let (end, begin) = (last.1 / last.0 as f64 + last.0 as f64 * gap, new.1 / new.0 as f64);
            if begin >= end {
                break;
            }
            groups.pop();
            new = (last.0 + new.0, last.1 + new.1 - (new.0 * last.0) as f64 * gap);
        }
        groups.push(new);
    }
    let mut places = Vec::with_capacity(wanted.len());
    for (count, sum) in groups {
        let length = (count - 1) as f64 * gap;
        let first = (sum / count as f64).min(high - length).max(low);
        places.extend((0..count).map(|i| first + i as f64 * gap));
    }
    // Groups held back at an end may have met their neighbours: up from the bottom, then down from the top.
    let mut least = low;
    for place in &mut places {
        *place = place.max(least);
        least = *place + gap;
    }
    let mut most = high;
    for place in places.iter_mut().rev() {
        *place = place.min(most);
        most = *place - gap;
    }
    let mut out = vec![low; wanted.len()];
    for (i, place) in order.into_iter().zip(places) {
        if let Some(slot) = out.get_mut(i) {
            *slot = place;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_label_fits_and_nothing_is_escaped_twice() {
        assert_eq!(fitting("slate", 100.0), "slate");
        assert_eq!(fitting("a\\b \\u{2066}", 200.0), "a\\b \\u{2066}");
        for text in ["WWWWWWWWWWWWWWWWWWWW", "iiiiiiiiiiiiiiiiiiiiiiiiiiii", "板板板板板板板板板板"]
        {
            let cut = fitting(text, 100.0);
            assert!(cut.ends_with('…') && cut != "…" && width(&cut) <= 100.0, "{cut}");
        }
        assert!(width("WWWW") > 1.5 * width("aaaa"));
    }

    #[test]
    fn labels_with_room_stay_where_they_are() {
        assert_eq!(apart(&[50.0, 10.0, 30.0], 15.0, 0.0, 100.0), [50.0, 10.0, 30.0]);
        assert!(apart(&[], 15.0, 0.0, 100.0).is_empty());
    }

    #[test]
    fn labels_on_one_spot_spread_about_it() {
        assert_eq!(apart(&[50.0, 50.0], 10.0, 0.0, 100.0), [45.0, 55.0]);
        assert_eq!(apart(&[50.0, 50.0, 52.0], 10.0, 0.0, 100.0).iter().sum::<f64>().round(), 152.0);
    }

    #[test]
    fn labels_never_overlap_nor_lose_their_order() {
        let mut seed = 1_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 40) as f64 / f64::from(1 << 24)
        };
        for _ in 0..2_000 {
            let wanted: Vec<f64> = (0..7).map(|_| next() * 100.0).collect();
            let places = apart(&wanted, 10.0, 0.0, 100.0);
            for (i, a) in places.iter().enumerate() {
                assert!((-1e-9..=100.0 + 1e-9).contains(a), "{wanted:?} {places:?}");
                for (j, b) in places.iter().enumerate().skip(i + 1) {
                    assert!((a - b).abs() > 10.0 - 1e-9, "{wanted:?} {places:?}");
                    assert!(
                        wanted[i] == wanted[j] || (a < b) == (wanted[i] < wanted[j]),
                        "{wanted:?} {places:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn nonsense_and_lack_of_room_are_survived() {
        let places = apart(&[f64::NAN, f64::INFINITY, 3.0], 10.0, 0.0, 5.0);
        assert!(places.iter().all(|place| place.is_finite()), "{places:?}");
    }
}
