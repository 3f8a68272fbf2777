use super::*;
use crate::tests::machine::{SILENT, bench, draft, mm};

fn crash(harm: Harm, cycles: u64) -> Crash {
    Crash { faults: Vec::new(), harm, cycles, of: 1_000, prevented_by: Vec::new() }
}

/// 1 − 0.05^(1/1000) where none of the nozzle was seen; no bound where one was, or nothing was run.
#[test]
fn the_bound_is_for_no_crash_of_the_nozzle() {
    let seen = |cycles, crashes| Crashes { cycles, crashes, ..Crashes::default() };
    let bound = seen(1_000, vec![crash(Harm::ProbeSideways, 3)]).bound().expect("none of the nozzle");
    assert!((bound - 0.002_991_249_545_095).abs() < 1e-14, "{bound}");
    assert_eq!(seen(0, Vec::new()).bound(), None);
    let both = seen(
        1_000,
        vec![crash(Harm::TipIntoPlate, 2), crash(Harm::TipSideways, 5), crash(Harm::ProbeSideways, 9)],
    );
    assert_eq!((both.of_the_nozzle(), both.bound()), (7, None));
}

static GO: AtomicBool = AtomicBool::new(false);

#[test]
fn counts_are_added_and_told_by_harm() {
    let mut counts = Counts { cycles: 10, accepted: 4, harms: [1, 0, 2, 0, 0, 0], ..Counts::default() };
    counts.merge(&Counts { cycles: 5, accepted: 3, harms: [2, 0, 0, 0, 0, 7], ..Counts::default() });
    assert_eq!((counts.cycles, counts.accepted, counts.harms), (15, 7, [3, 0, 2, 0, 0, 7]));
    let faults: Vec<&FaultKind> = KINDS.iter().take(2).collect();
    let crashes = counts.crashes(&faults);
    let told: Vec<_> = crashes.iter().map(|crash| (crash.harm, crash.cycles, crash.of)).collect();
    assert_eq!(told, [(Harm::TipIntoPlate, 3, 15), (Harm::TipSideways, 2, 15), (Harm::ProbeSideways, 7, 15)]);
    assert!(crashes.iter().all(|crash| crash.faults == faults));
    let twice = counts.crashes(&[faults[0], faults[0]]);
    assert_eq!(twice[0].prevented_by, [faults[0].prevented_by], "told once");
    let found =
        collected(vec![counts, Counts { cycles: 1, accepted: 1, ..Counts::default() }], |_| faults.clone());
    assert_eq!((found.cycles, found.accepted, found.crashes.len()), (16, 8, 3));
}

/// Two accepted, 10 µm too near and 30 too far, three refused: what was wrong, how often it was caught, by
/// what, and what got through.
#[test]
fn what_became_of_a_pair() {
    use zdatum::cycle::Ending;
    let ran = |error: Option<f64>, refused: Option<RefusalKind>| Ran {
        error,
        expanded: 0.01,
        refused,
        true_landing: 0.0,
        touches: 12,
        seconds: 60.0,
        ending: Ending::LiftedAndPutBack,
    };
    let (mut counts, mut other) = (Counts::default(), Counts::default());
    counts.add(&ran(Some(0.03), None));
    counts.add(&ran(None, Some(RefusalKind::Walking)));
    counts.add(&ran(None, Some(RefusalKind::Unsteady)));
    other.add(&ran(Some(-0.01), None));
    other.add(&ran(None, Some(RefusalKind::Unsteady)));
    counts.merge(&other);
    let faults: Vec<&FaultKind> = KINDS.iter().take(2).collect();
    let outcome = counts.outcome(&faults);
    assert_eq!((outcome.cycles, outcome.accepted, outcome.ends), (5, 2, Some((-0.01, 0.03))));
    assert_eq!(outcome.reasons, [(RefusalKind::Unsteady, 2), (RefusalKind::Walking, 1)]);
    assert!(outcome.caught() == 0.6 && outcome.faults == faults);
    assert_eq!(Counts::default().outcome(&faults).ends, None);
    // Those that were not run are not told of.
    assert_eq!(collected(vec![counts, Counts::default()], |_| faults.clone()).outcomes, [outcome]);
}

/// 200 cycles in groups of 64, dealt to three in turn: the first has its own 64 and the last 8.
#[test]
fn groups_are_dealt_out_whole() {
    let (bench, done) = (bench(&draft(), &SILENT), AtomicU64::new(0));
    let deal = |group: u64| ((group % 3) as usize, Vec::new());
    let told = |cycles: u64| {
        done.fetch_add(cycles, Ordering::Relaxed);
    };
    let counts = groups(&bench, 200, 3, &GO, &told, deal);
    assert_eq!(counts.iter().map(|counts| counts.cycles).collect::<Vec<_>>(), [72, 64, 64]);
    assert_eq!(done.into_inner(), 200);
    // A sound machine without noise is accepted wherever its parts stand.
    assert!(counts.iter().all(|counts| counts.accepted == counts.cycles && counts.harms == [0; 6]));
    let stopped = groups(&bench, 200, 3, &AtomicBool::new(true), &|_| {}, deal);
    assert!(stopped.iter().all(|counts| counts.cycles == 0));
}

/// Each of 703 pairs has a whole group.
#[test]
fn pairs_have_equally_many() {
    let bench = bench(&draft(), &SILENT);
    let found = double(&bench, 1, &GO, &|_| {});
    let pairs = (KINDS.len() * (KINDS.len() - 1) / 2) as u64;
    assert_eq!(found.cycles, 64 * pairs);
    for crash in &found.crashes {
        assert!(crash.of == 64 && crash.faults.len() == 2 && crash.faults[0] != crash.faults[1], "{crash:?}");
    }
    let found = single(&bench, 64 * KINDS.len() as u64, &GO, &|_| {});
    assert_eq!(found.cycles, 64 * KINDS.len() as u64);
    assert!(found.crashes.iter().all(|crash| crash.of == 64 && crash.faults.len() == 1));
}

/// Anywhere in the declared ranges, to their ends: of 4,000 draws the outermost are within a hundredth of the
/// width of them.
#[test]
fn places_fill_their_ranges() {
    let (faults, bench) = ([], bench(&draft(), &SILENT));
    let group = Group::new(&bench, 0, &faults);
    let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for run in 0..4_000 {
        for (at, place) in group.places(run).into_iter().enumerate() {
            (low[at], high[at]) = (low[at].min(place), high[at].max(place));
        }
    }
    // Rises of -0.5 to 0.5, tips of 0.1 to 1.1, drops of 5.5 to 6.5.
    for (at, (least, most)) in [(-0.5, 0.5), (0.1, 1.1), (-0.5, 0.5)].into_iter().enumerate() {
        assert!((least - 1e-5..least + 0.01).contains(&low[at]), "{low:?}");
        assert!((most - 0.01..most + 1e-5).contains(&high[at]), "{high:?}");
    }
    assert_eq!((group.room.overtravel, group.room.free_height), (2.5, 1.25));
}

/// Sizes are anywhere from nothing up to the largest, which is 0.3 mm here, and the debris is not taken for
/// the plate's own rise.
#[test]
fn sizes_are_anywhere_up_to_the_largest() {
    let bench = bench(&draft(), &SILENT);
    let raised = KINDS
        .iter()
        .find(|kind| {
            let mut faults = Vec::new();
            kind.add(0.25, &mut faults, &mut SILENT.clone());
            faults == [Fault::PlateRaised(0.25)]
        })
        .expect("debris under the plate");
    let sizes: Vec<f64> = (0..2_000)
        .map(|group| {
            let group = Group::new(&bench, group, &[raised]);
            let world = World::new(&group.machine, &group.faults, 1, 5);
            let plain = World::new(&bench.machine, &crate::SOUND, 1, 5);
            assert!((group.sound_rise(&world) - plain.truth.rise).abs() < 1e-12);
            group.faults.plate_raised() / raised.largest
        })
        .collect();
    assert!(sizes.iter().all(|size| *size > 0.0 && *size <= 1.0));
    // Five standard errors of a rectangle's mean.
    let mean = sizes.iter().sum::<f64>() / 2_000.0;
    assert!((mean - 0.5).abs() < 5.0 / (12.0_f64 * 2_000.0).sqrt(), "{mean}");
}

/// Without any way past its trip the datum switch is driven beyond it at every touch: the tip's harm is told
/// before the shoulder's.
#[test]
fn the_first_harm_of_the_nozzle_is_told() {
    let mut bench = bench(&draft(), &SILENT);
    let mut group = Group::new(&bench.clone(), 0, &[]).room;
    group.overtravel = 0.0;
    bench.seed = 4;
    let harmed = Group { room: group, ..Group::new(&bench, 0, &[]) }.run(0, 50);
    assert_eq!((harmed.cycles, harmed.accepted, harmed.harms), (50, 50, [0, 50, 0, 0, 0, 0]));
    // With no more than the plunger's way to hang, moves with the probe are free; with much more, they are
    // not.
    let room = Room { overtravel: 2.5, free_height: 1_000.0 };
    let dragged = Group { room, ..Group::new(&bench, 0, &[]) }.run(0, 50);
    assert_eq!(dragged.harms, [0, 0, 0, 0, 0, 50]);
}

/// A series that may need more than the small room is run in the large one, to the same end.
#[test]
fn long_series_have_room() {
    let mut long = draft();
    long.touch.most = 40;
    long.travel.z.high = mm("160");
    let bench = bench(&long, &SILENT);
    assert!(is_large(&bench.setup));
    let counts = Group::new(&bench, 0, &[]).run(0, 20);
    assert_eq!((counts.cycles, counts.accepted), (20, 20));
}
