//! The landing: where the tip meets the plate, from the three touches.
//!
//! With Z the carriage height, up positive (`docs/geometry.md`):
//!
//! ```text
//!     T  tip on datum switch          d = S − T   drop
//!     S  shoulder on datum switch     r = L − T   rise of the plate over the datum switch
//!     P  plunger on plate             P − S       span, what is remembered of a plate
//!
//!     L = P − (S − T) − t
//!           + (v_P − v₀)·τ_plate − (v_S − v_T)·τ_datum        approach speed
//!           + Σ gᵢ·(θ_print − θ_touch)ᵢ                       growth
//!           + left/2                                          growth still to come
//! ```

use crate::arith::{self, Bounded, signed_product};
use crate::budget::{Combined, Dof, Source, Term};
use crate::series::{Pooled, Readings, Station, Summary};
use crate::setup::{Follows, Grows, MOST_GROWTH, Setup};
use crate::units::{Latency, Length, OutOfRange, Speed, Temperature, Uncertainty, Variance, Wide};

/// Most terms that a landing's budget can have: three stations, two from series to series, t, two latencies,
/// eight growing parts, three sensors, the soak, the unseen.
pub const MOST_TERMS: usize = 13 + MOST_GROWTH;

/// The three closed series of one cycle. Shoulder and plate belong to one fetch of the probe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Touches {
    /// T.
    pub tip: Summary,
    /// S.
    pub shoulder: Summary,
    /// P.
    pub plate: Summary,
    /// Speeds and temperatures at the touches.
    pub conditions: Conditions,
}

/// What was read beside the heights, as far as the landing needs it; `None` where the setup's value serves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Conditions {
    /// v_T.
    pub tip_speed: Option<Speed>,
    /// v_S.
    pub shoulder_speed: Option<Speed>,
    /// v_P.
    pub plate_speed: Option<Speed>,
    /// Temperature of what follows the tool, at the tip's touches.
    pub tool: Option<Temperature>,
    /// Temperature of what follows the bed, at the plate's touches.
    pub bed: Option<Temperature>,
    /// Temperature of what follows the chamber, at the plate's touches.
    pub chamber: Option<Temperature>,
}

impl Touches {
    /// Room for three series that are yet to be closed.
    pub const OPEN: Self = Self {
        tip: Summary::OPEN,
        shoulder: Summary::OPEN,
        plate: Summary::OPEN,
        conditions: Conditions::NONE,
    };
}

impl Conditions {
    /// Nothing was read.
    pub const NONE: Self = Self {
        tip_speed: None,
        shoulder_speed: None,
        plate_speed: None,
        tool: None,
        bed: None,
        chamber: None,
    };

    /// Picks from each station's readings what counts there.
    pub const fn of(tip: &Readings, shoulder: &Readings, plate: &Readings) -> Self {
        Self {
            tip_speed: tip.speed,
            shoulder_speed: shoulder.speed,
            plate_speed: plate.speed,
            tool: tip.tool,
            bed: plate.bed,
            chamber: plate.chamber,
        }
    }
}

/// What was added to P − (S − T) − t.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Corrections {
    /// For approach speeds that differ between the stations or from v₀.
    pub speed: Length,
    /// For growth between touch and print.
    pub growth: Length,
    /// For growth still to come: left/2.
    pub soak: Length,
}

/// A landing as computed; whether it may be used is the guard's to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Landing {
    /// L, the carriage height at which the tip just meets the plate. Within 1 bit of exact arithmetic.
    pub height: Length,
    /// d = S − T.
    pub drop: Length,
    /// r = P − S − t with the correction for speed; growth does not enter.
    pub rise: Length,
    /// P − S.
    pub span: Length,
    /// u²(P) + u²(S) + b²(span).
    pub span_variance: Variance,
    /// What was added.
    pub corrections: Corrections,
    /// u, ν, k, U.
    pub uncertainty: Combined,
}

impl Landing {
    /// Room for one that is yet to be computed.
    pub(crate) const OPEN: Self = Self {
        height: Length::ZERO,
        drop: Length::ZERO,
        rise: Length::ZERO,
        span: Length::ZERO,
        span_variance: Variance::ZERO,
        corrections: Corrections { speed: Length::ZERO, growth: Length::ZERO, soak: Length::ZERO },
        uncertainty: Combined::OPEN,
    };

    /// The equation, once.
    ///
    /// # Errors
    /// *Out of range* where a height leaves ±32,768 mm, u reaches 4 mm, or U 256 mm.
    pub fn of(setup: &Setup, touches: &Touches) -> Result<Self, OutOfRange> {
        let mut landing = Self::OPEN;
        landing.compute(setup, touches)?;
        Ok(landing)
    }

    /// [`Landing::of`] in the caller's memory; after an error the values there mean nothing.
    pub(crate) fn compute(&mut self, setup: &Setup, touches: &Touches) -> Result<(), OutOfRange> {
        let draft = setup.draft();
        let (t, s, p) = (touches.tip.centre(), touches.shoulder.centre(), touches.plate.centre());
        // What is added, and what is not known of it, from the same differences.
        let mut others = setup.known_variance();
        let (plate, datum) = speed_differences(setup, touches);
        others.add_product(plate.unsigned_abs(), draft.probe.delay.latency_u.to_bits())?;
        others.add_product(datum.unsigned_abs(), draft.datum_switch.delay.latency_u.to_bits())?;
        let mut growth = 0_i64;
        for part in &draft.growth {
            let warming = warming(part, touches);
            growth = growth.plus(signed_product(warming, part.rate.to_bits()));
            let untrimmed = warming.minus(part.trimmed.to_bits());
            others.add_product(untrimmed.unsigned_abs(), part.rate_u.to_bits().unsigned_abs())?;
        }
        let growth = Wide::from_bits(arith::shift_round(growth, 16));
        let soak = Wide::from_bits(i64::from(draft.soak_left.to_bits()) << 15);
        let speed = speed_correction(setup, plate, datum);

        let drop = s.minus(t);
        let span = p.minus(s);
        let rise = span.minus(draft.probe.trip_depth.widen()).plus(speed);
        let landing = t.plus(rise).plus(growth).plus(soak);

        self.height = landing.round()?;
        self.drop = drop.round()?;
        self.rise = rise.round()?;
        self.span = span.round()?;
        let tip_between = between(draft.pooled.tip_between)?;
        let span_between = between(draft.pooled.span_between)?;
        self.span_variance =
            touches.plate.variance().plus(touches.shoulder.variance())?.plus(span_between.0)?;
        self.corrections =
            Corrections { speed: speed.round()?, growth: growth.round()?, soak: soak.round()? };
        // The sources with infinite degrees of freedom go into one term.
        let own = |summary: &Summary| (summary.variance(), summary.dof());
        let finite =
            [own(&touches.tip), own(&touches.shoulder), own(&touches.plate), tip_between, span_between];
        // Without terms between series they are three.
        let none = draft.pooled.tip_between.is_none() && draft.pooled.span_between.is_none();
        let finite = finite.into_iter().take(if none { 3 } else { 5 });
        self.uncertainty.combine(others, finite, draft.accept.coverage)
    }

    /// u(P − S).
    pub fn span_u(&self) -> Uncertainty {
        self.span_variance.root()
    }
}

/// Every source's term, in the order of `docs/uncertainty.md`; sources that add nothing are left out.
///
/// # Errors
/// As [`Landing::of`].
pub fn budget(setup: &Setup, touches: &Touches) -> Result<heapless::Vec<Term, MOST_TERMS>, OutOfRange> {
    let mut terms = heapless::Vec::new();
    for (station, summary) in [
        (Station::Tip, &touches.tip),
        (Station::Shoulder, &touches.shoulder),
        (Station::Plate, &touches.plate),
    ] {
        let source = Source::Touches(station);
        let _ = terms.push(Term { source, variance: summary.variance(), dof: summary.dof() });
    }
    let pooled = &setup.draft().pooled;
    for (source, study) in
        [(Source::TipBetween, pooled.tip_between), (Source::SpanBetween, pooled.span_between)]
    {
        let (variance, dof) = between(study)?;
        if variance > Variance::ZERO {
            let _ = terms.push(Term { source, variance, dof });
        }
    }
    for_each_other(setup, touches, |source, variance| {
        if variance > Variance::ZERO {
            let _ = terms.push(Term { source, variance, dof: Dof::INFINITE });
        }
    })?;
    Ok(terms)
}

/// The terms with infinite degrees of freedom.
fn for_each_other(
    setup: &Setup,
    touches: &Touches,
    mut give: impl FnMut(Source, Variance),
) -> Result<(), OutOfRange> {
    let draft = setup.draft();
    let square = |a: i32, b: u32| {
        let mut of = Variance::ZERO;
        of.add_product(a.unsigned_abs(), b).map(|()| of)
    };
    give(Source::TripDepth, setup.trip_depth_variance());
    let (plate, datum) = speed_differences(setup, touches);
    give(Source::PlateLatency, square(plate, draft.probe.delay.latency_u.to_bits())?);
    give(Source::DatumLatency, square(datum, draft.datum_switch.delay.latency_u.to_bits())?);
    // Not `enumerate`: where a `usize` has 16 bits its count is checked, and a panic stays in the image.
    for (index, part) in (0..MOST_GROWTH as u8).zip(draft.growth.iter()) {
        let untrimmed = warming(part, touches).minus(part.trimmed.to_bits());
        give(Source::Growth(index), square(untrimmed, part.rate_u.to_bits().unsigned_abs())?);
    }
    for (sensor, of) in Follows::ALL.into_iter().zip(setup.readings_variance()) {
        give(Source::Readings(sensor), of);
    }
    give(Source::Soak, setup.soak_variance());
    give(Source::Unseen, setup.unseen_variance());
    Ok(())
}

/// b² with its degrees of freedom; nothing where no study found one.
fn between(study: Option<Pooled>) -> Result<(Variance, Dof), OutOfRange> {
    match study {
        Some(Pooled { s, dof }) => Ok((s.variance()?, Dof::new(dof))),
        None => Ok((Variance::ZERO, Dof::INFINITE)),
    }
}

/// (v_P − v₀, v_S − v_T) in bits of [`Speed`], below 2^26.
fn speed_differences(setup: &Setup, touches: &Touches) -> (i32, i32) {
    let bits = |speed: Speed| speed.to_bits() as i32;
    let fine = setup.draft().touch.fine_speed;
    let at = |speed: Option<Speed>| bits(speed.unwrap_or(fine));
    let read = &touches.conditions;
    (
        at(read.plate_speed).minus(bits(setup.draft().probe.trimmed_at_speed)),
        at(read.shoulder_speed).minus(at(read.tip_speed)),
    )
}

/// (v_P − v₀)·τ_plate − (v_S − v_T)·τ_datum. Each product is below 2^26 · 2^29 in 2⁻⁴⁸ mm.
fn speed_correction(setup: &Setup, plate: i32, datum: i32) -> Wide {
    let late = |latency: Latency| latency.to_bits() as i32;
    let plate = signed_product(plate, late(setup.draft().probe.delay.latency));
    let datum = signed_product(datum, late(setup.draft().datum_switch.delay.latency));
    Wide::from_bits(arith::shift_round(plate.minus(datum), 16))
}

/// θ_print − θ_touch of a part, in bits of [`Temperature`], below 2^27: what follows the tool is read at the
/// tip's touches, what follows bed or chamber at the plate's.
fn warming(part: &Grows, touches: &Touches) -> i32 {
    let read: Option<Temperature> = match part.follows {
        Follows::Tool => touches.conditions.tool,
        Follows::Bed => touches.conditions.bed,
        Follows::Chamber => touches.conditions.chamber,
    };
    part.print.to_bits().minus(read.unwrap_or(part.touch).to_bits())
}
