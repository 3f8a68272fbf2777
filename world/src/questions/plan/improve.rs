//! Where a promise cannot be kept: which part to improve, and by how much.

use zdatum::{Draft, Growth, Latency, Setup, Uncertainty};

use super::search::{ALPHA, Search, WORTH_CONFIRMING, confirming};
use super::way::Way;
use crate::engine::Bench;
use crate::truth::trip_depth_u;
use crate::{Machine, Noise};

/// Runs with which a better part is tried.
const RUNS: u64 = 65_536;
/// Parts of the risk to aim for; the next where the one before was not confirmed.
const AIMS: [f64; 3] = [WORTH_CONFIRMING, 0.5, 0.25];
/// Keeps its draws apart.
const FRESH: u64 = 0x0BE7_7E2F_A275;

/// A part of the machine, made better.
#[derive(Clone, Debug, PartialEq)]
pub struct Improvement {
    /// In words.
    pub part: String,
    /// What it is now, in the part's own unit.
    pub now: f64,
    /// What it must become; `None` where even none of it would not do.
    pub needed: Option<f64>,
    /// The unit.
    pub unit: &'static str,
    /// What reduces it.
    pub by: &'static str,
    /// Chance to be beyond, without any of it or with what is needed; the latter from a fresh campaign.
    pub chance: f64,
    /// Upper bound of that at 95 %, where it is needed so.
    pub upper: Option<f64>,
}

/// Leaves so large a part, 0 to 1, of something.
type Change = Box<dyn Fn(&mut Draft, &mut Noise, f64)>;

/// What can be made smaller by itself.
struct Part {
    /// As it is, before anything has been tried.
    untried: Improvement,
    change: Change,
}

/// Every part of which there is any, by what would have to change least; those that alone do not suffice
/// last.
pub(super) fn all(search: &Search<'_>, way: &Way) -> Option<Vec<Improvement>> {
    let asked = search.asked;
    let parts = parts(asked.growth_names, way.setup.draft(), &asked.bench.machine.noise);
    // On the draws with which the parts are tried.
    let way = search.counted(&search.bench(&way.setup), RUNS)?;
    let mut all =
        parts.iter().map(|part| improved(search, &way, part)).collect::<Option<Vec<Improvement>>>()?;
    // The least change first: the largest part of it that may stay.
    let stays = |found: &Improvement| found.needed.map_or(-1.0, |needed| needed / found.now);
    all.sort_by(|a, b| stays(b).total_cmp(&stays(a)).then(a.chance.total_cmp(&b.chance)));
    Some(all)
}

fn improved(search: &Search<'_>, way: &Way, part: &Part) -> Option<Improvement> {
    let asked = search.asked;
    let mut found = part.untried.clone();
    let Some(without) = bettered(search, way, part, 0.0) else { return Some(found) };
    let without = search.counted(&without, RUNS)?;
    found.chance = without.chance();
    for (aim, number) in AIMS.into_iter().zip(0..) {
        // The square of the reach grows about evenly with that of the part: its variance is a share of the
        // error's.
        let square = |way: &Way| way.reach_at(aim * asked.risk) * way.reach_at(aim * asked.risk);
        let (least, most, due) = (square(&without), square(way), asked.within * asked.within);
        if least > due || most <= least {
            break;
        }
        let factor = libm::sqrt(((due - least) / (most - least)).min(1.0));
        let factor = three_digits(factor * found.now) / found.now;
        let Some(bench) = bettered(search, way, part, factor) else { break };
        let fresh = search.fresh(&bench, confirming(asked.risk), asked.within, FRESH.wrapping_add(number))?;
        let (_, upper) = fresh.bounds(ALPHA / AIMS.len() as f64);
        if upper <= asked.risk {
            found.needed = Some(factor * found.now);
            found.chance = fresh.outside as f64 / fresh.accepted.max(1) as f64;
            found.upper = Some(upper);
            break;
        }
    }
    Some(found)
}

/// Rounded down, so that what is shown suffices.
fn three_digits(x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let unit = libm::pow(10.0, libm::floor(libm::log10(x)) - 2.0);
    libm::floor(x / unit) * unit
}

/// The machine with so much of a part; the cycle knows of it.
fn bettered(search: &Search<'_>, way: &Way, part: &Part, factor: f64) -> Option<Bench> {
    let (mut draft, mut noise) = (way.setup.draft().clone(), search.asked.bench.machine.noise);
    (part.change)(&mut draft, &mut noise, factor);
    let setup = Setup::check(draft).ok()?;
    Some(Bench { machine: Machine::new(&setup, &noise), setup, ..search.asked.bench.clone() })
}

fn untried(part: &str, now: f64, unit: &'static str, by: &'static str) -> Improvement {
    Improvement { part: part.into(), now, needed: None, unit, by, chance: 1.0, upper: None }
}

fn parts(growth_names: &[String], draft: &Draft, noise: &Noise) -> Vec<Part> {
    let mut all = Vec::new();
    let mut add = |name: &str, now: f64, unit, by, change: Change| {
        if now > 0.0 {
            all.push(Part { untried: untried(name, now, unit, by), change });
        }
    };
    add(
        "trip depth’s u",
        trip_depth_u(draft),
        "mm",
        "gauge checks",
        Box::new(|draft, _, factor| {
            draft.probe.trip_depth_u = length_u(draft.probe.trip_depth_u, factor).max(Uncertainty::LEAST)
        }),
    );
    add(
        "plate switch latency’s u",
        draft.probe.delay.latency_u.to_f64(),
        "s",
        "a study at several speeds, or fine_speed = trimmed_at_speed",
        Box::new(|draft, _, factor| {
            draft.probe.delay.latency_u = latency_u(draft.probe.delay.latency_u, factor)
        }),
    );
    add(
        "datum switch latency’s u",
        draft.datum_switch.delay.latency_u.to_f64(),
        "s",
        "a study at several speeds, or slower touches",
        Box::new(|draft, _, factor| {
            draft.datum_switch.delay.latency_u = latency_u(draft.datum_switch.delay.latency_u, factor);
        }),
    );
    for (index, part) in draft.growth.iter().enumerate() {
        let name = growth_names.get(index).map_or("growth", String::as_str);
        add(
            &format!("growth of {name}, its u"),
            1e3 * part.rate_u.to_f64(),
            "µm/°C",
            "measuring it, or touching nearer to the print’s temperature",
            Box::new(move |draft, _, factor| {
                if let Some(part) = draft.growth.get_mut(index) {
                    part.rate_u = Growth::parse(&format!("{:.6}", 1e3 * part.rate_u.to_f64() * factor))
                        .unwrap_or(Growth::ZERO);
                }
            }),
        );
    }
    add(
        "plate switch’s noise",
        noise.plate_switch,
        "mm",
        "a better probe",
        Box::new(|_, noise, factor| noise.plate_switch *= factor),
    );
    add(
        "datum switch’s noise",
        noise.tip_switch.max(noise.shoulder_switch),
        "mm",
        "a better switch",
        Box::new(|_, noise, factor| {
            noise.tip_switch *= factor;
            noise.shoulder_switch *= factor;
        }),
    );
    add(
        "growth still to come",
        noise.drift,
        "mm",
        "soaking longer",
        Box::new(|_, noise, factor| noise.drift *= factor),
    );
    add(
        "filament on the tip",
        noise.tip_filament,
        "mm",
        "a clean tip",
        Box::new(|_, noise, factor| noise.tip_filament *= factor),
    );
    all
}

fn length_u(u: Uncertainty, factor: f64) -> Uncertainty {
    Uncertainty::parse(&format!("{:.6}", u.to_f64() * factor)).unwrap_or(Uncertainty::ZERO)
}

fn latency_u(u: Latency, factor: f64) -> Latency {
    Latency::parse(&format!("{:.7}", u.to_f64() * factor)).unwrap_or(Latency::ZERO)
}

#[cfg(test)]
mod tests;
