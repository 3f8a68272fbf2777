//! Every refusal by a physical cause in this world, and nothing refused without it.

use zdatum::cycle::{Ending, Job, Kind};
use zdatum::{LastSpan, RefusalKind as R, Station, Uncertainty, Variance};
use zdatum_sim::world::{Fault, Noise};
use zdatum_tests::machine::{mm, range, u, workshop};
use zdatum_world::engine::{Bench, Ran, run};

use crate::machines::{Case, SILENT, error};

const RUNS: u64 = 40;

/// A refusal and how this world comes to it.
struct Cause {
    kind: R,
    what: &'static str,
    /// A machine that is sound by itself.
    sound: fn() -> Case,
    /// What then goes wrong.
    wrong: fn(&mut Case),
    /// What the cycle is told of the plate.
    last: Option<LastSpan>,
    ending: Ending,
}

impl Cause {
    const fn new(kind: R, what: &'static str, wrong: fn(&mut Case)) -> Self {
        Self { kind, what, sound: workshop_case, wrong, last: None, ending: Ending::LiftedAndPutBack }
    }

    fn bench(&self, case: &Case) -> Bench {
        let job = Job { homed: true, levelled: true, kind: Kind::Full { last: self.last } };
        Bench { job, ..case.bench() }
    }
}

/// The workshop's machine with its noise, touched five times a station.
fn workshop_case() -> Case {
    let mut draft = workshop();
    draft.touch.least = 5;
    let noise = Noise {
        tip_switch: 0.0011,
        shoulder_switch: 0.0011,
        plate_switch: 0.0025,
        reseat: 0.02,
        latency_jitter_s: 0.0002,
        ..SILENT
    };
    Case { draft, noise, faults: Vec::new(), seed: 4 }
}

fn with_tip_again() -> Case {
    let mut case = workshop_case();
    case.draft.touch.tip_again = true;
    case
}

fn causes() -> Vec<Cause> {
    vec![
        Cause::new(R::AlreadyTripped, "the datum switch is held closed", |case| {
            case.faults.push(Fault::HeldSwitch(Station::Tip));
        }),
        Cause::new(R::AlreadyTripped, "the probe's switch is wired wrong", |case| {
            case.faults.push(Fault::HeldSwitch(Station::Plate));
        }),
        Cause::new(R::NoTrip, "no plate is fitted", |case| case.faults.push(Fault::NoPlate)),
        Cause::new(R::NoTrip, "the datum switch is dead", |case| {
            case.faults.push(Fault::DeadSwitch(Station::Tip));
        }),
        Cause::new(R::NoTrip, "the plunger's switch is dead", |case| {
            case.faults.push(Fault::DeadSwitch(Station::Plate));
        }),
        Cause::new(R::NoTrip, "a fetch that fetched nothing", |case| case.faults.push(Fault::FetchMissed)),
        Cause::new(R::WrongSwitch, "the switches' wires are crossed", |case| {
            case.faults.push(Fault::CrossedSwitches);
        }),
        Cause::new(R::WrongSwitch, "a cable hangs under the plunger beside the datum switch", |case| {
            case.faults.push(Fault::InTheWay(Station::Shoulder, 0.3));
        }),
        Cause::new(
            R::WrongSwitch,
            "the frame presses the datum switch while the plunger comes down",
            |case| {
                case.faults.push(Fault::InTheWay(Station::Plate, 0.2));
            },
        ),
        Cause::new(R::StillTripped, "the plunger sticks", |case| {
            case.faults.push(Fault::StickingSwitch(Station::Plate));
        }),
        Cause::new(R::StillTripped, "the pin of the datum switch sticks", |case| {
            case.faults.push(Fault::StickingSwitch(Station::Shoulder));
        }),
        Cause::new(R::StillTripped, "the lift is less than the plunger's movement differential", |case| {
            case.noise.plate_differential = case.draft.touch.lift.to_f64() + 0.02;
        }),
        Cause::new(
            R::StillTripped,
            "the lift is less than the datum switch's movement differential",
            |case| {
                case.noise.datum_differential = case.draft.touch.lift.to_f64() + 0.02;
            },
        ),
        Cause::new(R::StillTripped, "the lift is over before the contact has stopped bouncing", |case| {
            // 15 mm/s upwards.
            case.noise.bounce_s = (case.draft.touch.lift.to_f64() + 0.02) / 15.0;
        }),
        Cause::new(R::Unsteady, "the probe's mount is loose", |case| {
            case.faults.push(Fault::LooseMount(0.05));
        }),
        Cause::new(R::Unsteady, "the plate does not lie down", |case| {
            case.faults.push(Fault::WildPlate(0.05));
        }),
        Cause::new(R::Unsteady, "the plunger's switch is worn out", |case| case.noise.plate_switch = 0.1),
        Cause::new(R::Walking, "filament on the tip gives way", |case| {
            (case.noise.tip_filament, case.noise.tip_squash) = (0.045, 0.25);
        }),
        Cause::new(R::Walking, "the machine is warming fast", |case| {
            (case.noise.drift, case.noise.drift_tau_s) = (0.64, 100.0);
        }),
        Cause::new(R::DropOutOfPlace, "the probe is half seated", |case| {
            case.faults.push(Fault::SeatedLow(0.8));
        }),
        Cause::new(R::PlateOutOfPlace, "two plates lie on each other", |case| {
            case.faults.push(Fault::PlateRaised(0.9));
        }),
        Cause {
            sound: || {
                let mut case = workshop_case();
                case.draft.accept.landing = range("-1.25", "0.95");
                case
            },
            ..Cause::new(R::LandingOutOfWindow, "homing found its mark 0.4 mm off", |case| {
                case.faults.push(Fault::HomedOff(0.4));
            })
        },
        Cause {
            // The middle of the plates' rises, and the trip depth.
            last: Some(LastSpan::new(mm("0.675"), Variance::ZERO)),
            ..Cause::new(R::MovedTooFar, "a chip of 0.4 mm lies under the plunger", |case| {
                case.faults.push(Fault::ChipUnderPlunger(0.4));
            })
        },
        Cause {
            sound: with_tip_again,
            ..Cause::new(R::MovedDuringCycle, "the height axis loses 0.05 mm", |case| {
                case.faults.push(Fault::StepsLost(0.05));
            })
        },
        Cause {
            sound: with_tip_again,
            ..Cause::new(R::MovedDuringCycle, "a knock shifts the datum switch by 0.05 mm", |case| {
                case.faults.push(Fault::DatumKnocked(0.05));
            })
        },
        Cause::new(R::TooUncertain, "the trip depth has never been trimmed", |case| {
            case.draft.probe.trip_depth_u = u("0.05");
        }),
        Cause {
            ending: Ending::Halted,
            ..Cause::new(R::MachineFault, "a motor stalls", |case| case.faults.push(Fault::MoveFails))
        },
        Cause {
            ending: Ending::Halted,
            ..Cause::new(R::MachineFault, "the latch still holds an edge from above the approach", |case| {
                case.faults.push(Fault::StaleLatch(0.5));
            })
        },
        Cause {
            ending: Ending::LiftedProbeUnknown,
            ..Cause::new(R::ProbeStateUnknown, "the probe has not come off when it is put back", |case| {
                case.faults.push(Fault::PutBackUnconfirmed);
            })
        },
        Cause {
            ending: Ending::LiftedProbeUnknown,
            ..Cause::new(R::ProbeStateUnknown, "the probe's sensor is dead", |case| {
                case.faults.push(Fault::ProbeSensorDead);
            })
        },
        Cause::new(R::ProbeStateUnknown, "a fetch cannot be confirmed", |case| {
            case.faults.push(Fault::FetchUnconfirmed);
        }),
        Cause::new(R::Cancelled, "a person presses stop before the first touch", |case| {
            case.faults.push(Fault::StopPressed(0));
        }),
        Cause::new(R::Cancelled, "a person presses stop over the plate", |case| {
            case.faults.push(Fault::StopPressed(17));
        }),
        Cause::new(R::OutOfRange, "the uncertainty of a growth was typed in another unit", |case| {
            case.draft.growth[0].rate_u = zdatum_tests::machine::growth("62.5");
        }),
        Cause::new(R::NoisierThanStudied, "the probe's mount is loose, and the band lets it pass", |case| {
            case.faults.push(Fault::LooseMount(0.05));
            case.draft.touch.band = mm("0.2");
        }),
        Cause::new(R::TipOutOfPlace, "an offset of 2 mm is in force", |case| {
            case.faults.push(Fault::HomedOff(2.0));
        }),
    ]
}

fn ran(bench: &Bench, index: u64) -> Ran {
    run(bench, index, |_, _, _| {}).expect("room")
}

#[test]
fn every_refusal_has_a_physical_cause() {
    let causes = causes();
    for kind in R::ALL {
        assert!(causes.iter().any(|cause| cause.kind == *kind), "{} has no cause", kind.word());
    }
    for cause in &causes {
        let mut case = (cause.sound)();
        let sound = cause.bench(&case);
        (cause.wrong)(&mut case);
        let wrong = cause.bench(&case);
        for index in 0..RUNS {
            let (before, after) = (ran(&sound, index), ran(&wrong, index));
            assert_eq!(before.refused, None, "sound before: {} (run {index})", cause.what);
            assert_eq!(before.ending, Ending::LiftedAndPutBack);
            assert_eq!(after.refused, Some(cause.kind), "{} (run {index})", cause.what);
            assert_eq!((after.error, after.expanded), (None, 0.0), "{}", cause.what);
            assert_eq!(after.ending, cause.ending, "{} (run {index})", cause.what);
        }
    }
}

#[test]
fn a_probe_left_fetched_is_put_away_first() {
    let mut case = workshop_case();
    case.faults.push(Fault::LeftFetched);
    let bench = case.bench();
    for index in 0..RUNS {
        let mut requests = Vec::new();
        let ran = run(&bench, index, |_, request, _| requests.push(*request)).expect("room");
        assert!(error(&ran).abs() < 0.025, "{ran:?}");
        assert!(matches!(requests[1], zdatum::cycle::Do::PutBack { .. }), "{:?}", requests[1]);
    }
}

#[test]
fn what_is_not_looked_for_is_not_found() {
    // A knock to the datum switch between tip and shoulder goes into the landing where the tip is not touched
    // again.
    let sound = workshop_case();
    let mut knocked = sound.clone();
    knocked.faults.push(Fault::DatumKnocked(0.05));
    // A chip under the plunger alone is not seen where nothing is known of the plate.
    let mut chipped = sound.clone();
    chipped.faults.push(Fault::ChipUnderPlunger(0.2));
    // A plate that stands higher, and a probe that seats lower, do no harm at all.
    let mut raised = sound.clone();
    raised.faults = vec![Fault::PlateRaised(0.3), Fault::SeatedLow(0.3)];
    for index in 0..RUNS {
        let true_error = error(&ran(&sound.bench(), index));
        let off = |case: &Case| error(&ran(&case.bench(), index)) - true_error;
        // All rounding to steps of 1/960 mm aside.
        assert!((off(&knocked) + 0.05).abs() < 0.002, "{}", off(&knocked));
        assert!((off(&chipped) - 0.2).abs() < 0.002, "{}", off(&chipped));
        assert!(off(&raised).abs() < 0.002, "{}", off(&raised));
    }
}

#[test]
fn homed_anew_everything_shifts_alike() {
    let mut sound = workshop_case();
    sound.draft.accept.landing = range("-3", "5");
    for by in [-0.3, 0.4, 2.5] {
        let mut shifted = sound.clone();
        shifted.faults.push(Fault::HomedOff(by));
        for index in 0..RUNS {
            let (a, b) = (ran(&sound.bench(), index), ran(&shifted.bench(), index));
            assert!((b.true_landing - a.true_landing - by).abs() < 1e-9);
            if by > -0.4 && b.refused.is_none() {
                assert!((error(&b) - error(&a)).abs() < 0.002);
            }
        }
    }
}

#[test]
fn a_stop_at_any_touch_ends_safely() {
    for touches in 0..23 {
        let mut case = workshop_case();
        case.draft.probe.trip_depth_u = Uncertainty::LEAST;
        case.draft.touch.band = mm("0.025");
        case.faults.push(Fault::StopPressed(touches));
        let ran = ran(&case.bench(), 0);
        assert_eq!(ran.touches, touches.min(21), "none after the stop");
        let expected = if touches <= 21 { Some(R::Cancelled) } else { None };
        assert_eq!(ran.refused, expected, "stop at touch {touches}");
        assert_eq!(ran.ending, Ending::LiftedAndPutBack);
    }
}
