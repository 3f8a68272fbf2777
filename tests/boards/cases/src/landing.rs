//! Recorded touches to a verdict, with the budget behind it.

use zdatum::landing::budget;
use zdatum::{
    Assessment, Draft, Expected, LastSpan, Length, Readings, Recorded, Series, Setup, Step, Summary, Variance,
};

use crate::digest::{self, Sink};
use crate::machine::{self, Heights, Noise, ROOM, celsius};
use crate::numbers::Numbers;

/// What goes in.
#[derive(Clone, Debug)]
pub struct Record {
    /// The machine.
    pub draft: Draft,
    /// Heights at tip, shoulder, plate.
    pub touches: [heapless::Vec<Length, ROOM>; 3],
    /// What was read beside them.
    pub readings: [Readings; 3],
    /// The plate's last accepted span.
    pub last: Option<LastSpan>,
}

impl Record {
    /// Of a case.
    #[inline(never)]
    pub fn of(case: u32) -> Self {
        let mut numbers = Numbers::of(case, 0);
        let mut draft = machine::draft(&mut numbers);
        let heights = Heights::new(&draft, &mut numbers);
        let mut touches = [const { heapless::Vec::new() }; 3];
        let (steps, mm) = draft.travel.steps;
        let few = numbers.one_in(12);
        // Now and then touches so far apart, or a growth so large, that something cannot be held.
        let wide = numbers.one_in(16);
        for (series, base) in touches.iter_mut().zip(heights.of) {
            let noise = Noise::new(&mut numbers);
            let count = if few { 1 + numbers.below(3) } else { 3 + numbers.below(7) };
            for index in 0..count {
                let Ok(step) = Step::new(steps, mm) else { continue };
                let mut z = noise.touch(base, index, step, &mut numbers);
                if wide {
                    z = machine::length(i64::from(z.to_bits()) + spread_out(&mut numbers));
                }
                let _ = series.push(z);
            }
        }
        if wide {
            for part in &mut draft.growth {
                part.print = celsius(numbers.from_to(-270 * 16, 990 * 16));
            }
        }
        let readings = [read(&mut numbers), read(&mut numbers), read(&mut numbers)];
        let [_, shoulder, plate] = heights.of;
        let last = numbers.one_in(2).then(|| LastSpan {
            span: machine::length(plate - shoulder + i64::from(numbers.from_to(-14_000, 14_000))),
            variance: Variance::from_bits(numbers.sized(46)),
            expected: numbers.one_in(2).then(|| Expected {
                span: machine::length(plate - shoulder + i64::from(numbers.from_to(-7_000, 7_000))),
                limit: machine::um(numbers.from_to(5, 200)),
            }),
        });
        Self { draft, touches, readings, last }
    }

    /// A station's record, for the core.
    pub fn recorded(&self, station: usize) -> Recorded<ROOM> {
        let mut series = Series::new();
        for z in self.touches.get(station).into_iter().flatten() {
            let _ = series.push(*z);
        }
        Recorded { series, readings: self.readings.get(station).copied().unwrap_or_default() }
    }
}

/// Up to 2^26 bits either way: a kilometre is not needed, a metre will do.
fn spread_out(numbers: &mut Numbers) -> i64 {
    let far = numbers.sized(26) as i64;
    if numbers.one_in(2) { -far } else { far }
}

fn read(numbers: &mut Numbers) -> Readings {
    let mut maybe = |low: i32, high: i32| {
        let bits = numbers.from_to(low, high);
        numbers.one_in(2).then_some(bits)
    };
    Readings {
        speed: maybe(40_000, 220_000).map(|bits| machine::speed(i64::from(bits))),
        tool: maybe(20 * 16, 300 * 16).map(celsius),
        bed: maybe(15 * 16, 120 * 16).map(celsius),
        chamber: maybe(10 * 16, 80 * 16).map(celsius),
    }
}

/// What the core is given.
struct Prepared {
    setup: Setup,
    stations: [Recorded<ROOM>; 3],
    last: Option<LastSpan>,
}

/// Apart, so that the case itself does not lie on the stack while the core works: a small board has 8 KiB.
#[inline(never)]
fn prepare(case: u32) -> Option<Prepared> {
    let record = Record::of(case);
    let stations = [record.recorded(0), record.recorded(1), record.recorded(2)];
    let last = record.last;
    Some(Prepared { setup: Setup::check(record.draft).ok()?, stations, last })
}

#[inline(never)]
pub(crate) fn run(case: u32, sink: &mut impl Sink) {
    let Some(Prepared { setup, stations, last }) = prepare(case) else { return sink.put("bad setup", 1) };
    let [tip, shoulder, plate] = &stations;
    match Assessment::of(&setup, tip, shoulder, plate, last.as_ref()) {
        Err(few) => {
            sink.put("too few at", digest::station(few.station));
            sink.put("touches", few.count as u32);
        }
        Ok(seen) => assessed(&setup, &seen, sink),
    }
}

#[inline(never)]
fn assessed(setup: &Setup, seen: &Assessment, sink: &mut impl Sink) {
    sink.put("accepted", u32::from(seen.accepted()));
    sink.put("for a gauge check", u32::from(seen.for_gauge_check()));
    digest::refusals(sink, seen.refusals());
    if let Some(landing) = seen.landing_seen() {
        digest::landing(sink, landing);
        sink.put("u(P - S)", landing.span_u().to_bits());
    }
    let Some(touches) = seen.touches() else { return };
    for summary in [&touches.tip, &touches.shoulder, &touches.plate] {
        closed(summary, sink);
    }
    match (budget(setup, touches), seen.landing_seen()) {
        (Ok(terms), Some(landing)) => digest::shares(sink, &landing.uncertainty, &terms),
        (terms, _) => sink.put("budget", u32::from(terms.is_ok())),
    }
}

/// A closed series.
pub fn closed(summary: &Summary, sink: &mut impl Sink) {
    sink.put("n", u32::from(summary.count()));
    sink.put_wide("centre", summary.centre().to_bits() as u64);
    digest::variance(sink, "u²", summary.variance());
    digest::dof(sink, "ν", summary.dof());
    sink.put("spread", summary.spread().to_bits() as u32);
    sink.put("s", summary.s().map_or(u32::MAX, |s| s.map_or(0, |s| s.to_bits())));
    sink.put("slope", summary.slope().to_bits() as u32);
    sink.put("walked", summary.walked().to_bits() as u32);
    sink.put("von Neumann's ratio", summary.von_neumann().map_or(u32::MAX, |ratio| ratio.to_bits()));
}
