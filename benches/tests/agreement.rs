//! The floats do the core's work: same landing, same u, same ν, same verdict, so that their times may be
//! compared.

use zdatum::{Assessment, LastSpan, Length, RefusalKind, Setup, Uncertainty, Variance};
use zdatum_benches::cases::{self, Floats, Numbers, Stations, Switches};
use zdatum_benches::generic::{self, Number, Reasons};

/// How far a float's result may be off: heights in mm, u and U relative to themselves, ν from 10,000 up
/// relative too: the core rounds each term to its bits, which there can carry ν over a whole number.
struct Allowed {
    height: f64,
    relative: f64,
    large_nu: f64,
}

/// The invented machine with limits so narrow that some of the invented cycles miss each of them.
fn narrow(switches: Switches) -> Setup {
    let mm = |text| Length::parse(text).expect("a length");
    let mut draft = cases::machine(switches).draft().clone();
    draft.plates.rise.high = mm("0.25");
    draft.probe.drop.low = mm("6.52");
    draft.accept.landing.high = mm("0.8");
    draft.accept.expanded_u = Uncertainty::parse("0.0141").expect("an uncertainty");
    Setup::check(draft).expect("narrower limits pass the checks too")
}

/// Cycles of 2 to 9 touches: sound ones, noisy ones, walking ones.
fn cycles() -> impl Iterator<Item = (u32, Stations)> {
    let mut numbers = Numbers::new(41);
    (0..600).map(move |case| {
        let count = 2 + numbers.below(8) as usize;
        let noise = if case % 5 == 0 { 12 } else { numbers.below(4) };
        let walk = if case % 7 == 0 { 2 } else { 0 };
        (case, cases::cycle(&mut numbers, count, noise, walk))
    })
}

fn bits_of(assessment: &Assessment) -> u16 {
    assessment.refusals().iter().fold(0, |bits, refusal| {
        bits | match refusal.kind {
            RefusalKind::Unsteady => Reasons::UNSTEADY,
            RefusalKind::Walking => Reasons::WALKING,
            RefusalKind::DropOutOfPlace => Reasons::DROP,
            RefusalKind::PlateOutOfPlace => Reasons::RISE,
            RefusalKind::LandingOutOfWindow => Reasons::WINDOW,
            RefusalKind::MovedTooFar => Reasons::MOVED,
            RefusalKind::NoisierThanStudied => Reasons::NOISY,
            RefusalKind::TipOutOfPlace => Reasons::TIP,
            RefusalKind::TooUncertain => Reasons::UNCERTAIN,
            other => panic!("{other:?} cannot come from these touches"),
        }
    })
}

fn assert_near(what: &str, case: u32, float: f64, core: f64, allowed: f64) {
    assert!((float - core).abs() <= allowed, "{what} of case {case}: {float} in floats, {core} in the core");
}

/// Holds every case against the core; returns which reasons were seen.
fn agree<F: Number + Into<f64>>(setup: &Setup, to: impl Fn(f64) -> F + Copy, allowed: &Allowed) -> u16 {
    let parts = cases::parts(setup, to);
    let floats = cases::in_floats(setup, &parts, to);
    // Half of the cycles are compared with a span 0.12 mm off the middle of the invented ones, with u = 10
    // µm.
    let last = LastSpan::new(
        Length::parse("0.92625").expect("a length"),
        Variance::from_f64(1e-4).expect("a variance"),
    );
    let float_last = generic::LastSpan { span: to(last.span.to_f64()), variance: to(last.variance.to_f64()) };
    let mut seen = 0;
    for (case, stations) in cycles() {
        let [tip, shoulder, plate] = &stations;
        let known = case % 2 == 0;
        let core =
            Assessment::of(setup, tip, shoulder, plate, known.then_some(&last)).expect("enough touches");
        let landing = core.landing_seen().expect("in range");
        let same = Floats::of(&stations, to);
        let (float, reasons) =
            generic::assess(&floats, same.slices(), &same.read, known.then_some(&float_last))
                .expect("enough touches");

        for (what, float, core) in [
            ("L", float.height, landing.height),
            ("d", float.drop, landing.drop),
            ("r", float.rise, landing.rise),
            ("P - S", float.span, landing.span),
            ("speed's correction", float.speed, landing.corrections.speed),
            ("growth's correction", float.growth, landing.corrections.growth),
        ] {
            assert_near(what, case, float.into(), core.to_f64(), allowed.height);
        }
        let (u, expanded) = (landing.uncertainty.u.to_f64(), landing.uncertainty.expanded.to_f64());
        assert_near("u", case, float.uncertainty.u.into(), u, allowed.relative * u);
        assert_near("U", case, float.uncertainty.expanded.into(), expanded, allowed.relative * expanded);
        assert_near(
            "k",
            case,
            float.uncertainty.factor.into(),
            landing.uncertainty.factor.to_f64(),
            2e-4 * landing.uncertainty.factor.to_f64(),
        );
        match (float.uncertainty.dof, landing.uncertainty.dof.finite()) {
            (Some(float), Some(core)) if core >= 10_000 => {
                assert_near(
                    "nu",
                    case,
                    f64::from(float),
                    f64::from(core),
                    allowed.large_nu * f64::from(core),
                );
            }
            (float, core) => assert_eq!(float, core, "nu of case {case}"),
        }
        assert_eq!(reasons.0, bits_of(&core), "verdict of case {case}: {:?}", core.refusals());
        seen |= if reasons.0 == 0 { 1 << 15 } else { reasons.0 };
    }
    seen
}

/// Accepted ones, and each reason that the invented cycles can bring.
const EXPECTED: u16 = 1 << 15
    | Reasons::UNSTEADY
    | Reasons::WALKING
    | Reasons::DROP
    | Reasons::RISE
    | Reasons::WINDOW
    | Reasons::MOVED
    | Reasons::UNCERTAIN;

/// Only a study says how much a switch may scatter; and with one u hardly changes, so that a cycle is too uncertain only
/// where its touches have disproved it, which is not judged.
fn expected(switches: Switches) -> u16 {
    match switches {
        Switches::Unstudied => EXPECTED,
        Switches::Studied => EXPECTED & !Reasons::UNCERTAIN | Reasons::NOISY,
    }
}

#[test]
fn doubles_agree_with_the_core() {
    let allowed = Allowed { height: 0.8e-5, relative: 2e-5, large_nu: 2e-5 };
    for switches in [Switches::Unstudied, Switches::Studied] {
        let seen = agree(&narrow(switches), |x| x, &allowed);
        assert_eq!(seen, expected(switches), "{switches:?}: the cases must bring every outcome");
    }
}

#[test]
fn singles_agree_with_the_core() {
    let allowed = Allowed { height: 1e-5, relative: 2e-5, large_nu: 1e-4 };
    for switches in [Switches::Unstudied, Switches::Studied] {
        let seen = agree(&narrow(switches), |x| x as f32, &allowed);
        assert_eq!(seen, expected(switches), "{switches:?}: the cases must bring every outcome");
    }
}
