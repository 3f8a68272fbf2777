use zdatum::Source;
use zdatum::setup::Follows;

use super::*;
use crate::Noise;
use crate::tests::machine::{SILENT, assert_near, bench, latency, part, prompt as draft, u};

static RUNNING: AtomicBool = AtomicBool::new(false);

fn known(value: f64) -> Estimate {
    Estimate { value, error: 0.0 }
}

fn line(core_share: Option<f64>, share: f64, shift: [f64; 2], variance: f64) -> BudgetLine {
    BudgetLine {
        source: "any".into(),
        core_u: None,
        core_share,
        variance: known(variance),
        share: known(share),
        shift: Estimate { value: shift[0], error: shift[1] },
        is_touches: false,
        reduced_by: "",
        note: "",
    }
}

#[test]
fn a_shift_counts_beyond_three_of_its_errors() {
    let shifts = |value, error| line(None, 0.0, [value, error], 0.0).shifts();
    assert!(shifts(1.0, 0.25) && shifts(-1.0, 0.25) && shifts(1e-9, 0.0));
    assert!(!shifts(0.75, 0.25) && !shifts(-0.5, 0.25) && !shifts(0.0, 0.0));
}

/// A shift of 3 weighs as much as a variance of 9.
#[test]
fn a_line_weighs_what_it_has_most_of() {
    let of_shift = |shift, whole| line(None, 0.0, shift, 0.0).weight_of_shift(whole);
    assert_eq!(of_shift([3.0, 0.25], 36.0), 0.25);
    assert_eq!(of_shift([-3.0, 0.25], 36.0), 0.25);
    assert_eq!((of_shift([3.0, 0.25], 0.0), of_shift([3.0, 1.0], 36.0)), (0.0, 0.0));
    let weight = |core, share, shift| line(core, share, [shift, 0.0], 0.0).weight(36.0);
    assert_eq!(weight(Some(0.75), 0.5, 3.0), 0.75);
    assert_eq!(weight(Some(0.125), 0.5, 3.0), 0.5);
    assert_eq!(weight(Some(0.125), 0.0, 3.0), 0.25);
    assert_eq!(weight(None, -0.5, 0.0), 0.0);
}

#[test]
fn a_deviation_is_the_root_of_what_is_above_none() {
    let sd = |variance| line(None, 0.0, [0.0, 0.0], variance).sd();
    assert_eq!([9.0, 0.0, -9.0].map(sd), [3.0, 0.0, 0.0]);
    let root = |value, error| root(Estimate { value, error });
    assert_eq!(
        (root(4.0, 5.0), root(-1.0, 9.0)),
        (Estimate { value: 2.0, error: 1.0 }, Estimate { value: 0.0, error: 3.0 })
    );
}

/// Over the three runs that both accept: 1, 3, 7 about 11/3; 0, 2, 1 about 1. What their squares differ by is
/// (55, −5, 100)/9, what they differ by is 1, 1, 6.
#[test]
fn differences_are_those_of_runs_accepted_in_both() {
    let nan = f64::NAN;
    let (variance, shift) =
        difference(&[1.0, 3.0, nan, 5.0, 7.0, nan], &[0.0, 2.0, 4.0, nan, 1.0, nan]).expect("three runs");
    assert_near(variance.value, 50.0 / 9.0, 1e-12);
    assert_near(variance.error, libm::sqrt(2_775.0 / 243.0), 1e-12);
    assert_near(shift.value, 8.0 / 3.0, 1e-12);
    assert_near(shift.error, libm::sqrt(75.0 / 27.0), 1e-12);
    assert!(difference(&[1.0, nan], &[1.0, 2.0]).is_none());
}

fn examined(bench: &Bench, runs: u64) -> Examined {
    let names = ["hot nozzle".to_owned()];
    let what = Examination { growth_names: &names, bench, runs, most: 0, within: 0.02 };
    examine(&what, &RUNNING, &|_| {})
}

/// The plate's switch, trip depth and a growing nozzle, each of its own size; the tip's and the shoulder's
/// are stated and not there. The datum switch's latency and the probe's seat cancel; a frame that grows is
/// not stated.
fn busy() -> Bench {
    let mut draft = draft();
    draft.pooled.plate = crate::tests::machine::study("0.006", 40);
    draft.probe.trip_depth_u = u("0.004");
    draft.datum_switch.delay.latency_u = latency("0.002");
    draft.growth.push(part(Follows::Tool, ["0.3", "0.025"], ["140", "220"])).expect("room");
    let noise = Noise { plate_switch: 0.006, reseat: 0.02, drift: 0.02, drift_tau_s: 100.0, ..SILENT };
    bench(&draft, &noise)
}

#[test]
fn each_source_of_a_machine_in_closed_form() {
    const RUNS: u64 = 4_000;
    let seen = examined(&busy(), RUNS);
    assert_eq!(seen.agreement, None);
    let budget = seen.budget.expect("accepted");
    let whole = budget.simulated_sd.value * budget.simulated_sd.value;
    let line = |source: &str| budget.lines.iter().find(|line| line.source == source);
    // 6 µm over two, trip depth, 0.025 µm/K over 80 K: 3, 4 and 2 µm.
    for (source, sd, touches) in
        [("plate touches", 0.003, true), ("trip depth", 0.004, false), ("hot nozzle", 0.002, false)]
    {
        let line = line(source).expect(source);
        assert!(line.variance.error < 0.1 * whole, "{line:?}");
        assert_near(line.variance.value, sd * sd, 4.0 * line.variance.error);
        assert_near(line.share.value, line.variance.value / whole, 1e-12);
        assert_near(line.share.error, line.variance.error / whole, 1e-12);
        let u = line.core_u.expect("the core counts it");
        assert_near(u, sd, 1e-5);
        assert_near(line.core_share.expect("counted"), u * u / (budget.core_u * budget.core_u), 1e-12);
        assert_eq!(line.is_touches, touches);
    }
    assert_near(whole, 29e-6, 4.0 * libm::sqrt(2.0 / RUNS as f64) * 29e-6);
    assert_near(budget.lines.iter().filter_map(|line| line.core_share).sum(), 1.0, 1e-6);

    // Stated and not there: 4 µm over two. There, and not stated: it shifts. There, and without effect.
    let stated_only = line("tip touches").expect("stated");
    assert_eq!((stated_only.variance, stated_only.shift), (known(0.0), known(0.0)));
    assert_near(stated_only.core_u.expect("stated"), 0.002, 1e-5);
    let grows = line("soak").expect("it shifts");
    assert!(
        grows.shifts() && grows.core_u.is_none() && grows.variance.value.abs() < 3.0 * grows.variance.error,
        "{grows:?}"
    );
    let seat = line("seating of the probe").expect("the world has it");
    assert!(seat.variance.error > 0.0 && seat.variance.value.abs() < 3.0 * seat.variance.error, "{seat:?}");
    for none in [
        "datum switch latency",
        "plate switch latency",
        "latency jitter",
        "wild touches",
        "filament on the tip",
    ] {
        assert!(line(none).is_none(), "{none}");
    }
    assert!(budget.lines.is_sorted_by(|a, b| a.weight(whole) >= b.weight(whole)));
    assert_eq!((budget.runs, &budget.advice), (RUNS, &advice::of(&budget)));

    // All that touches do not average; its standard error is that of the whole and of what they do.
    let more = budget.more.as_ref().expect("eight touches are allowed");
    assert_eq!((more.now, more.then), (4, 8));
    let mean_of_touches = || budget.lines.iter().filter(|line| line.is_touches);
    let left = whole - mean_of_touches().map(|line| line.variance.value).sum::<f64>();
    let own = 2.0 * budget.simulated_sd.value * budget.simulated_sd.error;
    let error = mean_of_touches().fold(own, |error, line| libm::hypot(error, line.variance.error));
    assert_near(more.floor, libm::sqrt(20e-6), 0.000_2);
    assert_near(more.floor, libm::sqrt(left), 1e-12);
    assert_near(more.floor_error, libm::sqrt(left + error) - libm::sqrt(left), 1e-12);
    let then = more.figures_then.sd.expect("accepted").value;
    assert_near(then, libm::sqrt(24.5e-6), 4.0 * libm::sqrt(0.5 / RUNS as f64) * 0.005);
}

#[test]
fn the_floor_is_never_above_what_was_reached() {
    let bench = busy();
    let names = ["hot nozzle".to_owned()];
    let what = Examination { growth_names: &names, bench: &bench, runs: 200, most: 0, within: 0.02 };
    let high = Estimate { value: 1.0, error: 0.5 };
    let more = more_touches(&what, high, &RUNNING, &|_| {}).expect("allowed");
    let reached = [&more.figures_now, &more.figures_then].map(|figures| figures.sd.expect("accepted").value);
    assert_eq!((more.floor, more.floor_error), (reached[0].min(reached[1]), 0.5));
}

#[test]
fn a_station_holds_sixty_four_touches() {
    let then = |least| {
        let mut draft = draft();
        (draft.touch.least, draft.touch.most) = (least, least + 1);
        let seen = examined(&bench(&draft, &SILENT), 20).budget.expect("accepted");
        seen.more.map(|more| more.then)
    };
    assert_eq!([31, 32, 33].map(then), [Some(62), Some(64), None]);
}

#[test]
fn nothing_comes_of_nothing_accepted_or_interrupted() {
    let mut strict = draft();
    strict.accept.expanded_u = u("0.0001");
    assert_eq!(examined(&bench(&strict, &SILENT), 20), Examined::NOTHING);
    let (bench, names) = (busy(), Vec::new());
    let what = Examination { growth_names: &names, bench: &bench, runs: 20, most: 0, within: 0.02 };
    assert_eq!(examine(&what, &AtomicBool::new(true), &|_| {}), Examined::NOTHING);
    // Without a name a part goes by its number.
    assert_eq!(crate::words::words(&names, Source::Growth(1)), "growth 2");
}
