//! The end of a session: the landing proved with a gauge, and the trip depth that follows.

use zdatum::cycle::Outcome;
use zdatum::setup::Place;
use zdatum::trim::{self, Check, Depth, Trimmed, Weighing};
use zdatum::{Landing, Length, Setup, Uncertainty};

use super::guided::GuideNote;
use crate::files::MachineFile;
use crate::files::checks::{CountedCheck, LEAST_LANDING_U, Reading, warmed, with_trim};
use crate::text::Problem;
use crate::text::number::{plain, signed};
use crate::text::written::Written;

/// Of a gauge's thickness and of the feel of first drag (*common practice*), as `trim` takes them.
const GAUGE_U: &str = "0.002";
const FEEL_U: &str = "0.010";

/// A landing that may be proved with a gauge.
pub fn landing(outcome: &Outcome) -> Option<&Landing> {
    outcome.landing_seen().filter(|_| outcome.accepted() || outcome.for_gauge_check())
}

/// Carriage position at which the tip stands over the point that the plunger touched.
pub fn tip_over_point(setup: &Setup) -> Option<Place> {
    let at = &setup.draft().stations;
    let along = |plate: Length, tip: Length, shoulder: Length| plate.plus(tip).ok()?.minus(shoulder).ok();
    Some(Place {
        x: along(at.plate.x, at.tip.x, at.shoulder.x)?,
        y: along(at.plate.y, at.tip.y, at.shoulder.y)?,
    })
}

/// What to do before the gauge is laid.
pub fn notes(setup: &Setup, landing: &Landing) -> Vec<GuideNote> {
    let say = |text: &str| GuideNote::Say(text.into());
    let line = |code: String, what: &str| GuideNote::Line(code, what.into());
    let travel = &setup.draft().travel;
    let mut notes = vec![
        say(
            "Now check the landing. Bring nozzle and bed to print temperature, put the probe back and clean \
                the tip. Then \
             make the landing the zero of Z:",
        ),
        line(format!("G10 L2 P1 Z{}", plain(landing.height)), "the landing becomes Z 0"),
    ];
    let reach = landing.height.plus(Length::from_mm(10)).is_ok_and(|high| high <= travel.z.high);
    notes.push(line(format!("G1 Z{} F300", if reach { "10" } else { "5" }), "high above the plate first"));
    match tip_over_point(setup) {
        Some(place)
            if (travel.x.low..=travel.x.high).contains(&place.x)
                && (travel.y.low..=travel.y.high).contains(&place.y) =>
        {
            notes.push(line(
                format!("G1 X{} Y{} F3000", place.x.text(), place.y.text()),
                "tip over the \
                point touched",
            ));
        }
        _ => notes.push(say(
            "The tip cannot reach the point that the plunger touched. Check as near to it as possible: any \
                unevenness of \
             the plate between the two points ends up in the trip depth.",
        )),
    }
    notes.push(say(
        "Lay a gauge of known thickness under the tip and come down in steps of 1 mm, then 0.1, then 0.01 \
            near its \
         thickness, until you first feel drag. Never push.",
    ));
    notes
}

/// A gauge's thickness.
///
/// # Errors
/// No length above zero.
pub fn thickness(text: &str) -> Result<Length, String> {
    let gauge = super::heights::height(text, None)?;
    if gauge <= Length::ZERO {
        return Err(format!("{}: a gauge must be thicker than 0", gauge.text()));
    }
    if gauge >= Length::from_mm(10) {
        return Err(format!("{}: a gauge must be thinner than 10 mm; check the unit", gauge.text()));
    }
    Ok(gauge)
}

/// What a check said.
#[derive(Clone, Debug)]
pub struct Weighed {
    /// What was known.
    pub known: Depth,
    /// The check.
    pub check: Check,
    /// What is known now.
    pub trimmed: Trimmed,
    /// As the machine file remembers it.
    pub counted: CountedCheck,
}

/// Weighs a check by the core's own rule.
///
/// # Errors
/// It cannot be held.
pub fn weigh(setup: &Setup, landing: &Landing, gauge: Length, felt: Length) -> Result<Weighed, String> {
    let probe = &setup.draft().probe;
    let known = Depth { t: probe.trip_depth, u: probe.trip_depth_u, speed: probe.trimmed_at_speed };
    let speed = setup.draft().touch.fine_speed;
    let check = Check {
        too_high: gauge.minus(felt).map_err(|error| error.to_string())?,
        wish: Length::ZERO,
        made_with: known.t,
        speed,
        gauge_u: Uncertainty::read(GAUGE_U)?,
        feel_u: Uncertainty::read(FEEL_U)?,
        landing_u: touched_u(setup, landing),
    };
    let trimmed = trim::trim(&known, &warmed(setup), &probe.delay, &check, Weighing::Weighed)
        .map_err(|_| "too far off to be processed: check the unit (millimetres) and the sign".to_owned())?;
    let reading = Reading::Gauge { gauge, felt };
    let counted = CountedCheck { reading, made_with: known.t, speed, before: Some(known.t) };
    Ok(Weighed { known, check, trimmed, counted })
}

/// The landing's u without what the check weighs for itself: trip depth, growth, and the latency at the trim's speed.
fn touched_u(setup: &Setup, landing: &Landing) -> Uncertainty {
    let probe = &setup.draft().probe;
    let late = (setup.draft().touch.fine_speed.to_f64() - probe.trimmed_at_speed.to_f64())
        * probe.delay.latency_u.to_f64();
    let grown = warmed(setup)
        .into_iter()
        .map(|part| (part.under_test.to_f64() - part.trimmed.to_f64()) * part.rate_u.to_f64());
    let weighed: f64 = grown.chain([late, probe.trip_depth_u.to_f64()]).map(|u| u * u).sum();
    let rest = (landing.uncertainty.variance.to_f64() - weighed).max(0.0);
    Uncertainty::from_f64(libm::sqrt(rest)).unwrap_or_default().max(LEAST_LANDING_U)
}

/// The machine file's text with the new trip depth.
///
/// # Errors
/// It would be a bad setup.
pub fn written(machine: &MachineFile, weighed: &Weighed) -> Result<String, Problem> {
    with_trim(machine, &weighed.trimmed, &weighed.counted)
}

/// Where drag is felt in practice: the invented machine's own true gap.
pub fn felt_in_practice(landing: &Landing, true_landing: f64, gauge: Length) -> Option<String> {
    // At commanded height c the true gap is c + L − true L; drag begins where that is the gauge's thickness.
    let felt = gauge.to_f64() - landing.height.to_f64() + true_landing;
    Some(signed(Length::from_f64(felt).ok()?))
}
