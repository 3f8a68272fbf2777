//! Which ways stay in the search, by their figures alone.

use std::cmp::Ordering;

use zdatum::setup::Touch;

use super::way::{Key, LEAST_MARGIN, Way, key};

/// Standard errors of the seconds within which two ways are as quick.
const AS_QUICK: f64 = 2.0;

/// A promise that is looked for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted {
    /// Tolerance, mm.
    pub(super) within: f64,
    /// Whether for a tenth of the risk.
    pub(super) tenth: bool,
}

impl Wanted {
    pub(super) fn reach(&self, way: &Way) -> f64 {
        if self.tenth { way.reach_tenth } else { way.reach }
    }
}

/// What ways are told apart by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Figures {
    seconds: f64,
    seconds_error: f64,
    /// Infinite for what is no way.
    reach: f64,
    reach_tenth: f64,
    margin: f64,
    /// Tells ways apart that come to the same, whatever order they were found in: the file's own first.
    key: (bool, Key),
}

impl Figures {
    pub(super) fn of(way: &Way, own: &Touch) -> Self {
        let touch = &way.setup.draft().touch;
        Self {
            seconds: way.seconds,
            seconds_error: way.seconds_error,
            reach: way.reach,
            reach_tenth: way.reach_tenth,
            margin: way.margin,
            key: (touch != own, key(touch)),
        }
    }

    /// The quickest first; of those as quick the one that reaches least far.
    pub(super) fn order(&self, other: &Self) -> Ordering {
        let (a, b) = (self, other);
        a.seconds.total_cmp(&b.seconds).then(a.reach.total_cmp(&b.reach)).then(a.key.cmp(&b.key))
    }

    fn reach(&self, wanted: Wanted) -> f64 {
        if wanted.tenth { self.reach_tenth } else { self.reach }
    }
}

/// About so many: half of them for what is asked for, which comes first, an eighth for each that is stricter, a quarter for the front. The quickest
/// first.
pub(super) fn kept(ways: &[Figures], promises: &[Wanted; 4], count: usize) -> Vec<usize> {
    if count == 0 {
        return Vec::new();
    }
    let order = ordered(ways);
    let mut chosen = vec![false; order.len()];
    let mut choose = |among: Vec<usize>, wanted: Wanted, count: usize| {
        let reach = |index: usize| order.get(index).map_or(f64::INFINITY, |(_, way)| way.reach(wanted));
        for index in layered(among, &reach, count.max(1)) {
            if let Some(chosen) = chosen.get_mut(index) {
                *chosen = true;
            }
        }
    };
    for (wanted, share) in promises.iter().zip([2, 8, 8, 8]) {
        choose(in_question(&order, *wanted), *wanted, count / share);
    }
    let [asked, ..] = promises;
    choose((0..order.len()).collect(), *asked, count / 4);
    order.iter().zip(&chosen).filter(|(_, is_chosen)| **is_chosen).map(|((index, _), _)| *index).collect()
}

/// Ways that no other beats in both time and reach, the quickest first; each reaches clearly less far than the one before.
pub(super) fn front(ways: &[Figures]) -> Vec<usize> {
    let mut best = f64::INFINITY;
    let mut order = ordered(ways);
    order.retain(|(_, way)| {
        let better = way.reach < best * (1.0 - LEAST_MARGIN);
        if better {
            best = way.reach;
        }
        better
    });
    order.into_iter().map(|(index, _)| index).collect()
}

/// What is a way at all, in order, with its place among all.
fn ordered(ways: &[Figures]) -> Vec<(usize, &Figures)> {
    let mut order: Vec<_> = ways.iter().enumerate().filter(|(_, way)| way.reach.is_finite()).collect();
    order.sort_by(|(_, a), (_, b)| a.order(b));
    order
}

/// Ways that may be the quickest which keeps a promise: those that may keep it, unless one that surely does is surely quicker. Where none
/// may, those that cannot be told apart from the nearest.
fn in_question(order: &[(usize, &Figures)], wanted: Wanted) -> Vec<usize> {
    let may = |way: &Figures| way.reach(wanted) * (1.0 - way.margin) <= wanted.within;
    let surely = |way: &Figures| way.reach(wanted) * (1.0 + way.margin) <= wanted.within;
    let sure = order.iter().filter(|(_, way)| surely(way));
    let slowest =
        sure.map(|(_, way)| way.seconds + AS_QUICK * way.seconds_error).fold(f64::INFINITY, f64::min);
    let quick = |way: &Figures| way.seconds - AS_QUICK * way.seconds_error <= slowest;
    let of = |keep: &dyn Fn(&Figures) -> bool| -> Vec<usize> {
        order.iter().enumerate().filter(|(_, (_, way))| keep(way)).map(|(index, _)| index).collect()
    };
    let keeping = of(&|way| may(way) && quick(way));
    if !keeping.is_empty() {
        return keeping;
    }
    let least = order.iter().map(|(_, way)| way.reach(wanted)).fold(f64::INFINITY, f64::min);
    of(&|way| way.reach(wanted) <= least * (1.0 + 2.0 * way.margin))
}

/// Of ways in order of time so many, front by front: those that none of the others beats in both time and reach, then what none but those
/// beats, and so on. Of a front that does not fit whole, both ends and evenly between.
fn layered(mut left: Vec<usize>, reach: &dyn Fn(usize) -> f64, count: usize) -> Vec<usize> {
    let mut chosen = Vec::new();
    while chosen.len() < count && !left.is_empty() {
        let mut best = f64::INFINITY;
        let (front, rest): (Vec<usize>, Vec<usize>) = left.into_iter().partition(|index| {
            let better = reach(*index) < best;
            best = best.min(reach(*index));
            better
        });
        left = if front.is_empty() { Vec::new() } else { rest };
        let room = count - chosen.len();
        if front.len() <= room {
            chosen.extend(front);
        } else {
            let last = front.len() - 1;
            let at = |i: usize| if room > 1 { i * last / (room - 1) } else { last };
            chosen.extend((0..room).filter_map(|i| front.get(at(i))));
        }
    }
    chosen
}

#[cfg(test)]
mod tests;
