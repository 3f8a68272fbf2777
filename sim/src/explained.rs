//! A checked machine file thought through: floors, a dead plunger, the uncertainty to expect, and what to be warned of.

use std::num::NonZeroU32;

use zdatum::landing::Conditions;
use zdatum::setup::{Press, Span, Studied};
use zdatum::{
    Landing, Length, Pooled, Ratio, Series, Setup, Source, Speed, Station, Summary, Touches, Uncertainty,
    budget,
};

use crate::files::Machine;
use crate::judged::{Share, shares};
use crate::show::name::cut;
use crate::show::number::{plain, uncertainty};

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

/// The uncertainty of a landing from `touches` touches a station at the setup's own speeds and temperatures.
#[derive(Clone, Debug)]
pub struct Expected {
    /// Counted touches a station.
    pub touches: u8,
    /// Stations whose s is assumed, with the s.
    pub assumed: Vec<(Station, Uncertainty)>,
    /// A landing in the middle of all ranges.
    pub landing: Landing,
    /// Its error budget.
    pub budget: Vec<Share>,
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
    pub fn of(machine: &Machine) -> Self {
        let press = machine.setup.floors().dead_plunger(machine.setup.draft().plates.rise.high).ok();
        let expected = expect(machine);
        let mut warnings = Vec::new();
        trip_depth(machine, &mut warnings);
        touching(machine, &mut warnings);
        studies(machine, &mut warnings);
        if let Some(expected) = &expected {
            accepting(machine, expected, &mut warnings);
        }
        if let Some(press) = press.filter(|press| press.shoulder_into_plate > Length::ZERO) {
            warnings.push(Warning {
                key: "plates.rise",
                text: format!(
                    "a dead plunger over the highest plate would be pressed {} mm past its trip, and the shoulder {} mm \
                     into the plate: narrow the range of plates, or lower touch.first_speed",
                    plain(press.past_trip),
                    plain(press.shoulder_into_plate)
                ),
            });
        }
        Self { press, expected, warnings }
    }
}

/// How many touches a station's series will hold: the fewest, but where a target may ask for more.
fn usual_touches(setup: &Setup) -> u8 {
    let touch = &setup.draft().touch;
    if touch.target_u > Uncertainty::ZERO { touch.most } else { touch.least }
}

/// A station's s: the study's, or what the file says of the noise, or what is common practice.
fn assumed(machine: &Machine, station: Station) -> Uncertainty {
    let noise = &machine.noise;
    let s = match station {
        Station::Tip => noise.tip_switch,
        Station::Shoulder => noise.shoulder_switch,
        Station::Plate => noise.plate_switch,
    };
    Uncertainty::from_f64(s).unwrap_or_default()
}

fn expect(machine: &Machine) -> Option<Expected> {
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

fn middle(span: Span) -> Option<Length> {
    let sum = i64::from(span.low.to_bits()) + i64::from(span.high.to_bits());
    Length::from_bits(sum / 2).ok()
}

fn trip_depth(machine: &Machine, warnings: &mut Vec<Warning>) {
    let draft = machine.setup.draft();
    let (trimmed, fine) = (draft.probe.trimmed_at_speed, draft.touch.fine_speed);
    let mut warn = |key, text| warnings.push(Warning { key, text });
    if trimmed == Speed::ZERO {
        let text =
            "the trip depth was never trimmed: make a gauge check (zdatum trim) before you trust a landing";
        warn("probe.trimmed_at_speed", text.into());
    } else if trimmed != fine {
        warn(
            "probe.trimmed_at_speed",
            format!(
                "the trip depth was trimmed at {trimmed} mm/s, the fine touches are made at {fine}: the latency's doubt \
                 adds to each landing; use one speed, or make a gauge check at the new one"
            ),
        );
    }
    if draft.probe.trip_depth_u == Uncertainty::ZERO {
        warn(
            "probe.trip_depth_u",
            "0 says that the trip depth is known exactly, which no gauge can show".into(),
        );
    }
}

fn touching(machine: &Machine, warnings: &mut Vec<Warning>) {
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

/// Switches may need some tenths of a millimetre to open again (*common practice*).
const SMALL_LIFT: Length = match Length::from_bits(19_661) {
    Ok(length) => length,
    Err(_) => Length::ZERO,
};

const STUDIED: [(Station, &str); 3] =
    [(Station::Tip, "pooled.tip"), (Station::Shoulder, "pooled.shoulder"), (Station::Plate, "pooled.plate")];

fn studies(machine: &Machine, warnings: &mut Vec<Warning>) {
    let draft = machine.setup.draft();
    let touches = draft.touch.least;
    let words = |studied: bool| {
        let stations = STUDIED.iter().filter(|(station, _)| draft.pooled.of(*station).is_some() == studied);
        stations.map(|(station, _)| station.word()).collect::<Vec<_>>().join(", ")
    };
    if touches < 3 && !words(true).is_empty() {
        let text = format!(
            "with {touches} touches a walk, such as filament being squashed, could not be seen: take 3 or more"
        );
        warnings.push(Warning { key: "touch.least", text });
    }
    let without = words(false);
    if !without.is_empty() {
        let seen = if touches < 5 {
            format!("with {touches} touches could not be seen at all: take 5 or more, or make a study")
        } else {
            "is judged weakly, and each cycle's own scatter must serve: make a study".to_owned()
        };
        let text = format!(
            "no pooled s for {without}: a walk there, such as filament being squashed on the tip, {seen}"
        );
        warnings.push(Warning { key: "pooled", text });
    }
}

fn accepting(machine: &Machine, expected: &Expected, warnings: &mut Vec<Warning>) {
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
    let width = accept.landing.high.minus(accept.landing.low).unwrap_or(Length::ZERO);
    let twice = found.expanded.ceil().plus(found.expanded.ceil()).unwrap_or(width);
    if twice >= width {
        warnings.push(Warning {
            key: "accept.landing",
            text: format!(
                "the window is {} mm wide and is kept clear by U on either side ({} mm): nothing would be accepted",
                plain(width),
                uncertainty(found.expanded)
            ),
        });
    }
    // The doubt of two spans, today's and the last accepted one.
    let doubt = expected.landing.span_variance.plus(expected.landing.span_variance);
    let guard = doubt.and_then(|variance| budget::expand(variance, found.factor)).map(Uncertainty::ceil);
    if guard.is_ok_and(|guard| guard >= accept.shift) {
        warnings.push(Warning {
            key: "accept.shift",
            text: format!(
                "{} mm is less than the doubt of two spans: a plate that has not moved would be refused",
                plain(accept.shift)
            ),
        });
    }
}

/// A share's part of u² above which it is said to dominate.
pub fn dominates(share: &Share) -> bool {
    share.share.to_bits() > Ratio::ONE.to_bits() / 2
}
