use super::*;
use crate::Noise;
use crate::tests::machine::{SILENT, assert_near, bench, latency, mm, prompt as draft, range};

fn kind(word: &str) -> &'static FaultKind {
    KINDS.iter().find(|kind| kind.word == word).expect("a kind")
}

/// A machine without noise. The probe may hang a quarter of a millimetre lower than it does, the plate a
/// tenth from what it was.
fn silent() -> Bench {
    let mut draft = draft();
    draft.accept.shift = mm("0.1");
    draft.probe.drop = range("5.25", "5.75");
    bench(&draft, &SILENT)
}

fn made_up(size: f64, caught: u64) -> PowerPoint {
    PowerPoint { size, runs: 10, caught, reasons: Vec::new(), mean: None, ends: None }
}

fn with_ends(ends: [Option<(f64, f64)>; 2], reasons: [&[(RefusalKind, u64)]; 2]) -> Vec<PowerPoint> {
    let point =
        |at: usize| PowerPoint { ends: ends[at], reasons: reasons[at].to_vec(), ..made_up(at as f64, 5) };
    vec![point(0), point(1)]
}

#[test]
fn what_is_caught_is_a_share_of_all() {
    assert_eq!([0, 3, 10].map(|caught| made_up(0.1, caught).share()), [0.0, 0.3, 1.0]);
    assert_eq!(PowerPoint { runs: 0, ..made_up(0.1, 0) }.share(), 0.0);
}

#[test]
fn the_worst_that_got_through_and_what_catches_most() {
    use RefusalKind::{AlreadyTripped, MachineFault};
    let power = Power {
        kind: kind("seats-low"),
        unknown: with_ends([Some((-0.25, 0.125)), None], [&[(MachineFault, 9)], &[]]),
        known: with_ends(
            [Some((0.0, 0.125)), Some((0.25, 0.5))],
            [&[], &[(AlreadyTripped, 7), (MachineFault, 3)]],
        ),
        least_unknown: Least::Never,
        least_known: Least::Never,
    };
    assert_eq!([false, true].map(|known| power.worst(known)), [Some(-0.25), Some(0.5)]);
    assert_eq!([false, true].map(|known| power.caught_by(known)), [None, Some(AlreadyTripped)]);
    let none = Power { unknown: Vec::new(), known: with_ends([None; 2], [&[]; 2]), ..power };
    assert_eq!([none.worst(false), none.worst(true)], [None; 2]);
    assert_eq!([none.caught_by(false), none.caught_by(true)], [None; 2]);
}

/// 23 kinds of eleven sizes and six halvings, 15 of one; each twice.
#[test]
fn cycles_are_told_beforehand() {
    assert_eq!(cycles_of(10), 23 * 2 * 17 * 10 + 15 * 2 * 10);
}

#[test]
fn sizes_rise_from_none_to_the_largest() {
    let sizes = |word| {
        let points = points(&silent(), kind(word), false, 2, &|done| assert_eq!(done, 2));
        points.iter().map(|point| point.size).collect::<Vec<_>>()
    };
    let seen = sizes("knocked-up");
    assert_eq!(seen.len(), 11);
    seen.iter().enumerate().for_each(|(at, size)| assert_near(*size, -0.03 * at as f64, 1e-12));
    assert_eq!(sizes("no-plate"), [1.0]);
}

fn least_of(word: &str, caught: &[u64]) -> Least {
    let points: Vec<_> =
        caught.iter().enumerate().map(|(at, caught)| made_up(0.04 * at as f64, *caught)).collect();
    least(&silent(), kind(word), &points, false, 10, &|_| {})
}

#[test]
fn the_least_size_is_that_from_which_all_larger_are_caught() {
    assert_eq!(least_of("seats-low", &[0, 0, 8]), Least::Never);
    assert_eq!(least_of("seats-low", &[0, 10, 8]), Least::Never);
    assert_eq!(least_of("seats-low", &[]), Least::Never);
    assert_eq!(least_of("seats-low", &[9, 10, 9]), Least::Size(0.0));
    assert_eq!(least_of("no-plate", &[9]), Least::Always);
    assert_eq!(least_of("no-plate", &[8]), Least::Never);
    // In halves from what is not always caught to what is: none of it is, so that the larger stays.
    assert_eq!(least_of("seats-low", &[0, 9, 8, 10, 9]), Least::Size(0.04 * 3.0));
    assert_eq!(least_of("seats-low", &[9, 8, 9]), Least::Size(0.04 * 2.0));
}

/// Refused beyond a quarter of a millimetre, which stands between the sizes 0.24 and 0.28: six halvings leave
/// 0.04/64.
#[test]
fn the_least_size_is_found_by_halving() {
    let all = points(&silent(), kind("seats-low"), false, 10, &|_| {});
    let caught: Vec<_> = all.iter().map(|point| point.caught).collect();
    assert_eq!(caught, [0, 0, 0, 0, 0, 0, 0, 10, 10, 10, 10]);
    let told = std::sync::atomic::AtomicU64::new(0);
    let found = least(&silent(), kind("seats-low"), &all, false, 10, &|done| {
        told.fetch_add(done, Ordering::Relaxed);
    });
    let Least::Size(size) = found else { panic!("{found:?}") };
    assert!(size > 0.2499 && size < 0.25 + 0.04 / 64.0 + 0.0001, "{size}");
    assert_eq!(told.into_inner(), 60);
}

#[test]
fn a_point_counts_what_is_refused_and_what_gets_through() {
    let of = |word, size| point(&silent(), kind(word), size, false, 20);
    let refused = of("seats-low", 0.4);
    assert_eq!((refused.size, refused.runs, refused.caught), (0.4, 20, 20));
    assert_eq!(
        (refused.mean, refused.ends, refused.reasons.len(), refused.reasons[0].1),
        (None, None, 1, 20)
    );
    // The plunger meets a plate a tenth too high that lies down later.
    for (size, due) in [(0.0, 0.0), (0.1, 0.1)] {
        let through = of("plate-not-seated", size);
        assert_eq!((through.caught, through.reasons.is_empty()), (0, true));
        let (low, high) = through.ends.expect("accepted");
        let mean = through.mean.expect("accepted");
        assert!(low < mean && mean < high, "{through:?}");
        assert!([low, mean, high].iter().all(|error| (error - due).abs() < 3e-4), "{through:?}");
    }
}

/// Many that are refused for two reasons: the more frequent first.
#[test]
fn reasons_stand_by_how_often_they_occur() {
    let mut draft = draft();
    (draft.touch.band, draft.touch.most) = (mm("0.02"), 20);
    let wild = Noise { plate_switch: 0.004, outlier_rate: 0.3, outlier_size: 0.2, ..SILENT };
    let seen = point(&bench(&draft, &wild), kind("homed-off"), 0.1, false, 200);
    let counts: Vec<_> = seen.reasons.iter().map(|(_, count)| *count).collect();
    assert!(counts.iter().all(|count| *count > 0) && counts.is_sorted_by(|a, b| a >= b), "{counts:?}");
    assert_eq!(counts.iter().sum::<u64>(), seen.caught);
    assert!(seen.caught > 0 && seen.caught < 200, "{seen:?}");
}

/// Four touches of switches of 4 and 6 µm, and steps of 1/128 mm under both.
fn noisy() -> Bench {
    let mut draft = draft();
    draft.travel.steps = (128, 1);
    draft.probe.delay.latency = latency("0.004");
    draft.datum_switch.delay.latency = latency("0.001");
    bench(&draft, &Noise { tip_switch: 0.03, shoulder_switch: 0.004, plate_switch: 0.006, ..SILENT })
}

#[test]
fn a_span_is_remembered_as_the_machines_own_touches_give_it() {
    let remembered = Remembered::of(&noisy());
    let square = (16e-6 + 36e-6) / 4.0 + 2.0 / (128.0 * 128.0 * 12.0);
    assert_near(remembered.u, libm::sqrt(square), 1e-15);
    assert_near(libm::ldexp(remembered.variance.to_bits() as f64, -60), square, 1e-15);
}

/// From shoulder to plate: rise and trip depth of 0.5 mm, trimmed at the speed of the touches, so that the
/// plate's latency is in it already and the datum switch's adds 2 µm; then what was not known well.
#[test]
fn a_job_brings_the_span_of_its_own_plate() {
    let bench = noisy();
    let tried = |known| Tried {
        bench: &bench,
        machine: bench.machine.clone(),
        faults: Faults::new(Vec::new()),
        known,
    };
    assert_eq!(tried(None).job(3), bench.job);
    let variance = Variance::from_bits(12_345);
    for u in [0.0, 0.25] {
        let tried = tried(Some(Remembered { u, variance, sound: Faults::NONE }));
        for run in 0..5 {
            let job = tried.job(run);
            let JobKind::Full { last: Some(last) } = job.kind else { panic!("{job:?}") };
            let rise = World::new(&bench.machine, &Faults::NONE, 7, run).truth.rise;
            let unknown = u * Random::of_run(7 ^ REMEMBERED, run).normal();
            assert_near(last.span.to_f64(), rise + 0.55 + 0.002 + unknown, 1.0 / 65_536.0);
            assert_eq!((last.variance, job.homed, job.levelled), (variance, true, true));
        }
    }
}

#[test]
fn every_kind_has_its_power() {
    let all = of_all(&silent(), 1, &AtomicBool::new(false), &|_| {});
    assert_eq!(all.iter().map(|power| power.kind).collect::<Vec<_>>(), KINDS.iter().collect::<Vec<_>>());
    for power in &all {
        let points = if power.kind.unit == Unit::None { 1 } else { 11 };
        assert_eq!((power.unknown.len(), power.known.len()), (points, points), "{:?}", power.kind);
    }
    let of = |word| all.iter().find(|power| power.kind.word == word).expect("a kind");
    assert_eq!(
        (of("homed-off").least_unknown, of("datum-dead").least_unknown),
        (Least::Never, Least::Always)
    );
    // Only who remembers the plate sees that the trip depth is another.
    let depth = of("trip-depth-large");
    let Least::Size(least) = depth.least_known else { panic!("{depth:?}") };
    assert!(depth.least_unknown == Least::Never && least > 0.09 && least <= 0.12, "{depth:?}");
    assert!(of_all(&silent(), 1, &AtomicBool::new(true), &|_| {}).is_empty());
}
