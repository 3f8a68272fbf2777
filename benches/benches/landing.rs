//! Time of the whole landing from 3 × 5 touches: the core's fixed point against the same steps in `f64` and
//! `f32`.
//!
//! ```text
//! cargo bench -p zdatum-benches
//! ```
//!
//! Each iteration works through 64 invented cycles; times are per cycle where criterion says `elem`. The last
//! lines are the ratios, from batches that alternate between the two, so that a busy machine slows both
//! alike. A host has floating-point hardware and pipelines, a printer's board mostly has not: counts for
//! boards come from images, not from here.

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{Criterion, Throughput};

use zdatum::landing::{Conditions, Touches};
use zdatum::{Assessment, Landing, Setup};
use zdatum_benches::cases::{self, Floats, Numbers, Stations, Switches};
use zdatum_benches::generic::{self, Number};

/// Cycles of one iteration: enough that no branch is learnt by heart.
const CYCLES: usize = 64;

/// What is timed.
#[derive(Clone, Copy, Debug)]
enum Task {
    /// Three series closed; L, u, ν, k, U.
    Landing,
    /// The same with the verdict.
    Verdict,
}

fn core_one(task: Task, setup: &Setup, cycle: &Stations) -> u32 {
    let [tip, shoulder, plate] = cycle;
    match task {
        Task::Landing => {
            let close =
                |at: &zdatum::Recorded<{ cases::ROOM }>, station| at.series.close(&setup.method(station));
            let touches = Touches {
                tip: close(tip, zdatum::Station::Tip).expect("touches"),
                shoulder: close(shoulder, zdatum::Station::Shoulder).expect("touches"),
                plate: close(plate, zdatum::Station::Plate).expect("touches"),
                conditions: Conditions::of(&tip.readings, &shoulder.readings, &plate.readings),
            };
            let landing = black_box(Landing::of(setup, &touches).expect("in range"));
            landing.uncertainty.expanded.to_bits()
        }
        Task::Verdict => {
            let assessment =
                black_box(Assessment::of(setup, tip, shoulder, plate, None).expect("enough touches"));
            assessment.refusals().len() as u32
        }
    }
}

fn float_one<F: Number>(task: Task, setup: &generic::Setup<'_, F>, cycle: &Floats<F>) -> u32 {
    match task {
        Task::Landing => {
            let [tip, shoulder, plate] = cycle.slices();
            let [study_t, study_s, study_p] = setup.studies;
            let series = [(tip, study_t), (shoulder, study_s), (plate, study_p)]
                .map(|(at, study)| generic::close(at, study, setup.rounding).expect("touches"));
            let landing = black_box(generic::land(setup, &series, &cycle.read));
            landing.uncertainty.dof.unwrap_or(0)
        }
        Task::Verdict => {
            let (_, reasons) =
                black_box(generic::assess(setup, cycle.slices(), &cycle.read, None).expect("enough touches"));
            u32::from(reasons.0)
        }
    }
}

/// One pass over all cycles.
fn pass<T>(cycles: &[T], one: impl Fn(&T) -> u32) -> u32 {
    cycles.iter().map(|cycle| one(black_box(cycle))).fold(0, u32::wrapping_add)
}

/// Median time of the first over the second, from alternating batches.
fn ratio(first: impl Fn() -> u32, second: impl Fn() -> u32) -> f64 {
    let time = |work: &dyn Fn() -> u32| {
        let start = Instant::now();
        for _ in 0..40 {
            black_box(work());
        }
        start.elapsed().as_secs_f64()
    };
    let mut ratios: Vec<f64> = (0..201).map(|_| time(&first) / time(&second)).collect();
    ratios.sort_by(f64::total_cmp);
    ratios[ratios.len() / 2]
}

fn main() {
    let mut criterion = Criterion::default()
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(2))
        .configure_from_args();
    // `cargo bench` says so; without it each task runs once, to see that it works.
    let timed = std::env::args().any(|argument| argument == "--bench");
    let mut numbers = Numbers::new(7);
    let cycles: Vec<Stations> = (0..CYCLES).map(|_| cases::cycle(&mut numbers, 5, 2, 0)).collect();
    let doubles: Vec<_> = cycles.iter().map(|cycle| Floats::of(cycle, |x| x)).collect();
    let singles: Vec<_> = cycles.iter().map(|cycle| Floats::of(cycle, |x| x as f32)).collect();

    let mut lines = Vec::new();
    for (name, task, switches) in [
        ("landing", Task::Landing, Switches::Unstudied),
        ("verdict", Task::Verdict, Switches::Unstudied),
        ("verdict, studied", Task::Verdict, Switches::Studied),
    ] {
        let setup = cases::machine(switches);
        let (parts64, parts32) = (cases::parts(&setup, |x| x), cases::parts(&setup, |x| x as f32));
        let setup64 = cases::in_floats(&setup, &parts64, |x| x);
        let setup32 = cases::in_floats(&setup, &parts32, |x| x as f32);
        let in_core = || pass(&cycles, |cycle| core_one(task, &setup, cycle));
        let in_f64 = || pass(&doubles, |cycle| float_one(task, &setup64, cycle));
        let in_f32 = || pass(&singles, |cycle| float_one(task, &setup32, cycle));

        let mut group = criterion.benchmark_group(name);
        group.throughput(Throughput::Elements(CYCLES as u64));
        group.bench_function("core", |b| b.iter(in_core));
        group.bench_function("f64", |b| b.iter(in_f64));
        group.bench_function("f32", |b| b.iter(in_f32));
        group.finish();
        if !timed {
            continue;
        }
        lines.push(format!(
            "{name:<18} core / f64 = {:.2}   core / f32 = {:.2}",
            ratio(in_core, in_f64),
            ratio(in_core, in_f32)
        ));
    }
    criterion.final_summary();
    if !timed {
        return;
    }
    println!("\ntime of the core over that of the same steps in floats, this machine, this run:");
    for line in lines {
        println!("  {line}");
    }
}
