//! The whole landing once more, generic over a binary floating-point type: what the core's fixed point is
//! timed against.
//!
//! Same steps, same order of work: three series closed, corrections, u², Welch–Satterthwaite's ν, k from a
//! table and its expansion in 1/ν, U, and every refusal that recorded touches can show. What a float leaves
//! out is part of the comparison: nothing is compared with a range, and a refusal is a bit, without what was
//! seen.
//!
//! `no_std`, no allocation, no other module of this package, so that an image for a board may include this
//! file as it is; all that it needs is the crate `libm`. Heights in mm, speeds in mm/s, latencies in s,
//! temperatures in °C, growth in mm/K.

use core::ops::{Add, Div, Mul, Sub};

/// A binary floating-point type: four operations, a root, and the tables in its own format.
pub trait Number:
    Copy
    + PartialOrd
    + 'static
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
{
    /// 0.
    const ZERO: Self;
    /// 2⁻¹⁶: a ν so near below a whole number counts as that number.
    const NEARLY: Self;
    /// 3.6², squared threshold of the slope.
    const SLOPE: Self;
    /// Student's t, two-sided, for ν = 1 to 32 at 0.90, 0.95, 0.99.
    const STUDENT_T: &'static [[Self; 3]; 32];
    /// For each coverage: the normal's factor and the coefficients of 1/ν, 1/ν², 1/ν³ (Abramowitz and Stegun,
    /// 26.7.5).
    const EXPANSION: &'static [[Self; 4]; 3];
    /// Lower 0.1 % points of von Neumann's ratio for n = 5 to 16.
    const VON_NEUMANN: &'static [Self; 12];
    /// 99.98 % points of F(n − 1, ν) for n = 3 to 9: the point at infinite ν and the coefficients of 1/ν, 1/ν², 1/ν³.
    const NOISE: &'static [[Self; 4]; 7];

    /// A small whole number.
    fn of(n: u32) -> Self;
    /// The square root.
    fn root(self) -> Self;
    /// Truncated to a whole number, 0 to `u32::MAX`.
    fn whole(self) -> u32;
}

/// Not negative.
fn size<F: Number>(x: F) -> F {
    if x < F::ZERO { F::ZERO - x } else { x }
}

fn square<F: Number>(x: F) -> F {
    x * x
}

/// Lowest and highest.
#[derive(Clone, Copy, Debug)]
pub struct Range<F> {
    /// Lowest.
    pub low: F,
    /// Highest.
    pub high: F,
}

/// A study's s with its degrees of freedom.
#[derive(Clone, Copy, Debug)]
pub struct Study<F> {
    /// Pooled standard deviation of one touch.
    pub s: F,
    /// Degrees of freedom.
    pub dof: u32,
}

/// What a growing part's temperature follows.
#[derive(Clone, Copy, Debug)]
pub enum Follows {
    /// The tool.
    Tool,
    /// The bed.
    Bed,
    /// The chamber.
    Chamber,
}

/// A part that is longer at print than at the touch.
#[derive(Clone, Copy, Debug)]
pub struct Part<F> {
    /// What its temperature follows.
    pub follows: Follows,
    /// Growth.
    pub rate: F,
    /// Its standard uncertainty.
    pub rate_u: F,
    /// Temperature at the touch, where none was read.
    pub touch: F,
    /// Temperature at the first layer.
    pub print: F,
    /// u of print less touch.
    pub delta_u: F,
    /// Warming that t has taken up.
    pub trimmed: F,
}

/// A checked machine, as far as a landing needs it.
#[derive(Clone, Debug)]
pub struct Setup<'a, F> {
    /// t.
    pub trip_depth: F,
    /// u(t).
    pub trip_depth_u: F,
    /// v₀.
    pub trimmed_at_speed: F,
    /// Speed of the fine touches, where none was read.
    pub fine_speed: F,
    /// τ of the probe's switch.
    pub plate_latency: F,
    /// Its standard uncertainty.
    pub plate_latency_u: F,
    /// τ of the datum switch.
    pub datum_latency: F,
    /// Its standard uncertainty.
    pub datum_latency_u: F,
    /// Growing parts.
    pub parts: &'a [Part<F>],
    /// Most that the landing may still rise.
    pub soak_left: F,
    /// What no touch shows.
    pub unseen: F,
    /// b of tip and span.
    pub between: [Option<Study<F>>; 2],
    /// Studies at tip, shoulder, plate.
    pub studies: [Option<Study<F>>; 3],
    /// Δ.
    pub step: F,
    /// Δ²/12.
    pub rounding: F,
    /// Widest spread of a series.
    pub band: F,
    /// Where T may be.
    pub tip_height: Range<F>,
    /// Where d may be.
    pub drop: Range<F>,
    /// Where r may be.
    pub rise: Range<F>,
    /// Where L may be, by U.
    pub window: Range<F>,
    /// Largest change of a span.
    pub shift: F,
    /// Largest U.
    pub expanded_u: F,
    /// Column of the tables: 0, 1, 2 for 0.90, 0.95, 0.99.
    pub coverage: usize,
}

/// What was read beside the heights.
#[derive(Clone, Copy, Debug)]
pub struct Conditions<F> {
    /// Speeds at tip, shoulder, plate.
    pub speeds: [Option<F>; 3],
    /// Temperature of what follows the tool.
    pub tool: Option<F>,
    /// Of what follows the bed.
    pub bed: Option<F>,
    /// Of what follows the chamber.
    pub chamber: Option<F>,
}

/// A plate's last accepted span with its u².
#[derive(Clone, Copy, Debug)]
pub struct LastSpan<F> {
    /// P − S.
    pub span: F,
    /// u².
    pub variance: F,
}

/// A closed series.
#[derive(Clone, Copy, Debug)]
pub struct Summary<F> {
    count: u32,
    /// Mean height.
    pub centre: F,
    /// u² of the mean.
    pub variance: F,
    /// Degrees of freedom; `None` where infinite.
    pub dof: Option<u32>,
    spread: F,
    /// Σ (zᵢ − z̄)².
    squares: F,
    /// Σ (2i − n + 1)·zᵢ.
    walk: F,
    /// Σ (zᵢ₊₁ − zᵢ)².
    jumps: F,
}

/// u, ν, k, U.
#[derive(Clone, Copy, Debug)]
pub struct Combined<F> {
    /// Standard uncertainty.
    pub u: F,
    /// Degrees of freedom, truncated; `None` where infinite.
    pub dof: Option<u32>,
    /// Coverage factor.
    pub factor: F,
    /// Expanded uncertainty.
    pub expanded: F,
}

/// A landing.
#[derive(Clone, Copy, Debug)]
pub struct Landing<F> {
    /// L.
    pub height: F,
    /// d.
    pub drop: F,
    /// r.
    pub rise: F,
    /// P − S.
    pub span: F,
    /// u²(P) + u²(S).
    pub span_variance: F,
    /// Added for approach speeds.
    pub speed: F,
    /// Added for growth.
    pub growth: F,
    /// u, ν, k, U.
    pub uncertainty: Combined<F>,
}

/// Reasons to refuse, one bit each; none: accepted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Reasons(pub u16);

impl Reasons {
    /// Spread over the band.
    pub const UNSTEADY: u16 = 1;
    /// Touches that trend.
    pub const WALKING: u16 = 2;
    /// d out of place.
    pub const DROP: u16 = 4;
    /// r out of place.
    pub const RISE: u16 = 8;
    /// L not inside the window by U.
    pub const WINDOW: u16 = 16;
    /// Span changed.
    pub const MOVED: u16 = 32;
    /// U over the limit.
    pub const UNCERTAIN: u16 = 64;
    /// More scatter than the study allows.
    pub const NOISY: u16 = 128;
    /// T out of place.
    pub const TIP: u16 = 256;

    fn hold(&mut self, reason: u16, seen: bool) {
        if seen {
            self.0 |= reason;
        }
    }
}

/// Closes a series; `None` without touches, or with one and no study.
pub fn close<F: Number>(heights: &[F], study: Option<Study<F>>, rounding: F) -> Option<Summary<F>> {
    let first = *heights.first()?;
    let count = heights.len() as u32;
    let n = F::of(count);
    let (mut sum, mut squares, mut walk, mut jumps) = (F::ZERO, F::ZERO, F::ZERO, F::ZERO);
    let (mut weight, mut before) = (F::of(1) - n, F::ZERO);
    let (mut low, mut high) = (first, first);
    for z in heights {
        // Differences from the first touch, so that nothing cancels.
        let d = *z - first;
        let jump = d - before;
        sum = sum + d;
        squares = squares + d * d;
        walk = walk + weight * d;
        jumps = jumps + jump * jump;
        weight = weight + F::of(2);
        before = d;
        if *z < low {
            low = *z;
        }
        if *z > high {
            high = *z;
        }
    }
    let mean = sum / n;
    let squares = squares - mean * sum;
    let (variance, dof) = match study {
        Some(study) => (square(study.s) / n, study.dof),
        None if count < 2 => return None,
        None => (squares / (n * (n - F::of(1))), count - 1),
    };
    let (variance, dof) = if variance > rounding { (variance, Some(dof)) } else { (rounding, None) };
    Some(Summary { count, centre: first + mean, variance, dof, spread: high - low, squares, walk, jumps })
}

/// The equation with its corrections, u, ν, k and U; series in the order tip, shoulder, plate.
pub fn land<F: Number>(setup: &Setup<'_, F>, series: &[Summary<F>; 3], read: &Conditions<F>) -> Landing<F> {
    let [tip, shoulder, plate] = series;
    let [v_tip, v_shoulder, v_plate] = read.speeds.map(|speed| speed.unwrap_or(setup.fine_speed));
    let (faster_plate, faster_datum) = (v_plate - setup.trimmed_at_speed, v_shoulder - v_tip);
    let speed = faster_plate * setup.plate_latency - faster_datum * setup.datum_latency;

    let mut growth = F::ZERO;
    let mut others = square(setup.trip_depth_u)
        + square(faster_plate * setup.plate_latency_u)
        + square(faster_datum * setup.datum_latency_u)
        + square(setup.soak_left) / F::of(12)
        + square(setup.unseen);
    let mut shared = [F::ZERO; 3];
    for part in setup.parts {
        let reading = match part.follows {
            Follows::Tool => read.tool,
            Follows::Bed => read.bed,
            Follows::Chamber => read.chamber,
        };
        let warming = part.print - reading.unwrap_or(part.touch);
        growth = growth + part.rate * warming;
        others = others + square(part.rate_u * (warming - part.trimmed));
        let [tool, bed, chamber] = &mut shared;
        let of = match part.follows {
            Follows::Tool => tool,
            Follows::Bed => bed,
            Follows::Chamber => chamber,
        };
        *of = *of + part.rate * part.delta_u;
    }
    for of in shared {
        others = others + square(of);
    }
    let soak = setup.soak_left / F::of(2);
    let [_, span_between] = setup.between;
    let own = span_between.map_or(F::ZERO, |study| square(study.s));

    let drop = shoulder.centre - tip.centre;
    let span = plate.centre - shoulder.centre;
    let rise = span - setup.trip_depth + speed;
    Landing {
        height: tip.centre + rise + growth + soak,
        drop,
        rise,
        span,
        span_variance: plate.variance + shoulder.variance + own,
        speed,
        growth,
        uncertainty: combine(series, &setup.between, others, setup.coverage),
    }
}

fn combine<F: Number>(
    series: &[Summary<F>; 3],
    between: &[Option<Study<F>>; 2],
    others: F,
    coverage: usize,
) -> Combined<F> {
    let (mut variance, mut denominator) = (others, F::ZERO);
    for study in between.iter().flatten() {
        variance = variance + square(study.s);
        denominator = denominator + square(square(study.s)) / F::of(study.dof);
    }
    for summary in series {
        variance = variance + summary.variance;
        if let Some(nu) = summary.dof {
            denominator = denominator + square(summary.variance) / F::of(nu);
        }
    }
    let dof = if denominator > F::ZERO {
        let nu = (square(variance) / denominator + F::NEARLY).whole();
        (nu < u32::MAX).then_some(nu)
    } else {
        None
    };
    let (u, factor) = (variance.root(), factor(dof, coverage));
    Combined { u, dof, factor, expanded: factor * u }
}

fn factor<F: Number>(dof: Option<u32>, coverage: usize) -> F {
    let [z, c1, c2, c3] = F::EXPANSION.get(coverage).copied().unwrap_or([F::ZERO; 4]);
    let Some(nu) = dof else { return z };
    if let Some(row) = F::STUDENT_T.get(nu.wrapping_sub(1) as usize) {
        return row.get(coverage).copied().unwrap_or(F::ZERO);
    }
    let x = F::of(1) / F::of(nu);
    z + x * (c1 + x * (c2 + x * c3))
}

/// Closes, lands and judges; `None` where a series has too few touches.
pub fn assess<F: Number>(
    setup: &Setup<'_, F>,
    heights: [&[F]; 3],
    read: &Conditions<F>,
    last: Option<&LastSpan<F>>,
) -> Option<(Landing<F>, Reasons)> {
    let [tip, shoulder, plate] = heights;
    let [study_t, study_s, study_p] = setup.studies;
    let mut reasons = Reasons::default();
    let series = [
        judged(setup, tip, study_t, &mut reasons)?,
        judged(setup, shoulder, study_s, &mut reasons)?,
        judged(setup, plate, study_p, &mut reasons)?,
    ];
    let landing = land(setup, &series, read);
    judge(setup, series[0].centre, &landing, last, &mut reasons);
    Some((landing, reasons))
}

fn judged<F: Number>(
    setup: &Setup<'_, F>,
    heights: &[F],
    study: Option<Study<F>>,
    reasons: &mut Reasons,
) -> Option<Summary<F>> {
    let summary = close(heights, study, setup.rounding)?;
    reasons.hold(Reasons::UNSTEADY, summary.spread > setup.band);
    reasons.hold(Reasons::WALKING, walks(setup, &summary, study));
    reasons.hold(Reasons::NOISY, study.is_some_and(|study| noisy(setup, &summary, study)));
    Some(summary)
}

fn walks<F: Number>(setup: &Setup<'_, F>, summary: &Summary<F>, study: Option<Study<F>>) -> bool {
    let n = F::of(summary.count);
    let Some(study) = study else {
        let point = (summary.count as usize).checked_sub(5).and_then(|i| F::VON_NEUMANN.get(i));
        return point
            .is_some_and(|point| summary.squares > F::ZERO && summary.jumps < *point * summary.squares);
    };
    if summary.count < 3 {
        return false;
    }
    // |b|·(n − 1) = 6·|walk| / (n·(n + 1)) over 2Δ, and b²·Σ(i − ī)² = 3·walk² / (n·(n² − 1)) over 3.6²·σ²; no
    // division needed.
    let walk = size(summary.walk);
    let far = walk * F::of(3) > n * (n + F::of(1)) * setup.step;
    let sigma2 = square(study.s) + setup.rounding;
    let x = F::of(1) / F::of(study.dof);
    let f = F::of(1) + x * (F::of(7) / F::of(2) + x * (F::of(11) + x * F::of(24)));
    far && F::of(3) * walk * walk > F::SLOPE * f * f * sigma2 * n * (n * n - F::of(1))
}

fn noisy<F: Number>(setup: &Setup<'_, F>, summary: &Summary<F>, study: Study<F>) -> bool {
    let row = (summary.count as usize).checked_sub(3).and_then(|i| F::NOISE.get(i));
    let (Some([q, a, b, c]), true) = (row.copied(), study.dof >= 12) else { return false };
    let x = F::of(1) / F::of(study.dof);
    let factor = q * (F::of(1) + x * (a + x * (b + x * c)));
    let s2 = summary.squares / F::of(summary.count - 1);
    s2 > factor * (square(study.s) + setup.rounding) && s2 > square(setup.step)
}

fn judge<F: Number>(
    setup: &Setup<'_, F>,
    tip: F,
    landing: &Landing<F>,
    last: Option<&LastSpan<F>>,
    reasons: &mut Reasons,
) {
    let outside = |seen: F, limits: Range<F>| seen < limits.low || seen > limits.high;
    let expanded = landing.uncertainty.expanded;
    reasons.hold(Reasons::TIP, outside(tip, setup.tip_height));
    reasons.hold(Reasons::DROP, outside(landing.drop, setup.drop));
    reasons.hold(Reasons::RISE, outside(landing.rise, setup.rise));
    let inside = Range { low: setup.window.low + expanded, high: setup.window.high - expanded };
    reasons.hold(Reasons::WINDOW, outside(landing.height, inside));
    if let Some(last) = last {
        let guard = landing.uncertainty.factor * (landing.span_variance + last.variance).root();
        reasons.hold(Reasons::MOVED, size(landing.span - last.span) > setup.shift - guard);
    }
    let disproved = reasons.0 & (Reasons::UNSTEADY | Reasons::WALKING | Reasons::NOISY) != 0;
    reasons.hold(Reasons::UNCERTAIN, expanded > setup.expanded_u && !disproved);
}

macro_rules! number {
    ($float:ident, $root:path) => {
        // The literals carry what the wider type holds.
        #[allow(clippy::excessive_precision)]
        impl Number for $float {
            const ZERO: Self = 0.0;
            const NEARLY: Self = 1.0 / 65_536.0;
            const SLOPE: Self = 12.96;
            const STUDENT_T: &'static [[Self; 3]; 32] = &[
                [6.313751515, 12.706204736, 63.656741163],
                [2.919985580, 4.302652730, 9.924843201],
                [2.353363435, 3.182446305, 5.840909310],
                [2.131846786, 2.776445105, 4.604094871],
                [2.015048373, 2.570581836, 4.032142984],
                [1.943180281, 2.446911851, 3.707428021],
                [1.894578605, 2.364624252, 3.499483297],
                [1.859548038, 2.306004135, 3.355387331],
                [1.833112933, 2.262157163, 3.249835542],
                [1.812461123, 2.228138852, 3.169272673],
                [1.795884819, 2.200985160, 3.105806516],
                [1.782287556, 2.178812830, 3.054539589],
                [1.770933396, 2.160368656, 3.012275839],
                [1.761310136, 2.144786688, 2.976842734],
                [1.753050356, 2.131449546, 2.946712883],
                [1.745883676, 2.119905299, 2.920781622],
                [1.739606726, 2.109815578, 2.898230520],
                [1.734063607, 2.100922040, 2.878440473],
                [1.729132812, 2.093024054, 2.860934606],
                [1.724718243, 2.085963447, 2.845339710],
                [1.720742903, 2.079613845, 2.831359558],
                [1.717144374, 2.073873068, 2.818756061],
                [1.713871528, 2.068657610, 2.807335684],
                [1.710882080, 2.063898562, 2.796939505],
                [1.708140761, 2.059538553, 2.787435814],
                [1.705617920, 2.055529439, 2.778714533],
                [1.703288446, 2.051830516, 2.770682957],
                [1.701130934, 2.048407142, 2.763262455],
                [1.699127027, 2.045229642, 2.756385904],
                [1.697260887, 2.042272456, 2.749995654],
                [1.695518783, 2.039513446, 2.744041919],
                [1.693888748, 2.036933343, 2.738481482],
            ];
            const EXPANSION: &'static [[Self; 4]; 3] = &[
                [1.644853627, 1.523769148, 1.420202983, 0.983001512],
                [1.959963985, 2.372271230, 2.822498616, 2.555849680],
                [2.575829304, 4.916547599, 8.834762072, 12.144295783],
            ];
            const VON_NEUMANN: &'static [Self; 12] = &[
                0.4160768, 0.3630469, 0.3692040, 0.4009793, 0.4413495, 0.4814150, 0.5192010, 0.5555709,
                0.5902273, 0.6229608, 0.6538751, 0.6830706,
            ];
            const NOISE: &'static [[Self; 4]; 7] = &[
                [8.517193191, 8.617886668, 40.743173886, 357.176712518],
                [6.552038573, 9.450720257, 46.496194069, 431.879960089],
                [5.501145358, 10.142568365, 51.276472752, 493.009160517],
                [4.837092785, 10.747797797, 55.412028248, 545.122934677],
                [4.374976016, 11.292747696, 59.062169705, 590.690913146],
                [4.032441944, 11.792542328, 62.320487535, 631.263382017],
                [3.766985306, 12.256826779, 65.248759350, 667.900389242],
            ];

            fn of(n: u32) -> Self {
                n as $float
            }

            fn root(self) -> Self {
                $root(self)
            }

            fn whole(self) -> u32 {
                self as u32
            }
        }
    };
}

// The same exact quantiles and points as those behind the core's tables (`core/tables.py`), to the digits of
// a double's need.
number!(f32, root_of_single);
number!(f64, libm::sqrt);

/// The processor's own root where it has one, as any program for it would take it; the C library's way
/// elsewhere.
fn root_of_single(x: f32) -> f32 {
    #[cfg(all(target_arch = "arm", target_abi = "eabihf"))]
    {
        unsafe extern "C" {
            safe fn own_root_of_single(x: f32) -> f32;
        }
        own_root_of_single(x)
    }
    #[cfg(not(all(target_arch = "arm", target_abi = "eabihf")))]
    libm::sqrtf(x)
}

// Argument and result are in s0 ("Procedure Call Standard for the Arm Architecture", 6.1.2).
#[cfg(all(target_arch = "arm", target_abi = "eabihf"))]
core::arch::global_asm!(
    ".fpu fpv4-sp-d16",
    ".thumb_func",
    ".globl own_root_of_single",
    "own_root_of_single:",
    "vsqrt.f32 s0, s0",
    "bx lr"
);
