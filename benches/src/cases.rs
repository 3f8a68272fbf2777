//! An invented machine, invented touches, and the same in floats.

use zdatum::landing::Conditions;
use zdatum::setup::{
    Accept, DatumSwitch, Follows, Grows, LengthRange, Places, Plates, Probe, Studied, Touch, Travel,
};
use zdatum::{
    Centre, Coverage, Draft, Readings, Recorded, Series, Setup, Speed, Step, Temperature, Uncertainty,
};
use zdatum_machines::{checked, delay, mm, part, place, range, speed, study, u};

use crate::generic;

/// Fine touches that a station has room for.
pub const ROOM: usize = 9;

/// Counted touches of one cycle: tip, shoulder, plate.
pub type Stations = [Recorded<ROOM>; 3];

/// Whether a machine's switches have been studied: then s and its degrees of freedom are the study's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Switches {
    /// s comes from each series.
    Unstudied,
    /// s comes from a study.
    Studied,
}

/// An invented machine with two growing parts, five touches per station, one of them settling.
pub fn machine(switches: Switches) -> Setup {
    let pooled = match switches {
        Switches::Unstudied => Studied::default(),
        Switches::Studied => Studied {
            tip: study("0.002", 24),
            shoulder: study("0.002", 24),
            plate: study("0.0025", 24),
            ..Studied::default()
        },
    };
    let parts = [
        part(Follows::Tool, ["0.24", "0.03"], ["150", "230"]),
        part(Follows::Bed, ["0.9", "0.1"], ["55", "60"]),
    ];
    let draft = Draft {
        travel: Travel {
            x: range("0", "240"),
            y: range("0", "220"),
            z: range("-4", "210"),
            steps: (1600, 3),
        },
        stations: Places {
            tip: place("232", "210"),
            shoulder: place("232", "184"),
            plate: place("120", "110"),
        },
        datum_switch: DatumSwitch {
            tip_height: range("0", "1.2"),
            overtravel: mm("3"),
            delay: delay("0.0005", "0.0002"),
        },
        probe: Probe {
            trip_depth: mm("0.62"),
            trip_depth_u: u("0.006"),
            trimmed_at_speed: speed("2"),
            drop: range("6", "7.2"),
            free_height: mm("1.4"),
            delay: delay("0.001", "0.0004"),
        },
        plates: Plates { rise: range("-0.6", "0.9"), margin: mm("0.5") },
        touch: Touch {
            first_speed: speed("8"),
            fine_speed: speed("1.8"),
            lift: mm("0.8"),
            stop: mm("0.06"),
            settle: 1,
            least: 5,
            most: ROOM as u8,
            band: mm("0.02"),
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: false,
        },
        growth: parts.into_iter().collect(),
        soak_left: mm("0.004"),
        unseen: Uncertainty::ZERO,
        accept: Accept {
            landing: range("-1.5", "2"),
            shift: mm("0.15"),
            expanded_u: u("0.025"),
            coverage: Coverage::P95,
        },
        pooled,
    };
    checked(&draft)
}

/// Numbers for tests and timings, never for statistics: a linear congruential generator, upper half of its
/// state.
#[derive(Clone, Copy, Debug)]
pub struct Numbers(u64);

impl Numbers {
    /// The sequence of a seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A whole number in `0..below`.
    pub fn below(&mut self, below: u32) -> u32 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((u64::from((self.0 >> 32) as u32) * u64::from(below)) >> 32) as u32
    }

    /// Whole steps around `middle`, at most `width` off, more often near than far.
    fn near(&mut self, middle: i32, width: u32) -> i32 {
        middle + (self.below(width + 1) + self.below(width + 1)) as i32 - width as i32
    }
}

/// `count` touches per station in whole motor steps of [`machine`], noise of at most `noise` steps, each
/// touch `walk` steps above the one before; speeds and temperatures read.
pub fn cycle(numbers: &mut Numbers, count: usize, noise: u32, walk: i32) -> Stations {
    let step = Step::new(1600, 3).expect("a step");
    // In steps of 1.875 µm: a tip near 0.47 mm, a drop of 6.6, a plate 0.19 over the datum switch.
    let middles = [250, 250 + 3520, 250 + 3520 + 430].map(|middle| numbers.near(middle, 60));
    middles.map(|middle| {
        let mut series = Series::new();
        for i in 0..count as i32 {
            let z = step.length(numbers.near(middle, noise) + walk * i).expect("a small height");
            series.push(z).expect("room for every touch");
        }
        let off = |numbers: &mut Numbers, middle: i64, width: i64| {
            (middle << 16) + (i64::from(numbers.below(1 << 16)) - (1 << 15)) * 2 * width
        };
        let temperature = |bits| Some(Temperature::from_bits(bits).expect("a temperature"));
        let readings = Readings {
            speed: Some(
                Speed::from_bits(off(numbers, 2, 0) - i64::from(numbers.below(20_000))).expect("a speed"),
            ),
            tool: temperature(off(numbers, 150, 4)),
            bed: temperature(off(numbers, 55, 2)),
            chamber: None,
        };
        Recorded { series, readings }
    })
}

/// One cycle in the floats of a type; the growing parts of its [`generic::Setup`] stand apart, as it borrows
/// them.
#[derive(Clone, Debug)]
pub struct Floats<F> {
    /// Heights at tip, shoulder, plate.
    pub heights: [Vec<F>; 3],
    /// What was read.
    pub read: generic::Conditions<F>,
}

impl<F: Copy> Floats<F> {
    /// The same cycle, each number to the nearest of the type.
    pub fn of(stations: &Stations, to: impl Fn(f64) -> F + Copy) -> Self {
        let [tip, shoulder, plate] = stations;
        let read = Conditions::of(&tip.readings, &shoulder.readings, &plate.readings);
        let speeds = [read.tip_speed, read.shoulder_speed, read.plate_speed];
        Self {
            heights: [tip, shoulder, plate]
                .map(|at| at.series.touches().iter().map(|z| to(z.to_f64())).collect()),
            read: generic::Conditions {
                speeds: speeds.map(|v| v.map(|v| to(v.to_f64()))),
                tool: read.tool.map(|t| to(t.to_f64())),
                bed: read.bed.map(|t| to(t.to_f64())),
                chamber: read.chamber.map(|t| to(t.to_f64())),
            },
        }
    }

    /// The heights as slices.
    pub fn slices(&self) -> [&[F]; 3] {
        self.heights.each_ref().map(Vec::as_slice)
    }
}

/// The growing parts in the floats of a type.
pub fn parts<F>(setup: &Setup, to: impl Fn(f64) -> F) -> Vec<generic::Part<F>> {
    let part = |grows: &Grows| generic::Part {
        follows: match grows.follows {
            Follows::Tool => generic::Follows::Tool,
            Follows::Bed => generic::Follows::Bed,
            Follows::Chamber => generic::Follows::Chamber,
        },
        rate: to(grows.rate.to_f64()),
        rate_u: to(grows.rate_u.to_f64()),
        touch: to(grows.touch.to_f64()),
        print: to(grows.print.to_f64()),
        delta_u: to(grows.delta_u.to_f64()),
        trimmed: to(grows.trimmed.to_f64()),
    };
    setup.draft().growth.iter().map(part).collect()
}

/// The machine in the floats of a type.
pub fn in_floats<'a, F>(
    setup: &Setup,
    parts: &'a [generic::Part<F>],
    to: impl Fn(f64) -> F,
) -> generic::Setup<'a, F> {
    let draft = setup.draft();
    let range_of =
        |range: LengthRange| generic::Range { low: to(range.low.to_f64()), high: to(range.high.to_f64()) };
    let study = |study: Option<zdatum::Pooled>| {
        study.map(|study| generic::Study { s: to(study.s.to_f64()), dof: study.dof.get() })
    };
    let studies = [draft.pooled.tip, draft.pooled.shoulder, draft.pooled.plate];
    let step = setup.step();
    generic::Setup {
        trip_depth: to(draft.probe.trip_depth.to_f64()),
        trip_depth_u: to(draft.probe.trip_depth_u.to_f64()),
        trimmed_at_speed: to(draft.probe.trimmed_at_speed.to_f64()),
        fine_speed: to(draft.touch.fine_speed.to_f64()),
        plate_latency: to(draft.probe.delay.latency.to_f64()),
        plate_latency_u: to(draft.probe.delay.latency_u.to_f64()),
        datum_latency: to(draft.datum_switch.delay.latency.to_f64()),
        datum_latency_u: to(draft.datum_switch.delay.latency_u.to_f64()),
        parts,
        soak_left: to(draft.soak_left.to_f64()),
        unseen: to(draft.unseen.to_f64()),
        between: [draft.pooled.tip_between, draft.pooled.span_between].map(study),
        studies: studies.map(study),
        tip_height: range_of(draft.datum_switch.tip_height),
        step: to(f64::from(step.mm()) / f64::from(step.steps())),
        rounding: to(setup.rounding().to_f64()),
        band: to(draft.touch.band.to_f64()),
        drop: range_of(draft.probe.drop),
        rise: range_of(draft.plates.rise),
        window: range_of(draft.accept.landing),
        shift: to(draft.accept.shift.to_f64()),
        expanded_u: to(draft.accept.expanded_u.to_f64()),
        coverage: Coverage::ALL.iter().position(|c| *c == draft.accept.coverage).unwrap_or(0),
    }
}
