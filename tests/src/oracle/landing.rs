//! The landing and its uncertainty, exactly; lengths in mm.

use num_traits::Zero;

use super::series::{self, Centre};
use super::{Exact, of_bits, whole};

/// One station's input.
#[derive(Clone, Debug)]
pub struct Station {
    /// Heights in 2^-16 mm.
    pub touches: Vec<i64>,
    /// A study's s in mm and its degrees of freedom.
    pub pooled: Option<(Exact, u32)>,
    /// Variance factor of the centre.
    pub factor: Exact,
    /// Approach speed in mm/s.
    pub speed: Exact,
}

/// One growing part: g and u(g) in mm/K, temperature differences in K.
#[derive(Clone, Debug)]
pub struct Part {
    /// g.
    pub rate: Exact,
    /// u(g).
    pub rate_u: Exact,
    /// θ_print − θ_touch.
    pub warmer: Exact,
    /// What t has taken up of it.
    pub trimmed: Exact,
    /// u(θ_print − θ_touch).
    pub delta_u: Exact,
    /// Which of three sensors it follows.
    pub sensor: usize,
}

/// A cycle's input.
#[derive(Clone, Debug)]
pub struct Cycle {
    /// Which centre stands for a series.
    pub centre: Centre,
    /// Δ.
    pub step: Exact,
    /// Tip, shoulder, plate.
    pub stations: [Station; 3],
    /// t.
    pub trip_depth: Exact,
    /// u(t).
    pub trip_depth_u: Exact,
    /// v₀.
    pub trimmed_at: Exact,
    /// τ and u(τ) of the probe's switch, in s.
    pub plate_latency: (Exact, Exact),
    /// τ and u(τ) of the datum switch.
    pub datum_latency: (Exact, Exact),
    /// Growing parts.
    pub parts: Vec<Part>,
    /// Growth still to come, at most; negative where it sinks.
    pub left: Exact,
    /// What no touch shows.
    pub unseen: Exact,
    /// b of tip and span, with their degrees of freedom.
    pub between: [Option<(Exact, u32)>; 2],
}

/// A station's centre and u².
#[derive(Clone, Debug)]
pub struct Closed {
    /// Height in mm.
    pub centre: Exact,
    /// u² in mm².
    pub variance: Exact,
    /// Degrees of freedom; `None` where infinite.
    pub dof: Option<u32>,
    /// u² before the floor Δ²/12.
    pub unfloored: Exact,
}

/// What follows.
#[derive(Clone, Debug)]
pub struct Worked {
    /// The stations.
    pub closed: [Closed; 3],
    /// L.
    pub landing: Exact,
    /// d.
    pub drop: Exact,
    /// r.
    pub rise: Exact,
    /// P − S.
    pub span: Exact,
    /// Correction for speed.
    pub speed: Exact,
    /// Correction for growth.
    pub growth: Exact,
    /// Correction for growth still to come.
    pub soak: Exact,
    /// u²(P − S).
    pub span_variance: Exact,
    /// Each source's u² with its degrees of freedom, in the order of `docs/uncertainty.md`: stations, tip and span
    /// between series, t, τ of plate, τ of datum, parts, three sensors, left, unseen.
    pub terms: Vec<(Exact, Option<u32>)>,
}

impl Worked {
    /// u².
    pub fn variance(&self) -> Exact {
        self.terms.iter().fold(Exact::zero(), |sum, (variance, _)| sum + variance)
    }
}

/// Δ²/12.
pub fn rounding_variance(step: &Exact) -> Exact {
    step * step / whole(12)
}

/// Closes a station; `None` for no touch, or a single one without a study.
pub fn close(station: &Station, centre: Centre, step: &Exact) -> Option<Closed> {
    let z = &station.touches;
    if z.is_empty() {
        return None;
    }
    let (s2, dof) = match &station.pooled {
        Some((s, dof)) => (s * s, *dof),
        None => (series::sample_variance(z)? * of_bits(1, 32), z.len() as u32 - 1),
    };
    let unfloored = s2 * &station.factor / whole(z.len());
    let floor = rounding_variance(step);
    let (variance, dof) = if unfloored > floor { (unfloored.clone(), Some(dof)) } else { (floor, None) };
    Some(Closed { centre: series::centre(z, centre) * of_bits(1, 16), variance, dof, unfloored })
}

/// The equation of `docs/geometry.md` with its corrections and its uncertainty; `None` where a station cannot
/// be closed.
pub fn work_out(cycle: &Cycle) -> Option<Worked> {
    let [tip, shoulder, plate] = &cycle.stations;
    let closed = [
        close(tip, cycle.centre, &cycle.step)?,
        close(shoulder, cycle.centre, &cycle.step)?,
        close(plate, cycle.centre, &cycle.step)?,
    ];
    let (t, s, p) = (&closed[0].centre, &closed[1].centre, &closed[2].centre);

    let (at_plate, at_datum) = (&plate.speed - &cycle.trimmed_at, &shoulder.speed - &tip.speed);
    let speed = &at_plate * &cycle.plate_latency.0 - &at_datum * &cycle.datum_latency.0;
    let growth = cycle.parts.iter().fold(Exact::zero(), |sum, part| sum + &part.rate * &part.warmer);

    let square = |x: Exact| &x * &x;
    let mut terms: Vec<_> = closed.iter().map(|c| (c.variance.clone(), c.dof)).collect();
    let [tip_between, span_between] = cycle.between.clone().map(|study| match study {
        Some((s, dof)) => (square(s), Some(dof)),
        None => (Exact::zero(), None),
    });
    let span_variance = &closed[1].variance + &closed[2].variance + &span_between.0;
    terms.extend([tip_between, span_between]);
    terms.push((square(cycle.trip_depth_u.clone()), None));
    terms.push((square(&at_plate * &cycle.plate_latency.1), None));
    terms.push((square(&at_datum * &cycle.datum_latency.1), None));
    for part in &cycle.parts {
        terms.push((square((&part.warmer - &part.trimmed) * &part.rate_u), None));
    }
    for sensor in 0..3 {
        let own = cycle.parts.iter().filter(|part| part.sensor == sensor);
        terms.push((square(own.fold(Exact::zero(), |sum, part| sum + &part.rate * &part.delta_u)), None));
    }
    terms.push((square(cycle.left.clone()) / whole(12), None));
    terms.push((square(cycle.unseen.clone()), None));
    let soak = &cycle.left / whole(2);

    Some(Worked {
        landing: p - (s - t) - &cycle.trip_depth + &speed + &growth + &soak,
        drop: s - t,
        rise: p - s - &cycle.trip_depth + &speed,
        span: p - s,
        speed,
        growth,
        soak,
        span_variance,
        terms,
        closed,
    })
}
