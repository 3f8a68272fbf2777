//! Limits: what is compared with what, and the verdict.
//!
//! All reasons are reported, not the first only. The window for L and the change of a span are guarded by
//! their expanded uncertainty (JCGM 106:2012, guarded acceptance): accepted is only what is inside by that
//! much. Spread, drop and rise are compared with their limits as they are.

use crate::budget::{self, Combined};
use crate::landing::{Conditions, Landing, Touches};
use crate::refusal::{Amount, Refusal, RefusalKind, Refusals};
use crate::series::{Pooled, Readings, Series, Station, Summary};
use crate::setup::{LengthRange, Setup};
use crate::units::{Length, OutOfRange, Variance};

/// What a plate's span is compared with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastSpan {
    /// P − S of its last accepted cycle.
    pub span: Length,
    /// Its u².
    pub variance: Variance,
    /// What the plate book expects, where it knows enough.
    pub expected: Option<Expected>,
}

impl LastSpan {
    /// The last accepted span alone.
    pub const fn new(span: Length, variance: Variance) -> Self {
        Self { span, variance, expected: None }
    }
}

/// What the plate book expects of a span, from at least four accepted ones
/// ([`PlateBook::last_span`](crate::PlateBook::last_span)).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Expected {
    /// x̄, the mean of the plate's accepted spans.
    pub span: Length,
    /// How far from it a span may be.
    pub limit: Length,
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
    touches: Touches,
    /// Whether all three series could be closed.
    closed: bool,
    verdict: Verdict,
}

impl Assessment {
    /// Room for a verdict, for [`Assessment::judge`].
    pub const fn open() -> Self {
        Self { touches: Touches::OPEN, closed: false, verdict: Verdict::open() }
    }

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
        let mut seen = Self::open();
        seen.judge(setup, [tip, shoulder, plate], last)?;
        Ok(seen)
    }

    /// [`Assessment::of`] in the caller's memory, whatever was there before; stations in the order tip,
    /// shoulder, plate. A verdict has room for many reasons, and this way it is not moved about.
    ///
    /// # Errors
    /// As [`Assessment::of`]; then nothing changes.
    pub fn judge<const N: usize>(
        &mut self,
        setup: &Setup,
        stations: [&Recorded<N>; 3],
        last: Option<&LastSpan>,
    ) -> Result<(), TooFew> {
        for (station, recorded) in Station::ALL.into_iter().zip(stations) {
            let count = recorded.series.len();
            if count == 0 || (count == 1 && setup.draft().pooled.of(station).is_none()) {
                return Err(TooFew { station, count });
            }
        }
        self.verdict.refusals.clear();
        let refusals = &mut self.verdict.refusals;
        let [tip, shoulder, plate] = stations;
        self.touches.conditions = Conditions::of(&tip.readings, &shoulder.readings, &plate.readings);
        // All three are closed, whatever becomes of one: each may show reasons.
        let held = close(setup, Station::Tip, tip, &mut self.touches.tip, refusals);
        let held = close(setup, Station::Shoulder, shoulder, &mut self.touches.shoulder, refusals) && held;
        let held = close(setup, Station::Plate, plate, &mut self.touches.plate, refusals) && held;
        self.closed = held;
        if held {
            self.verdict.judge(setup, &self.touches, last);
        } else {
            self.touches = Touches::OPEN;
            self.verdict.leave_open();
        }
        Ok(())
    }

    /// The closed series; `None` where a value was out of range.
    pub fn touches(&self) -> Option<&Touches> {
        self.closed.then_some(&self.touches)
    }

    /// The landing, where it is accepted.
    pub fn landing(&self) -> Option<&Landing> {
        self.verdict.landing()
    }

    /// The landing as far as it could be computed, refused or not.
    pub fn landing_seen(&self) -> Option<&Landing> {
        self.verdict.landing_seen()
    }

    /// u, ν, k and U of the landing seen; `None` where there is no landing, or where the touches have disproved what
    /// they rest on ([`Refusals::disprove_u`]).
    pub fn uncertainty(&self) -> Option<&Combined> {
        self.verdict.uncertainty()
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

/// A landing as far as it could be computed, with all reasons to refuse it: what recorded touches and a cycle
/// have in common.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Verdict {
    /// As far as it could be computed; [`Landing::OPEN`] where it could not.
    landing: Landing,
    computed: bool,
    /// All reasons.
    pub(crate) refusals: Refusals,
}

impl Verdict {
    /// Nothing judged yet.
    pub(crate) const fn open() -> Self {
        Self { landing: Landing::OPEN, computed: false, refusals: Refusals::new() }
    }

    /// Forgets the landing that was judged before, where none is judged now.
    pub(crate) fn leave_open(&mut self) {
        (self.landing, self.computed) = (Landing::OPEN, false);
    }

    /// Computes the landing of closed series and judges it. A value that cannot be held, in the landing or in
    /// what it is compared with, is among the reasons.
    pub(crate) fn judge(&mut self, setup: &Setup, touches: &Touches, last: Option<&LastSpan>) {
        self.computed = self.landing.compute(setup, touches).is_ok();
        if !self.computed {
            self.leave_open();
        }
        let judged =
            self.computed && judge_landing(setup, touches, &self.landing, last, &mut self.refusals).is_ok();
        if !judged {
            self.refusals.push(Refusal::bare(RefusalKind::OutOfRange, None));
        }
    }

    pub(crate) fn landing(&self) -> Option<&Landing> {
        if self.refusals.is_empty() { self.landing_seen() } else { None }
    }

    pub(crate) fn landing_seen(&self) -> Option<&Landing> {
        self.computed.then_some(&self.landing)
    }

    pub(crate) fn uncertainty(&self) -> Option<&Combined> {
        self.landing_seen().filter(|_| !self.refusals.disprove_u()).map(|landing| &landing.uncertainty)
    }

    pub(crate) fn refusals(&self) -> &[Refusal] {
        self.refusals.as_slice()
    }

    pub(crate) fn for_gauge_check(&self) -> bool {
        self.computed && self.refusals.only(RefusalKind::TooUncertain)
    }
}

/// Closes one series and judges it by itself; says whether it could be held.
fn close<const N: usize>(
    setup: &Setup,
    station: Station,
    recorded: &Recorded<N>,
    closed: &mut Summary,
    refusals: &mut Refusals,
) -> bool {
    // Too few has been excluded before.
    if recorded.series.close_into(&setup.method(station), closed).is_err() {
        // The spread of touches metres apart can still be told, and tells more.
        if let Ok(spread) = recorded.series.spread()
            && is_unsteady(setup, spread)
        {
            refusals.push(unsteady(setup, station, spread));
        }
        refusals.push(Refusal::bare(RefusalKind::OutOfRange, Some(station)));
        return false;
    }
    judge_series(setup, station, closed, |refusal| refusals.push(refusal));
    true
}

/// Judges one station's closed series by itself; hands over a reason for *unsteady*, one for *walking* and one for
/// *noisier than studied*, in this order, where they apply.
#[inline]
pub fn judge_series(setup: &Setup, station: Station, summary: &Summary, mut refuse: impl FnMut(Refusal)) {
    if is_unsteady(setup, summary.spread()) {
        refuse(unsteady(setup, station, summary.spread()));
    }
    if walks(setup, station, summary) {
        refuse(walking(setup, station, summary));
    }
    if let Some(study) = setup.draft().pooled.of(station)
        && summary.noisier_than(&study, setup.step(), setup.rounding()).unwrap_or(true)
    {
        refuse(noisier(setup, station, summary, &study));
    }
}

/// What a noisy series shows and its limit.
#[cold]
#[inline(never)]
fn noisier(setup: &Setup, station: Station, summary: &Summary, study: &Pooled) -> Refusal {
    let kind = RefusalKind::NoisierThanStudied;
    match (summary.s(), summary.noise_limit(study, setup.step(), setup.rounding())) {
        (Ok(Some(s)), Some(limit)) => {
            Refusal::new(kind, Some(station), Amount::Uncertainty(s), Amount::Uncertainty(limit))
        }
        _ => Refusal::bare(kind, Some(station)),
    }
}

fn is_unsteady(setup: &Setup, spread: Length) -> bool {
    spread > setup.draft().touch.band
}

#[cold]
fn unsteady(setup: &Setup, station: Station, spread: Length) -> Refusal {
    let (seen, limit) = (Amount::Length(spread), Amount::Length(setup.draft().touch.band));
    Refusal::new(RefusalKind::Unsteady, Some(station), seen, limit)
}

/// Whether the touches trend: by the study where there is one.
#[inline]
fn walks(setup: &Setup, station: Station, summary: &Summary) -> bool {
    match setup.draft().pooled.of(station) {
        // A study's s of 4 mm or more never gets past the setup's check.
        Some(study) => summary.walks_by_slope(&study, setup.step(), setup.rounding()).unwrap_or(true),
        None => summary.is_below_point(),
    }
}

/// What a walking series shows and its limit.
#[cold]
#[inline(never)]
fn walking(setup: &Setup, station: Station, summary: &Summary) -> Refusal {
    let (seen, limit) = match setup.draft().pooled.of(station) {
        Some(study) => {
            let limit = summary.walk_limit(&study, setup.step(), setup.rounding());
            let limit = limit.unwrap_or(setup.draft().touch.band);
            (Amount::Length(summary.walked()), Amount::Length(limit))
        }
        None => match summary.walks_by_ratio() {
            Some((seen, limit)) => (Amount::Ratio(seen), Amount::Ratio(limit)),
            None => return Refusal::bare(RefusalKind::Walking, Some(station)),
        },
    };
    Refusal::new(RefusalKind::Walking, Some(station), seen, limit)
}

/// Computes the landing and judges it; `None` where it cannot be held. A value that cannot be held, in the
/// landing or in what it is compared with, is among the reasons.
pub fn judge(
    setup: &Setup,
    touches: &Touches,
    last: Option<&LastSpan>,
    refusals: &mut Refusals,
) -> Option<Landing> {
    let mut verdict = Verdict::open();
    core::mem::swap(&mut verdict.refusals, refusals);
    verdict.judge(setup, touches, last);
    core::mem::swap(&mut verdict.refusals, refusals);
    verdict.landing_seen().copied()
}

/// The tip's height outside what is expected of the datum switch, by more than a sound machine at that end may read:
/// late by the fine speed · (τ + 3u(τ)), and rounded by half a step.
///
/// # Errors
/// *Out of range* where it cannot be held.
pub(crate) fn tip_out_of_place(setup: &Setup, tip: &Summary) -> Result<Option<Refusal>, OutOfRange> {
    let height = tip.centre().round()?;
    let range = setup.draft().datum_switch.tip_height;
    let half_step = Length::from_word(setup.step().one().to_bits() >> 1);
    let limit = if setup.floors().tip_at_most(height)? < range.low {
        Some(range.low)
    } else {
        Some(range.high).filter(|high| height.minus(half_step).is_ok_and(|least| least > *high))
    };
    Ok(limit.map(|limit| {
        let (seen, limit) = (Amount::Length(height), Amount::Length(limit));
        Refusal::new(RefusalKind::TipOutOfPlace, Some(Station::Tip), seen, limit)
    }))
}

fn judge_landing(
    setup: &Setup,
    touches: &Touches,
    landing: &Landing,
    last: Option<&LastSpan>,
    refusals: &mut Refusals,
) -> Result<(), OutOfRange> {
    let draft = setup.draft();
    let tip = tip_out_of_place(setup, &touches.tip).map(|reason| refusals.extend(reason));
    let mut hold = |kind, seen: Length, limits: LengthRange| {
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
    // A U that rests on disproved touches says nothing of its own.
    if expanded > limit && !refusals.disprove_u() {
        let (seen, limit) = (Amount::Uncertainty(expanded), Amount::Uncertainty(limit));
        refusals.push(Refusal::new(RefusalKind::TooUncertain, None, seen, limit));
    }
    tip.and(window).and(moved)
}

/// The window for L, moved in by U on either side.
fn inside_window(setup: &Setup, landing: &Landing) -> Result<LengthRange, OutOfRange> {
    let guard = landing.uncertainty.expanded.ceil();
    let window = setup.draft().accept.landing;
    Ok(LengthRange { low: window.low.plus(guard)?, high: window.high.minus(guard)? })
}

/// |span − last| + k·√(u²(P − S) + u²(last)) against the limit, k this landing's; and |span − x̄| against what the plate
/// book allows. One reason, with the limit that is exceeded most.
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
    let mut most = (change, limit, change.minus(limit)?);
    if let Some(expected) = last.expected {
        let change = landing.span.distance(expected.span)?;
        let beyond = change.minus(expected.limit)?;
        if beyond > most.2 {
            most = (change, expected.limit, beyond);
        }
    }
    let (seen, limit, beyond) = most;
    if beyond > Length::ZERO {
        let (seen, limit) = (Amount::Length(seen), Amount::Length(limit));
        refusals.push(Refusal::new(RefusalKind::MovedTooFar, None, seen, limit));
    }
    Ok(())
}
