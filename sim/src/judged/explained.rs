//! A checked machine file thought through: floors, a dead plunger, the uncertainty to expect, and what to be
//! warned of.

use std::num::NonZeroU32;

use zdatum::landing::Conditions;
use zdatum::setup::{LengthRange, Press, Studied};
use zdatum::{
    Landing, Length, Pooled, Ratio, Series, Setup, Source, Speed, Station, Summary, Touches, Uncertainty,
    budget,
};

use crate::files::MachineFile;
use crate::judged::few::Few;
use crate::judged::{BudgetShare, shares};
use crate::text::name::cut;
use crate::text::number::{plain, uncertainty};
use zdatum_world::questions::plan::{FEWEST_STUDIED, FEWEST_UNSTUDIED, SMALL_LIFT};

/// What a setup comes to.
#[derive(Clone, Debug)]
pub struct Explained {
    /// How far a dead plunger would be pressed over the highest plate; `None` where it cannot be held.
    pub press: Option<Press>,
    /// The uncertainty to expect; `None` where it cannot be worked out.
    pub expected: Option<Expected>,
    /// What to be warned of.
    pub warnings: Vec<Warning>,
}

/// The uncertainty of a landing from `touches` touches per station at the setup's own speeds and
/// temperatures.
#[derive(Clone, Debug)]
pub struct Expected {
    /// Counted touches per station.
    pub touches: u8,
    /// Stations whose s is assumed, with the s.
    pub assumed: Vec<(Station, Uncertainty)>,
    /// A landing in the middle of all ranges.
    pub landing: Landing,
    /// Its uncertainty budget.
    pub budget: Vec<BudgetShare>,
}

/// Something that is allowed but will hurt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    /// The key it belongs to.
    pub key: &'static str,
    /// What, how much, and what to do.
    pub text: String,
}

impl Explained {
    /// Thinks a machine file through.
    pub fn of(machine: &MachineFile) -> Self {
        let press = machine.setup.floors().dead_plunger(machine.setup.draft().plates.rise.high).ok();
        let expected = expect(machine);
        let mut warnings = Vec::new();
        trip_depth(machine, &mut warnings);
        touching(machine, &mut warnings);
        target(machine, &mut warnings);
        studies(machine, &mut warnings);
        if let Some(expected) = &expected {
            let few = Few::of(&machine.setup, &expected.budget, |_| Some(expected.touches));
            warnings.extend(few.map(|few| Warning { key: "touch.least", text: few.text() }));
            accepting(machine, expected, &mut warnings);
        }
        if let Some(press) = press.filter(|press| press.shoulder_into_plate > Length::ZERO) {
            warnings.push(Warning {
                key: "plates.rise",
                text: format!(
                    "a dead plunger over the highest plate would be pressed {} mm past its trip, and the shoulder {} mm \
                     into the plate: {}",
                    plain(press.past_trip),
                    plain(press.shoulder_into_plate),
                    softer(machine, &press)
                ),
            });
        }
        Self { press, expected, warnings }
    }
}

/// What would press a dead plunger less, by what it is pressed for.
fn softer(machine: &MachineFile, press: &Press) -> String {
    let draft = machine.setup.draft();
    let delay = &draft.probe.delay;
    let fast = draft.touch.first_speed.to_f64() * (delay.latency.to_f64() + 3.0 * delay.latency_u.to_f64());
    let doubt = 3.0 * draft.probe.trip_depth_u.to_f64();
    let mut ways = vec!["narrow the range of plates".to_owned()];
    if 2.0 * doubt > machine.setup.floors().plate_overrun.to_f64() {
        ways.push(format!("make a gauge check ({doubt:.4} mm of it is 3·u of the trip depth)"));
    }
    // Less than a quarter of the way is not worth a slower approach.
    if 4.0 * fast > press.past_trip.to_f64() {
        ways.push("lower touch.first_speed".to_owned());
    }
    ways.join(", or ")
}

/// How many touches a station's series will hold: the fewest, but where a target may ask for more.
fn usual_touches(setup: &Setup) -> u8 {
    let touch = &setup.draft().touch;
    if touch.target_u > Uncertainty::ZERO { touch.most } else { touch.least }
}

/// A station's s: the study's, or what the file says of the noise, or what is common practice.
fn assumed(machine: &MachineFile, station: Station) -> Uncertainty {
    let noise = &machine.noise;
    let s = match station {
        Station::Tip => noise.tip_switch,
        Station::Shoulder => noise.shoulder_switch,
        Station::Plate => noise.plate_switch,
    };
    Uncertainty::from_f64(s).unwrap_or_default()
}

fn expect(machine: &MachineFile) -> Option<Expected> {
    let mut draft = machine.setup.draft().clone();
    let touches = draft.touch.least;
    let mut guessed = Vec::new();
    let mut study = |station| {
        draft.pooled.of(station).or_else(|| {
            let s = assumed(machine, station);
            guessed.push((station, s));
            // What the touches themselves will give.
            NonZeroU32::new(u32::from(touches).saturating_sub(1)).map(|dof| Pooled { s, dof })
        })
    };
    let pooled = Studied {
        tip: study(Station::Tip),
        shoulder: study(Station::Shoulder),
        plate: study(Station::Plate),
        tip_between: draft.pooled.tip_between,
        span_between: draft.pooled.span_between,
    };
    draft.pooled = pooled;
    let setup = Setup::check(draft).ok()?;

    let draft = setup.draft();
    let tip = middle(draft.datum_switch.tip_height)?;
    let shoulder = tip.plus(middle(draft.probe.drop)?).ok()?;
    let plate =
        shoulder.plus(middle(draft.plates.rise)?).and_then(|z| z.plus(draft.probe.trip_depth)).ok()?;
    let closed = |station, z| -> Option<Summary> {
        let mut series: Series<64> = Series::new();
        for _ in 0..touches {
            series.push(z).ok()?;
        }
        series.close(&setup.method(station)).ok()
    };
    let touched = Touches {
        tip: closed(Station::Tip, tip)?,
        shoulder: closed(Station::Shoulder, shoulder)?,
        plate: closed(Station::Plate, plate)?,
        conditions: Conditions::NONE,
    };
    let landing = Landing::of(&setup, &touched).ok()?;
    let budget = shares(machine, &setup, &touched, &landing);
    Some(Expected { touches, assumed: guessed, landing, budget })
}

fn middle(range: LengthRange) -> Option<Length> {
    let sum = i64::from(range.low.to_bits()) + i64::from(range.high.to_bits());
    Length::from_bits(sum / 2).ok()
}

fn trip_depth(machine: &MachineFile, warnings: &mut Vec<Warning>) {
    let draft = machine.setup.draft();
    let (trimmed, fine) = (draft.probe.trimmed_at_speed, draft.touch.fine_speed);
    let mut warn = |key, text| warnings.push(Warning { key, text });
    if trimmed == Speed::ZERO {
        let text =
            "the trip depth was never trimmed: make a gauge check (zdatum trim) before you trust a landing";
        warn("probe.trimmed_at_speed", text.into());
    } else if (trimmed.to_f64() - fine.to_f64()).abs() > 0.1 * fine.to_f64() {
        // A first trim of a value from a sheet takes over nearly all of the speed, not all of it.
        warn(
            "probe.trimmed_at_speed",
            format!(
                "the trip depth was trimmed at {trimmed} mm/s, the fine touches are made at {fine}: the uncertainty of the \
                 latency adds to each landing; use one speed, or make a gauge check at the new one"
            ),
        );
    }
    for (delay, key) in [
        (&draft.datum_switch.delay, "datum_switch.latency_u_s"),
        (&draft.probe.delay, "plate_switch.latency_u_s"),
    ] {
        if (delay.latency, delay.latency_u) == (zdatum::Latency::ZERO, zdatum::Latency::ZERO) {
            let text = "a latency of 0 with an uncertainty of 0: no trip is seen at once; touch at two speeds and \
                        let `zdatum study` find it, or give a latency_u_s";
            warn(key, text.into());
        }
    }
}

fn touching(machine: &MachineFile, warnings: &mut Vec<Warning>) {
    let draft = machine.setup.draft();
    let touches = usual_touches(&machine.setup);
    // Widest spreads of normal noise: a sound machine must hardly ever leave the band.
    let (factor, times) = if touches >= 9 { (13_u64, "6.5") } else { (12, "6") };
    for (station, key) in STUDIED {
        let Some(study) = draft.pooled.of(station) else { continue };
        // Band in 2^-16 mm, s in 2^-24; the factor is doubled.
        let narrow = i64::from(draft.touch.band.to_bits()).unsigned_abs() * 512
            < factor * u64::from(study.s.to_bits());
        if narrow {
            warnings.push(Warning {
                key: "touch.band",
                text: format!(
                    "{} mm is below {times} times the s of {} ({} mm, {key}): a sound machine would be refused now and then; \
                     7 times is a good band",
                    plain(draft.touch.band),
                    station.word(),
                    uncertainty(study.s)
                ),
            });
        }
    }
    if draft.touch.lift < SMALL_LIFT {
        warnings.push(Warning {
            key: "touch.lift",
            text: format!(
                "{} mm is little: it must be more than the switch's movement differential and the way made while it bounces; \
                 {} mm is common practice",
                plain(draft.touch.lift),
                plain(SMALL_LIFT)
            ),
        });
    }
}

const STUDIED: [(Station, &str); 3] =
    [(Station::Tip, "pooled.tip"), (Station::Shoulder, "pooled.shoulder"), (Station::Plate, "pooled.plate")];

/// A target that the most touches allowed cannot reach.
fn target(machine: &MachineFile, warnings: &mut Vec<Warning>) {
    let touch = &machine.setup.draft().touch;
    if touch.target_u == Uncertainty::ZERO {
        return;
    }
    for station in Station::ALL {
        let method = machine.setup.method(station);
        let Some(best) = method.variance_for(usize::from(touch.most)) else { continue };
        if best.root() <= touch.target_u {
            continue;
        }
        let remedy = if best <= method.floor {
            "the motor step allows no better: raise it above step/√12"
        } else {
            "raise it, or allow more touches (touch.most)"
        };
        warnings.push(Warning {
            key: "touch.target_u",
            text: format!(
                "{} mm cannot be met at the {}: {} touches give {} mm at best; {remedy}",
                uncertainty(touch.target_u),
                station.word(),
                touch.most,
                uncertainty(best.root())
            ),
        });
    }
}

fn studies(machine: &MachineFile, warnings: &mut Vec<Warning>) {
    let draft = machine.setup.draft();
    let touches = draft.touch.least;
    let words = |studied: bool| {
        let stations = STUDIED.iter().filter(|(station, _)| draft.pooled.of(*station).is_some() == studied);
        stations.map(|(station, _)| station.word()).collect::<Vec<_>>().join(", ")
    };
    if touches < FEWEST_STUDIED && !words(true).is_empty() {
        let text = format!(
            "with {touches} touches a walk, such as filament being squashed, could not be seen: take {FEWEST_STUDIED} or more"
        );
        warnings.push(Warning { key: "touch.least", text });
    }
    let without = words(false);
    if !without.is_empty() {
        let seen = if touches < FEWEST_UNSTUDIED {
            format!(
                "with {touches} touches could not be seen at all: take {FEWEST_UNSTUDIED} or more, or make a study"
            )
        } else {
            "is judged weakly, and each cycle's own scatter must serve: make a study".to_owned()
        };
        let text = format!(
            "no pooled s for {without}: a walk there, such as filament being squashed on the tip, {seen}"
        );
        warnings.push(Warning { key: "pooled", text });
    }
}

fn accepting(machine: &MachineFile, expected: &Expected, warnings: &mut Vec<Warning>) {
    let accept = &machine.setup.draft().accept;
    let found = &expected.landing.uncertainty;
    let leads = expected.budget.first().map_or_else(String::new, |share| cut(&share.source, 24));
    if found.expanded > accept.expanded_u {
        let then = match expected.budget.first().map(|share| share.kind) {
            Some(Source::TripDepth) => {
                "make a gauge check: a landing that is only too uncertain may serve one".to_owned()
            }
            _ => format!("{leads} leads the budget"),
        };
        warnings.push(Warning {
            key: "accept.expanded_u",
            text: format!(
                "U will be about {} mm, the limit is {} mm: every cycle would be refused as too uncertain; {then}",
                uncertainty(found.expanded),
                uncertainty(accept.expanded_u)
            ),
        });
    }
    window(machine, expected, warnings);
    // The doubt of two spans, today's and the last accepted one.
    let doubt = expected.landing.span_variance.plus(expected.landing.span_variance);
    let guard = doubt.and_then(|variance| budget::expand(variance, found.factor)).map(Uncertainty::ceil);
    if guard.is_ok_and(|guard| guard >= accept.shift) {
        warnings.push(Warning {
            key: "accept.shift",
            text: format!(
                "{} mm is less than the uncertainty of two spans: a plate that has not moved would be refused",
                plain(accept.shift)
            ),
        });
    }
}

/// The window for L, less U on either side, against the landings that the ranges of tip and plates allow.
fn window(machine: &MachineFile, expected: &Expected, warnings: &mut Vec<Warning>) {
    let draft = machine.setup.draft();
    let accept = &draft.accept;
    let expanded = expected.landing.uncertainty.expanded;
    let (low, high, u) = (accept.landing.low.to_f64(), accept.landing.high.to_f64(), expanded.to_f64());
    // As far as the window as written lets them in.
    let lowest = (draft.datum_switch.tip_height.low.to_f64() + draft.plates.rise.low.to_f64()).max(low);
    let highest = (draft.datum_switch.tip_height.high.to_f64() + draft.plates.rise.high.to_f64()).min(high);
    let lost = (low + u - lowest).max(0.0) + (highest - high + u).max(0.0);
    let middle = expected.landing.height.to_f64();

    let untrimmed = expanded > accept.expanded_u;
    let until = if untrimmed {
        "; until a gauge check lowers U, a landing outside that is no landing for a gauge check either: widen accept.landing for \
         the first one"
    } else {
        ""
    };
    let clear = format!("kept clear by U ({} mm) on either side", uncertainty(expanded));
    let text = if 2.0 * u >= high - low {
        let width = high - low;
        format!("the window is {width:.4} mm wide and is {clear}: nothing would be accepted{until}")
    } else if middle < low || middle > high {
        format!(
            "tip_height and plates.rise lead to a landing of about {middle:+.4} mm, which is outside the window: check all three"
        )
    } else if middle < low + u || middle > high - u || (untrimmed && lost > 0.1 * (highest - lowest)) {
        format!(
            "the window is {clear}, which leaves {:+.4} to {:+.4} mm, but landings from {lowest:+.4} to {highest:+.4} mm are \
             to be expected in it{until}",
            low + u,
            high - u
        )
    } else {
        return;
    };
    warnings.push(Warning { key: "accept.landing", text });
}

/// A share's part of u² above which it is said to dominate.
pub fn dominates(share: &BudgetShare) -> bool {
    share.share.to_bits() > Ratio::ONE.to_bits() / 2
}
