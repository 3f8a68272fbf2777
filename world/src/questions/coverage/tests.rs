use zdatum::Station;
use zdatum::setup::Follows;

use super::*;
use crate::tests::machine::{SILENT, assert_near, bench, latency, mm, part, prompt as draft, u};

#[test]
fn each_condition_and_what_it_rests_on_has_a_word_and_a_name() {
    let words = ["normal", "rectangular", "heavy-tailed", "one-step", "drifting", "drifting-stated"];
    let names = ["normal", "rectangular", "heavy-tailed", "one step wide", "frame grows", "the same, stated"];
    assert_eq!((Condition::ALL.map(Condition::word), Condition::ALL.map(Condition::name)), (words, names));
    assert_eq!(Rests::ALL.map(Rests::word), ["all", "touches", "one-station"]);
    let starts = ["The machine as in its file", "Touches alone: ", "One station dominates: "];
    assert!(Rests::ALL.map(Rests::name).iter().zip(starts).all(|(name, start)| name.starts_with(start)));
}

/// 0.94 is kept of 0.95: 900 of 1000 with two errors of 0.0095 are below, 90 of 100 with two of 0.03 are not.
#[test]
fn a_count_falls_short_by_two_of_its_errors() {
    let short = |part, whole, stated| falls_short(&Share { part, whole }, stated);
    assert!(short(900, 1_000, 0.95) && short(960, 1_000, 0.99));
    assert!(!short(90, 100, 0.95) && !short(950, 1_000, 0.95) && !short(900, 1_000, 0.90));

    let cell = |held| CoverageCell {
        rests: Rests::OnAll,
        condition: Condition::Normal,
        touches: 5,
        studied: true,
        held,
        refused: None,
    };
    let held = [Share::of(900, 1_000), Share::of(950, 1_000), None, Share::of(1, 10)];
    let of = Coverage { runs: 1_000, stated: 0.95, cells: held.map(cell).to_vec(), complete: true };
    assert_eq!(
        of.cells.iter().map(|cell| cell.is_short(0.95)).collect::<Vec<_>>(),
        [true, false, false, true]
    );
    assert_eq!(of.short().map(|cell| cell.held).collect::<Vec<_>>(), [held[0], held[3]]);
}

/// Steps of 1/128 mm, switches of 3, 4 and 6 µm, jitter of 1 ms at 2 mm/s, and what a file may know besides.
fn noisy() -> Bench {
    let mut draft = draft();
    draft.travel.steps = (128, 1);
    draft.soak_left = mm("0.02");
    draft.probe.trip_depth_u = u("0.005");
    draft.probe.delay.latency_u = latency("0.001");
    draft.datum_switch.delay.latency_u = latency("0.002");
    draft.growth.push(part(Follows::Tool, ["0.3", "0.05"], ["140", "220"])).expect("room");
    draft.accept.shift = mm("0.2");
    draft.pooled.shoulder = None;
    let noise = Noise {
        shape: Shape::HeavyTailed,
        tip_switch: 0.003,
        shoulder_switch: 0.004,
        plate_switch: 0.006,
        latency_jitter_s: 0.001,
        drift: 0.1,
        outlier_rate: 0.01,
        tip_filament: 0.1,
        reseat: 0.02,
        ..SILENT
    };
    bench(&draft, &noise)
}

const STEP: f64 = 1.0 / 128.0;

/// What a station's touches scatter by: switch, jitter of 2 µm, rounding to a step.
fn scatter(switch: f64) -> f64 {
    libm::sqrt(switch * switch + 4e-6 + STEP * STEP / 12.0)
}

fn made(rests: Rests, condition: Condition, touches: u8, studied: bool) -> Bench {
    machine(&noisy(), rests, condition, touches, studied).expect("allowed")
}

/// A bit of what a draft holds.
const BIT: f64 = 1.0 / 65_536.0;

#[test]
fn limits_are_open_and_the_band_is_eight_times_the_scatter() {
    let made = made(Rests::OnAll, Condition::Normal, 3, true);
    let draft = made.setup.draft();
    let touch = &draft.touch;
    assert_eq!((touch.least, touch.most, touch.target_u), (3, 6, Uncertainty::ZERO));
    assert_near(touch.band.to_f64(), 8.0 * scatter(0.006), BIT);
    let accept = &draft.accept;
    let ends = [accept.landing.low, accept.landing.high, accept.shift].map(Length::to_f64);
    assert_eq!((ends, accept.expanded_u.to_f64()), ([-1e3, 1e3, 1.0], 1.0));
    // What is known to break the promise is gone, all else is the file's.
    let due = Noise {
        shape: Shape::Normal,
        drift: 0.0,
        outlier_rate: 0.0,
        tip_filament: 0.0,
        ..noisy().machine.noise
    };
    assert_eq!(made.machine.noise, due);
    assert_eq!((draft.soak_left, draft.growth.len()), (Length::ZERO, 1));
    let file = noisy();
    assert_eq!(
        (&draft.probe, &draft.datum_switch),
        (&file.setup.draft().probe, &file.setup.draft().datum_switch)
    );
    // The leading station is the one whose band it is.
    for (quiet, loud) in [(0.003, 0.02), (0.02, 0.003)] {
        let mut file = noisy();
        (file.machine.noise.tip_switch, file.machine.noise.shoulder_switch) = (quiet, loud);
        let wide = machine(&file, Rests::OnAll, Condition::Normal, 3, true).expect("allowed");
        assert_near(wide.setup.draft().touch.band.to_f64(), 8.0 * scatter(0.02), BIT);
    }
}

#[test]
fn a_study_says_what_the_scatter_is() {
    let pooled = made(Rests::OnAll, Condition::Normal, 5, true).setup.draft().pooled;
    for (station, switch, dof) in
        [(Station::Tip, 0.003, 40), (Station::Shoulder, 0.004, 48), (Station::Plate, 0.006, 40)]
    {
        let study = pooled.of(station).expect("studied");
        assert_near(study.s.to_f64(), scatter(switch), 1e-6);
        assert_eq!(study.dof.get(), dof, "{station:?}");
    }
    assert_eq!(made(Rests::OnAll, Condition::Normal, 5, false).setup.draft().pooled, Studied::default());
    assert!(machine(&noisy(), Rests::OnAll, Condition::Normal, 1, false).is_none());
}

#[test]
fn conditions_change_the_noise() {
    let noise = |condition| made(Rests::OnAll, condition, 5, true).machine.noise;
    let plain = noise(Condition::Normal);
    assert_eq!(noise(Condition::Rectangular), Noise { shape: Shape::Rectangular, ..plain });
    assert_eq!(noise(Condition::HeavyTailed), Noise { shape: Shape::HeavyTailed, ..plain });
    let grows = Noise { drift: DRIFT, ..plain };
    assert_eq!([Condition::Drifting, Condition::DriftStated].map(noise), [grows; 2]);
    let left = |condition| made(Rests::OnAll, condition, 5, true).setup.draft().soak_left.to_f64();
    assert_eq!(left(Condition::Drifting), 0.0);
    assert_near(left(Condition::DriftStated), DRIFT, 1e-5);

    // A rectangle of one step, rounded to steps: two twelfths of its square.
    let step = made(Rests::OnAll, Condition::OneStep, 5, true);
    let sd = STEP / libm::sqrt(12.0);
    let [shape, jitter] =
        [step.machine.noise.shape == Shape::Rectangular, step.machine.noise.latency_jitter_s == 0.0];
    assert!(shape && jitter);
    for switch in
        [step.machine.noise.tip_switch, step.machine.noise.shoulder_switch, step.machine.noise.plate_switch]
    {
        assert_near(switch, sd, 1e-15);
    }
    assert_near(step.setup.draft().touch.band.to_f64(), 8.0 * libm::sqrt(2.0) * sd, BIT);
    // Four times as noisy is no longer one step wide.
    assert!(machine(&noisy(), Rests::OnOneStation, Condition::OneStep, 5, true).is_none());
    assert!(machine(&noisy(), Rests::OnOneStation, Condition::Rectangular, 5, true).is_some());
}

#[test]
fn touches_alone_or_one_station_alone() {
    let of = |rests, touches| made(rests, Condition::Normal, touches, true);
    for rests in [Rests::OnTouches, Rests::OnOneStation] {
        let made = of(rests, 4);
        let draft = made.setup.draft();
        assert!(draft.growth.is_empty());
        let latencies = [draft.probe.delay.latency_u, draft.datum_switch.delay.latency_u];
        assert_eq!(latencies.map(|u| u.to_f64()), [0.0; 2]);
    }
    let alone = of(Rests::OnTouches, 4);
    assert_eq!(
        (alone.setup.draft().probe.trip_depth_u, alone.machine.noise.plate_switch),
        (Uncertainty::LEAST, 0.006)
    );
    for touches in [4, 9] {
        let leads = of(Rests::OnOneStation, touches);
        let noise = leads.machine.noise;
        assert_eq!((noise.tip_switch, noise.shoulder_switch, noise.plate_switch), (0.003, 0.004, 0.024));
        let beside = 0.5 * scatter(0.024) / libm::sqrt(f64::from(touches));
        assert_near(leads.setup.draft().probe.trip_depth_u.to_f64(), beside, 1e-6);
        assert_near(leads.setup.draft().touch.band.to_f64(), 8.0 * scatter(0.024), BIT);
    }
}

/// Three tables of six conditions, less one that cannot be; six counts with a study, five without. All of a
/// machine that knows itself hold, none is refused.
#[test]
fn every_machine_of_the_map_is_counted() {
    let none = AtomicBool::new(false);
    let seen = coverage(&noisy(), 2, &none, &|_| {});
    assert_eq!((seen.runs, seen.stated, seen.complete), (2, 0.95, true));
    assert_eq!((seen.cells.len(), CELLS), (17 * 11, 18 * 11));
    let counts: Vec<_> = seen.cells[..11].iter().map(|cell| (cell.studied, cell.touches)).collect();
    let due = TOUCHES.map(|n| (true, n)).into_iter().chain(TOUCHES[1..].iter().map(|n| (false, *n)));
    assert_eq!(counts, due.collect::<Vec<_>>());
    assert!(seen.cells.iter().all(|cell| cell.refused.is_some_and(|refused| refused.whole == 2)));
    let tables: Vec<_> = seen.cells.chunks(11).map(|cells| (cells[0].rests, cells[0].condition)).collect();
    assert_eq!(tables[5..7], [(Rests::OnAll, Condition::DriftStated), (Rests::OnTouches, Condition::Normal)]);
    let stopped = coverage(&noisy(), 2, &AtomicBool::new(true), &|_| {});
    assert!(stopped.cells.is_empty() && !stopped.complete);
}
