//! How often a fault is caught, size by size, with and without the plate's last span known.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use zdatum::cycle::{Cycle, Job, Kind as JobKind};
use zdatum::{LastSpan, Length, RefusalKind, Variance};

use super::catalogue::{FaultKind, KINDS, Unit};
use crate::engine::cycle::{ROOM, SMALL, is_large, judge, to_its_end};
use crate::engine::reasons::Reasons;
use crate::engine::{Bench, Progress};
use crate::random::Random;
use crate::{Faults, Machine, World};

/// Sizes between none and the largest.
const SIZES: u32 = 10;
/// Halvings between two sizes to find the smallest that is caught often.
const HALVINGS: u32 = 6;
/// What counts as caught often: 9 times in 10.
pub const OFTEN: f64 = 0.9;
/// Keeps the noise of what was remembered of the plate apart.
const REMEMBERED: u64 = 0x6A09_E667_F3BC_C909;

/// One kind of fault over its sizes.
#[derive(Clone, Debug, PartialEq)]
pub struct Power {
    /// The kind.
    pub kind: &'static FaultKind,
    /// Sizes in rising order of their amount, from none on; one point alone where it has no size. The plate's
    /// span is not known.
    pub unknown: Vec<PowerPoint>,
    /// The same with the plate's last span known.
    pub known: Vec<PowerPoint>,
    /// Smallest size caught 9 times in 10, the plate's span not known.
    pub least_unknown: Least,
    /// The same with it known.
    pub least_known: Least,
}

/// The smallest size that is caught 9 times in 10, and all larger ones with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Least {
    /// This.
    Size(f64),
    /// Always caught: it has no size.
    Always,
    /// Not up to the largest size.
    Never,
}

/// What came of one size.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerPoint {
    /// The size.
    pub size: f64,
    /// Cycles.
    pub runs: u64,
    /// Refused ones.
    pub caught: u64,
    /// By first reason, the most frequent first.
    pub reasons: Vec<(RefusalKind, u64)>,
    /// Mean first-layer error of what got through, mm; `None` where nothing did.
    pub mean: Option<f64>,
    /// Smallest and largest error of what got through.
    pub ends: Option<(f64, f64)>,
}

impl PowerPoint {
    /// Share of cycles refused.
    pub fn share(&self) -> f64 {
        self.caught as f64 / self.runs.max(1) as f64
    }
}

impl Power {
    /// The error of what got through that is furthest from none over all sizes, mm, the plate's span known or
    /// not.
    pub fn worst(&self, known: bool) -> Option<f64> {
        let points = if known { &self.known } else { &self.unknown };
        let ends = points.iter().filter_map(|point| point.ends).flat_map(|(low, high)| [low, high]);
        ends.max_by(|a, b| a.abs().total_cmp(&b.abs()))
    }

    /// What catches it most often at its largest size.
    pub fn caught_by(&self, known: bool) -> Option<RefusalKind> {
        let points = if known { &self.known } else { &self.unknown };
        points.last()?.reasons.first().map(|(kind, _)| *kind)
    }
}

/// About how many cycles [`of_all`] takes.
pub(super) fn cycles_of(each: u64) -> u64 {
    let per =
        |kind: &FaultKind| if kind.unit == Unit::None { 2 } else { 2 * u64::from(SIZES + 1 + HALVINGS) };
    KINDS.iter().map(|kind| per(kind) * each).sum()
}

/// Every kind, in their order; those that were not begun before `stop` are missing.
pub(super) fn of_all(bench: &Bench, each: u64, stop: &AtomicBool, progress: &Progress<'_>) -> Vec<Power> {
    let all: Vec<Option<Power>> = KINDS
        .par_iter()
        .map(|kind| {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            let of = |known: bool| points(bench, kind, known, each, progress);
            let [unknown, known] = [of(false), of(true)];
            let least =
                |points: &[PowerPoint], known: bool| least(bench, kind, points, known, each, progress);
            let [least_unknown, least_known] = [least(&unknown, false), least(&known, true)];
            Some(Power { kind, unknown, known, least_unknown, least_known })
        })
        .collect();
    all.into_iter().flatten().collect()
}

fn points(
    bench: &Bench,
    kind: &FaultKind,
    known: bool,
    each: u64,
    progress: &Progress<'_>,
) -> Vec<PowerPoint> {
    let sizes = if kind.unit == Unit::None { SIZES..=SIZES } else { 0..=SIZES };
    sizes
        .map(|at| {
            let point = point(bench, kind, kind.largest * f64::from(at) / f64::from(SIZES), known, each);
            progress(each);
            point
        })
        .collect()
}

fn least(
    bench: &Bench,
    kind: &FaultKind,
    points: &[PowerPoint],
    known: bool,
    each: u64,
    progress: &Progress<'_>,
) -> Least {
    // From the largest down, as long as they are caught.
    let caught = points.iter().rev().take_while(|point| point.share() >= OFTEN).count();
    let first = points.len() - caught;
    let (Some(above), true) = (points.get(first), caught > 0) else { return Least::Never };
    if kind.unit == Unit::None {
        return Least::Always;
    }
    let Some(below) = first.checked_sub(1).and_then(|at| points.get(at)) else {
        return Least::Size(above.size);
    };
    let (mut low, mut high) = (below.size, above.size);
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        let is_caught = point(bench, kind, middle, known, each).share() >= OFTEN;
        *(if is_caught { &mut high } else { &mut low }) = middle;
        progress(each);
    }
    Least::Size(high)
}

/// One size, every one on the same draws.
fn point(bench: &Bench, kind: &FaultKind, size: f64, known: bool, each: u64) -> PowerPoint {
    let (mut faults, mut noise) = (Vec::new(), bench.machine.noise);
    if size != 0.0 {
        kind.add(size, &mut faults, &mut noise);
    }
    let tried = Tried {
        bench,
        machine: Machine::new(&bench.setup, &noise),
        faults: Faults::new(faults),
        known: known.then(|| Remembered::of(bench)),
    };
    let mut point = PowerPoint { size, runs: each, caught: 0, reasons: Vec::new(), mean: None, ends: None };
    if is_large(&bench.setup) {
        tried.run(&mut Cycle::<ROOM>::idle(), &mut point);
    } else {
        tried.run(&mut Cycle::<SMALL>::idle(), &mut point);
    }
    point
}

/// How well the plate's span was known.
struct Remembered {
    u: f64,
    variance: Variance,
    sound: Faults,
}

impl Remembered {
    /// As the machine's own touches give it.
    fn of(bench: &Bench) -> Self {
        let touch = &bench.setup.draft().touch;
        let (sd, _) = bench.machine.fine_sd();
        let n = f64::from(touch.least);
        let squares =
            |station| sd(station) * sd(station) / n + bench.machine.step() * bench.machine.step() / 12.0;
        let square = squares(zdatum::Station::Shoulder) + squares(zdatum::Station::Plate);
        let bits = libm::round(libm::ldexp(square, 60)) as u64;
        Self { u: libm::sqrt(square), variance: Variance::from_bits(bits), sound: Faults::NONE }
    }
}

struct Tried<'b> {
    bench: &'b Bench,
    machine: Machine,
    faults: Faults,
    known: Option<Remembered>,
}

impl Tried<'_> {
    fn run<'a, const N: usize>(&'a self, cycle: &mut Cycle<'a, N>, point: &mut PowerPoint) {
        let (mut reasons, mut sum, mut accepted) = (Reasons::default(), 0.0, 0_u64);
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for run in 0..point.runs {
            // A checked setup always finds room.
            if cycle.start(&self.bench.setup, self.job(run)).is_err() {
                continue;
            }
            let mut world = World::new(&self.machine, &self.faults, self.bench.seed, run);
            to_its_end(cycle, &mut world, |_, _, _| {});
            let ran = judge(&world, cycle.outcome().as_ref());
            match ran.error {
                Some(error) => {
                    accepted += 1;
                    sum += error;
                    (low, high) = (low.min(error), high.max(error));
                }
                None => {
                    point.caught += 1;
                    reasons.add(ran.refused);
                }
            }
        }
        point.reasons = reasons.by_count();
        point.mean = (accepted > 0).then(|| sum / accepted as f64);
        point.ends = (accepted > 0).then_some((low, high));
    }

    /// With the span that this run's plate had when all was well, as it was measured then.
    fn job(&self, run: u64) -> Job {
        let Some(remembered) = &self.known else { return self.bench.job };
        let sound = World::new(&self.bench.machine, &remembered.sound, self.bench.seed, run);
        let noise = remembered.u * Random::of_run(self.bench.seed ^ REMEMBERED, run).normal();
        let (_, v) = self.bench.machine.fine_sd();
        let truth = &sound.truth;
        let late = v * (truth.plate_latency - truth.datum_latency);
        let span = truth.rise + truth.trip_depth_seen - late + noise;
        let bits = libm::round(span * 65536.0) as i64;
        let last = Length::from_bits(bits).ok().map(|span| LastSpan::new(span, remembered.variance));
        Job { kind: JobKind::Full { last }, ..self.bench.job }
    }
}

#[cfg(test)]
mod tests;
