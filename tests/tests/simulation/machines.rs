//! Machines on which one effect acts alone, and what is seen of their runs.

use std::sync::atomic::AtomicBool;

use zdatum::cycle::{Do, Event};
use zdatum::setup::Accept;
use zdatum::{Draft, Latency, Station, Uncertainty};
use zdatum_sim::files::{FileText, MachineFile};
use zdatum_sim::world::{Faults, Noise, Truth};
use zdatum_tests::machine::{checked, mm, range, study, u, workshop};
use zdatum_world::engine::{Bench, Campaign, Ran, Tally, campaign, run};

/// How far a run without any effect can be off, mm: half a step of 2⁻¹⁴ mm and half a bit of 2⁻¹⁶ mm at each
/// station, and half a bit of the landing.
pub(crate) const FINE: f64 = 3.0 * (0.5 / 16_384.0 + 0.5 / 65_536.0) + 0.5 / 65_536.0 + 1e-9;

/// The machine file of the demo.
pub(crate) fn demo() -> MachineFile {
    let text = include_str!("../../../docs/demo/machine.toml");
    MachineFile::of(FileText::of("docs/demo/machine.toml", text)).expect("the demo is sound")
}

/// No noise at all.
pub(crate) const SILENT: Noise = Noise::SILENT;

/// A machine and its noise.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub(crate) draft: Draft,
    pub(crate) noise: Noise,
    pub(crate) faults: Vec<zdatum_sim::world::Fault>,
    pub(crate) seed: u64,
}

/// One touch as the world made it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    pub(crate) station: Station,
    /// When it tripped, s.
    pub(crate) seconds: f64,
    /// Where in truth, mm.
    pub(crate) met: f64,
    /// What was reported, mm.
    pub(crate) reported: f64,
    /// Approach speed, mm/s.
    pub(crate) speed: f64,
}

impl Case {
    /// A machine that knows everything of itself, with the finest steps and limits wide enough that nothing
    /// is refused.
    pub(crate) fn quiet() -> Self {
        let mut draft = workshop();
        draft.travel.steps = (1 << 14, 1);
        draft.growth.clear();
        draft.probe.trip_depth_u = Uncertainty::LEAST;
        draft.probe.delay.latency_u = Latency::ZERO;
        draft.datum_switch.delay.latency_u = Latency::ZERO;
        draft.touch.band = mm("1");
        for pooled in [&mut draft.pooled.tip, &mut draft.pooled.shoulder, &mut draft.pooled.plate] {
            *pooled = study("0.1", 40);
        }
        draft.accept =
            Accept { landing: range("-30", "30"), shift: mm("10"), expanded_u: u("1"), ..draft.accept };
        Self { draft, noise: SILENT, faults: Vec::new(), seed: 11 }.touches(5, 9)
    }

    /// With so many counted touches per station, and so many at most.
    pub(crate) fn touches(mut self, least: u8, most: u8) -> Self {
        (self.draft.touch.least, self.draft.touch.most) = (least, most);
        self
    }

    /// A standard deviation for each switch, mm.
    pub(crate) fn switches(mut self, tip: f64, shoulder: f64, plate: f64) -> Self {
        (self.noise.tip_switch, self.noise.shoulder_switch, self.noise.plate_switch) = (tip, shoulder, plate);
        self
    }

    /// Pooled s for each station, or no study.
    pub(crate) fn studied(mut self, s: Option<[f64; 3]>) -> Self {
        let study_of = |s: f64| study(&format!("{s:.7}"), 54);
        self.draft.pooled = match s {
            None => Default::default(),
            Some([tip, shoulder, plate]) => zdatum::setup::Studied {
                tip: study_of(tip),
                shoulder: study_of(shoulder),
                plate: study_of(plate),
                ..zdatum::setup::Studied::default()
            },
        };
        self
    }

    pub(crate) fn bench(&self) -> Bench {
        let mut bench = Bench::new(checked(&self.draft), &self.noise, self.seed);
        bench.faults = Faults::new(self.faults.clone());
        bench
    }

    /// Runs so many cycles on all cores.
    pub(crate) fn tally(&self, runs: u64) -> Tally {
        let bench = self.bench();
        let what = Campaign { bench: &bench, first: 0, runs, within: 0.020 };
        campaign(&what, &AtomicBool::new(false), &|_| {})
    }

    /// The errors of so many cycles, in order; none may be refused.
    pub(crate) fn errors(&self, runs: u64) -> Vec<f64> {
        let bench = self.bench();
        (0..runs).map(|index| error(&run(&bench, index, |_, _, _| {}).expect("room"))).collect()
    }

    /// One cycle with all that was seen.
    pub(crate) fn watched(&self, index: u64) -> (Ran, Vec<Seen>, Truth) {
        let bench = self.bench();
        watched(&bench, index)
    }
}

/// One cycle with all that was seen, and what was true at its end.
pub(crate) fn watched(bench: &Bench, index: u64) -> (Ran, Vec<Seen>, Truth) {
    let (mut touches, mut truth) = (Vec::new(), None);
    let ran = run(bench, index, |world, request, event| {
        truth = Some(world.truth);
        if let (Do::Approach { station, speed, .. }, Event::Tripped { z, .. }) = (request, event) {
            let (seconds, met) = (world.seconds, world.met);
            touches.push(Seen {
                station: *station,
                seconds,
                met,
                reported: z.to_f64(),
                speed: speed.to_f64(),
            });
        }
    });
    (ran.expect("room"), touches, truth.expect("at least one request"))
}

/// The touches of one station.
pub(crate) fn at(touches: &[Seen], station: Station) -> Vec<Seen> {
    touches.iter().filter(|seen| seen.station == station).copied().collect()
}

/// An accepted run's error.
pub(crate) fn error(ran: &Ran) -> f64 {
    ran.error.unwrap_or_else(|| panic!("refused: {:?}", ran.refused))
}

/// Mean and sample standard deviation, by two passes.
pub(crate) fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square: f64 = values.iter().map(|x| (x - mean) * (x - mean)).sum();
    (mean, (square / (n - 1.0)).sqrt())
}

/// Holds errors against a mean and a standard deviation: the mean within 4 standard errors, the standard
/// deviation within 4 of its own for normal errors. Seeds are fixed, so a run that passes passes always.
#[track_caller]
pub(crate) fn assert_normal(errors: &[f64], mean: f64, sd: f64) {
    let n = errors.len() as f64;
    let (seen_mean, seen_sd) = moments(errors);
    assert!((seen_mean - mean).abs() <= 4.0 * sd / n.sqrt(), "mean {seen_mean}, not {mean}");
    assert!((seen_sd / sd - 1.0).abs() <= 4.0 / (2.0 * n).sqrt(), "sd {seen_sd}, not {sd}");
}

#[track_caller]
pub(crate) fn assert_near(seen: f64, expected: f64, within: f64) {
    assert!((seen - expected).abs() <= within, "{seen}, not {expected} to {within}");
}

/// Some work on so many threads.
pub(crate) fn on_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads").install(work)
}
