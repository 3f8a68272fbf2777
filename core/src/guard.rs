//! Limits: what is held against what, and the verdict.
//!
//! All reasons are reported, not the first only. The window for L and the change of a span are guarded by their expanded
//! uncertainty (JCGM 106:2012, guarded acceptance): accepted is only what is inside by that much. Spread, drop and rise are held
//! against their limits as they are.

use crate::budget;
use crate::landing::{Conditions, Landing, Touches};
use crate::refusal::{Amount, Refusal, RefusalKind, Refusals};
use crate::series::{CannotClose, Readings, Series, Station, Summary};
use crate::setup::{Setup, Span};
use crate::units::{Length, OutOfRange, Variance};

/// A plate's last accepted span.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastSpan {
    /// P − S then.
    pub span: Length,
    /// Its u².
    pub variance: Variance,
}

/// A station's counted touches with what was read beside them.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Recorded<const N: usize> {
    /// The touches in their order.
    pub series: Series<N>,
    /// Means of the readings.
    pub readings: Readings,
}

/// A cycle with a station that is missing or has too few touches: nothing can be said of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TooFew {
    /// The station.
    pub station: Station,
    /// How many counted touches it has.
    pub count: usize,
}

/// The verdict on one cycle, with what could be computed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assessment {
    /// The closed series; `None` where a value was out of range.
    pub touches: Option<Touches>,
    verdict: Verdict,
}

impl Assessment {
    /// Judges the recorded touches of one cycle.
    ///
    /// # Errors
    /// A station with too few touches. Values out of range are refusals, not errors.
    pub fn of<const N: usize>(
        setup: &Setup,
        tip: &Recorded<N>,
        shoulder: &Recorded<N>,
        plate: &Recorded<N>,
        last: Option<&LastSpan>,
    ) -> Result<Self, TooFew> {
        for (station, recorded) in
            [(Station::Tip, tip), (Station::Shoulder, shoulder), (Station::Plate, plate)]
        {
            let count = recorded.series.len();
            if count == 0 || (count == 1 && setup.draft().pooled.of(station).is_none()) {
                return Err(TooFew { station, count });
            }
        }
        Ok(Self::of_enough(setup, tip, shoulder, plate, last))
    }

    /// Judges in place: a verdict has room for many reasons and is not moved about.
    fn of_enough<const N: usize>(
        setup: &Setup,
        tip: &Recorded<N>,
        shoulder: &Recorded<N>,
        plate: &Recorded<N>,
        last: Option<&LastSpan>,
    ) -> Self {
        let conditions = Conditions::of(&tip.readings, &shoulder.readings, &plate.readings);
        let mut seen = Self { touches: None, verdict: Verdict::open() };
        let refusals = &mut seen.verdict.refusals;
        let tip = close(setup, Station::Tip, tip, refusals);
        let shoulder = close(setup, Station::Shoulder, shoulder, refusals);
        let plate = close(setup, Station::Plate, plate, refusals);
        if let (Some(tip), Some(shoulder), Some(plate)) = (tip, shoulder, plate) {
            seen.touches = Some(Touches { tip, shoulder, plate, conditions });
        }
        seen.verdict.judge(setup, seen.touches.as_ref(), last);
        seen
    }

    /// The landing, where it is accepted.
    pub fn landing(&self) -> Option<&Landing> {
        self.verdict.landing()
    }

    /// The landing as far as it could be computed, refused or not.
    pub fn landing_seen(&self) -> Option<&Landing> {
        self.verdict.landing_seen()
    }

    /// All reasons to refuse; empty where accepted.
    pub fn refusals(&self) -> &[Refusal] {
        self.verdict.refusals()
    }

    /// Whether the landing is accepted.
    pub fn accepted(&self) -> bool {
        self.landing().is_some()
    }

    /// Whether the landing seen, though refused, may serve a gauge check: *too uncertain* is the only reason.
    pub fn for_gauge_check(&self) -> bool {
        self.verdict.for_gauge_check()
    }
}

/// A landing as far as it could be computed, with all reasons to refuse it: what recorded touches and a cycle have in common.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Verdict {
    /// As far as it could be computed.
    pub(crate) landing: Option<Landing>,
    /// All reasons.
    pub(crate) refusals: Refusals,
}

impl Verdict {
    /// Nothing judged yet.
    pub(crate) const fn open() -> Self {
        Self { landing: None, refusals: Refusals::new() }
    }

    /// Computes the landing of closed series and judges it, in place.
    pub(crate) fn judge(&mut self, setup: &Setup, touches: Option<&Touches>, last: Option<&LastSpan>) {
        if let Some(touches) = touches {
            self.landing = judge(setup, touches, last, &mut self.refusals);
        }
    }

    pub(crate) fn landing(&self) -> Option<&Landing> {
        if self.refusals.is_empty() { self.landing.as_ref() } else { None }
    }

    pub(crate) fn landing_seen(&self) -> Option<&Landing> {
        self.landing.as_ref()
    }

    pub(crate) fn refusals(&self) -> &[Refusal] {
        self.refusals.as_slice()
    }

    pub(crate) fn for_gauge_check(&self) -> bool {
        self.landing.is_some() && self.refusals.only(RefusalKind::TooUncertain)
    }
}

/// Closes one series and judges it by itself.
fn close<const N: usize>(
    setup: &Setup,
    station: Station,
    recorded: &Recorded<N>,
    refusals: &mut Refusals,
) -> Option<Summary> {
    match recorded.series.close(&setup.method(station)) {
        Ok(summary) => {
            judge_series(setup, station, &summary, refusals);
            Some(summary)
        }
        // Too few has been excluded before.
        Err(CannotClose::TooFew | CannotClose::OutOfRange(_)) => {
            // The spread of touches metres apart can still be told, and tells more.
            if let Ok(spread) = recorded.series.spread() {
                unsteady(setup, station, spread, refusals);
            }
            refusals.push(Refusal::bare(RefusalKind::OutOfRange, Some(station)));
            None
        }
    }
}

/// *Unsteady* and *walking*, for one station.
pub fn judge_series(setup: &Setup, station: Station, summary: &Summary, refusals: &mut Refusals) {
    unsteady(setup, station, summary.spread(), refusals);
    if let Some((seen, limit)) = walks(setup, station, summary) {
        refusals.push(Refusal::new(RefusalKind::Walking, Some(station), seen, limit));
    }
}

fn unsteady(setup: &Setup, station: Station, spread: Length, refusals: &mut Refusals) {
    let band = setup.draft().touch.band;
    if spread > band {
        let (seen, limit) = (Amount::Length(spread), Amount::Length(band));
        refusals.push(Refusal::new(RefusalKind::Unsteady, Some(station), seen, limit));
    }
}

/// What a walking series shows and its limit; `None` where it does not walk.
fn walks(setup: &Setup, station: Station, summary: &Summary) -> Option<(Amount, Amount)> {
    match setup.draft().pooled.of(station) {
        Some(study) => {
            // A study's s of 4 mm or more never gets past the setup's check.
            let (s, step, floor) = (study.s, setup.step(), setup.rounding());
            if !summary.walks_by_slope(s, step, floor).unwrap_or(true) {
                return None;
            }
            let limit = summary.walk_limit(s, step, floor).unwrap_or(setup.draft().touch.band);
            Some((Amount::Length(summary.walked()), Amount::Length(limit)))
        }
        None => summary.walks_by_ratio().map(|(seen, limit)| (Amount::Ratio(seen), Amount::Ratio(limit))),
    }
}

/// Computes the landing and judges it; `None` where it cannot be held. A value that cannot be held, in the landing or in what it is
/// held against, is among the reasons.
pub fn judge(
    setup: &Setup,
    touches: &Touches,
    last: Option<&LastSpan>,
    refusals: &mut Refusals,
) -> Option<Landing> {
    let landing = Landing::of(setup, touches).ok();
    let held = landing.as_ref().is_some_and(|landing| judge_landing(setup, landing, last, refusals).is_ok());
    if !held {
        refusals.push(Refusal::bare(RefusalKind::OutOfRange, None));
    }
    landing
}

fn judge_landing(
    setup: &Setup,
    landing: &Landing,
    last: Option<&LastSpan>,
    refusals: &mut Refusals,
) -> Result<(), OutOfRange> {
    let draft = setup.draft();
    let mut hold = |kind, seen: Length, limits: Span| {
        if let Some(limit) = limits.passed_by(seen) {
            refusals.push(Refusal::new(kind, None, Amount::Length(seen), Amount::Length(limit)));
        }
    };
    hold(RefusalKind::DropOutOfPlace, landing.drop, draft.probe.drop);
    hold(RefusalKind::PlateOutOfPlace, landing.rise, draft.plates.rise);

    // Each on its own: what one guard cannot hold must not hide what the next one sees.
    let window = inside_window(setup, landing).map(|inside| {
        hold(RefusalKind::LandingOutOfWindow, landing.height, inside);
    });
    let moved = match last {
        Some(last) => moved_too_far(setup, landing, last, refusals),
        None => Ok(()),
    };
    let (expanded, limit) = (landing.uncertainty.expanded, draft.accept.expanded_u);
    if expanded > limit {
        let (seen, limit) = (Amount::Uncertainty(expanded), Amount::Uncertainty(limit));
        refusals.push(Refusal::new(RefusalKind::TooUncertain, None, seen, limit));
    }
    window.and(moved)
}

/// The window for L, moved in by U on either side.
fn inside_window(setup: &Setup, landing: &Landing) -> Result<Span, OutOfRange> {
    let guard = landing.uncertainty.expanded.ceil();
    let window = setup.draft().accept.landing;
    Ok(Span { low: window.low.plus(guard)?, high: window.high.minus(guard)? })
}

/// |span − last| + k·√(u²(P) + u²(S) + u²(last)) against the limit, k this landing's.
fn moved_too_far(
    setup: &Setup,
    landing: &Landing,
    last: &LastSpan,
    refusals: &mut Refusals,
) -> Result<(), OutOfRange> {
    let change = landing.span.distance(last.span)?;
    let doubt = landing.span_variance.plus(last.variance)?;
    let guard = budget::expand(doubt, landing.uncertainty.factor)?.ceil();
    let limit = setup.draft().accept.shift.minus(guard)?;
    if change > limit {
        let (seen, limit) = (Amount::Length(change), Amount::Length(limit));
        refusals.push(Refusal::new(RefusalKind::MovedTooFar, None, seen, limit));
    }
    Ok(())
}
